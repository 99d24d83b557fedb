"""The least soil strength with which a setup passes a station: its critical cone index.

For given slope, load and surface film the traction reserve only rises with the cone index. So the
physics has to be asked once for the strength at which the reserve is nought, and each draw of the
soil is then a comparison. All of it goes through :func:`terrain.decision.travel.travel_over`, like
the evaluation.

The value is kept turned over, as ``1 / critical cone index`` in 1/kPa: that is 0 where no strength
is enough, and it is nearly straight in grade on the way there, so that it can be interpolated.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried, carried
from terrain.decision.travel import surface_of, travel_over
from terrain.models.settings import Settings

__all__ = ["CriticalGrid", "critical_inverse", "grid_over", "loads_drawn_kg"]

Floats = NDArray[np.floating[Any]]
Counts = NDArray[np.integer[Any]]

STEP = 0.02
"""Spacing of the table in grade and cross slope, ratio."""

STEEPEST = 3.0
"""Steeper slopes (ratio) are looked up as this steep: nothing passes there."""

LOADS = 3
"""Number of load masses in the table, where the load varies."""

_FINE, _COARSE = 4096, 256
"""Sections of the search at the stations themselves, and for the table (interpolated anyway)."""

_SURFACE = ("film", "film_grip_cap")
_ROWS_AT_A_TIME = 6000  # put to the evaluation in one go, where the places are few
_BEYOND = 30.0  # the table's search goes so far beyond the largest strength drawn


def critical_inverse(
    places: pd.DataFrame,
    items: Sequence[Carried],
    settings: Settings,
    low_kpa: float,
    high_kpa: float,
    sections: int = _FINE,
) -> Floats:
    """Reciprocal of the critical cone index of every setup at every place.

    Parameters
    ----------
    places : DataFrame
        With ``grade``, ``cross_slope`` and, where they differ from the block's, the surface film.
    items : sequence of Carried
    settings : Settings
    low_kpa, high_kpa : float
        Weakest and strongest ground to look at, kPa.
    sections : int
        Into how many the logarithm of the range is cut in the end.

    Returns
    -------
    ndarray, shape (n_place, n_item)
        1/kPa. ``1 / low_kpa`` where the weakest ground passes, 0 where the strongest does not (as
        where wheels lift off), NaN where a reserve is unknown. A place passes a cone index ``c``
        where ``c * value >= 1``.

    Notes
    -----
    The section in which the reserve crosses nought is sought in the logarithm of the cone index,
    and crossed by a straight line: less than 1e-5 of the reserve is lost with the usual sections.
    """
    table = _bare_table(places)
    found = np.full((len(table), len(items)), np.nan)
    for k, item in enumerate(items):
        found[:, k] = _inverse_of(table, item, settings, (low_kpa, high_kpa), sections)
    return found


def _inverse_of(
    table: pd.DataFrame,
    item: Carried,
    settings: Settings,
    range_kpa: tuple[float, float],
    sections: int,
) -> Floats:
    n = len(table)
    inner = int(np.clip(_ROWS_AT_A_TIME // max(n, 1), 1, 3))  # marks looked at together
    rounds = int(np.ceil(np.log(sections) / np.log(inner + 1)))
    many = table.iloc[np.tile(np.arange(n), inner)].reset_index(drop=True)
    surfaces = {len(rows): surface_of(rows, settings.ground) for rows in (table, many)}

    def reserve(log_cone: Floats) -> Floats:
        rows = many if log_cone.size > n else table
        here = rows.assign(cone_index_kpa=np.exp(log_cone).ravel())
        both = [
            travel_over(here, item, laden, settings, surfaces[len(here)]).balance.reserve_ratio
            for laden in (True, False)
        ]
        return np.minimum(*both).reshape(log_cone.shape)

    low, high = (np.full(n, np.log(c)) for c in range_kpa)
    at_low, at_high = reserve(low), reserve(high)
    unknown, never, always = np.isnan(at_high), at_high < 0, at_low >= 0
    share = (np.arange(inner) + 1)[:, None] / (inner + 1)
    column = np.arange(n)
    for _ in range(rounds):
        marks = low + (high - low) * share
        found = reserve(marks)
        place = (found < 0).sum(axis=0)  # so many marks are too weak
        marks = np.vstack([low, marks, high])
        found = np.vstack([at_low, found, at_high])
        low, high = marks[place, column], marks[place + 1, column]
        at_low, at_high = found[place, column], found[place + 1, column]
    with np.errstate(divide="ignore", invalid="ignore"):
        critical = low + (high - low) * (-at_low / (at_high - at_low))
    value = np.exp(-np.where(always, np.log(range_kpa[0]), critical))
    return np.where(unknown, np.nan, np.where(never, 0.0, value))


def _bare_table(places: pd.DataFrame) -> pd.DataFrame:
    """Only what the way over the stations is worked out from."""
    kept = ["grade", "cross_slope", *(name for name in _SURFACE if name in places)]
    return pd.DataFrame(places[kept]).reset_index(drop=True)


def loads_drawn_kg(items: Sequence[Carried], factor: Floats) -> Floats:
    """Load mass of every setup in every draw, kg: the drawn one, held down to the ratings.

    ``factor`` on the machine's full load, (n_draw,). Returns (n_item, n_draw), 0 without a load.
    """
    full = [0.0 if i.machine.load is None else i.machine.load.mass_kg for i in items]
    wanted = np.array(full)[:, None] * factor
    allowed = [_with_load(item, np.inf).payload_kg for item in items]
    return np.minimum(wanted, np.array(allowed)[:, None])


def _with_load(item: Carried, mass_kg: float) -> Carried:
    load = item.machine.load
    if load is None:
        return item
    drawn = carried(item.setup, replace(item.machine, load=replace(load, mass_kg=mass_kg)))
    return replace(drawn, machine=item.machine)  # wheels lift no later than under its full load


@dataclass(frozen=True, slots=True)
class CriticalGrid:
    """Table of reciprocal critical cone indices over grade, cross slope, film and load.

    ``row_of`` finds the row of a node (film, grade, cross slope), -1 where no draw comes near;
    ``values`` has one array (n_row, n_load) for each setup, ``loads_kg`` the masses of its
    columns. Grades begin at ``-STEEPEST``, cross slopes at 0: their sign does not count. Where
    wheels lift off the value falls to 0 within one ``STEP``, mostly a little too early.
    """

    film_of: Counts
    row_of: Counts
    values: tuple[Floats, ...]
    loads_kg: tuple[Floats, ...]

    def at_stations(self, rows: Counts) -> CriticalGrid:
        """The same table, asked for some of the stations only."""
        return replace(self, film_of=self.film_of[rows])

    def least_inverse(self, grade: Floats, cross: Floats, error: float) -> Floats:
        """Smallest value of any setup and load near each station's slopes, (n_station,), 1/kPa.

        ``error`` is how far (ratio) drawn slopes stray. 0 where a slope or a value is unknown.
        """
        least = np.min([v.min(axis=1) for v in self.values], axis=0)
        nodes = np.where(self.row_of >= 0, np.nan_to_num(least, nan=0.0)[self.row_of], np.inf)
        reach = int(error / STEP) + 1
        for axis in (1, 2):
            nodes = _lowest_within(nodes, reach, axis)
        known, across, aside = _places(grade, cross)
        found = nodes[self.film_of, across.astype(np.int32), aside.astype(np.int32)]
        return np.where(known, found, 0.0)

    def corners(self, grade: Floats, cross: Floats, draws: int) -> Corners:
        """Where to look in the table for slopes (n_draw or 1, n_station)."""
        known, across, aside = _places(grade, cross)
        i, j = across.astype(np.int32), aside.astype(np.int32)
        film = np.broadcast_to(self.film_of, i.shape)
        rows = tuple(self.row_of[film, i + di, j + dj] for di in (0, 1) for dj in (0, 1))
        up, out = (across - i).astype(np.float32), (aside - j).astype(np.float32)
        up[~known] = np.nan
        weights = ((1 - up) * (1 - out), (1 - up) * out, up * (1 - out), up * out)
        if len(self.loads_kg[0]) > 1:
            first = np.arange(draws)[:, None] * len(self.values[0])
            rows = tuple(row + first for row in rows)
        return Corners(rows, weights)

    def inverse(self, k: int, corners: Corners, load_kg: Floats) -> Floats:
        """Reciprocal critical cone index of setup ``k``, (n_draw or 1, n_station), 1/kPa.

        ``load_kg`` is the setup's load in each draw, (n_draw,). NaN where it is unknown.
        """
        by_load, loads = self.values[k].T, self.loads_kg[k]
        if len(loads) == 1:
            table = by_load[0]
        else:
            step = max(loads[1] - loads[0], 1e-9)
            place = np.clip((load_kg - loads[0]) / step, 0, len(loads) - 1)
            left = np.minimum(place.astype(np.int64), len(loads) - 2)
            share = (place - left).astype(np.float32)[:, None]
            table = (by_load[left] * (1 - share) + by_load[left + 1] * share).ravel()
        first, *others = zip(corners.weights, corners.rows, strict=True)
        mixed = first[0] * table.take(first[1])
        for weight, rows in others:
            mixed += weight * table.take(rows)
        return mixed


@dataclass(frozen=True, slots=True)
class Corners:
    """Nodes round each drawn slope (rows of one load's table, or of one table a draw), weights."""

    rows: tuple[Counts, ...]
    weights: tuple[Floats, ...]


def _lowest_within(nodes: Floats, reach: int, axis: int) -> Floats:
    """Lowest value up to ``reach`` nodes back and ``reach + 1`` ahead on that axis."""
    lined = np.moveaxis(nodes, axis, 0)
    found = lined.copy()
    for step in range(1, reach + 2):
        np.minimum(found[:-step], lined[step:], out=found[:-step])
        if step <= reach:
            np.minimum(found[step:], lined[:-step], out=found[step:])
    return np.moveaxis(found, 0, axis)


def grid_over(
    stations: pd.DataFrame,
    items: Sequence[Carried],
    settings: Settings,
    slopes: Iterable[tuple[Floats, Floats]],
    loads_kg: Floats,
    cone_range_kpa: tuple[float, float],
) -> CriticalGrid:
    """Make the table for all drawn slopes and loads; only nodes that a draw needs are worked out.

    Parameters
    ----------
    stations : DataFrame
        With the surface film, where stations have their own.
    items : sequence of Carried
    settings : Settings
    slopes : iterable of (grade, cross slope)
        Everything that will be asked for: arrays (some draws, n_station), ratios.
    loads_kg : ndarray, shape (n_item, n_draw)
        All loads that will be asked for.
    cone_range_kpa : tuple of float
        Smallest and largest cone index that will be compared, kPa.
    """
    surface = [name for name in _SURFACE if name in stations]
    if surface:
        film_of = stations.groupby(surface, sort=True, dropna=False).ngroup().to_numpy(np.int64)
    else:
        film_of = np.zeros(len(stations), dtype=np.int64)
    films = int(film_of.max(initial=0)) + 1
    needed = np.zeros((films, round(2 * STEEPEST / STEP) + 2, round(STEEPEST / STEP) + 2), bool)
    for grade, cross in slopes:
        _, across, aside = _places(grade, cross)
        film = np.broadcast_to(film_of, across.shape)
        needed[film, across.astype(np.int32), aside.astype(np.int32)] = True
    needed[:, 1:] |= needed[:, :-1].copy()
    needed[:, :, 1:] |= needed[:, :, :-1].copy()
    film, i, j = np.nonzero(needed)
    row_of = np.full(needed.shape, -1, dtype=np.int32)
    row_of[film, i, j] = np.arange(len(film), dtype=np.int32)
    places = pd.DataFrame({"grade": i * STEP - STEEPEST, "cross_slope": j * STEP})
    _, first = np.unique(film_of, return_index=True)
    for name in surface:
        places[name] = stations[name].iloc[first[film]].array
    low, high = cone_range_kpa
    values, masses = [], []
    several = bool((loads_kg.max(axis=1) > loads_kg.min(axis=1)).any())
    for item, loads in zip(items, loads_kg, strict=True):
        masses.append(np.linspace(loads.min(), loads.max(), LOADS if several else 1))
        carriers = [_with_load(item, mass) for mass in masses[-1]]
        made = critical_inverse(places, carriers, settings, low, high * _BEYOND, _COARSE)
        values.append(made.astype(np.float32))
    return CriticalGrid(film_of, row_of, tuple(values), tuple(masses))


def _places(grade: Floats, cross: Floats) -> tuple[NDArray[np.bool_], Floats, Floats]:
    """Where slopes lie in the table, in steps; unknown ones are put on level ground."""
    known = np.isfinite(grade) & np.isfinite(cross)
    across = (np.clip(grade, -STEEPEST, STEEPEST) + STEEPEST) / STEP
    aside = np.minimum(np.abs(cross), STEEPEST) / STEP
    level = STEEPEST / STEP
    return known, np.where(known, across, level), np.where(known, aside, 0.0)
