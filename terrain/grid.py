"""A north-up raster in memory: values, where they lie, and how to read them along a line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Grid"]


@dataclass(frozen=True, slots=True)
class Grid:
    """North-up grid of square cells in a metric CRS.

    Attributes
    ----------
    values : ndarray, shape (rows, columns)
        Row 0 is the northern row. Voids are NaN (float grids).
    west_m, north_m : float
        Easting of the western edge and northing of the northern edge (outer cell edges).
    cell_m : float
        Side of a cell in metres.
    crs : str
        CRS as ``EPSG:n`` or WKT; always projected, in metres.
    """

    values: NDArray
    west_m: float
    north_m: float
    cell_m: float
    crs: str

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.values.shape  # type: ignore[return-value]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north edges in metres."""
        rows, columns = self.shape
        return (
            self.west_m,
            self.north_m - rows * self.cell_m,
            self.west_m + columns * self.cell_m,
            self.north_m,
        )

    def with_values(self, values: NDArray) -> Grid:
        """Return a grid on the same cells with other ``values`` of the same shape."""
        if values.shape != self.values.shape:
            raise ValueError(f"shape {values.shape} does not match the grid's {self.values.shape}")
        return replace(self, values=values)

    def rows_columns(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[NDArray, NDArray]:
        """Return row and column of the cells that hold the points; may lie outside the grid."""
        column = np.floor((np.asarray(x_m, dtype=float) - self.west_m) / self.cell_m)
        row = np.floor((self.north_m - np.asarray(y_m, dtype=float)) / self.cell_m)
        return row.astype(np.int64), column.astype(np.int64)

    def at(self, x_m: ArrayLike, y_m: ArrayLike, outside: float = np.nan) -> NDArray:
        """Value of the cell under each point; ``outside`` where a point is off the grid."""
        row, column = self.rows_columns(x_m, y_m)
        rows, columns = self.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        result = np.full(row.shape, outside, dtype=np.result_type(self.values, type(outside)))
        result[inside] = self.values[row[inside], column[inside]]
        return result

    def bilinear(self, x_m: ArrayLike, y_m: ArrayLike) -> NDArray[np.float64]:
        """Bilinear value between the four nearest cell centres, shape of ``x_m``.

        NaN where any of the four is void or off the grid: an unknown is never filled in.
        """
        fx = (np.asarray(x_m, dtype=float) - self.west_m) / self.cell_m - 0.5
        fy = (self.north_m - np.asarray(y_m, dtype=float)) / self.cell_m - 0.5
        column, row = np.floor(fx).astype(np.int64), np.floor(fy).astype(np.int64)
        wx, wy = fx - column, fy - row
        rows, columns = self.shape
        # a point exactly on the last row or column of centres needs no neighbour beyond it
        column = np.where((column == columns - 1) & (wx == 0), column - 1, column)
        row = np.where((row == rows - 1) & (wy == 0), row - 1, row)
        wx, wy = fx - column, fy - row
        inside = (row >= 0) & (row < rows - 1) & (column >= 0) & (column < columns - 1)
        r, c = np.where(inside, row, 0), np.where(inside, column, 0)
        z = self.values
        top = z[r, c] * (1 - wx) + z[r, c + 1] * wx
        bottom = z[r + 1, c] * (1 - wx) + z[r + 1, c + 1] * wx
        return np.where(inside, top * (1 - wy) + bottom * wy, np.nan)
