"""Read streams, open water, crossings and drawn buffers; refuse by row what is none of them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from terrain.errors import Issue, errors_in
from terrain.grid import Grid
from terrain.inputs.attributes import find_column, rows_text, text_values
from terrain.inputs.guarded import open_layer, sha256_of, to_working_crs
from terrain.inputs.loaded import InputFile
from terrain.inputs.refs import LayerRef
from terrain.inputs.soils import polygonal

__all__ = ["ISSUE_CODES", "read_areas", "read_crossings", "read_streams"]

ISSUE_CODES: dict[str, str] = {
    "WTR01": "row of the stream layer that is no line",
    "WTR02": "row of an area layer that is no polygon",
    "WTR03": "nothing of a water layer lies on the elevation model",
    "WTR04": "invalid polygon repaired",
    "CRS01": "crossing that is neither point nor line",
    "CRS02": "crossing id missing or used twice",
    "CRS03": "crossing off the elevation model or on a void: not carved",
}

Layer = tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]


def read_streams(
    ref: LayerRef, crs: str, dem: Grid | None, *, max_file_mb: float = 4000.0
) -> Layer:
    """Read mapped streams: one row for each line, only ``geometry``, in the working CRS.

    Rows that are no lines are errors by row; lines wholly off ``dem`` are only noted.
    """
    frame, issues = _opened(ref, crs, max_file_mb)
    if frame is None:
        return None, None, issues
    kept, found = _of_kind(frame, ("LineString", "MultiLineString"), "WTR01", "a line", ref.name)
    issues += found
    if errors_in(issues):
        return None, None, issues
    streams = gpd.GeoDataFrame(geometry=kept, crs=frame.crs)
    issues += _off_dem(streams, dem, ref.name)
    file = InputFile("streams", ref.name, sha256_of(ref.path), f"{len(streams)} lines")
    return streams, file, issues


def read_areas(
    ref: LayerRef, crs: str, dem: Grid | None, role: str, *, max_file_mb: float = 4000.0
) -> Layer:
    """Read polygons of open water or buffers (``role`` says which), valid, only ``geometry``."""
    frame, issues = _opened(ref, crs, max_file_mb)
    if frame is None:
        return None, None, issues
    kept, found = _of_kind(frame, ("Polygon", "MultiPolygon"), "WTR02", "a polygon", ref.name)
    issues += found
    if errors_in(issues):
        return None, None, issues
    broken = np.flatnonzero(~shapely.is_valid(kept)).tolist()
    if broken:
        what = f"invalid outline repaired: {rows_text(broken)}"
        issues.append(Issue("WTR04", "warning", what, ref.name, "Check it on the map."))
        kept = np.array([polygonal(shapely.make_valid(area)) for area in kept], dtype=object)
    areas = gpd.GeoDataFrame(geometry=kept, crs=frame.crs)
    issues += _off_dem(areas, dem, ref.name)
    file = InputFile(role, ref.name, sha256_of(ref.path), f"{len(areas)} areas")
    return areas, file, issues


def read_crossings(
    ref: LayerRef, crs: str, dem: Grid | None, *, max_file_mb: float = 4000.0
) -> Layer:
    """Read culverts and bridges.

    Returns
    -------
    crossings, file, issues
        Index ``crossing`` (str, unique); ``kind`` (str or None), ``carved`` (bool: both ends lie
        on known cells of ``dem``), ``geometry`` Point or LineString in the working CRS.
    """
    frame, issues = _opened(ref, crs, max_file_mb)
    if frame is None:
        return None, None, issues
    columns = {}
    for key in ("id", "kind"):
        columns[key], found = find_column(frame, ref.columns.get(key), key=key, where=ref.name)
        issues += found
    if errors_in(issues):
        return None, None, issues
    kept, found = _of_kind(
        frame, ("Point", "LineString"), "CRS01", "one point or one line", ref.name
    )
    issues += found
    given = text_values(frame[columns["id"]]) if columns["id"] else [None] * len(frame)
    if columns["id"]:
        missing = [row for row, name in enumerate(given) if name is None]
        again = [row for row, name in enumerate(given) if name is not None and name in given[:row]]
        if missing or again:
            what = f"crossings without an id of their own: {rows_text([*missing, *again])}"
            issues.append(Issue("CRS02", "error", what, ref.name, "Give each its own id."))
    if errors_in(issues):
        return None, None, issues
    names = [name or f"crossing {row + 1}" for row, name in enumerate(given)]
    kind = text_values(frame[columns["kind"]]) if columns["kind"] else [None] * len(frame)
    carved = np.array([dem is not None and _on_known_cells(shape, dem) for shape in kept])
    if dem is not None and not carved.all():
        what = "crossings off the elevation model or on its voids, not carved: "
        what += ", ".join(name for name, good in zip(names, carved, strict=True) if not good)
        fix = "Nothing to do where they lie far off; else move them onto known ground."
        issues.append(Issue("CRS03", "warning", what, ref.name, fix))
    crossings = gpd.GeoDataFrame(
        {"kind": pd.Series(kind, dtype=object).to_numpy(), "carved": carved},
        index=pd.Index(names, name="crossing", dtype=object),
        geometry=kept,
        crs=frame.crs,
    )
    file = InputFile("crossings", ref.name, sha256_of(ref.path), f"{len(crossings)} crossings")
    return crossings, file, issues


def _opened(
    ref: LayerRef, crs: str, max_file_mb: float
) -> tuple[gpd.GeoDataFrame | None, list[Issue]]:
    frame, issues = open_layer(ref.path, ref.layer, name=ref.name, max_file_mb=max_file_mb)
    if frame is None:
        return None, issues
    moved, found = to_working_crs(frame, crs, where=ref.name)
    return moved, issues + found


def _of_kind(
    frame: gpd.GeoDataFrame, kinds: tuple[str, ...], code: str, wanted: str, where: str
) -> tuple[np.ndarray, list[Issue]]:
    """Geometries, single parts unpacked, and an error naming the rows that are of no such kind."""
    kept = np.full(len(frame), None, dtype=object)
    wrong = []
    for row, geometry in enumerate(frame.geometry.values):
        shape = geometry
        if shape is not None and shape.geom_type.startswith("Multi") and len(shape.geoms) == 1:
            shape = shape.geoms[0]
        if shape is None or shape.is_empty or shape.geom_type not in kinds:
            wrong.append(row)
        else:
            kept[row] = shape
    if not wrong:
        return kept, []
    what = f"not {wanted}: {rows_text(wrong)}"
    return kept, [Issue(code, "error", what, where, "Remove these rows or draw them again.")]


def _off_dem(layer: gpd.GeoDataFrame, dem: Grid | None, where: str) -> list[Issue]:
    if dem is None or shapely.intersects(layer.geometry.values, shapely.box(*dem.bounds)).any():
        return []
    what = "nothing of the layer lies on the elevation model read round the trails"
    return [Issue("WTR03", "warning", what, where, "Check its CRS, or raise flow.margin_m.")]


def _on_known_cells(shape: shapely.Geometry, dem: Grid) -> bool:
    """Whether every vertex lies on the grid, and both ends on known elevation."""
    xy = shapely.get_coordinates(shape)
    row, column = dem.rows_columns(xy[:, 0], xy[:, 1])
    rows, columns = dem.shape
    if (row < 0).any() or (row >= rows).any() or (column < 0).any() or (column >= columns).any():
        return False
    return bool(np.isfinite(dem.values[row[[0, -1]], column[[0, -1]]]).all())
