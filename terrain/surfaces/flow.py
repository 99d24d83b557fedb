"""Where water goes: filled hollows, culverts and streams, flow directions, catchments, channels.

The steps are those of most flow-based wetness maps. Hollows are filled to their spill level from
the rim of the DEM inward (priority flood). Each cell then drains to the neighbour with the
steepest fall (D8, diagonal falls divided by the square root of 2); on the level of a filled hollow
it drains along the way by which the flood came in. Catchments count the cell itself.

The rim, that is the border of the grid and every cell beside a void, drains off the DEM. Heights
are taken as float32, which is exact to 0.06 mm below 1024 m.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.units import HECTARE_M2

__all__ = [
    "OUTLET",
    "VOID",
    "Channels",
    "Depressions",
    "Flow",
    "burn",
    "carve",
    "cells_along",
    "channels",
    "depressions",
    "elevation_above_stream_m",
    "fill",
    "route",
]

OUTLET = 8
"""Direction of a cell that drains off the DEM."""
VOID = 255
"""Direction of a cell without elevation."""

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Flow:
    """Filled surface, flow directions and catchments; all arrays have shape (rows, columns).

    Attributes
    ----------
    filled_m : ndarray of float32
        Elevation with every hollow filled to its spill level; NaN where void.
    direction : ndarray of uint8
        Neighbour that takes the water, clockwise from the east: 0 E, 1 SE, 2 S, 3 SW, 4 W, 5 NW,
        6 N, 7 NE (so 2 ** direction is the usual power-of-two code); ``OUTLET`` or ``VOID``.
    catchment_cells : ndarray of int32
        Cells that drain through the cell, itself included; 0 where void.
    touches_edge : ndarray of bool
        True where the catchment holds a cell of the rim. Ground beyond the rim may drain in
        there, so such a catchment may be too small.
    cell_m : float
        Side of a cell in metres.
    """

    filled_m: NDArray[np.float32]
    direction: NDArray[np.uint8]
    catchment_cells: NDArray[np.int32]
    touches_edge: NDArray[np.bool_]
    cell_m: float

    @property
    def catchment_m2(self) -> NDArray[np.float64]:
        """Catchment of each cell in square metres, NaN where void (made on every call)."""
        area = np.multiply(self.catchment_cells, self.cell_m**2, dtype=np.float64)
        area[self.direction == VOID] = np.nan
        return area


@dataclass(frozen=True, slots=True)
class Channels:
    """Cells whose catchment reaches a flow-initiation area.

    ``mask`` is a bool grid. ``edge_share`` is the share of the channel cells whose catchment
    touches the rim of the DEM (NaN without channel cells): ground beyond the rim may feed them,
    so channels start too late there and the map is too dry.
    """

    flow_initiation_ha: float
    mask: NDArray[np.bool_]
    edge_share: float


@dataclass(frozen=True, slots=True)
class Depressions:
    """Filled hollows worth a look in the field, one entry each in arrays of equal length.

    ``grid`` numbers their cells from 1 in the order of the arrays, 0 elsewhere. ``row`` and
    ``column`` are the deepest cell, ``level_m`` the spill level. A hollow may be a real pond or
    wet patch, or water held up by a bank whose culvert the DEM does not show.
    """

    grid: NDArray[np.int32]
    row: NDArray[np.int64]
    column: NDArray[np.int64]
    level_m: NDArray[np.float64]
    depth_m: NDArray[np.float64]
    area_m2: NDArray[np.float64]
    volume_m3: NDArray[np.float64]


def fill(elevation_m: ArrayLike) -> NDArray[np.float32]:
    """Fill every hollow to its spill level.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, voids NaN.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        The lowest surface not below the ground from which every cell drains to the rim.

    Raises
    ------
    ValueError
        If the array is not two-dimensional, has more than 2**31 - 1 cells or holds infinities.

    References
    ----------
    Barnes, Lehman and Mulla 2014, Priority-flood: an optimal depression-filling and
    watershed-labeling algorithm for digital elevation models, Computers and Geosciences 62.
    """
    from terrain.surfaces import _kernels

    return _kernels.flood(_as_dem(elevation_m))[0]


def route(elevation_m: ArrayLike, cell_m: float) -> Flow:
    """Fill the DEM, find the steepest way down from each cell, and count the catchments.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, voids NaN; carve culverts and burn streams before (see :func:`carve`,
        :func:`burn`).
    cell_m : float
        Side of a cell in metres.

    Returns
    -------
    Flow

    Raises
    ------
    ValueError
        As :func:`fill`, or if the cell size is not positive.

    Notes
    -----
    Of equally steep ways the first one clockwise from the east is taken. Memory beyond the DEM:
    11 bytes a cell, queues of the flood on natural ground included.

    References
    ----------
    Jenson and Domingue 1988, Extracting topographic structure from digital elevation data for
    geographic information system analysis, Photogrammetric Engineering and Remote Sensing 54.
    """
    from terrain.surfaces import _kernels

    if not cell_m > 0:
        raise ValueError(f"cell size must be positive, not {cell_m} m")
    elevation = _as_dem(elevation_m)
    filled, direction = _kernels.flood(elevation)
    _kernels.steepest(filled, direction)
    cells, state = _kernels.accumulate(elevation, direction.ravel())
    shape = elevation.shape
    edge = (state >= 128).reshape(shape)
    return Flow(filled, direction, cells.reshape(shape), edge, float(cell_m))


def channels(flow: Flow, flow_initiation_ha: float) -> Channels:
    """Cells where a channel runs: catchment of at least ``flow_initiation_ha`` hectares.

    Raises ValueError unless the area is positive.
    """
    if not flow_initiation_ha > 0:
        raise ValueError(f"flow-initiation area must be positive, not {flow_initiation_ha} ha")
    least_cells = flow_initiation_ha * HECTARE_M2 / flow.cell_m**2
    mask = flow.catchment_cells >= max(1.0, least_cells * (1 - 1e-12))
    count = int(np.count_nonzero(mask))
    share = np.count_nonzero(flow.touches_edge & mask) / count if count else np.nan
    return Channels(float(flow_initiation_ha), mask, float(share))


def elevation_above_stream_m(flow: Flow, stream: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Height of each cell above the stream cell it drains to, in metres.

    Both heights are taken on the filled surface, so the result is never negative; a hollow counts
    at its spill level. NaN where void and where the water leaves the DEM without meeting a stream.

    Parameters
    ----------
    flow : Flow
    stream : array of bool, shape (rows, columns)
        Stream cells, for example ``channels(flow, 4.0).mask``.
    """
    from terrain.surfaces import _kernels

    shape = flow.direction.shape
    mask = _mask(stream, shape, "stream").ravel().view(np.uint8)
    filled, way = flow.filled_m.ravel(), flow.direction.ravel()
    level = _kernels.stream_level(filled, way, mask, shape[1])
    return np.subtract(filled, level, out=level).reshape(shape)


def depressions(
    elevation_m: ArrayLike,
    filled_m: NDArray[np.float32],
    cell_m: float,
    min_depth_m: float = 0.3,
    min_area_m2: float = 50.0,
) -> Depressions:
    """List the filled hollows that are at least so deep, or at least so large.

    Parameters
    ----------
    elevation_m, filled_m : arrays, shape (rows, columns)
        The DEM that was routed, and its filled surface.
    cell_m : float
        Side of a cell in metres.
    min_depth_m, min_area_m2 : float
        A hollow is listed when it reaches either. The defaults are a planning assumption of this
        project (no source): a shallower, smaller hollow is not worth a walk.
    """
    from terrain.surfaces import _kernels

    elevation = _as_dem(elevation_m)
    filled = _as_dem(filled_m)
    if elevation.shape != filled.shape:
        raise ValueError(f"shapes differ: elevation {elevation.shape}, filled {filled.shape}")
    columns = elevation.shape[1]
    grid, groups = _kernels.label_depressions(elevation.ravel(), filled.ravel(), columns)
    grid = grid.reshape(elevation.shape)
    cells, deepest, level, depth, sum_of_depths = groups.T
    area = cells * cell_m**2
    kept = (depth >= min_depth_m) | (area >= min_area_m2)
    new_number = np.zeros(len(groups) + 1, dtype=np.int32)
    new_number[1:][kept] = np.arange(1, np.count_nonzero(kept) + 1)
    for line in grid:
        line[:] = new_number[line]
    row, column = np.divmod(deepest[kept].astype(np.int64), columns)
    return Depressions(
        grid,
        row,
        column,
        level[kept],
        depth[kept],
        area[kept],
        sum_of_depths[kept] * cell_m**2,
    )


def burn(elevation_m: ArrayLike, mask: NDArray[np.bool_], depth_m: float) -> NDArray[np.float32]:
    """Return the DEM lowered by ``depth_m`` metres where ``mask`` is True (streams, open water).

    For routing only: slope is always taken from the DEM as it was.
    """
    if not depth_m >= 0:
        raise ValueError(f"depth must not be negative, not {depth_m} m")
    elevation = _as_dem(elevation_m).copy()
    elevation[_mask(mask, elevation.shape, "mask")] -= np.float32(depth_m)
    return elevation


def carve(
    elevation_m: ArrayLike, culverts: Sequence[Sequence[Cell]], reach_cells: int = 8
) -> NDArray[np.float32]:
    """Return the DEM with a passage through the bank at each culvert or bridge.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, voids NaN.
    culverts : sequence of sequences of (row, column)
        A line by its vertices, from one side of the bank to the other, or a single cell on the
        bank. From a single cell the passage goes to the lowest cell within ``reach_cells`` and, on
        the other side, to the lowest cell there; nothing is cut where the cell is not higher than
        both.
    reach_cells : int
        How far a single cell looks, in cells.

    Returns
    -------
    ndarray of float32
        Along each line no cell is higher than the straight fall from its higher end to its lower.

    Raises
    ------
    ValueError
        If a vertex lies off the grid, or an end on a void; the message names the culvert.
    """
    elevation = _as_dem(elevation_m).copy()
    for number, vertices in enumerate(culverts):
        for row, column in vertices:
            if not (0 <= row < elevation.shape[0] and 0 <= column < elevation.shape[1]):
                raise ValueError(f"culvert {number}: cell ({row}, {column}) lies off the grid")
        line = list(vertices)
        if len(line) == 1:
            line = _through_bank(elevation, line[0], reach_cells)
        rows, columns = cells_along(line)
        heights = elevation[rows, columns]
        if np.isnan(heights[[0, -1]]).any():
            raise ValueError(f"culvert {number}: one end lies on a void of the DEM")
        elevation[rows, columns] = np.minimum(
            heights, np.linspace(heights[0], heights[-1], len(heights), dtype=np.float32)
        )
    return elevation


def cells_along(vertices: Sequence[Cell]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of an unbroken chain of cells (eight neighbours) through the vertices."""
    if not vertices:
        raise ValueError("a line needs at least one vertex")
    chain = [np.array([vertices[0]], dtype=np.int64)]
    for start, end in pairwise(vertices):
        steps = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
        share = np.arange(1, steps + 1)[:, None] / max(steps, 1)
        between = np.asarray(start) + share * (np.asarray(end) - np.asarray(start))
        chain.append(np.floor(between + 0.5).astype(np.int64))
    cells = np.concatenate(chain)
    return cells[:, 0], cells[:, 1]


def _through_bank(elevation: NDArray[np.float32], cell: Cell, reach: int) -> list[Cell]:
    """Ends of a passage through ``cell``: the lowest cell in reach, and the lowest opposite."""
    row_offset, column_offset = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    near = row_offset**2 + column_offset**2 <= reach**2
    row_offset, column_offset = row_offset[near], column_offset[near]
    rows, columns = cell[0] + row_offset, cell[1] + column_offset
    valid = (rows >= 0) & (rows < elevation.shape[0])
    valid &= (columns >= 0) & (columns < elevation.shape[1])
    heights = np.full(len(rows), np.inf)
    heights[valid] = np.nan_to_num(elevation[rows[valid], columns[valid]], nan=np.inf)
    low = int(np.argmin(heights))
    opposite = row_offset * row_offset[low] + column_offset * column_offset[low] < 0
    if not opposite.any() or not np.isfinite(heights[opposite]).any():
        return [cell]
    other = int(np.argmin(np.where(opposite, heights, np.inf)))
    if not elevation[cell] > max(heights[low], heights[other]):
        return [cell]  # no bank here
    first, last = (int(rows[low]), int(columns[low])), (int(rows[other]), int(columns[other]))
    return [last, cell, first]


def _as_dem(elevation_m: ArrayLike) -> NDArray[np.float32]:
    """Return a contiguous float32 grid; raise ValueError for what the kernels cannot take."""
    elevation = np.ascontiguousarray(elevation_m, dtype=np.float32)
    if elevation.ndim != 2 or elevation.size == 0:
        raise ValueError(f"elevation must be a grid of rows and columns, not {elevation.shape}")
    if elevation.size > np.iinfo(np.int32).max:
        raise ValueError(f"{elevation.size} cells are too many for one run; read a window")
    lowest, highest = np.fmin.reduce(elevation, axis=None), np.fmax.reduce(elevation, axis=None)
    if np.isinf(lowest) or np.isinf(highest):
        raise ValueError("elevation holds infinite values; voids must be NaN")
    return elevation


def _mask(mask: ArrayLike, shape: tuple[int, ...], name: str) -> NDArray[np.bool_]:
    """Return a contiguous bool grid of the given shape or raise ValueError."""
    grid = np.ascontiguousarray(mask, dtype=np.bool_)
    if grid.shape != shape:
        raise ValueError(f"{name} has shape {grid.shape}, the DEM {shape}")
    return grid
