"""Where a tapped point lies: grid figures from a small table, and the turn of the grid's north."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import Proj, Transformer

from terrain.grid import Grid

__all__ = ["GridTable", "grid_table"]

_SIZES = (3, 5, 9, 17, 33)
_WANTED_M = 0.05


@dataclass(frozen=True, slots=True)
class GridTable:
    """Easting and northing at even steps of longitude and latitude; between them bilinear.

    Attributes
    ----------
    west, south, east, north : float
        Corners in degrees (WGS 84).
    easting_m, northing_m : ndarray, shape (n, n)
        Row 0 is south, column 0 west; metres in ``crs``.
    error_m : float
        Largest distance from the projection itself, found on a net four times as fine.
    convergence_deg : float
        Turn from true north to the grid's north in the middle, positive to the east.
    """

    west: float
    south: float
    east: float
    north: float
    easting_m: NDArray[np.float64]
    northing_m: NDArray[np.float64]
    error_m: float
    convergence_deg: float
    crs: str

    def at(self, lon: ArrayLike, lat: ArrayLike) -> tuple[NDArray, NDArray]:
        """Easting and northing in metres; NaN outside the table. The page computes the same."""
        n = len(self.easting_m) - 1
        x = (np.asarray(lon, float) - self.west) / (self.east - self.west) * n
        y = (np.asarray(lat, float) - self.south) / (self.north - self.south) * n
        outside = (x < 0) | (x > n) | (y < 0) | (y > n)
        column = np.clip(np.floor(x), 0, n - 1).astype(int)
        row = np.clip(np.floor(y), 0, n - 1).astype(int)
        u, v = x - column, y - row

        def mixed(table: NDArray[np.float64]) -> NDArray[np.float64]:
            lower = (1 - u) * table[row, column] + u * table[row, column + 1]
            upper = (1 - u) * table[row + 1, column] + u * table[row + 1, column + 1]
            return np.where(outside, np.nan, (1 - v) * lower + v * upper)

        return mixed(self.easting_m), mixed(self.northing_m)


def grid_table(dem: Grid) -> GridTable:
    """Table for the area of ``dem`` with half its size around it, fine enough for 0.05 m.

    The table has 3 to 33 figures a side. ``error_m`` says what was reached.
    """
    to_grid = Transformer.from_crs("EPSG:4326", dem.crs, always_xy=True)
    to_degrees = Transformer.from_crs(dem.crs, "EPSG:4326", always_xy=True)
    left, bottom, right, top = dem.bounds
    wide, high = 0.5 * (right - left), 0.5 * (top - bottom)
    west, south, east, north = to_degrees.transform_bounds(
        left - wide, bottom - high, right + wide, top + high, densify_pts=21
    )
    lon, lat = (west + east) / 2, (south + north) / 2
    convergence = float(Proj(dem.crs).get_factors(lon, lat).meridian_convergence)
    for size in _SIZES:
        easting, northing = _figures(to_grid, west, south, east, north, size)
        table = GridTable(west, south, east, north, easting, northing, 0.0, convergence, dem.crs)
        error = _largest_error(table, to_grid, 4 * (size - 1) + 1)
        if error <= _WANTED_M:
            break
    return GridTable(
        west, south, east, north, easting.round(2), northing.round(2),
        error + 0.01, convergence, dem.crs,
    )  # fmt: skip


def _figures(
    to_grid: Transformer, west: float, south: float, east: float, north: float, size: int
) -> tuple[NDArray, NDArray]:
    lon, lat = np.meshgrid(np.linspace(west, east, size), np.linspace(south, north, size))
    easting, northing = to_grid.transform(lon, lat)
    return np.asarray(easting), np.asarray(northing)


def _largest_error(table: GridTable, to_grid: Transformer, size: int) -> float:
    lon, lat = np.meshgrid(
        np.linspace(table.west, table.east, size), np.linspace(table.south, table.north, size)
    )
    true_x, true_y = to_grid.transform(lon, lat)
    x, y = table.at(lon, lat)
    return float(np.nanmax(np.hypot(x - true_x, y - true_y)))
