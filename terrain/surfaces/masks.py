"""Cells that drawn lines and areas cover, on the cells of a grid."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.grid import Grid
from terrain.surfaces.flow import Cell, cells_along

__all__ = ["area_cells", "crossing_cells", "line_cells"]

_STRIP_CELLS = 1_000_000


def line_cells(grid: Grid, lines: Iterable[shapely.Geometry]) -> NDArray[np.bool_]:
    """Mask of the cells that lines run through: an unbroken chain of cells for each line.

    Parameters
    ----------
    grid : Grid
        Only its place and cell size (m) are used.
    lines : iterable of LineString, MultiLineString or LinearRing
        In the grid's CRS; parts off the grid are left out.

    Returns
    -------
    ndarray of bool, shape (rows, columns)
    """
    mask = np.zeros(grid.shape, dtype=bool)
    west, south, east, north = grid.bounds
    inset = grid.cell_m * 1e-6  # a vertex exactly on the outer edge would fall off the grid
    for line in lines:
        clipped = shapely.clip_by_rect(line, west, south + inset, east - inset, north)
        for part in shapely.get_parts(shapely.line_merge(clipped)):
            xy = shapely.get_coordinates(part)
            row, column = grid.rows_columns(xy[:, 0], xy[:, 1])
            rows, columns = cells_along(list(zip(row.tolist(), column.tolist(), strict=True)))
            inside = (rows >= 0) & (rows < grid.shape[0])
            inside &= (columns >= 0) & (columns < grid.shape[1])
            mask[rows[inside], columns[inside]] = True
    return mask


def area_cells(grid: Grid, areas: Iterable[shapely.Geometry]) -> NDArray[np.bool_]:
    """Mask of the cells whose centre lies in a polygon or through which its outline runs.

    Parameters as in :func:`line_cells`, with polygons. A pond smaller than a cell still counts.
    """
    mask = np.zeros(grid.shape, dtype=bool)
    outlines = []
    for area in areas:
        shapely.prepare(area)
        outlines.append(area.boundary)
        west, south, east, north = area.bounds
        top, left = (int(v) for v in grid.rows_columns(west, north))
        bottom, right = (int(v) for v in grid.rows_columns(east, south))
        left, right = max(left, 0), min(right + 1, grid.shape[1])
        top, bottom = max(top, 0), min(bottom + 1, grid.shape[0])
        if left >= right or top >= bottom:
            continue
        x = grid.west_m + (np.arange(left, right) + 0.5) * grid.cell_m
        strip = max(1, _STRIP_CELLS // x.size)
        for first in range(top, bottom, strip):
            last = min(first + strip, bottom)
            y = grid.north_m - (np.arange(first, last) + 0.5) * grid.cell_m
            mesh_x, mesh_y = np.meshgrid(x, y)
            mask[first:last, left:right] |= shapely.contains_xy(area, mesh_x, mesh_y)
    return mask | line_cells(grid, outlines)


def crossing_cells(grid: Grid, shapes: Iterable[shapely.Geometry]) -> list[list[Cell]]:
    """Row and column of every vertex of each crossing, as ``terrain.surfaces.flow.carve`` takes it.

    The points and lines must lie on the grid; they are in its CRS, metres.
    """
    found = []
    for shape in shapes:
        xy = shapely.get_coordinates(shape)
        row, column = grid.rows_columns(xy[:, 0], xy[:, 1])
        found.append(list(zip(row.tolist(), column.tolist(), strict=True)))
    return found
