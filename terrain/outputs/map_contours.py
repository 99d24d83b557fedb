"""Contour lines of the elevation model, smoothed a little and drawn as lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.grid import Grid

__all__ = ["ContourLine", "contour_interval", "contour_lines"]

_MOST_CELLS = 500
_WANTED_LEVELS = 30
_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)


@dataclass(frozen=True, slots=True)
class ContourLine:
    """Lines of one level, in the working CRS; every fifth level is ``heavy``.

    ``level`` is in the unit that was asked for, metres or feet.
    """

    level: float
    heavy: bool
    lines: tuple[shapely.LineString, ...]


def contour_interval(elevation: NDArray) -> float:
    """Smallest usual interval that gives no more than 30 levels, in the unit of ``elevation``."""
    known = np.asarray(elevation, dtype=float)
    known = known[np.isfinite(known)]
    relief = float(known.max() - known.min()) if len(known) else 0.0
    return next((step for step in _STEPS if relief / step <= _WANTED_LEVELS), _STEPS[-1])


def contour_lines(dem: Grid, unit_m: float = 1.0) -> tuple[float, list[ContourLine]]:
    """Interval and contour lines of ``dem`` at even levels of a unit ``unit_m`` metres long.

    The elevations are first averaged over blocks so that no side has more than 500 cells, then
    over 3 x 3 cells: the lines are for orientation, not for measuring. Voids cut them. Loops
    shorter than eight cells are left out.
    """
    from contourpy import LineType, contour_generator

    values, cell_m = _averaged(np.asarray(dem.values, dtype=float) / unit_m, dem.cell_m)
    interval = contour_interval(values)
    if not np.isfinite(values).any() or min(values.shape) < 2:
        return interval, []
    rows, columns = values.shape
    x = dem.west_m + (np.arange(columns) + 0.5) * cell_m
    y = dem.north_m - (np.arange(rows) + 0.5) * cell_m
    generator = contour_generator(
        x, y, np.ma.masked_invalid(values), name="serial", line_type=LineType.Separate
    )
    first = int(np.ceil(np.nanmin(values) / interval))
    last = int(np.floor(np.nanmax(values) / interval))
    made = []
    for number in range(first, last + 1):
        lines = [
            shapely.LineString(points).simplify(0.35 * cell_m)
            for points in generator.lines(number * interval)
            if len(points) > 1
        ]
        kept = tuple(line for line in lines if line.length >= 8 * cell_m)
        if kept:
            made.append(ContourLine(number * interval, number % 5 == 0, kept))
    return interval, made


def _averaged(values: NDArray[np.float64], cell_m: float) -> tuple[NDArray[np.float64], float]:
    """Blocks of equal size averaged (a void in one makes it void), then 3 x 3 cells."""
    block = max(1, int(np.ceil(max(values.shape) / _MOST_CELLS)))
    rows, columns = (side // block * block for side in values.shape)
    parts = values[:rows, :columns].reshape(rows // block, block, columns // block, block)
    small = parts.mean(axis=(1, 3))
    if min(small.shape) < 3:
        return small, cell_m * block
    windows = np.lib.stride_tricks.sliding_window_view(small, (3, 3))
    smooth = small.copy()
    smooth[1:-1, 1:-1] = np.where(np.isnan(small[1:-1, 1:-1]), np.nan, windows.mean(axis=(2, 3)))
    return smooth, cell_m * block
