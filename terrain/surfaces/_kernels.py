"""Compiled loops over the cells of a DEM: flood, flow direction, catchments, least-cost spread.

Plain arrays in and out, one type each, signatures fixed, so that nothing is compiled twice. This
module is the only one that imports numba; ``flow`` and ``wetness`` import it when they are called,
and check there what the loops take for granted.

Cells are numbered row by row, and flat arrays hold them in that order. The neighbours of a cell
are numbered clockwise from the east: 0 E, 1 SE, 2 S, 3 SW, 4 W, 5 NW, 6 N, 7 NE. A void cell is NaN
in a float array and ``VOID`` in an array of directions.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = [
    "OUTLET",
    "VOID",
    "accumulate",
    "compiled",
    "flood",
    "label_depressions",
    "spread",
    "steepest",
    "stream_level",
]

OUTLET = np.uint8(8)
"""Direction of a cell that drains off the DEM."""
VOID = np.uint8(255)
"""Direction of a cell without elevation."""
_UNSEEN = np.uint8(254)

_ROOT2 = np.float32(np.sqrt(2.0))
_ROW_STEP = (0, 1, 1, 1, 0, -1, -1, -1)
_COLUMN_STEP = (1, 1, 0, -1, -1, -1, 0, 1)

Cell = Any  # a cell number: int where Python counts, int32 or int64 where arrays hold it
Flags = NDArray[np.uint8]
Heap = NDArray[np.uint64]
Heights = NDArray[np.float32]


def compiled(signature: str | None = None) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Compile a function for ``signature`` and keep the result on disk where that is possible.

    numba tries the directory named by NUMBA_CACHE_DIR, then the package's own ``__pycache__``, then
    the user's cache directory, so a read-only installation keeps its cache too. Where none can be
    written it raises RuntimeError; then each run compiles in memory.
    """

    def decorate(function: Callable[..., Any]) -> Callable[..., Any]:
        try:
            return njit(signature, cache=True)(function)
        except RuntimeError:
            return njit(signature)(function)

    return decorate


@compiled()
def _entry(value: np.float32, cell: int) -> np.uint64:
    """Pack a height or cost and its cell so that integers sort as the floats do."""
    bits = np.float32(value).view(np.uint32)
    bits = ~bits if bits >> np.uint32(31) else bits | np.uint32(0x80000000)
    return (np.uint64(bits) << np.uint64(32)) | np.uint64(cell)


@compiled()
def _cell_of(entry: np.uint64) -> np.int64:
    """Return the cell of a heap entry."""
    return np.int64(entry & np.uint64(0xFFFFFFFF))


@compiled()
def _room(array: Any, size: int) -> Any:
    """Return the array, twice as long when fewer than eight places are left after ``size``."""
    return array if size + 8 <= array.size else np.concatenate((array, np.empty_like(array)))


@compiled()
def _push(heap: Heap, size: int, entry: np.uint64) -> Heap:
    """Put ``entry`` into a heap of ``size`` entries; return the heap, longer if it was full."""
    heap = _room(heap, size)
    place = size
    while place > 0:
        above = (place - 1) >> 1
        if heap[above] <= entry:
            break
        heap[place] = heap[above]
        place = above
    heap[place] = entry
    return heap


@compiled()
def _sink(heap: Heap, size: int) -> None:
    """Take the first entry out: move the last of ``size`` + 1 entries to where it belongs."""
    entry = heap[size]
    place = 0
    below = 1
    while below < size:
        if below + 1 < size and heap[below + 1] < heap[below]:
            below += 1
        if entry <= heap[below]:
            break
        heap[place] = heap[below]
        place = below
        below = 2 * place + 1
    heap[place] = entry


@compiled()
def _steps(columns: int) -> tuple[int, ...]:
    """Return the distance in cell numbers to each of the eight neighbours."""
    return (1, columns + 1, columns, columns - 1, -1, -columns - 1, -columns, -columns + 1)


@compiled()
def _inside(cell: int, rows: int, columns: int, k: int) -> bool:
    """Tell whether neighbour ``k`` of the cell lies on the grid."""
    row = cell // columns + _ROW_STEP[k]
    column = cell % columns + _COLUMN_STEP[k]
    return 0 <= row < rows and 0 <= column < columns


@compiled()
def _mark_rim(elevation: Heights, mark: Flags, value: np.uint8) -> None:
    """Set ``mark`` to ``value`` on the cells of the border and beside a void."""
    rows, columns = elevation.shape
    for row in range(rows):
        for column in range(columns):
            if np.isnan(elevation[row, column]):
                for near_row in range(max(row - 1, 0), min(row + 2, rows)):
                    for near_column in range(max(column - 1, 0), min(column + 2, columns)):
                        if not np.isnan(elevation[near_row, near_column]):
                            mark[near_row, near_column] = value
            elif row in (0, rows - 1) or column in (0, columns - 1):
                mark[row, column] = value


@compiled("Tuple((float32[:,::1], uint8[:,::1]))(float32[:,::1])")
def flood(elevation: Heights) -> tuple[Heights, Flags]:
    """Fill every hollow to its spill level, from the rim inward.

    Returns the filled elevation and, for each cell, the neighbour from which the water came.
    The lowest cell of the rim goes first. What lies no higher than the water is drowned at once
    (queue); what lies higher keeps its height and leads on uphill (stack). Only cells with a
    neighbour that neither reached wait in the heap, so few cells pay for it.
    """
    rows, columns = elevation.shape
    steps = _steps(columns)
    filled = elevation.copy()
    came_from = np.full(elevation.shape, _UNSEEN, dtype=np.uint8)
    _mark_rim(elevation, came_from, OUTLET)
    level, origin = filled.reshape(filled.size), came_from.reshape(filled.size)
    cell: Cell
    heap = np.empty(4 * (rows + columns) + 16, dtype=np.uint64)
    waiting = 0
    for cell in range(level.size):
        if origin[cell] == OUTLET:
            heap = _push(heap, waiting, _entry(level[cell], cell))
            waiting += 1
        elif np.isnan(level[cell]):
            origin[cell] = VOID

    drowned = np.empty(1024, dtype=np.int32)
    climbing = np.empty(1024, dtype=np.int32)
    ridges = np.empty(1024, dtype=np.int32)
    while waiting > 0:
        start = _cell_of(heap[0])
        waiting -= 1
        _sink(heap, waiting)
        spill = level[start]
        on_rim = origin[start] == OUTLET
        drowned[0] = start
        first, last, climbers, tops = 0, 1, 0, 0
        while first < last:
            cell = drowned[first]
            first += 1
            drowned = _room(drowned, last)
            climbing = _room(climbing, climbers)
            for k in range(8):
                if on_rim and not _inside(cell, rows, columns, k):
                    continue
                near = cell + steps[k]
                if origin[near] != _UNSEEN:
                    continue
                origin[near] = np.uint8((k + 4) & 7)
                if level[near] <= spill:
                    level[near] = spill
                    drowned[last] = near
                    last += 1
                else:
                    climbing[climbers] = near
                    climbers += 1
            on_rim = False
        while climbers > 0:
            climbers -= 1
            cell = climbing[climbers]
            climbing = _room(climbing, climbers)
            height = level[cell]
            looks_down = False
            for k in range(8):
                near = cell + steps[k]
                if origin[near] != _UNSEEN:
                    continue
                if level[near] > height:
                    origin[near] = np.uint8((k + 4) & 7)
                    climbing[climbers] = near
                    climbers += 1
                else:
                    looks_down = True
            if looks_down:
                ridges = _room(ridges, tops)
                ridges[tops] = cell
                tops += 1
        for top in range(tops):
            cell = ridges[top]
            for k in range(8):
                if origin[cell + steps[k]] == _UNSEEN:
                    heap = _push(heap, waiting, _entry(level[cell], cell))
                    waiting += 1
                    break
    return filled, came_from


@compiled("void(float32[:,::1], uint8[:,::1])")
def steepest(filled: Heights, direction: Flags) -> None:
    """Turn ``direction`` to the steepest way down; where nothing is lower it stays as it was."""
    rows, columns = filled.shape
    for row in range(rows):
        for column in range(columns):
            if direction[row, column] == VOID:
                continue
            height = filled[row, column]
            best = np.float32(0.0)
            for k in range(8):
                near_row, near_column = row + _ROW_STEP[k], column + _COLUMN_STEP[k]
                if 0 <= near_row < rows and 0 <= near_column < columns:
                    fall = height - filled[near_row, near_column]
                    if k & 1:
                        fall /= _ROOT2
                    if fall > best:
                        best = fall
                        direction[row, column] = np.uint8(k)


@compiled("Tuple((int32[::1], uint8[::1]))(float32[:,::1], uint8[::1])")
def accumulate(elevation: Heights, way: Flags) -> tuple[NDArray[np.int32], Flags]:
    """Count the cells that drain through each cell, itself included; 0 for a void.

    ``way`` holds the directions, flat as both results are. The second result is 128 or more where
    the catchment holds a cell of the rim. A cell is passed on when all its inflows have arrived:
    the low bits count those still to come, 64 stands for "passed on".
    """
    total = way.size
    steps = _steps(elevation.shape[1])
    cells = np.ones(total, dtype=np.int32)
    state = np.zeros(total, dtype=np.uint8)
    _mark_rim(elevation, state.reshape(elevation.shape), np.uint8(128))
    for cell in range(total):
        if way[cell] < OUTLET:
            state[cell + steps[way[cell]]] += np.uint8(1)
        elif way[cell] == VOID:
            cells[cell] = 0
    for source in range(total):
        cell = source
        while state[cell] & np.uint8(127) == 0:
            state[cell] |= np.uint8(64)
            if way[cell] >= OUTLET:
                break
            below = cell + steps[way[cell]]
            cells[below] += cells[cell]
            state[below] = (state[below] | (state[cell] & np.uint8(128))) - np.uint8(1)
            cell = below
    return cells, state


@compiled("float32[::1](float32[::1], uint8[::1], uint8[::1], int64)")
def stream_level(filled: Heights, way: Flags, is_stream: Flags, columns: int) -> Heights:
    """Filled elevation of the first stream cell down the flow path; NaN where there is none."""
    steps = _steps(columns)
    level = np.full(way.size, np.inf, dtype=np.float32)  # inf: not visited yet
    path = np.empty(1024, dtype=np.int32)
    for start in range(way.size):
        length = 0
        cell = start
        while level[cell] == np.inf:
            if is_stream[cell] and way[cell] != VOID:
                level[cell] = filled[cell]
            elif way[cell] >= OUTLET:
                level[cell] = np.nan
            else:
                path = _room(path, length)
                path[length] = cell
                length += 1
                cell += steps[way[cell]]
        for k in range(length):
            level[path[k]] = level[cell]
    return level


@compiled("Tuple((int32[::1], float64[:,::1]))(float32[::1], float32[::1], int64)")
def label_depressions(
    ground: Heights, level: Heights, columns: int
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Number the connected groups of filled cells from 1, in the order of their first cell.

    Returns the number of each cell (0 outside) and one row per group: its cells, its deepest
    cell, its spill level, its largest depth, the sum of its depths.
    """
    steps = _steps(columns)
    number = np.zeros(ground.size, dtype=np.int32)
    groups = np.zeros((64, 5), dtype=np.float64)
    stack = np.empty(1024, dtype=np.int32)
    found = 0
    for start in range(ground.size):
        if number[start] != 0 or not level[start] > ground[start]:
            continue
        if found == len(groups):
            groups = np.concatenate((groups, np.zeros_like(groups)))
        group = groups[found]
        found += 1
        group[2] = level[start]
        number[start] = found
        stack[0] = start
        size = 1
        while size > 0:
            size -= 1
            cell = stack[size]
            stack = _room(stack, size)
            depth = np.float64(level[cell]) - np.float64(ground[cell])
            group[0] += 1
            group[4] += depth
            if depth > group[3]:
                group[1] = cell
                group[3] = depth
            for k in range(8):  # a filled cell never lies on the rim
                near = cell + steps[k]
                if number[near] == 0 and level[near] > ground[near]:
                    number[near] = found
                    stack[size] = near
                    size += 1
    return number, groups[:found].copy()


@compiled("void(float32[::1], float32[::1], uint8[::1], int64, float32, boolean)")
def spread(
    cost: Heights, slope: Heights, source: Flags, columns: int, cell_m: float, mean_of_both: bool
) -> None:
    """Lower ``cost`` to the least cost from the sources (Dijkstra), never above what it was.

    Start with the cap everywhere: what cannot be reached below it is left alone, and the search
    ends there. Start with an earlier result to add sources to it. A step costs the slope of the
    cell entered (or the mean of both cells) times its length. Cells whose cost is NaN stay so. A
    source of unknown slope counts with the slope of the cell entered. ``source`` is used up.
    """
    total = cost.size
    rows = total // columns
    steps = _steps(columns)
    cell: Cell
    heap = np.empty(1024, dtype=np.uint64)
    waiting, next_source = 0, 0
    for cell in range(total):
        if source[cell] and cost[cell] > 0:
            cost[cell] = 0
            source[cell] = 2  # new: not known to an earlier search
    while True:
        while next_source < total and source[next_source] != 2:
            next_source += 1
        if next_source < total:  # all sources first: they cost nothing and need no heap
            cell = next_source
            next_source += 1
        elif waiting > 0:
            entry = heap[0]
            waiting -= 1
            _sink(heap, waiting)
            cell = _cell_of(entry)
            if entry != _entry(cost[cell], cell):  # reached more cheaply since
                continue
        else:
            break
        for k in range(8):
            if not _inside(cell, rows, columns, k):
                continue
            near = cell + steps[k]
            per_metre = slope[near]
            if mean_of_both and not np.isnan(slope[cell]):
                per_metre = np.float32(0.5) * (per_metre + slope[cell])
            offer = cost[cell] + per_metre * (cell_m * _ROOT2 if k & 1 else cell_m)
            if offer < cost[near]:
                cost[near] = offer
                heap = _push(heap, waiting, _entry(offer, near))
                waiting += 1
