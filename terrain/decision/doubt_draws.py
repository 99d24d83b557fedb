"""What is drawn: seeded worlds of soil strength, slope errors and load masses.

Every source of doubt has a random stream of its own, made from the seed and the source's name. The
same seed gives the same numbers, and one source more or less does not shift those of the others.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.models.settings import DoubtSettings
from terrain.surfaces import gradient

__all__ = [
    "LEAST_CONE_INDEX_KPA",
    "Varied",
    "World",
    "drawn_cone_index_kpa",
    "gradient_deviation",
    "make_world",
    "varied_along",
]

Floats = NDArray[np.float64]

LEAST_CONE_INDEX_KPA = 1.0
"""Ground without any strength is drawn as this, kPa: a number for the computer, not of the soil."""

_POINT_95 = 1.6448536269514722
"""Standard normal value that 95 % of draws stay below."""

_SOIL, _SLOPE, _PAYLOAD, _DENSITY = range(4)


@dataclass(frozen=True, slots=True)
class Varied:
    """What varies along the stations, and by how much.

    Attributes
    ----------
    polygons : tuple of str
        Soil polygons under the stations; the empty name stands for "none mapped".
    polygon_of : ndarray of int, shape (n_station,)
        Position of each station's polygon in ``polygons``.
    pieces : tuple of (str, int)
        Trail, and number of pieces over which one slope error holds.
    piece_of : ndarray of int, shape (n_station,)
        Number of each station's piece, counted over all trails.
    slope_deviation : float
        Standard deviation of grade and of cross slope, ratio; 0 is not varied.
    payload_deviation, density_deviation : float
        Standard deviation of the factors on the load's mass, ratio; 0 is not varied.
    """

    polygons: tuple[str, ...]
    polygon_of: NDArray[np.int64]
    pieces: tuple[tuple[str, int], ...]
    piece_of: NDArray[np.int64]
    slope_deviation: float = 0.0
    payload_deviation: float = 0.0
    density_deviation: float = 0.0

    @property
    def slope_varies(self) -> bool:
        """Whether errors of the elevation are counted."""
        return self.slope_deviation > 0

    @property
    def load_varies(self) -> bool:
        """Whether the load's mass is varied."""
        return self.payload_deviation > 0 or self.density_deviation > 0


@dataclass(frozen=True, slots=True)
class World:
    """Drawn figures, one column a draw.

    ``soil``: standard normals by polygon, (n_polygon, n_draw). ``grade`` and ``cross``: slope
    errors by piece of trail, ratios, (n_piece, n_draw). ``payload`` and ``density``: factors on
    the load's mass, (n_draw,), never below 0.
    """

    soil: Floats
    grade: Floats
    cross: Floats
    payload: Floats
    density: Floats

    @property
    def draws(self) -> int:
        """Number of draws."""
        return self.soil.shape[1]

    @property
    def load_factor(self) -> Floats:
        """Factor on the load's mass in each draw, before the ratings hold it down."""
        return self.payload * self.density

    def with_soil_like(self, other: World, correlation: Floats) -> World:
        """This world with soils that go along with those of ``other``, by polygon (-1 to 1)."""
        shared = np.asarray(correlation, float)[:, None]
        soil = shared * other.soil + np.sqrt(1 - shared**2) * self.soil
        return replace(self, soil=soil)


def varied_along(
    stations: pd.DataFrame,
    doubt: DoubtSettings,
    cell_m: float,
    window_m: float,
    *,
    has_load: bool = True,
) -> Varied:
    """Work out from the settings what varies along the stations.

    Parameters
    ----------
    stations : DataFrame
        With ``trail``, ``chainage_m`` and, where soils are mapped, ``soil_polygon``.
    doubt : DoubtSettings
    cell_m, window_m : float
        Cell of the DEM and wanted side of the slope window, metres.
    has_load : bool
        Whether the machine carries timber; without it its load does not vary.

    Notes
    -----
    An error of the slope holds over a piece of trail as long as the slope window, or as long as
    the distance over which errors hold together where that is larger (planning assumption).
    """
    nothing = pd.Series("", index=stations.index)
    named = stations.get("soil_polygon", nothing).astype("string").fillna("")
    polygon_of, polygons = pd.factorize(named, sort=True)
    side_m = gradient.window_cells(cell_m, window_m) * cell_m
    piece_m = max(side_m, doubt.dem_error_range_m or 0.0)
    within = np.floor(stations["chainage_m"].to_numpy(dtype=float) / piece_m).astype(np.int64)
    trail_of, trails = pd.factorize(stations["trail"].astype(str))
    counts = np.zeros(len(trails), dtype=np.int64)
    np.maximum.at(counts, trail_of, within + 1)
    start = np.concatenate([[0], np.cumsum(counts)])[:-1]
    slope = 0.0
    if doubt.dem_error_m is not None:
        slope = gradient_deviation(cell_m, window_m, doubt.dem_error_m, doubt.dem_error_range_m)
    return Varied(
        polygons=tuple(str(name) for name in polygons),
        polygon_of=np.asarray(polygon_of, dtype=np.int64),
        pieces=tuple((str(name), int(n)) for name, n in zip(trails, counts, strict=True)),
        piece_of=start[trail_of] + within,
        slope_deviation=slope,
        payload_deviation=(doubt.payload_spread_percent or 0.0) / 100 if has_load else 0.0,
        density_deviation=(doubt.density_spread_percent or 0.0) / 100 if has_load else 0.0,
    )


def make_world(varied: Varied, draws: int, seed: int, number: int = 0) -> World:
    """Draw a world; worlds of different ``number`` are independent of each other."""

    def normals(kind: int, name: str, width: int = 1) -> Floats:
        return _stream(seed, kind, name, number).standard_normal((draws, width)).T

    soil = np.concatenate([normals(_SOIL, name) for name in varied.polygons] or [_empty(draws)])
    grade, cross = _empty(draws), _empty(draws)
    if varied.slope_varies and varied.pieces:
        both = [normals(_SLOPE, trail, 2 * n) for trail, n in varied.pieces]
        grade = varied.slope_deviation * np.concatenate([part[0::2] for part in both])
        cross = varied.slope_deviation * np.concatenate([part[1::2] for part in both])
    payload = 1 + varied.payload_deviation * normals(_PAYLOAD, "")[0]
    density = 1 + varied.density_deviation * normals(_DENSITY, "")[0]
    return World(soil, grade, cross, np.maximum(payload, 0.0), np.maximum(density, 0.0))


def drawn_cone_index_kpa(
    low_kpa: ArrayLike, likely_kpa: ArrayLike, high_kpa: ArrayLike, normal: ArrayLike
) -> Floats:
    """Cone index (kPa) that belongs to a standard normal number; all arguments broadcast.

    Low and high are read as the strengths that 5 and 95 in 100 places stay below, likely as the
    middle one (planning assumption: the class card does not say what its ends mean)::

        likely * (high / likely) ** (normal / 1.645)     above the middle
        likely * (low / likely) ** (-normal / 1.645)     below it

    Where low is 0 the lower half is a straight line to 0 instead. Never below
    :data:`LEAST_CONE_INDEX_KPA`; NaN where any figure is NaN.
    """
    low, likely, high, z = (np.asarray(v, float) for v in (low_kpa, likely_kpa, high_kpa, normal))
    middle = np.maximum(likely, LEAST_CONE_INDEX_KPA)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        up = np.log(np.maximum(high, middle) / middle)
        down = np.log(middle / np.minimum(low, middle))
        to_zero = np.isinf(down)
        bent = middle * np.exp(z / _POINT_95 * np.where(z > 0, up, np.where(to_zero, 0.0, down)))
    straight = middle * (1 + z / _POINT_95)
    return np.maximum(np.where(to_zero & (z < 0), straight, bent), LEAST_CONE_INDEX_KPA)


def gradient_deviation(
    cell_m: float, window_m: float, error_m: float, range_m: float | None = None
) -> float:
    """Standard deviation (ratio) that elevation errors give to each component of the gradient.

    Parameters
    ----------
    cell_m, window_m : float
        Cell of the DEM, wanted side of the window of the least-squares plane, metres.
    error_m : float
        Standard deviation of the elevation of one cell, metres.
    range_m : float, optional
        Distance at which the correlation of two errors has fallen to 5 %: ``exp(-3 d / range)``
        (planning assumption on the form). Left out: the errors are independent.

    Notes
    -----
    The gradient is a weighted sum of elevations, so its variance is ``w C w`` exactly, with the
    weights of :func:`terrain.surfaces.gradient.plane`: an error of one cell shows each of them.
    For independent errors that is ``error / (cell * sqrt(N S))`` with the N and S given there.
    East and north do not correlate by the symmetry of the window, so the same figure holds for
    grade and cross slope whichever way the trail runs.
    """
    side = gradient.window_cells(cell_m, window_m)
    impulse = np.zeros((2 * side - 1, 2 * side - 1))
    impulse[side - 1, side - 1] = 1.0
    east, _ = gradient.plane(impulse, cell_m, window_m)
    weights = east[np.isfinite(east)]
    if range_m is None:
        return float(error_m * np.sqrt((weights**2).sum()))
    row, column = np.nonzero(np.isfinite(east))
    apart_m = cell_m * np.hypot(row[:, None] - row[None, :], column[:, None] - column[None, :])
    alike = np.exp(-3 * apart_m / range_m)
    return float(error_m * np.sqrt(max(weights @ alike @ weights, 0.0)))


def _stream(seed: int, kind: int, name: str, number: int) -> np.random.Generator:
    """Generator of one source: a child of the seed that is named, not counted."""
    digest = hashlib.blake2b(name.encode(), digest_size=8).digest()
    key = (kind, int.from_bytes(digest[:4], "big"), int.from_bytes(digest[4:], "big"), number)
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))


def _empty(draws: int) -> Floats:
    return np.empty((0, draws))
