"""The ground of the fictional block: a hillside grown by uplift, streams and soil creep.

Nothing here is surveyed. A rough surface rises, streams cut into it (incision in proportion to the
square root of the catchment and to the slope), soil creeps downhill (linear diffusion), and a
dipping hard bed resists both. That is the usual textbook balance of young, drained land; the rates
are invented and tuned by eye until the hillshade looked like a hillside. Only additions,
multiplications, divisions and square roots are used, so that reruns give the same bytes.
"""

from __future__ import annotations

import heapq

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["drained_area", "grow_hillside", "resample", "rough_field", "route_flow", "smooth"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SIDE_M = 1600.0
STAGES = ((8.0, 160), (4.0, 12), (2.0, 4))
UPLIFT_M = 0.68
INCISION = 0.07
CREEP_M2 = 110.0
NORTH_LEVEL_M = 34.0
RIVER_FALL = 0.006
GAP_EAST_M = 1010.0


@njit(cache=True)
def route_flow(
    elevation_m: Floats, cell_m: float, outlets: Flags, jitter: Floats, rise: float
) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64], Floats]:
    """Flood the surface from its outlets and give every cell the neighbour that drains it.

    Parameters
    ----------
    elevation_m : ndarray, shape (rows, columns)
    cell_m : float
        Cell side, metres.
    outlets : ndarray of bool, shape (rows, columns)
        Cells where water leaves.
    jitter : ndarray, shape (rows, columns, 8)
        Factor minus one on each neighbour's slope; zeros give plain steepest descent.
    rise : float
        Slope (ratio) that a filled hollow keeps towards its outlet.

    Returns
    -------
    receiver : ndarray of int, shape (rows * columns,)
        Flat index of the draining neighbour, -1 at an outlet.
    step_m : ndarray, shape (rows * columns,)
        Distance to it, metres.
    order : ndarray of int, shape (rows * columns,)
        Flat indices from the outlets upward.
    level_m : ndarray, shape (rows * columns,)
        Elevation after filling, metres.
    """
    rows, columns = elevation_m.shape
    count = rows * columns
    level = np.empty(count)
    seen = np.zeros(count, np.uint8)  # 0 unseen, 1 waiting, 2 settled
    receiver = np.full(count, -1, np.int64)
    step_m = np.full(count, cell_m)
    order = np.empty(count, np.int64)
    queue = [(0.0, 0)]
    queue.pop()
    for i in range(count):
        if outlets[i // columns, i % columns]:
            level[i] = elevation_m[i // columns, i % columns]
            seen[i] = 1
            heapq.heappush(queue, (level[i], i))
    settled = 0
    while len(queue) > 0:
        here, i = heapq.heappop(queue)
        order[settled] = i
        settled += 1
        seen[i] = 2
        row, column = i // columns, i % columns
        steepest = 0.0
        for k in range(9):
            r, c = row + k // 3 - 1, column + k % 3 - 1
            if k == 4 or r < 0 or r >= rows or c < 0 or c >= columns:
                continue
            j = r * columns + c
            distance = cell_m if k % 2 == 1 else cell_m * np.sqrt(2.0)
            if seen[j] == 0:
                seen[j] = 1
                level[j] = max(elevation_m[r, c], here + rise * distance)
                heapq.heappush(queue, (level[j], j))
            elif seen[j] == 2 and not outlets[row, column]:
                fall = (here - level[j]) / distance * (1.0 + jitter[row, column, k - (k > 4)])
                if fall > steepest:
                    steepest, receiver[i], step_m[i] = fall, j, distance
    return receiver, step_m, order, level


@njit(cache=True)
def drained_area(receiver: NDArray[np.int64], order: NDArray[np.int64], cell_m: float) -> Floats:
    """Catchment of every cell in m2, its own included; see :func:`route_flow`."""
    area = np.full(receiver.size, cell_m * cell_m)
    for k in range(receiver.size - 1, -1, -1):
        if receiver[order[k]] >= 0:
            area[receiver[order[k]]] += area[order[k]]
    return area


@njit(cache=True)
def _incise(
    surface: Floats,
    receiver: NDArray[np.int64],
    step_m: Floats,
    order: NDArray[np.int64],
    area: Floats,
    rate: Floats,
    uplift_m: float,
) -> None:
    """Raise by ``uplift_m`` and cut implicitly, from the outlets upward; changes ``surface``."""
    columns = surface.shape[1]
    for k in range(receiver.size):
        i, j = order[k], receiver[order[k]]
        if j < 0:
            continue
        raised = surface[i // columns, i % columns] + uplift_m
        cut = rate[i // columns, i % columns] * np.sqrt(area[i]) / step_m[i]
        lower = surface[j // columns, j % columns]
        surface[i // columns, i % columns] = min(raised, (raised + cut * lower) / (1.0 + cut))


@njit(cache=True)
def _creep(surface: Floats, share: Floats, fixed: Flags, times: int) -> None:
    """Diffuse: each time ``share`` of the height difference passes; changes ``surface``."""
    rows, columns = surface.shape
    for _ in range(times):
        old = surface.copy()
        for r in range(rows):
            for c in range(columns):
                if fixed[r, c]:
                    continue
                gain = 0.0
                for k in range(1, 9, 2):
                    i, j = r + k // 3 - 1, c + k % 3 - 1
                    if 0 <= i < rows and 0 <= j < columns:
                        gain += 0.5 * (share[r, c] + share[i, j]) * (old[i, j] - old[r, c])
                surface[r, c] = old[r, c] + gain


def smooth(values: Floats, times: int) -> Floats:
    """Return ``values`` (rows, columns) after ``times`` gentle passes of diffusion."""
    result = values.copy()
    _creep(result, np.full(values.shape, 0.2), np.zeros(values.shape, bool), times)
    return result


def resample(values: Floats, shape: tuple[int, int]) -> Floats:
    """Read an array bilinearly on another cell count over the same area."""
    index, share = [], []
    for old, new in zip(values.shape, shape, strict=True):
        place = np.clip((np.arange(new) + 0.5) * old / new - 0.5, 0, old - 1)
        index.append(np.minimum(place.astype(int), old - 2))
        share.append(place - index[-1])
    (r, c), u, v = index, share[0][:, None], share[1][None, :]
    upper = values[r][:, c] * (1 - v) + values[r][:, c + 1] * v
    lower = values[r + 1][:, c] * (1 - v) + values[r + 1][:, c + 1] * v
    return upper * (1 - u) + lower * u


def rough_field(
    random: np.random.Generator,
    shape: tuple[int, int],
    cell_m: float,
    longest_m: float,
    shortest_m: float,
) -> Floats:
    """Random field of ``shape``: octaves from ``longest_m`` down to ``shortest_m``, about +-1."""
    total, weight, length_m = np.zeros(shape), 1.0, longest_m
    while length_m >= shortest_m:
        knots = (int(shape[0] * cell_m / length_m) + 3, int(shape[1] * cell_m / length_m) + 3)
        total += weight * resample(random.standard_normal(knots), shape)
        weight, length_m = weight * 0.55, length_m / 2
    return np.round(total, 6)


def grow_hillside(seed: int) -> tuple[Floats, Floats]:
    """Grow the hillside between two rivers from a seeded rough surface.

    Returns
    -------
    elevation_m : ndarray, shape (800, 800)
        Metres, row 0 in the north, 2 m cells over 1600 m x 1600 m; the river runs along the south.
    hard_bed : ndarray, shape (800, 800)
        0 on ordinary ground to 1 in the middle of the hard bed.
    """
    random = np.random.default_rng(seed)
    bed_wave = rough_field(random, (160, 160), 10.0, 400.0, 40.0)
    surface = np.zeros((2, 2))
    hard = surface
    for cell_m, turns in STAGES:
        shape = (int(SIDE_M / cell_m), int(SIDE_M / cell_m))
        x = np.broadcast_to((np.arange(shape[1]) + 0.5) * cell_m, shape)
        y = SIDE_M - np.broadcast_to((np.arange(shape[0])[:, None] + 0.5) * cell_m, shape)
        if cell_m == STAGES[0][0]:
            ridge = 75 * np.minimum(y / 1150, (SIDE_M - y) / (SIDE_M - 1150))
            surface = ridge + 5 * rough_field(random, shape, cell_m, 800.0, 20.0)
        else:
            surface = resample(surface, shape)
        outlets = np.zeros(shape, bool)
        outlets[[0, -1]] = True
        surface[-1], surface[0] = RIVER_FALL * x[-1], NORTH_LEVEL_M
        wave = resample(bed_wave, shape)
        east = np.clip((x - 650) / 250, 0, 1)
        gap = 0.9 * np.clip(1.6 - np.abs(x - GAP_EAST_M) / 50, 0, 1)
        times = int(np.ceil(CREEP_M2 / (0.2 * cell_m * cell_m)))
        for _ in range(turns):
            near = np.clip(1 - np.abs(surface - 68 - 0.017 * (x - 800) - 4 * wave) / 12, 0, 1)
            hard = near * near * (3 - 2 * near) * east * (1 - gap)
            jitter = random.random((*shape, 8)) * 0.5
            receiver, step_m, order, _level = route_flow(surface, cell_m, outlets, jitter, 1e-4)
            area = drained_area(receiver, order, cell_m)
            rate = INCISION * (1 - 0.62 * hard) * (1 + 0.45 * np.clip(wave, -1.8, 1.8))
            _incise(surface, receiver, step_m, order, area, rate, UPLIFT_M)
            share = CREEP_M2 * (1 - 0.6 * hard) / (cell_m * cell_m * times)
            _creep(surface, share, outlets, times)
    return surface, hard
