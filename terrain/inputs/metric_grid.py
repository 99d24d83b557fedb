"""Bring heights onto square metric cells: which CRS serves, and how cells are moved into it.

A void stays where it was: a cell of the result is void exactly where the source cell under its
centre is void, and no height is carried into a void.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.grid import Grid
from terrain.inputs.guarded import quiet_proj_environment

quiet_proj_environment()

from pyproj import CRS, Proj, Transformer  # noqa: E402
from pyproj.aoi import AreaOfInterest  # noqa: E402
from pyproj.database import query_utm_crs_info  # noqa: E402
from rasterio.transform import Affine  # noqa: E402

__all__ = [
    "Bounds",
    "ReadingStopped",
    "buffered_bounds",
    "check_cells",
    "crs_text",
    "metric_crs",
    "moved_bounds",
    "resampled",
]

STRETCH_TOLERANCE = 0.01
BLOCK_ROWS = 512
NODE_CELLS = 16
Bounds = tuple[float, float, float, float]


class ReadingStopped(Exception):
    """Ends the reading of a raster with the one issue that it carries; never leaves the reader."""

    def __init__(self, code: str, what: str, fix: str):
        super().__init__(what)
        self.code, self.what, self.fix = code, what, fix


def metric_crs(crs: CRS, bounds: Bounds, bounds_crs: CRS) -> CRS:
    """Choose the working CRS: the raster's own when it is metric and true to length, else UTM.

    ``bounds`` (west, south, east, north in ``bounds_crs``) say where it must be true: lengths
    within 1 % at their middle (a planning assumption; Web Mercator fails it away from the
    equator). The UTM zone keeps the raster's datum when such a zone exists, else WGS 84.
    """
    west, south, east, north = bounds
    to_degrees = Transformer.from_crs(bounds_crs, 4326, always_xy=True)
    longitude, latitude = to_degrees.transform((west + east) / 2, (south + north) / 2)
    if not (np.isfinite([longitude, latitude]).all() and abs(latitude) <= 84):
        fix = "Check the CRS of the trails layer."
        raise ReadingStopped("DEM06", "the trails' coordinates lie nowhere on earth", fix)
    if crs.is_projected and all(a.unit_conversion_factor == 1.0 for a in crs.axis_info):
        scale = Proj(crs).get_factors(longitude, latitude)
        stretch = max(abs(scale.meridional_scale - 1), abs(scale.parallel_scale - 1))
        if stretch <= STRETCH_TOLERANCE:
            return crs
    here = AreaOfInterest(longitude, latitude, longitude, latitude)
    datum = crs.geodetic_crs.name if crs.geodetic_crs is not None else "WGS 84"
    for wanted in (datum, "WGS 84"):
        found = query_utm_crs_info(datum_name=wanted, area_of_interest=here)
        zones = [CRS.from_epsg(int(row.code)) for row in found]
        eastward = [zone for zone in zones if zone.axis_info[0].direction == "east"]
        if eastward:
            return eastward[0]
    fix = "Export it in a local metric CRS."
    raise ReadingStopped("DEM03", "there is no UTM zone for this place", fix)


def moved_bounds(bounds: Bounds, source: CRS, target: CRS) -> Bounds:
    """Bounds of a box of ``source`` in ``target`` (edges densified)."""
    moved = Transformer.from_crs(source, target, always_xy=True).transform_bounds(*bounds)
    if not np.isfinite(moved).all():
        fix = "Check the CRS of the trails layer and of the elevation model."
        raise ReadingStopped("DEM06", "trails cannot be placed on the elevation model", fix)
    west, south, east, north = (float(value) for value in moved)
    return west, south, east, north


def buffered_bounds(bounds: Bounds, bounds_crs: CRS, working: CRS, buffer_m: float) -> Bounds:
    """Bounds in the working CRS, widened by ``buffer_m`` metres on every side."""
    west, south, east, north = moved_bounds(bounds, bounds_crs, working)
    return west - buffer_m, south - buffer_m, east + buffer_m, north + buffer_m


def check_cells(rows: int, columns: int, max_cells: int) -> None:
    """Stop the reading (DEM05) when ``rows * columns`` is above the cap."""
    if rows * columns > max_cells:
        what = f"window has {rows * columns:,} cells ({columns} x {rows}), the cap is {max_cells:,}"
        fix = (
            "Check for a stray trail far away, lower buffer_m in [settings] or margin_m in [flow], "
            "or raise max_cells in [settings]."
        )
        raise ReadingStopped("DEM05", what, fix)


def resampled(
    values: NDArray[np.float32],
    transform: Affine,
    crs: CRS,
    working: CRS,
    wanted: Bounds,
    max_cells: int,
) -> Grid:
    """Resample heights bilinearly onto square cells of the working CRS.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
        Heights, NaN where void.
    transform, crs
        Where the source's cells lie.
    working : CRS
        Projected, in metres.
    wanted : tuple of float
        West, south, east, north in the working CRS; the grid covers its overlap with the source.
    max_cells : int
        Cap on the cells of the result.

    Returns
    -------
    Grid
        Cells as large in area as the source's cell in the middle of the window.
    """
    t, (rows, columns) = transform, values.shape
    source_box = (t.c, t.f + rows * t.e, t.c + columns * t.a, t.f)
    covered = moved_bounds(source_box, crs, working)
    west, south = max(covered[0], wanted[0]), max(covered[1], wanted[1])
    east, north = min(covered[2], wanted[2]), min(covered[3], wanted[3])
    cell_m = round(_middle_cell_m(transform, values.shape, crs, working), 4)
    shape = (max(math.ceil((north - south) / cell_m), 1), max(math.ceil((east - west) / cell_m), 1))
    check_cells(*shape, max_cells)
    heights = np.full(shape, np.nan, dtype=np.float32)
    back = Transformer.from_crs(working, crs, always_xy=True)
    for top in range(0, shape[0], BLOCK_ROWS):
        rows_here = min(BLOCK_ROWS, shape[0] - top)
        x, y = _source_places(back, west, north - top * cell_m, cell_m, (rows_here, shape[1]))
        heights[top : top + rows_here] = _bilinear_keeping_voids(
            values, (x - t.c) / t.a - 0.5, (y - t.f) / t.e - 0.5
        )
    return Grid(heights, west, north, cell_m, crs_text(working))


def _source_places(
    back: Transformer, west_m: float, north_m: float, cell_m: float, shape: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Source coordinates of cell centres: exact at nodes 16 cells apart, linear between them.

    Between nodes 16 cells of 1 m apart, map projections bend by about (16 m)^2 / (8 x earth
    radius), a hundredth of a millimetre.
    """
    places, nodes, firsts, weights = [], [], [], []
    for count in shape:
        node = np.arange(-(-(count - 1) // NODE_CELLS) + 2 if count > 1 else 2) * NODE_CELLS
        at = np.arange(count)
        nodes.append(node)
        firsts.append(at // NODE_CELLS)
        weights.append((at % NODE_CELLS) / NODE_CELLS)
    x, y = np.meshgrid(west_m + (nodes[1] + 0.5) * cell_m, north_m - (nodes[0] + 0.5) * cell_m)
    for exact in back.transform(x, y):
        down = weights[0][:, None]
        along_rows = exact[firsts[0]] * (1 - down) + exact[firsts[0] + 1] * down
        left, right = along_rows[:, firsts[1]], along_rows[:, firsts[1] + 1]
        places.append(left * (1 - weights[1]) + right * weights[1])
    return places[0], places[1]


def _bilinear_keeping_voids(
    values: NDArray[np.float32], column: NDArray[np.float64], row: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Bilinear values at places counted in cell centres; void where the cell under it is void.

    Next to a void the weights of the known neighbours are scaled up to one.
    """
    rows, columns = values.shape
    nearest_row, nearest_column = np.rint(row).astype(int), np.rint(column).astype(int)
    inside = (nearest_row >= 0) & (nearest_row < rows)
    inside &= (nearest_column >= 0) & (nearest_column < columns)
    first_row, first_column = np.floor(row).astype(int), np.floor(column).astype(int)
    total, weight_sum = np.zeros(row.shape), np.zeros(row.shape)
    for i in (0, 1):
        for j in (0, 1):
            weight = np.abs(1 - i - (row - first_row)) * np.abs(1 - j - (column - first_column))
            at_row = np.clip(first_row + i, 0, rows - 1)
            value = values[at_row, np.clip(first_column + j, 0, columns - 1)]
            known = ~np.isnan(value)
            total += np.where(known, weight * np.where(known, value, 0.0), 0.0)
            weight_sum += np.where(known, weight, 0.0)
    under = values[np.clip(nearest_row, 0, rows - 1), np.clip(nearest_column, 0, columns - 1)]
    keep = inside & ~np.isnan(under) & (weight_sum > 0)
    return np.where(keep, total / np.where(keep, weight_sum, 1.0), np.nan)


def _middle_cell_m(transform: Affine, shape: tuple[int, ...], crs: CRS, working: CRS) -> float:
    """Side of a square with the area of the source's middle cell, in metres."""
    t = transform
    x, y = t.c + shape[1] / 2 * t.a, t.f + shape[0] / 2 * t.e
    move = Transformer.from_crs(crs, working, always_xy=True)
    px, py = move.transform([x, x + t.a, x + t.a, x], [y, y, y + t.e, y + t.e])
    px, py = np.asarray(px) - px[0], np.asarray(py) - py[0]
    return math.sqrt(0.5 * abs(float(px @ np.roll(py, 1) - py @ np.roll(px, 1))))


def crs_text(crs: Any) -> str:
    """``EPSG:n`` when the code means exactly this CRS, else WKT."""
    code = crs.to_epsg()
    if code is not None and CRS.from_epsg(code).equals(crs, ignore_axis_order=True):
        return f"EPSG:{code}"
    return str(crs.to_wkt())
