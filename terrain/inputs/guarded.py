"""Open other people's layers without letting them open anything else.

A file whose name says raster or vector may be a virtual dataset that reads other files or the
network. So nothing is opened by its name: the first bytes decide on one format of a short list,
and only that format is opened. Paths must lead to regular files on this computer.

The walls are not complete against a file made to break the format library itself; layers of
unknown origin belong on a computer where that does not matter.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import warnings
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from terrain.errors import Issue

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS

__all__ = [
    "ISSUE_CODES",
    "RASTER_FORMATS",
    "VECTOR_FORMATS",
    "check_file",
    "layer_extent",
    "not_allowed",
    "open_layer",
    "quiet_proj_environment",
    "reason_in",
    "sha256_of",
    "sniff_raster",
    "sniff_vector",
    "to_working_crs",
]

ISSUE_CODES: dict[str, str] = {
    "INP20": "file missing or not a regular file",
    "INP21": "remote, prefixed or ambiguous path",
    "INP22": "file larger than the cap",
    "INP23": "content is not one of the allowed formats",
    "INP24": "virtual or computed dataset",
    "INP25": "layer cannot be read",
    "INP26": "layer not found, or more than one to choose from",
    "INP27": "no coordinate reference system",
    "INP28": "empty layer",
    "INP30": "coordinates that cannot be brought into the working CRS",
    "INP31": "coarse change of coordinate reference system",
}

RASTER_FORMATS = {"GTiff": "GeoTIFF", "AAIGrid": "Arc/Info ASCII grid", "GPKG": "GeoPackage"}
VECTOR_FORMATS = {
    "GPKG": "GeoPackage",
    "GeoJSON": "GeoJSON",
    "ESRI Shapefile": "Shapefile",
    "FlatGeobuf": "FlatGeobuf",
    "Parquet": "GeoParquet",
}

CRS_DOUBT_NOTE_M = 1.0
CRS_DOUBT_WARNING_M = 5.0

_FOREIGN_VARIABLES = ("PROJ_LIB", "PROJ_DATA", "GDAL_DATA", "GDAL_DRIVER_PATH")
_UNWANTED_DRIVERS = "OGR_VRT,WFS,OAPIF,HTTP,CSW,Carto,AmigoCloud,Elasticsearch,PLSCENES,NGW,EEDA"
_PREFIX = re.compile(r"(^|[/\\])[A-Za-z][A-Za-z0-9_+.-]+:([/\\]|$)|^[A-Za-z][A-Za-z0-9_+ .-]+:")
_HEAD_BYTES = 65536


def quiet_proj_environment() -> None:
    """Drop what other programs set for their own PROJ and GDAL, and forbid the network.

    ``PROJ_LIB`` and ``PROJ_DATA`` of a desktop GIS point to another version's database, which
    makes every EPSG code unknown to the raster library. Call this before rasterio, pyogrio or
    geopandas are imported; importing this module does. It changes ``os.environ`` of this process.
    """
    for name in _FOREIGN_VARIABLES:
        os.environ.pop(name, None)
    os.environ["PROJ_NETWORK"] = "OFF"
    os.environ["CPL_VSIL_CURL_ALLOWED_EXTENSIONS"] = ".none"
    os.environ.setdefault("OGR_SKIP", _UNWANTED_DRIVERS)


quiet_proj_environment()


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes as 64 hexadecimal digits (of the main file only, not sidecars)."""
    with Path(path).open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def check_file(
    path: Path, *, name: str | None = None, max_file_mb: float = 4000.0
) -> tuple[Path | None, list[Issue]]:
    """Make sure that ``path`` is a regular local file below the size cap.

    Parameters
    ----------
    path : Path
        Path as resolved against the block file's folder.
    name : str, optional
        How the block file writes it, for messages and for finding prefixes; default the path.
    max_file_mb : float
        Cap in megabytes (10^6 bytes).

    Returns
    -------
    absolute path or None, and the issues found (never raises for a bad path)
    """
    written = str(path) if name is None else name
    for text in (written, str(path)):
        if "://" in text or text.startswith(("/vsi", "\\vsi")) or _PREFIX.search(text):
            fix = "Give the path of a file on this computer, without prefix; copy remote data here."
            return None, [Issue("INP21", "error", "path is remote or prefixed", written, fix)]
    try:
        resolved = Path(path).resolve()
        status = resolved.stat()
    except (OSError, ValueError, RuntimeError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fix = "Check the spelling."
        if written != str(path):
            fix = "Check the spelling; the path is relative to the block file."
        return None, [Issue("INP20", "error", f"file cannot be found: {reason}", written, fix)]
    if not stat.S_ISREG(status.st_mode):
        fix = "Name the file itself, not a folder or device."
        return None, [Issue("INP20", "error", "not a regular file", written, fix)]
    size_mb = status.st_size / 1e6
    if size_mb > max_file_mb:
        what = f"file has {size_mb:,.0f} MB, the cap is {max_file_mb:,.0f} MB"
        fix = "Clip the layer to the block, or raise max_file_mb in [settings]."
        return None, [Issue("INP22", "error", what, written, fix)]
    if status.st_size == 0:
        fix = "Export the layer again."
        return None, [Issue("INP23", "error", "file is empty (0 bytes)", written, fix)]
    return resolved, []


def sniff_raster(path: Path) -> str | None:
    """GDAL driver name that the first bytes show, of :data:`RASTER_FORMATS`; else None."""
    head = _head(path)
    if head[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "GTiff"
    if _is_geopackage(head):
        return "GPKG"
    if re.match(rb"\s*ncols\s+\d", head, re.IGNORECASE):
        return "AAIGrid"
    return None


def sniff_vector(path: Path) -> str | None:
    """Format name that the first bytes show, of :data:`VECTOR_FORMATS`; else None."""
    head = _head(path)
    if _is_geopackage(head):
        return "GPKG"
    if head[:4] == b"fgb\x03":
        return "FlatGeobuf"
    if head[:4] == b"PAR1":
        return "Parquet"
    if head[:4] == b"\x00\x00\x27\x0a" and Path(path).suffix.lower() == ".shp":
        return "ESRI Shapefile"
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    known = re.search(rb'"(FeatureCollection|Feature|GeometryCollection|coordinates)"', text)
    if text[:1] == b"{" and known and b"gdal_streamed_alg" not in head:
        return "GeoJSON"
    return None


def _head(path: Path) -> bytes:
    with Path(path).open("rb") as stream:
        return stream.read(_HEAD_BYTES)


def _is_geopackage(head: bytes) -> bool:
    return head[:16] == b"SQLite format 3\x00" and head[68:72] in (b"GPKG", b"GP10", b"GP11")


def not_allowed(path: Path, where: str, formats: Mapping[str, str]) -> Issue:
    """Say that the content of ``path`` is none of the ``formats``."""
    allowed = f"Allowed: {', '.join(formats.values())}. Export the layer as one of these."
    head = _head(path)
    if re.match(rb"(\xef\xbb\xbf)?\s*<", head) or b"gdal_streamed_alg" in head:
        what = "content is a text that points to other data (a virtual dataset), not a layer"
        return Issue("INP24", "error", what, where, allowed)
    return Issue("INP23", "error", "content is not of an allowed format", where, allowed)


def open_layer(
    path: Path,
    layer: str | None = None,
    *,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, list[Issue]]:
    """Read a vector layer with the one format that its content shows.

    Parameters
    ----------
    path : Path
        Local file.
    layer : str, optional
        Layer name; may be left out when the file holds only one layer with geometry.
    name : str, optional
        How the block file writes the path.
    max_file_mb : float
        Size cap in megabytes.

    Returns
    -------
    layer or None, and issues
        Rows in file order with index 0..n-1 and the layer's own CRS. None when there is an error.
    """
    resolved, issues = check_file(path, name=name, max_file_mb=max_file_mb)
    if resolved is None:
        return None, issues
    where = Path(path).name if name is None else name
    driver = sniff_vector(resolved)
    if driver is None:
        return None, [not_allowed(resolved, where, VECTOR_FORMATS)]
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message=".*non conformant file extension")
            frame, issues = _read_sniffed(resolved, driver, layer, where)
    except Exception as error:  # the format libraries raise many kinds; each means "unreadable"
        what = f"{VECTOR_FORMATS[driver]} cannot be read: {reason_in(error, resolved, where)}"
        fix = "The file is damaged or incomplete; export it again (a Shapefile needs .shx, .dbf)."
        return None, [Issue("INP25", "error", what, where, fix)]
    if frame is None:
        return None, issues
    if len(frame) == 0:
        return None, [Issue("INP28", "error", "layer has no rows", where, "Export it again.")]
    frame = frame.reset_index(drop=True)
    if frame.crs is None:
        fix = "Assign the CRS in which it was drawn (a Shapefile needs its .prj) and export again."
        what = "layer has no coordinate reference system"
        return None, [Issue("INP27", "error", what, where, fix)]
    return frame, _degrees_issues(frame, where)


def _read_sniffed(
    path: Path, driver: str, layer: str | None, where: str
) -> tuple[gpd.GeoDataFrame | None, list[Issue]]:
    import geopandas as gpd
    import pyogrio
    from pyogrio.util import vsi_path

    if driver == "Parquet":
        return gpd.read_parquet(path), []
    if vsi_path(str(path)) != str(path):
        fix = "Rename file or folder: no '!', ';' or archive ending in the path."
        what = "path has characters that the format library takes for an archive or option"
        return None, [Issue("INP21", "error", what, where, fix)]
    names = [str(row[0]) for row in pyogrio.list_layers(path) if row[1] is not None]
    if layer is not None and layer not in names:
        near = get_close_matches(layer, names, n=1)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        fix = f"{hint}Layers in the file: {', '.join(names) or 'none with geometry'}."
        return None, [Issue("INP26", "error", f"no layer {layer!r}", where, fix)]
    if layer is None and len(names) != 1:
        what = f"file holds {len(names)} layers with geometry"
        fix = f"Name one with 'layer = ...': {', '.join(names)}." if names else "Export it again."
        return None, [Issue("INP26", "error", what, where, fix)]
    chosen = names[0] if layer is None else layer
    opened_as = pyogrio.read_info(path, layer=chosen)["driver"]
    if opened_as != driver:
        fix = f"Allowed: {', '.join(VECTOR_FORMATS.values())}."
        return None, [Issue("INP24", "error", f"content opens as {opened_as}", where, fix)]
    frame = pyogrio.read_dataframe(path, layer=chosen)
    if not isinstance(frame, gpd.GeoDataFrame):
        return None, [Issue("INP25", "error", "layer has no geometry", where, "Export it again.")]
    return frame, []


def reason_in(error: Exception, path: Path, name: str) -> str:
    """First line of a library's error, the file called by ``name``, without its full stop."""
    lines = str(error).replace(str(path), name).strip().splitlines()
    return lines[0][:200].rstrip(". ") if lines else type(error).__name__


def _degrees_issues(frame: gpd.GeoDataFrame, where: str) -> list[Issue]:
    """Find projected coordinates that travel under a CRS in degrees (usual with GeoJSON)."""
    import numpy as np

    west, south, east, north = frame.total_bounds
    if not frame.crs.is_geographic or np.isnan(west):
        return []
    if max(abs(west), abs(east)) <= 361 and max(abs(south), abs(north)) <= 90.001:
        return []
    what = (
        f"CRS is in degrees ({frame.crs.name}) but the coordinates reach "
        f"{max(map(abs, (west, south, east, north))):,.0f}"
    )
    fix = "Export it again with the CRS in which it was drawn."
    return [Issue("INP30", "error", what, where, fix)]


def layer_extent(
    path: Path, layer: str | None = None, *, name: str | None = None, max_file_mb: float = 4000.0
) -> tuple[tuple[tuple[float, float, float, float], CRS] | None, list[Issue]]:
    """Bounds (west, south, east, north, in the layer's units) and CRS of a vector layer.

    Returns None with the issues of :func:`open_layer` when it cannot be told.
    """
    import numpy as np

    frame, issues = open_layer(path, layer, name=name, max_file_mb=max_file_mb)
    if frame is None or any(issue.severity == "error" for issue in issues):
        return None, issues
    west, south, east, north = (float(value) for value in frame.total_bounds)
    if not np.isfinite([west, south, east, north]).all():
        where = Path(path).name if name is None else name
        what = "no row has a geometry with finite coordinates"
        return None, [*issues, Issue("INP28", "error", what, where, "Export the layer again.")]
    return ((west, south, east, north), frame.crs), issues


def to_working_crs(
    frame: gpd.GeoDataFrame, crs: str, *, where: str
) -> tuple[gpd.GeoDataFrame | None, list[Issue]]:
    """Bring a layer into the working CRS (``EPSG:n`` or WKT, metres); heights are dropped.

    A layer without CRS and coordinates that end up infinite are errors naming the file. When the
    datums differ, the accuracy that PROJ states for the change is passed on: a note above 1 m,
    a warning above 5 m or when unknown (limits are planning assumptions: a trail corridor is a
    few metres wide).
    """
    import numpy as np
    import shapely
    from pyproj import CRS

    if frame.crs is None:
        what = "layer has no coordinate reference system"
        fix = "Assign the CRS in which it was drawn and export it again."
        return None, [Issue("INP27", "error", what, where, fix)]
    flat = frame.set_geometry(shapely.force_2d(frame.geometry.values), crs=frame.crs)
    target = CRS(crs)
    if flat.crs.equals(target, ignore_axis_order=True):
        return flat.set_crs(target, allow_override=True), []
    moved = flat.to_crs(target)
    bounds = moved.geometry.bounds.to_numpy()
    drawn = ~(moved.geometry.isna() | moved.geometry.is_empty).to_numpy()
    lost = np.flatnonzero(drawn & ~np.isfinite(bounds).all(axis=1))
    if len(lost):
        rows = ", ".join(str(row + 1) for row in lost)
        what = f"{len(lost)} rows have coordinates outside the reach of {target.name}"
        fix = f"Check the layer's CRS; it says {frame.crs.name}."
        return None, [Issue("INP30", "error", what, f"{where}, rows {rows}", fix)]
    return moved, _accuracy_issues(flat, target, where)


def _accuracy_issues(frame: gpd.GeoDataFrame, target: CRS, where: str) -> list[Issue]:
    from pyproj import CRS, Transformer

    one, other = CRS(frame.crs).geodetic_crs, target.geodetic_crs
    if one is None or other is None or one.datum == other.datum:
        return []
    west, south, east, north = frame.total_bounds
    operation = Transformer.from_crs(frame.crs, target, always_xy=True)
    operation.transform((west + east) / 2, (south + north) / 2)
    accuracy_m = operation.get_last_used_operation().accuracy
    if 0 <= accuracy_m <= CRS_DOUBT_NOTE_M:
        return []
    stated = "of unknown accuracy" if accuracy_m < 0 else f"good to about {accuracy_m:g} m"
    what = f"change from {frame.crs.name} to {target.name} is {stated}"
    doubtful = accuracy_m < 0 or accuracy_m > CRS_DOUBT_WARNING_M
    fix = "Check that trails and relief lie together on the map; better export in the DEM's CRS."
    return [Issue("INP31", "warning" if doubtful else "note", what, where, fix)]
