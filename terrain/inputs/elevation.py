"""Read the window of an elevation model round the trails as a metric grid; voids stay voids.

The header is checked before any cell is read. A model whose CRS is projected in metres and true to
length keeps its cells. Others (degrees, feet, stretched like Web Mercator, cells not square) are
resampled bilinearly onto square metric cells as large as the source's mean; a cell is void exactly
where the source cell under its centre is void.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.errors import Issue, Severity
from terrain.grid import Grid
from terrain.inputs.guarded import (
    RASTER_FORMATS,
    check_file,
    not_allowed,
    quiet_proj_environment,
    reason_in,
    sha256_of,
    sniff_raster,
)
from terrain.inputs.loaded import InputFile
from terrain.inputs.metric_grid import (
    Bounds,
    ReadingStopped,
    buffered_bounds,
    check_cells,
    crs_text,
    metric_crs,
    moved_bounds,
    resampled,
)
from terrain.units import FOOT_M, US_SURVEY_FOOT_M

quiet_proj_environment()

import rasterio  # noqa: E402
import rasterio.errors  # noqa: E402
from pyproj import CRS  # noqa: E402
from rasterio.transform import Affine  # noqa: E402
from rasterio.windows import Window  # noqa: E402

__all__ = ["ISSUE_CODES", "read_dem", "trails_off_dem"]

ISSUE_CODES: dict[str, str] = {
    "DEM01": "elevation model cannot be read",
    "DEM02": "not one band of plain numbers",
    "DEM03": "no coordinate reference system, or one not fit for a map",
    "DEM04": "position unknown, rotated or not north-up",
    "DEM05": "too many cells",
    "DEM06": "elevation model does not reach the trails",
    "DEM07": "no elevation in the window",
    "DEM08": "resampled to square metric cells",
    "DEM09": "unit of the heights",
    "DEM10": "heights that no land has",
    "DEM11": "heights in whole units",
    "DEM12": "voids in the window",
    "DEM13": "sidecar file is not what it should be",
    "DEM14": "cells too coarse for trails",
    "DEM20": "trail off the elevation model",
    "DEM21": "trail over voids of the elevation model",
}

SQUARE_TOLERANCE = 0.01
LOWEST_LAND_M, HIGHEST_LAND_M = -500.0, 9000.0
COARSE_CELL_M = 10.0

_UNIT_M = {"m": 1.0, "ft": FOOT_M, "us-ft": US_SURVEY_FOOT_M}
_UNIT_WORDS = {
    "m": ("m", "metre", "meter", "metres", "meters"),
    "ft": ("ft", "foot", "feet", "international foot"),
    "us-ft": ("us-ft", "us survey foot", "us survey feet", "us_survey_foot", "ftus", "foot_us"),
}


def read_dem(
    path: Path,
    *,
    bounds_of_trails: Bounds,
    trails_crs: Any,
    buffer_m: float = 150.0,
    elevation_unit: str | None = None,
    max_cells: int = 100_000_000,
    max_file_mb: float = 4000.0,
    name: str | None = None,
) -> tuple[Grid | None, InputFile | None, list[Issue]]:
    """Read the elevation model round the trails.

    Parameters
    ----------
    path : Path
        GeoTIFF, Arc/Info ASCII grid or GeoPackage raster, told by content.
    bounds_of_trails : tuple of float
        West, south, east, north in ``trails_crs``.
    trails_crs : anything pyproj reads
        CRS of those bounds.
    buffer_m : float
        Margin round the trails in metres that is read too.
    elevation_unit : {"m", "ft", "us-ft"}, optional
        Unit of the heights; None takes it from the vertical CRS or the band, else metres.
    max_cells : int
        Cap on the cells of the window, before reading and after resampling.
    max_file_mb : float
        Cap on the file's size in megabytes.
    name : str, optional
        How the block file writes the path.

    Returns
    -------
    grid, file, issues
        Heights in metres, float32, voids NaN. The CRS is the source's own when projected in metres
        with lengths true within 1 %, else the local UTM zone. Grid and file are None on errors.
        Never raises for a bad file.
    """
    where = Path(path).name if name is None else name
    resolved, issues = check_file(path, name=name, max_file_mb=max_file_mb)
    if resolved is None:
        return None, None, issues
    if (driver := sniff_raster(resolved)) is None:
        return None, None, [not_allowed(resolved, where, RASTER_FORMATS)]

    def say(severity: Any, code: str, what: str, fix: str) -> None:
        issues.append(Issue(code, severity, what, where, fix))

    try:
        _check_sidecars(resolved)
        box_crs = CRS.from_user_input(trails_crs)
        with _opened(resolved, driver) as source:
            crs, unit_stated = _check_header(source, max_cells)
            working = metric_crs(crs, bounds_of_trails, box_crs)
            wanted = buffered_bounds(bounds_of_trails, box_crs, working, buffer_m)
            window = _window_of(source, crs, working, wanted, max_cells)
            values = _read_window(source, window, say)
            transform = source.window_transform(window)
            detail = f"{RASTER_FORMATS[driver]}, {source.width} x {source.height} cells"
        whole = bool((values == np.round(values))[~np.isnan(values)].all())
        factor = _height_factor(elevation_unit, unit_stated, crs, say)
        values = _voided_nonsense(values * np.float32(factor), say)
        if np.isnan(values).all():
            fix = "Check that the file is the elevation model and covers the trails."
            raise ReadingStopped("DEM07", "every cell round the trails is void", fix)
        grid = _as_grid(values, transform, crs, working, wanted, max_cells, say)
    except ReadingStopped as refusal:
        say("error", refusal.code, refusal.what, refusal.fix)
        return None, None, issues
    except (rasterio.errors.RasterioError, OSError) as error:
        what = f"cannot be read: {reason_in(error, resolved, where)}"
        say("error", "DEM01", what, "Damaged? Export it again.")
        return None, None, issues
    if whole:
        what = f"heights are whole {unit_stated or elevation_unit or 'metres'}; gradients over a"
        say("note", "DEM11", f"{what} few cells come in steps", "Prefer a model with decimals.")
    if grid.cell_m > COARSE_CELL_M:
        what = f"cells of {grid.cell_m:.1f} m smooth out what a machine stands on"
        say("warning", "DEM14", what, "Use a model with cells of 1 to 5 m where there is one.")
    if (void := float(np.isnan(grid.values).mean())) > 0:
        what = f"{void:.1%} of the window are void and stay so"
        say("note", "DEM12", what, "Gradients next to voids are not assessed.")
    detail += f"; window {grid.shape[1]} x {grid.shape[0]} cells of {grid.cell_m:g} m in {grid.crs}"
    return grid, InputFile("dem", where, sha256_of(resolved), detail), issues


def _check_sidecars(path: Path) -> None:
    """Masks and overviews beside a raster are opened unasked: they must be TIFF themselves."""
    for suffix in (".msk", ".ovr", ".MSK", ".OVR"):
        for sidecar in (Path(f"{path}{suffix}"), path.with_suffix(suffix)):
            if sidecar.is_file() and sniff_raster(sidecar) != "GTiff":
                fix = f"Remove {sidecar.name} or build it again."
                raise ReadingStopped("DEM13", f"{sidecar.name} beside it is not a TIFF", fix)


@contextmanager
def _opened(path: Path, driver: str) -> Iterator[Any]:
    """Open with this one driver and nothing else."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.Env(), rasterio.open(path, driver=driver) as source:
            yield source


def _check_header(source: Any, max_cells: int) -> tuple[CRS, str | None]:
    """Refuse what is not one north-up band on a map; return horizontal CRS and stated unit."""
    kind = np.dtype(source.dtypes[0]) if source.count else np.dtype("V")
    if source.count != 1 or kind.kind not in "iuf":
        what = f"file has {source.count} bands of {', '.join(source.dtypes) or 'nothing'}"
        raise ReadingStopped("DEM02", what, "Export one band of heights as integers or floats.")
    block_rows, block_columns = source.block_shapes[0]
    check_cells(block_rows, block_columns, max_cells)
    t = source.transform
    north_up = "Export it again georeferenced and north-up (no rotation, no shear)."
    if not np.isfinite([*t]).all() or t.a == 0 or t.e == 0 or t == Affine.identity():
        raise ReadingStopped("DEM04", "position of the cells is missing or not finite", north_up)
    if t.a < 0 or t.e > 0 or abs(t.b) > 1e-6 * t.a or abs(t.d) > 1e-6 * -t.e:
        raise ReadingStopped("DEM04", "grid is rotated, sheared or not north-up", north_up)
    if source.crs is None:
        fix = "Assign the CRS (an ASCII grid needs its .prj beside it) and export it again."
        raise ReadingStopped("DEM03", "no coordinate reference system", fix)
    try:
        crs = CRS.from_wkt(source.crs.to_wkt())
    except Exception as error:
        fix = "Export it again in a projected CRS with an EPSG code."
        raise ReadingStopped("DEM03", "the CRS in the file cannot be understood", fix) from error
    heights = [axis.unit_name for axis in crs.axis_info if axis.direction.lower() == "up"]
    stated = next((u for u in (*heights, source.units[0]) if u), None)
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    crs = crs.to_2d()
    if not (crs.is_projected or crs.is_geographic):
        fix = "Export it again in a projected CRS."
        raise ReadingStopped("DEM03", f"CRS {crs.name!r} is not tied to the earth", fix)
    return crs, stated


def _window_of(source: Any, crs: CRS, working: CRS, wanted: Bounds, max_cells: int) -> Window:
    """Cells of the source round the trails; one ring more where resampling needs it."""
    t, margin = source.transform, 0 if crs == working else 3
    west, south, east, north = moved_bounds(wanted, working, crs)
    first_column = max(math.floor((west - t.c) / t.a) - margin, 0)
    last_column = min(math.ceil((east - t.c) / t.a) + margin, source.width)
    first_row = max(math.floor((north - t.f) / t.e) - margin, 0)
    last_row = min(math.ceil((south - t.f) / t.e) + margin, source.height)
    columns, rows = last_column - first_column, last_row - first_row
    if columns <= 0 or rows <= 0:
        what = f"trails and buffer lie at {_place((west, south, east, north))}, the elevation model"
        what += f" covers {_place(tuple(source.bounds))} in {crs.name}: they do not meet"
        raise ReadingStopped(
            "DEM06", what, "Check both CRS, or take the tile where the trails are."
        )
    check_cells(rows, columns, max_cells)
    return Window(first_column, first_row, columns, rows)


def _place(bounds: Bounds) -> str:
    west, south, east, north = bounds
    return f"{west:.7g} to {east:.7g} east, {south:.7g} to {north:.7g} north"


def _read_window(source: Any, window: Window, say: Any) -> NDArray[np.float32]:
    """Values of the window, float32, NaN where masked, not finite or never written."""
    try:
        data = source.read(1, window=window, masked=True)
    except MemoryError as error:
        raise ReadingStopped(
            "DEM05", "window does not fit into memory", "Lower buffer_m."
        ) from error
    values = data.astype(np.float64) * source.scales[0] + source.offsets[0]
    heights = np.asarray(values.filled(np.nan), dtype=np.float32)
    heights[~np.isfinite(heights)] = np.nan
    unwritten = _unwritten(source, window)
    if unwritten.any():
        heights[unwritten] = np.nan
        what = f"{int(unwritten.sum()):,} cells of the window were never written in the file"
        say("warning", "DEM12", f"{what}; taken as void", "Export the elevation model again.")
    return heights


def _unwritten(source: Any, window: Window) -> NDArray[np.bool_]:
    """Cells in blocks that a sparse GeoTIFF leaves out (the library would read them as 0)."""
    missing = np.zeros((int(window.height), int(window.width)), dtype=bool)
    if source.driver != "GTiff":
        return missing
    high, wide = source.block_shapes[0]
    top, left = int(window.row_off), int(window.col_off)
    for i in range(top // high, (top + missing.shape[0] - 1) // high + 1):
        for j in range(left // wide, (left + missing.shape[1] - 1) // wide + 1):
            if source.get_tag_item(f"BLOCK_OFFSET_{j}_{i}", "TIFF", bidx=1) is None:
                rows = slice(max(i * high - top, 0), max((i + 1) * high - top, 0))
                missing[rows, max(j * wide - left, 0) : max((j + 1) * wide - left, 0)] = True
    return missing


def _height_factor(given: str | None, stated: str | None, crs: CRS, say: Any) -> float:
    """Metres per unit of height: the block file first, then the file's own word, else metres."""
    known = None
    if stated is not None:
        word = stated.strip().lower()
        known = next((unit for unit, words in _UNIT_WORDS.items() if word in words), None)
        if known is None and given is None:
            fix = 'Say elevation_unit = "m", "ft" or "us-ft" in [dem].'
            raise ReadingStopped("DEM09", f"unit of the heights is {stated!r}", fix)
    if given is not None and given not in _UNIT_M:
        fix = f"Allowed: {', '.join(_UNIT_M)}."
        raise ReadingStopped("DEM09", f"elevation_unit {given!r} is not known", fix)
    unit = given or known
    if given is not None and known is not None and given != known:
        what = f"block file says {given}, the file says {stated}; the block file rules"
        say("warning", "DEM09", what, "Make sure: a wrong unit makes every slope wrong.")
    if unit is None:
        feet = any("foot" in axis.unit_name.lower() for axis in crs.axis_info)
        what = "unit of the heights is not stated; metres assumed"
        fix = 'Say elevation_unit = "m", "ft" or "us-ft" in [dem].'
        if feet:
            what += " although the map is in feet: slopes are wrong if heights are in feet too"
        say("warning" if feet else "note", "DEM09", what, fix)
    elif unit != "m":
        what = f"heights turned from {unit} into metres ({_UNIT_M[unit]:.7f} m)"
        say("note", "DEM09", what, "Nothing to do if that is right.")
    return _UNIT_M[unit or "m"]


def _voided_nonsense(heights_m: NDArray[np.float32], say: Any) -> NDArray[np.float32]:
    """Take heights that no land on earth has (undeclared void marks) as voids, and say so."""
    strange = (heights_m < LOWEST_LAND_M) | (heights_m > HIGHEST_LAND_M)
    if strange.any():
        what = (
            f"{int(strange.sum()):,} cells, like {float(heights_m[strange][0]):.6g} m, lie outside"
        )
        what += f" {LOWEST_LAND_M:.0f} to {HIGHEST_LAND_M:.0f} m; taken as void"
        say("warning", "DEM10", what, "Declare the void value in the file; check the unit.")
        heights_m = np.where(strange, np.float32(np.nan), heights_m)
    return heights_m


def _as_grid(
    values: NDArray[np.float32],
    transform: Affine,
    crs: CRS,
    working: CRS,
    wanted: Bounds,
    max_cells: int,
    say: Any,
) -> Grid:
    """Keep square cells of a fitting CRS as they are; resample the rest and say so."""
    t = transform
    off_square = abs(t.a + t.e) / t.a
    if crs == working and off_square <= 1e-6:
        return Grid(values, float(t.c), float(t.f), float(t.a), crs_text(working))
    grid = resampled(values, transform, crs, working, wanted, max_cells)
    if crs == working:
        reason = f"cells are not square ({t.a:g} x {-t.e:g} m)"
    else:
        unit = crs.axis_info[0].unit_name
        reason = f"CRS {crs.name} (in {unit}) is not metric and true to length within 1 %"
    what = f"{reason}; resampled bilinearly to {grid.cell_m:g} m cells in {working.name}"
    severity = "warning" if crs == working and off_square > SQUARE_TOLERANCE else "note"
    say(severity, "DEM08", what, "Best bring a model in a local metric CRS with square cells.")
    return grid


def trails_off_dem(dem: Grid, trails: gpd.GeoDataFrame, *, where: str) -> list[Issue]:
    """Name the trails that run off the grid or over voids, with the metres.

    Parameters
    ----------
    dem : Grid
        Elevation, NaN where void.
    trails : GeoDataFrame
        Index trail id, LineStrings in ``dem.crs``.
    where : str
        Name of the DEM file.

    Returns
    -------
    list of Issue
        A trail wholly off the grid is an error; partly off or over voids a warning. Metres are
        counted from points half a cell apart, good to about a cell.
    """
    lost: dict[str, list[str]] = {key: [] for key in ("whole", "part", "void")}
    west, south, east, north = dem.bounds
    for name, line in trails.geometry.items():
        count = max(math.ceil(2 * line.length / dem.cell_m), 2)
        where_along = (np.arange(count) + 0.5) / count
        points = shapely.line_interpolate_point(line, where_along, normalized=True)
        x, y = shapely.get_x(points), shapely.get_y(points)
        off = (x < west) | (x > east) | (y < south) | (y > north)
        void = ~off & np.isnan(dem.at(x, y))
        step_m = line.length / count
        if off.any():
            text = f"{name} {off.sum() * step_m:.0f} of {line.length:.0f} m"
            lost["whole" if off.all() else "part"].append(text)
        if void.any():
            lost["void"].append(f"{name} {void.sum() * step_m:.0f} of {line.length:.0f} m")
    issues = []
    for key, code, severity, text, fix in (
        ("whole", "DEM20", "error", "trails off the elevation model", "Take the fitting tiles."),
        (
            "part",
            "DEM20",
            "warning",
            "trails leave the elevation model",
            "That part stays unknown.",
        ),
        ("void", "DEM21", "warning", "trails cross voids", "Those metres stay unknown."),
    ):
        if lost[key]:
            what = f"{text}: {', '.join(lost[key])}"
            issues.append(Issue(code, cast(Severity, severity), what, where, fix))
    return issues
