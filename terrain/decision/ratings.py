"""Ratings of the whole machine, its axle groups and its tyres, at every station in both states.

A rating on a plate or in a tyre table speaks of the machine standing level. So the payload is
bounded on the level (:func:`terrain.decision.carried.carried`). A slope moves load to the rear,
to the front or to the downhill side; whether a short overload there is allowed only the maker can
say. It is therefore shown as "check with the manufacturer", with the load that would hold the
rating on the steepest of these stations. Plain statics, no factor for jolts.

A tyre's rating holds at its charted pressure. Where the tyre is set lower (cold) it carries less,
and how much only its load table says: its share is unknown there, but where even the charted rating
is exceeded, which is then told with that share as the least. Under dual tyres the outer tyre's
rating is in no catalogue, so the inner tyres are held against theirs as if they carried all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.carried import Carried, group_loads
from terrain.known import largest
from terrain.mechanics import loads, traction
from terrain.mechanics.mounted import Mounted
from terrain.models.settings import Settings
from terrain.setups.combinations import axle_name
from terrain.units import kn_from_kg

__all__ = [
    "ANSWERS",
    "OVER",
    "Ground",
    "RatingShares",
    "ground_of",
    "over_rating",
    "rating_checks",
    "rating_row",
    "rating_shares",
    "set_too_soft",
    "shares_of",
    "tyre_shares",
]

Floats = NDArray[np.float64]

ANSWERS = {
    "none": "no rating in the machine file",
    "unknown": "not assessed",
    "level": "over the rating on level ground: ask the manufacturer before anything else",
    "slope": "over the level rating on slopes: check with the manufacturer",
    "bogie": "over the level rating on slopes only if the bogie pivots freely: check with the "
    "manufacturer",
    "soft": "not known: the rating holds at {charted:g} kPa only, set are {set:g} kPa",
    "soft over": "over even the rating at {charted:g} kPa, and only {set:g} kPa are set: ask the "
    "manufacturer before anything else",
    "within": "within the rating",
}
"""What is said about one rating, by case; of soft tyres with both pressures put in."""

OVER = 1.0 + 1e-6
"""Above this share a rating is exceeded; the payload is cut to exactly 1."""

FREE, BALANCED = "bogie pivots freely", "bogie balanced"


@dataclass(frozen=True, slots=True)
class RatingShares:
    """One rating with its shares: ``worst`` and ``balanced`` of shape (n,), NaN unknown.

    ``soft`` holds the charted and the set pressure (kPa) of tyres that are set too low for it.
    """

    name: str
    case: str
    rated: bool
    balanced: Floats
    worst: Floats
    soft: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Ground:
    """Slope (ratios) and cone index (kPa) of some stations."""

    grade: Floats
    cross: Floats
    cone_index: Floats

    def at(self, which: NDArray) -> Ground:
        """Only the places of an index or a mask."""
        return Ground(self.grade[which], self.cross[which], self.cone_index[which])


def rating_checks(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> pd.DataFrame:
    """Hold every setup against every rating, loaded and empty, at every station.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``cone_index_kpa``, ``length_m``, ``trail``,
        ``chainage_m``.
    items : sequence of Carried
    settings : Settings
        The slip limit, for motion resistance and grip behind the thrust of a bogie.

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["ratings"]``; one row a setup, travel state and rating.

    Notes
    -----
    Whole machine: mass over rated mass. Group: load normal to the ground over its rating. Tyre: the
    heavier wheel on the downhill side over the tyre's rating. Within a bogie two cases bound the
    answer, see :func:`terrain.mechanics.loads.bogie_wheel_loads_kn`: balanced (both wheels alike)
    and pivoting freely (thrust or braking shifts load). Where the cone index is unknown, so is the
    second. A tyre that is set below its charted pressure has no known share but where the charted
    rating is exceeded all the same, and no load is named that would hold it.
    """
    ground = ground_of(stations)
    level = Ground(np.zeros(1), np.zeros(1), np.full(1, np.nan))
    slip = settings.decision.slip_limit
    rows = []
    for item in items:
        for laden in (True, False):
            if laden and item.load is None:
                continue
            on_level = shares_of(item, laden, level, None)
            on_slope = shares_of(item, laden, ground, slip)
            for flat, sloped in zip(on_level, on_slope, strict=True):
                row: dict[str, object] = {
                    "setup": item.setup.id,
                    "state": "loaded" if laden else "empty",
                    "rating": sloped.name,
                    "level_share": float(flat.balanced[0]),
                }
                row |= rating_row(stations, sloped, float(flat.balanced[0]))
                for name, case in (("balanced", None), ("free", slip)):
                    row[f"holding_payload_{name}_kg"] = (
                        _holding_payload_kg(item, ground, sloped, case) if laden else np.nan
                    )
                rows.append(row)
    return pd.DataFrame(rows, columns=list(columns_of("ratings")))


def rating_shares(stations: pd.DataFrame, item: Carried) -> Floats:
    """Largest share of any rating at each station, both states, bogies balanced; shape (n,).

    Of the known ones: NaN where there is none, because the slope is unknown, the machine file has
    no rating at all, or its tyres are set too low for the only ones.
    """
    ground = ground_of(stations)
    shares = [
        rating.balanced
        for laden in (True, False)
        for rating in shares_of(item, laden, ground, None)
        if rating.rated
    ]
    if not shares:
        return np.full(len(stations), np.nan)
    stacked = np.stack(shares)
    unknown = np.isnan(ground.grade) | np.isnan(ground.cross)
    return np.where(unknown, np.nan, np.fmax.reduce(stacked))


def over_rating(stations: pd.DataFrame, item: Carried) -> NDArray[np.bool_]:
    """Stations where a level rating is exceeded even with balanced bogies; shape (n,).

    Unknown is False here; ``rating_checks`` says how many metres are unknown. A share that is over
    on a slope alone is a question to the manufacturer, not a failure.
    """
    shares = rating_shares(stations, item)
    return np.nan_to_num(shares, nan=0.0) > OVER


def ground_of(stations: pd.DataFrame) -> Ground:
    """Slopes and cone index of the stations table, as arrays of shape (n_station,)."""
    return Ground(
        stations["grade"].to_numpy(float),
        stations["cross_slope"].to_numpy(float),
        stations["cone_index_kpa"].to_numpy(float),
    )


def shares_of(item: Carried, laden: bool, ground: Ground, slip: float | None) -> list[RatingShares]:
    """Shares of the whole machine, axle and tyre ratings at each place of ``ground``.

    Parameters
    ----------
    item : Carried
    laden : bool
        Loaded toward the landing, else empty away from it.
    ground : Ground
    slip : float or None
        Slip at which a freely pivoting bogie pulls; None counts bogies as balanced.
    """
    travel = ground.grade if laden else -ground.grade
    group_kn, drag, cg_height = group_loads(item, laden, travel, ground.cross)
    group_kn = loads.resting_loads_kn(group_kn)
    known = np.isfinite(group_kn).all(axis=-1)
    gross = item.machine.rated_gross_mass_kg
    whole = np.where(known, _mass_kg(item, laden) / _or_nan(gross), np.nan)
    found = [RatingShares("whole machine", "", gross is not None, whole, whole)]
    for i, g in enumerate(item.groups):
        share = group_kn[:, i] / kn_from_kg(_or_nan(g.group.rated_mass_kg))
        rated = g.group.rated_mass_kg is not None
        found.append(RatingShares(axle_name(g.group), "", rated, share, share))
    thrust = None if slip is None else _thrust_kn(item, group_kn, drag, travel, ground, slip)
    for i, g in enumerate(item.groups):
        side = loads.downhill_side_kn(
            group_kn[:, i], ground.cross, cg_height, item.machine.track_gauge_m
        )
        worst = None
        if g.group.kind == "bogie" and g.group.bogie_spacing_m and thrust is not None:
            # the heavier side is taken to give thrust in proportion to its load
            part = side / np.where(group_kn[:, i] > 0, group_kn[:, i], np.nan)
            lead, trail = loads.bogie_wheel_loads_kn(
                side,
                thrust[:, i] * part,
                g.group.tyre.radius_m + g.thickness_m,
                g.group.bogie_spacing_m,
            )
            worst = 2 * np.maximum(lead, trail)
        found.append(tyre_shares(g, side, worst))
    return found


def tyre_shares(group: Mounted, side_kn: Floats, worst_kn: Floats | None = None) -> RatingShares:
    """Shares of a group's tyre rating under the load of its heavier side, kN, shape (n,).

    ``worst_kn`` is twice the heavier wheel of a bogie that pivots freely; None where the wheels of
    a side carry alike. Of dual tyres the inner ones carry all: the outer's rating is not known.
    """
    tyre = group.group.tyre
    rated = kn_from_kg(_or_nan(tyre.rated_load_kg)) * group.group.wheels / 2
    balanced = side_kn / rated
    worst = balanced if worst_kn is None else worst_kn / rated
    soft, charted = None, tyre.charted_inflation_kpa
    if tyre.rated_load_kg is not None and charted is not None and not group.rated_load_holds:
        soft = (charted, group.inflation_kpa)
        balanced, worst = (np.where(s > OVER, s, np.nan) for s in (balanced, worst))
    name, case = f"tyres of the {axle_name(group.group)}", "" if worst_kn is None else FREE
    return RatingShares(name, case, tyre.rated_load_kg is not None, balanced, worst, soft)


def _thrust_kn(
    item: Carried, group_kn: Floats, drag: Floats, travel: Floats, ground: Ground, slip: float
) -> Floats:
    resistance, grip = [], []
    for i, g in enumerate(item.groups):
        bn = g.mobility_number(ground.cone_index, np.maximum(group_kn[:, i], 0.0))
        kind = g.group.tyre.construction
        more = g.aid.resistance_factor if g.aid else 1.0
        resistance.append(more * traction.motion_resistance_ratio(bn, slip, kind))
        # no film is taken off the grip: without one the thrust, and its shift of load, is larger
        grip.append(traction.gross_traction_ratio(bn, slip, kind))
    return loads.group_thrust_kn(
        group_kn,
        np.stack(resistance, axis=-1),
        np.array([g.group.driven for g in item.groups]),
        travel,
        ground.cross,
        drag,
        np.stack(grip, axis=-1),
    )


def rating_row(
    stations: pd.DataFrame, rating: RatingShares, level_share: float
) -> dict[str, object]:
    """Answer, largest share, its place and metres over one rating; keys as in the table."""
    length = stations["length_m"].to_numpy(float)
    worst = np.where(np.isnan(rating.worst), rating.balanced, rating.worst)
    seen = np.isfinite(worst)
    row: dict[str, object] = {
        "largest_share": np.nan,
        "case": "",
        "trail": None,
        "chainage_m": np.nan,
        "grade": np.nan,
        "cross_slope": np.nan,
        "balanced_share": np.nan,
        "over_m": np.nan,
        "over_balanced_m": np.nan,
        "unknown_m": float(length[np.isnan(rating.worst)].sum()),
    }
    if not rating.rated:
        row["answer"] = ANSWERS["none"]
        return row
    if not seen.any():
        row["answer"] = _soft_words(rating, "soft") or ANSWERS["unknown"]
        return row
    at = int(np.nanargmax(worst))
    row |= {
        "largest_share": float(worst[at]),
        "case": rating.case and (FREE if np.isfinite(rating.worst[at]) else BALANCED),
        "trail": stations["trail"].iloc[at],
        "chainage_m": float(stations["chainage_m"].iloc[at]),
        "grade": float(stations["grade"].iloc[at]),
        "cross_slope": float(stations["cross_slope"].iloc[at]),
        "balanced_share": largest(rating.balanced),
        "over_m": float(length[worst > OVER].sum()),
        "over_balanced_m": float(length[rating.balanced > OVER].sum()),
    }
    over, over_balanced = row["largest_share"] > OVER, row["balanced_share"] > OVER  # type: ignore[operator]
    if rating.soft is not None:
        row["answer"] = _soft_words(rating, "soft over")
    elif level_share > OVER:
        row["answer"] = ANSWERS["level"]
    elif over_balanced:
        row["answer"] = ANSWERS["slope"]
    elif over:
        row["answer"] = ANSWERS["bogie"]
    else:
        row["answer"] = ANSWERS["within"]
    return row


def set_too_soft(answer: str) -> bool:
    """Whether an answer of the table is about tyres that are set below their charted pressure."""
    starts = tuple(ANSWERS[case].partition("{")[0] for case in ("soft", "soft over"))
    return answer.startswith(starts)


def _soft_words(rating: RatingShares, case: str) -> str:
    """What is said of a tyre that is set too low; empty for any other rating."""
    if rating.soft is None:
        return ""
    charted, inflation = rating.soft
    return ANSWERS[case].format(charted=charted, set=inflation)


def _holding_payload_kg(
    item: Carried, ground: Ground, rating: RatingShares, slip: float | None
) -> float:
    """Largest load that holds the rating at every station, kg; NaN where it holds or none does.

    With ``slip`` bogies pivot freely, without it their wheels carry alike.
    """
    worst = rating.balanced
    if slip is not None:
        worst = np.where(np.isnan(rating.worst), rating.balanced, rating.worst)
    over = np.flatnonzero(np.nan_to_num(worst, nan=0.0) > OVER)
    if over.size == 0 or not rating.rated or rating.soft is not None:
        return np.nan
    ground = ground.at(over)
    payload = item.payload_kg
    for _ in range(len(over)):
        shares = _shares_at(item, ground, rating.name, slip, payload)
        if shares.max() <= OVER:
            return payload
        payload = _bisected(
            item, ground.at(np.array([shares.argmax()])), rating.name, slip, payload
        )
        if np.isnan(payload):
            return np.nan
    return payload


def _bisected(
    item: Carried, ground: Ground, name: str, slip: float | None, payload: float
) -> float:
    if _shares_at(item, ground, name, slip, 0.0)[0] > 1.0:
        return np.nan
    low, high = 0.0, payload
    while high - low > 1.0:  # to a kilogram, on the safe side
        middle = (low + high) / 2
        if _shares_at(item, ground, name, slip, middle)[0] > 1.0:
            high = middle
        else:
            low = middle
    return low


def _shares_at(
    item: Carried, ground: Ground, name: str, slip: float | None, payload: float
) -> Floats:
    ratings = shares_of(item.carrying(payload), True, ground, slip)
    rating = next(r for r in ratings if r.name == name)
    return np.where(np.isnan(rating.worst), rating.balanced, rating.worst)


def _mass_kg(item: Carried, laden: bool) -> float:
    """Mass on the wheels, kg; what drags on the ground is not on them."""
    return item.empty_mass_kg + (item.resting_load_kg if laden else 0.0)


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value
