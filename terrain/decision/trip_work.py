"""Work of one loaded and one empty trip over the trails, of every setup and against bare wheels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import loads, traction, work

__all__ = ["trip_work"]

Floats = NDArray[np.float64]

_TRIPS = ("loaded", "empty")


def trip_work(
    stations: pd.DataFrame, items: Sequence[Carried], slip: float
) -> list[dict[str, float]]:
    """Work at the wheels of both trips over all assessed metres, and the fuel for it.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``length_m``, ``cone_index_kpa``.
    items : sequence of Carried
        Setups of one machine.
    slip : float
        Slip limit, for the high end of the fuel.

    Returns
    -------
    list of dict
        One for each setup: ``loaded_trip_mj`` and ``empty_trip_mj``, of them ``loaded_grade_mj``
        and ``empty_grade_mj`` for lifting weight alone (the rest is motion resistance and what
        drags), ``loaded_trip_ratio`` and ``empty_trip_ratio`` against bare wheels,
        ``round_trip_mj``, ``fuel_low_l`` and ``fuel_high_l``. NaN where nothing is assessed, and
        the ratios without bare wheels among the setups.

    Notes
    -----
    Motion resistance is that of wheels that roll free, times the aid's factor. Each trip is with
    the load that the ratings leave: a setup that carries less does less work on a trip. The low end
    of the fuel has no slip, the high end the slip limit all the way. A force along the trail works
    over the way along it, which is longer than the horizontal one by the grade alone: a cross slope
    presses less on the wheels and makes no way longer.
    """
    found = [(_trip(stations, item, True), _trip(stations, item, False)) for item in items]
    bare = next((k for k, item in enumerate(items) if item.setup.is_bare), None)
    rows = []
    for trips in found:
        row: dict[str, float] = {}
        for number, name in enumerate(_TRIPS):
            whole, lifting = trips[number]
            row[f"{name}_trip_mj"] = _sum(whole)
            row[f"{name}_grade_mj"] = _sum(np.where(np.isnan(whole), np.nan, lifting))
            row[f"{name}_trip_ratio"] = (
                np.nan if bare is None else _ratio(whole, found[bare][number][0])
            )
        total = _sum(trips[0][0] + trips[1][0])
        row["round_trip_mj"] = total
        row["fuel_low_l"] = float(work.driving_fuel_l(total, 0.0).low)
        row["fuel_high_l"] = float(work.driving_fuel_l(total, slip).high)
        rows.append(row)
    return rows


def _trip(stations: pd.DataFrame, item: Carried, laden: bool) -> tuple[Floats, Floats]:
    """Work over each station's length, MJ: all of it, and that of lifting the weight alone."""
    grade = stations["grade"].to_numpy(float) * (1.0 if laden else -1.0)
    cross = stations["cross_slope"].to_numpy(float)
    length = stations["length_m"].to_numpy(float)
    cone = stations["cone_index_kpa"].to_numpy(float)
    group_load, drag, _ = group_loads(item, laden, grade, cross)
    group_load = loads.resting_loads_kn(group_load)
    normal = group_load.sum(axis=-1)
    weight = normal / loads.normal_share(grade, cross)
    resistance = np.zeros(len(stations))
    for i, g in enumerate(item.groups):
        bn = g.mobility_number(cone, group_load[:, i])
        towed = traction.towed_resistance_ratio(bn, g.group.tyre.construction)
        part = group_load[:, i] * towed * (g.aid.resistance_factor if g.aid else 1.0)
        resistance += np.where(group_load[:, i] == 0, 0.0, part)
    along = np.sqrt(1.0 + grade**2)  # metres of way over metres on the map
    ratio = (resistance + np.maximum(drag, 0.0)) * along / weight
    whole = work.resistance_work_mj(weight, ratio, grade, length)
    return whole, work.resistance_work_mj(weight, 0.0, grade, length)


def _sum(values: Floats) -> float:
    return float(np.nansum(values)) if np.isfinite(values).any() else np.nan


def _ratio(values: Floats, base: Floats) -> float:
    """Sums over each other: what is unknown (slope, strength) is so for every setup."""
    under = _sum(base)
    return _sum(values) / under if under > 0 else np.nan
