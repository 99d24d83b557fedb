"""What a crane that is out does to ratings and to standing: for checking, never as permission.

The crane of the machine file reaches as far as its figures say, in every direction, while the
machine stands still at every station, its frames locked and straight, facing either way. Loaded,
what hangs is a part of the load; empty, it comes on top. The moment is handed to the groups in
proportion to their loads, as on a cross slope; bogie wheels carry alike. The crane chart and
stability data of the maker decide.

As in :mod:`terrain.decision.stability_checks` nothing that steadies is credited to an aid or to a
load that an aid has cut. None of this enters the traction verdict: where the machine works with its
crane is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.carried import Carried, low_places, resting, resting_cases
from terrain.decision.ratings import (
    ANSWERS,
    OVER,
    Ground,
    RatingShares,
    ground_of,
    rating_row,
    tyre_shares,
)
from terrain.mechanics import crane, loads
from terrain.mechanics.stability import CHECK_PART
from terrain.models.machine import Load
from terrain.setups.combinations import axle_name
from terrain.units import kn_from_kg

__all__ = [
    "CHECKS",
    "TIPPING",
    "TipShare",
    "crane_checks",
    "crane_ratings",
    "states_of",
    "tip_shares",
]

Floats = NDArray[np.float64]

CHECKS = ("over the downhill side", "over the rear end", "over the front end")
"""Ways to tip, in the order of the table."""

TIPPING = {
    "unknown": "not assessed",
    "level": "a rigid machine tips on level ground: stop and ask",
    "slope": "a rigid machine begins to tip on these slopes: stop and ask",
    "check": "check with the crane chart and the manufacturer's stability data",
    "less": "less than the part from which to check; never a permission",
}
"""What is said about one way to tip, by case."""

STANDING = {
    "level": "over the rating on level ground: ask the manufacturer what holds standing still",
    "slope": "over the rating on slopes: ask the manufacturer what holds standing still",
}
"""What is said where a rating is exceeded. Load tables may allow a tyre more standing still than at
the speed that its rated load holds for: common practice, no source, so no figure."""

_ANGLES = np.linspace(0.0, np.pi, 181)
"""Directions of the crane on the downhill side, for the tyres: 1 degree apart (the largest load
between two of them is at most 0.004 % of the crane's own moment higher)."""

_LEVEL = Ground(np.zeros(1), np.zeros(1), np.full(1, np.nan))


@dataclass(frozen=True, slots=True)
class TipShare:
    """One of :data:`CHECKS`: part of the room to tipping that is used up, 1 where wheels lift.

    ``level`` on level ground, ``used`` at each place, shape (n,), 0 where the weight has gone the
    other way. Where the slope is not ``known`` it is NaN, or the level's part where that alone asks
    for a check: no slope makes it less. ``check_slope`` and ``tip_slope`` (ratios) are where
    :data:`terrain.mechanics.stability.CHECK_PART` and all of it are used up on a slope in this
    direction; 0 where the level uses up as much.
    """

    check: str
    level: float
    used: Floats
    known: NDArray[np.bool_]
    check_slope: float
    tip_slope: float


def crane_checks(stations: pd.DataFrame, items: Sequence[Carried]) -> pd.DataFrame:
    """Hold every setup with its crane out against ratings and tipping, loaded and empty.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``length_m``, ``trail``, ``chainage_m``.
    items : sequence of Carried

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["crane_checks"]``: one row a setup, load state and
        check. No row for a machine file without figures of a crane.
    """
    ground = ground_of(stations)
    rows = []
    for item in items:
        if item.machine.crane is None:
            continue
        for laden in states_of(item):
            first = {"setup": item.setup.id, "state": "loaded" if laden else "empty"}
            for part in tip_shares(item, laden, ground):
                rows.append(first | _tip_row(stations, part))
            flat = crane_ratings(item, laden, _LEVEL)
            for level, sloped in zip(flat, crane_ratings(item, laden, ground), strict=True):
                share = float(level.balanced[0])
                row = rating_row(stations, sloped, share)
                for case, words in STANDING.items():
                    row["answer"] = words if row["answer"] == ANSWERS[case] else row["answer"]
                row |= {"check": sloped.name, "level_share": share, "near_m": np.nan}
                rows.append(first | row)
    return pd.DataFrame(rows, columns=list(columns_of("crane_checks")))


def tip_shares(item: Carried, laden: bool, ground: Ground) -> list[TipShare]:
    """Part of the room to tipping that the crane uses up in the :data:`CHECKS`, the worst case.

    ``item.machine`` has a crane. At each place the worse heading along the trail counts.
    """
    out, m = item.machine.crane, item.machine
    if out is None:
        raise ValueError("the machine file has no crane")
    carries = [_without_lift(item, load) for load in ((item.load, m.load) if laden else (None,))]
    either_way = np.stack([ground.grade, -ground.grade])
    level: list[Floats] = []
    used: list[Floats] = []
    slopes = []
    for mass, centre, height, *_ in resting_cases(item, carries):
        _, x, y, high = crane.swung_out(
            mass, centre, height, out, np.array([np.pi / 2, np.pi, 0.0])
        )
        arms, ends = (m.wheelbase_m, m.track_gauge_m), (float(x[1]), float(x[2]))
        for found, grade, cross in (
            (level, np.zeros((2, 1)), np.zeros(1)),
            (used, either_way, ground.cross),
        ):
            args = (high[0], centre, m.wheelbase_m, grade, cross)
            over_rear = crane.end_parts(x[1], *args)[0].max(axis=0)
            over_front = crane.end_parts(x[2], *args)[1].max(axis=0)
            side = crane.side_part(y[0], high[0], m.track_gauge_m, cross)
            found.append(np.stack([side, over_rear, over_front]))
        slopes.append(
            [
                crane.slopes_at_part(part, ends, float(y[0]), float(high[0]), centre, *arms)
                for part in (CHECK_PART, 1.0)
            ]
        )
    flat, worst = np.maximum(np.max(level, axis=0), 0.0), np.maximum(np.max(used, axis=0), 0.0)
    least = np.maximum(np.min(slopes, axis=0), 0.0)
    known = ~np.isnan(worst)
    worst = np.where(known | (flat < CHECK_PART), worst, flat)
    return [
        TipShare(
            name, float(flat[i, 0]), worst[i], known[i], float(least[0, i]), float(least[1, i])
        )
        for i, name in enumerate(CHECKS)
    ]


def crane_ratings(item: Carried, laden: bool, ground: Ground) -> list[RatingShares]:
    """Shares of the axle and tyre ratings with the crane out, the worst direction and heading.

    The aids count where they are, the load is that within the ratings. Not of the whole machine:
    the mass that it may have on the road is not what stands on its wheels at work.
    """
    out, m = item.machine.crane, item.machine
    if out is None:
        raise ValueError("the machine file has no crane")
    load = _without_lift(item, item.load) if laden else None
    mass, centre, height = resting(item, load, low_places(item))
    whole, x, y, high = (
        part[:, None] for part in crane.swung_out(mass, centre, height, out, _ANGLES)
    )
    either_way = np.stack([ground.grade, -ground.grade])[:, None, :]
    both = loads.axle_loads_kn(
        kn_from_kg(whole), x, high, m.wheelbase_m, either_way, cross_slope=ground.cross
    )
    group_kn = loads.resting_loads_kn(np.stack(both, axis=-1))
    leaning = crane.side_part(y, high, m.track_gauge_m, ground.cross)
    found = []
    for i, g in enumerate(item.groups):
        rated = np.nan if g.group.rated_mass_kg is None else g.group.rated_mass_kg
        share = group_kn[..., i].max(axis=(0, 1)) / kn_from_kg(rated)
        known = g.group.rated_mass_kg is not None
        found.append(RatingShares(axle_name(g.group), "", known, share, share))
    for i, g in enumerate(item.groups):
        side = group_kn[..., i] * np.minimum(0.5 + leaning / 2, 1.0)
        found.append(tyre_shares(g, side.max(axis=(0, 1))))
    return found


def states_of(item: Carried) -> tuple[bool, ...]:
    """Load states that are looked at: loaded (True) first, where the machine has a load."""
    return (False,) if item.machine.load is None else (True, False)


def _without_lift(item: Carried, load: Load | None) -> Load | None:
    """The load that still lies on the machine while a part of it hangs on the crane."""
    if load is None or item.machine.crane is None:
        return load
    return replace(load, mass_kg=max(load.mass_kg - item.machine.crane.lifted_mass_kg, 0.0))


def _tip_row(stations: pd.DataFrame, part: TipShare) -> dict[str, object]:
    length = stations["length_m"].to_numpy(float)
    row: dict[str, object] = {
        "check": part.check,
        "level_share": part.level,
        "largest_share": np.nan,
        "trail": None,
        "chainage_m": np.nan,
        "grade": np.nan,
        "cross_slope": np.nan,
        "near_m": float(length[part.used >= CHECK_PART].sum()),
        "over_m": float(length[part.used > OVER].sum()),
        "unknown_m": float(length[~part.known & ~(part.used > OVER)].sum()),
        "check_slope": part.check_slope,
        "tip_slope": part.tip_slope,
    }
    if np.isnan(part.used).all():
        return row | {"answer": TIPPING["unknown"]}
    at = int(np.nanargmax(part.used))
    largest = float(part.used[at])
    case = "slope" if largest > OVER else "check" if largest >= CHECK_PART else "less"
    return row | {
        "answer": TIPPING["level" if part.level > OVER else case],
        "largest_share": largest,
        "trail": stations["trail"].iloc[at],
        "chainage_m": float(stations["chainage_m"].iloc[at]),
        "grade": float(stations["grade"].iloc[at]),
        "cross_slope": float(stations["cross_slope"].iloc[at]),
    }
