"""The uphill gradient of a DEM: 3 x 3 differences, or a plane fitted at the scale of a machine.

All functions return the two components of the uphill gradient as ratios: ``gradient_east`` is
positive where the ground rises to the east, ``gradient_north`` where it rises to the north. Row 0
of the elevation is the northern row. On the border of the grid, and wherever the window touches a
void, both components are NaN: a missing neighbour is never replaced by a guess, because filling it
with the centre value halves the slope there.

Every operator is a difference across the window, smoothed along the other direction. The
differences come first, so that a float32 DEM far above sea level loses no digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["aspect_degrees", "horn", "plane", "slope", "window_cells", "zevenbergen_thorne"]

FloatGrid = NDArray[np.floating[Any]]

# Cells handled at a time: a few arrays of this size stay in the processor's cache.
_CELLS_AT_A_TIME = 60_000


def horn(elevation_m: ArrayLike, cell_m: float) -> tuple[FloatGrid, FloatGrid]:
    """Gradient after Horn: weighted differences over all eight neighbours of a cell.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, northern row first, voids NaN.
    cell_m : float
        Side of a cell in metres.

    Returns
    -------
    gradient_east, gradient_north : ndarray, shape (rows, columns)
        Uphill gradient, ratio. float32 for a float32 DEM, else float64. NaN on the border and
        where any of the nine cells is void.

    Raises
    ------
    ValueError
        If the elevation is not two-dimensional or the cell size is not positive.

    Notes
    -----
    With the window a b c / d e f / g h i, row a b c in the north, and the cell size L::

        east  = ((c + 2 f + i) - (a + 2 d + g)) / (8 L)
        north = ((a + 2 b + c) - (g + 2 h + i)) / (8 L)

    Independent elevation errors of standard deviation s give each component a standard deviation
    of 0.433 s / L (sqrt(12) / 8), so a 1 m DEM with 0.15 m of noise shows 8 % of slope on level
    ground. See :func:`plane` for a scale at which that is gone.

    References
    ----------
    Horn 1981, Hill shading and the reflectance map, Proceedings of the IEEE 69(1).
    """
    return _difference(elevation_m, cell_m, across=(1.0,), along=(2.0, 1.0), divisor=8.0)


def zevenbergen_thorne(elevation_m: ArrayLike, cell_m: float) -> tuple[FloatGrid, FloatGrid]:
    """Gradient after Zevenbergen and Thorne: central differences of the four nearest neighbours.

    Parameters and returned arrays as :func:`horn`; a void anywhere in the nine cells still gives
    NaN, so that both operators assess the same cells.

    Notes
    -----
    east = (f - d) / (2 L), north = (b - h) / (2 L). It follows smooth ground more closely than
    :func:`horn` and carries more noise: 0.707 s / L for each component.

    References
    ----------
    Zevenbergen and Thorne 1987, Quantitative analysis of land surface topography, Earth Surface
    Processes and Landforms 12.
    """
    return _difference(elevation_m, cell_m, across=(1.0,), along=(1.0, 0.0), divisor=2.0)


def plane(elevation_m: ArrayLike, cell_m: float, window_m: float) -> tuple[FloatGrid, FloatGrid]:
    """Gradient of the least-squares plane through a square window of about ``window_m``.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, northern row first, voids NaN.
    cell_m : float
        Side of a cell in metres.
    window_m : float
        Wanted side of the window in metres, for example the length of a machine. The window has
        :func:`window_cells` cells on a side.

    Returns
    -------
    gradient_east, gradient_north : ndarray, shape (rows, columns)
        Uphill gradient, ratio, dtype as in :func:`horn`. NaN where the window leaves the grid or
        holds a void.

    Raises
    ------
    ValueError
        If the elevation is not two-dimensional or a length is not positive.

    Notes
    -----
    For N = 2 m + 1 cells on a side the normal equations of the plane separate, because the
    offsets i (cells to the east) and j (cells to the north) sum to zero over the window::

        east  = sum(i z) / (N L S),  north = sum(j z) / (N L S),  S = m (m + 1) (2 m + 1) / 3

    Independent elevation errors of standard deviation s give each component a standard deviation
    of s / (L sqrt(N S)): 0.408 s / L for three cells, 0.141 s / L for five.
    """
    half = window_cells(cell_m, window_m) // 2
    across = tuple(float(step) for step in range(1, half + 1))
    along = (1.0,) * (half + 1)
    squares = half * (half + 1) * (2 * half + 1) / 3
    return _difference(elevation_m, cell_m, across, along, divisor=(2 * half + 1) * squares)


def window_cells(cell_m: float, window_m: float) -> int:
    """Odd number of cells, at least 3, whose total side is nearest to ``window_m``.

    Half way between two odd numbers the larger one is taken (4 m over 1 m cells: 5 cells).
    Raises ValueError unless both lengths are positive.
    """
    if not (cell_m > 0 and window_m > 0):
        raise ValueError(f"cell ({cell_m} m) and window ({window_m} m) must be positive")
    # the small term keeps 0.6 / 0.1 = 5.999... on the side of 6
    return max(3, 2 * int(window_m / cell_m / 2 + 1e-9) + 1)


def slope(gradient_east: ArrayLike, gradient_north: ArrayLike) -> FloatGrid:
    """Slope as a ratio (any shape), NaN where a component is NaN."""
    return np.hypot(np.asarray(gradient_east), np.asarray(gradient_north))


def aspect_degrees(gradient_east: ArrayLike, gradient_north: ArrayLike) -> FloatGrid:
    """Azimuth that the slope faces, degrees clockwise from north, 0 <= aspect < 360.

    The slope faces downhill, against the gradient. Level ground faces nowhere and gets -1; NaN
    stays NaN. Any shape.
    """
    east, north = np.asarray(gradient_east), np.asarray(gradient_north)
    azimuth = np.degrees(np.arctan2(-east, -north)) % 360.0
    azimuth = np.where(azimuth >= 360.0, 0.0, azimuth)  # a tiny negative angle rounds up to 360
    return np.where((east == 0) & (north == 0), -1.0, azimuth)


def _difference(
    elevation_m: ArrayLike,
    cell_m: float,
    across: Sequence[float],
    along: Sequence[float],
    divisor: float,
) -> tuple[FloatGrid, FloatGrid]:
    """Difference across the window, smoothed along the other direction, in blocks of rows.

    ``across[k - 1]`` weighs the difference between the cells k steps to either side;
    ``along[k]`` weighs the lines k steps away from the middle line.
    """
    elevation = np.asarray(elevation_m)
    if elevation.ndim != 2:
        raise ValueError(f"elevation must have two dimensions, not {elevation.ndim}")
    if not cell_m > 0:
        raise ValueError(f"cell size must be positive, not {cell_m} m")
    if elevation.dtype not in (np.float32, np.float64):
        elevation = elevation.astype(np.float64)
    rows, columns = elevation.shape
    half = len(across)
    east = np.full(elevation.shape, np.nan, dtype=elevation.dtype)
    north = np.full(elevation.shape, np.nan, dtype=elevation.dtype)
    if rows <= 2 * half or columns <= 2 * half:
        return east, north
    scale = 1.0 / (divisor * cell_m)
    inside = slice(half, columns - half)
    block_rows = max(8, _CELLS_AT_A_TIME // columns)
    for top in range(half, rows - half, block_rows):
        bottom = min(top + block_rows, rows - half)
        slab = elevation[top - half : bottom + half]
        block_east = _smoothed(_stepped(slab.T, across, -1).T, along) * scale
        block_north = _smoothed(_stepped(slab, across, 1).T, along).T * scale
        void = np.isnan(slab)
        if void.any():
            near_void = _any_in_window(_any_in_window(void, half).T, half).T
            block_east[near_void] = np.nan
            block_north[near_void] = np.nan
        east[top:bottom, inside] = block_east
        north[top:bottom, inside] = block_north
    return east, north


def _stepped(lines: FloatGrid, across: Sequence[float], sign: int) -> FloatGrid:
    """Weighted differences over axis 0: earlier minus later lines, or the reverse for sign -1."""
    half = len(across)
    count = len(lines) - 2 * half
    total = np.zeros_like(lines[:count])
    for step, weight in enumerate(across, start=1):
        before = lines[half - step : half - step + count]
        after = lines[half + step : half + step + count]
        difference = before - after if sign > 0 else after - before
        total += difference if weight == 1.0 else weight * difference
    return total


def _smoothed(lines: FloatGrid, along: Sequence[float]) -> FloatGrid:
    """Weighted symmetric sum over axis 0."""
    half = len(along) - 1
    count = len(lines) - 2 * half
    total = along[0] * lines[half : half + count]
    for step, weight in enumerate(along[1:], start=1):
        if weight == 0.0:
            continue
        pair = lines[half - step : half - step + count] + lines[half + step : half + step + count]
        total += pair if weight == 1.0 else weight * pair
    return total


def _any_in_window(flags: NDArray[np.bool_], half: int) -> NDArray[np.bool_]:
    """True where any flag lies within ``half`` lines on axis 0; the outer lines are cut off."""
    count = len(flags) - 2 * half
    result = flags[:count].copy()
    for step in range(1, 2 * half + 1):
        result |= flags[step : step + count]
    return result
