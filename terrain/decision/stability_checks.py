"""Slopes from which to check the stability with the maker's data: never a permission.

Rigid statics with a part of 0.6, a planning assumption for oscillating frames, obstacles and loads
that move. The tipping slopes are those of :func:`terrain.decision.carried.stance_of`, by which the
reserves are held too: an aid can only lower one (its mass may shift the balance to the rear or
front); its low mass, its width or a load that it has cut never raises one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.carried import Carried, stance_of
from terrain.mechanics import stability

__all__ = [
    "DIRECTIONS",
    "TipPlaces",
    "lift_off_m",
    "lift_sentence",
    "nearest_first",
    "some_names",
    "stability_checks",
    "tip_places",
    "tip_sentences",
    "tip_warning",
]

Floats = NDArray[np.float64]

DIRECTIONS = ("across the slope", "front end uphill", "front end downhill")
"""What is looked at, in this order, loaded and empty."""


def stability_checks(stations: pd.DataFrame, items: Sequence[Carried]) -> pd.DataFrame:
    """Check slopes of every setup across, uphill and downhill, loaded and empty.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``length_m``, ``trail``, ``chainage_m``.
    items : sequence of Carried

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["stability_checks"]``; one row a setup, travel state and
        direction. Slopes are ratios, all positive.

    Notes
    -----
    The load is the machine's full load, also where the ratings leave a setup less: a smaller load
    is not credited. The front group leads both ways, so a loaded climb has the front end uphill and
    so has an empty trip that climbs away from the landing.
    """
    rows = []
    for item in items:
        for laden in (True, False):
            if laden and item.machine.load is None:
                continue
            level = _limits(item, laden, np.zeros(1), np.zeros(1))
            for direction, limit in zip(DIRECTIONS, level, strict=True):
                tip = max(float(limit[0]), 0.0)
                rows.append(
                    {"setup": item.setup.id, "state": "loaded" if laden else "empty"}
                    | _row(stations, direction, laden, tip)
                )
    return pd.DataFrame(rows, columns=list(columns_of("stability_checks")))


def lift_off_m(stations: pd.DataFrame, item: Carried) -> float:
    """Metres on which an axle group or the uphill wheels lift off in the statics, in either state.

    The setup fails there; they are the ``tip_m`` of :func:`tip_places`. ``stations`` has ``grade``,
    ``cross_slope`` (ratios) and ``length_m``; metres without a known slope are not among them.
    """
    grade, cross = _slopes(stations)
    lifts = np.zeros(len(stations), dtype=bool)
    for laden in (True, False):
        travel = grade if laden else -grade
        along, across = stance_of(item, laden, travel, cross).left(travel, cross)
        lifts |= (along < 0) | (across < 0)
    return float(stations["length_m"].to_numpy(float)[lifts].sum())


def lift_sentence(item: Carried, here: pd.DataFrame) -> str:
    """Where wheels lift at one station: the slope over its limit, by travel state; else empty."""
    said = [
        f"{state}, {direction}: {100 * slope[0]:.1f} % over {100 * limit[0]:.1f} %"
        for state, direction, limit, slope in _ways(item, *_slopes(here))
        if slope[0] > limit[0]
    ]
    if not said:
        return ""
    return (
        f"Wheels lift off in the computation ({'; '.join(said)}): the setup fails there, whatever "
        "the grip. No aid is credited with holding the machine down."
    )


def _ways(item: Carried, grade: Floats, cross: Floats) -> list[tuple[str, str, Floats, Floats]]:
    """Travel state, direction, slope at which wheels lift and slope that is there (ratios).

    A machine without load is looked at in both directions of travel, like its reserve.
    """
    found = []
    for laden in (True, False):
        state = "loaded" if laden and item.machine.load is not None else "empty"
        for direction, limit in zip(DIRECTIONS, _limits(item, laden, grade, cross), strict=True):
            found.append((state, direction, limit, _slope_in(direction, laden, grade, cross)))
    return found


@dataclass(frozen=True, slots=True)
class TipPlaces:
    """Where one setup reaches a check slope, and where the slope of a rigid machine that tips.

    Attributes
    ----------
    check_m, tip_m : float
        Metres of trail from the check slope on, and of them from the rigid tipping slope on; a
        metre counts once, whichever direction or travel state reaches it.
    check_trails, tip_trails : tuple of str
        Trails that have such metres, the nearest to tipping first.
    unknown_m : float
        Metres that are not among them and whose grade or cross slope is not known.
    trail, chainage_m, state, direction, slope, tip_slope
        The place, travel state and direction (of :data:`DIRECTIONS`) that is nearest to tipping or
        farthest beyond, with its slope and the rigid tipping slope (ratios); empty and NaN where no
        slope is known.
    """

    check_m: float
    tip_m: float
    check_trails: tuple[str, ...]
    tip_trails: tuple[str, ...]
    unknown_m: float
    trail: str = ""
    chainage_m: float = np.nan
    state: str = ""
    direction: str = ""
    slope: float = np.nan
    tip_slope: float = np.nan


def tip_places(stations: pd.DataFrame, item: Carried) -> TipPlaces:
    """Look up where a setup reaches the slopes of :func:`stability_checks`, in any direction.

    ``stations`` as there. Never a permission: real machines tip earlier than a rigid one.
    """
    grade, cross = _slopes(stations)
    looked_at = _ways(item, grade, cross)
    parts = np.stack([_part(slope, limit) for _, _, limit, slope in looked_at])
    over = np.zeros(len(stations), dtype=bool)
    for _, _, limit, slope in looked_at:
        over |= slope > limit
    part = np.nan_to_num(parts, nan=-1.0, posinf=np.inf).max(axis=0)
    length = stations["length_m"].to_numpy(float)
    check = part >= stability.CHECK_PART
    trail = stations["trail"].astype(str).to_numpy()
    unknown = (np.isnan(grade) | np.isnan(cross)) & ~check
    found = TipPlaces(
        float(length[check].sum()),
        float(length[over].sum()),
        nearest_first(trail, part, check),
        nearest_first(trail, part, over),
        float(length[unknown].sum()),
    )
    if not (part >= 0).any():
        return found
    at = int(part.argmax())
    state, direction, limit, slope = looked_at[int(np.nan_to_num(parts[:, at], nan=-1.0).argmax())]
    tip = float(limit[at] if slope[at] < 0 else max(limit[at], 0.0))
    chainage = float(stations["chainage_m"].iloc[at])
    return replace(
        found,
        trail=str(trail[at]),
        chainage_m=chainage,
        state=state,
        direction=direction,
        slope=float(slope[at]),
        tip_slope=tip,
    )


def tip_sentences(places: TipPlaces, most: int = 6) -> tuple[str, ...]:
    """What to say of them: stop, ask; nothing where no check slope is reached.

    Silence is no permission: see the module. ``most`` trails are named in one sentence.
    """
    where = (
        f"{places.trail} at {places.chainage_m:.0f} m, {places.state}, {places.direction}: "
        f"{100 * places.slope:.0f} % against {100 * places.tip_slope:.0f} %"
    )
    said = []
    if places.tip_m > 0:
        said.append(
            f"Stop and ask: on {places.tip_m:.0f} m ({some_names(places.tip_trails, most)}) the "
            f"slope reaches the one at which a rigid machine begins to tip (worst {where}). No aid "
            "makes the machine stand safer. Nobody drives there before the manufacturer's "
            "stability data and a competent person have decided."
        )
    rest = places.check_m - places.tip_m
    if rest > 0:
        more = "more " if said else ""
        nearest = "" if said else f" (nearest {where})"
        said.append(
            f"Ask before driving: on {rest:.0f} m {more}({some_names(places.check_trails, most)}) "
            f"the slope is {stability.CHECK_PART:g} of the one at which a rigid machine begins to "
            f"tip, or steeper{nearest}. Check the stability there with the manufacturer's data."
        )
    return tuple(said)


def tip_warning(places: TipPlaces) -> str:
    """One sentence for the headline where a rigid machine would begin to tip; else empty."""
    if not places.tip_m > 0:
        return ""
    where = some_names(places.tip_trails, 3)
    return f"Stop and ask: on {places.tip_m:.0f} m ({where}) a rigid machine begins to tip."


def some_names(names: Sequence[str], most: int = 40) -> str:
    """Name ``most`` of them and count the others."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def _part(slope: Floats, limit: Floats) -> Floats:
    """Slope over the tipping slope; 0 where the machine leans the other way.

    Infinite where it tips on the level already, or leaning the other way.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where((slope > 0) & (limit > 0), slope / limit, 0.0)
    part = np.where((limit <= 0) & (slope >= limit), np.inf, part)
    return np.where(np.isnan(slope), np.nan, part)


def nearest_first(trail: NDArray, part: Floats, which: NDArray[np.bool_]) -> tuple[str, ...]:
    """Name each trail of the places ``which`` once, the one with the largest part first."""
    order = np.argsort(-part[which], kind="stable")
    return tuple(dict.fromkeys(str(name) for name in trail[which][order]))


def _slopes(stations: pd.DataFrame) -> tuple[Floats, Floats]:
    return stations["grade"].to_numpy(float), stations["cross_slope"].to_numpy(float)


def _slope_in(direction: str, laden: bool, grade: Floats, cross: Floats) -> Floats:
    """Slope (ratio) in one of :data:`DIRECTIONS`, positive toward its tipping."""
    travel = grade if laden else -grade
    return {DIRECTIONS[0]: np.abs(cross), DIRECTIONS[1]: travel, DIRECTIONS[2]: -travel}[direction]


def _limits(item: Carried, laden: bool, grade: Floats, cross: Floats) -> tuple[Floats, ...]:
    """Slopes (ratio) at which wheels lift in the :data:`DIRECTIONS`, counted toward the tipping."""
    stance = stance_of(item, laden, grade if laden else -grade, cross)
    return np.full(len(grade), stance.side_lifts), stance.front_lifts, -stance.rear_lifts


def _row(stations: pd.DataFrame, direction: str, laden: bool, tip: float) -> dict[str, object]:
    slope = _slope_in(direction, laden, *_slopes(stations))
    check = stability.CHECK_PART * tip
    length = stations["length_m"].to_numpy(float)
    row: dict[str, object] = {
        "direction": direction,
        "check_slope": check,
        "tip_slope": tip,
        "reached_m": float(length[slope >= check].sum()),
        "unknown_m": float(length[np.isnan(slope)].sum()),
        "steepest_slope": np.nan,
        "trail": None,
        "chainage_m": np.nan,
    }
    if np.isfinite(slope).any() and np.nanmax(slope) > 0:
        at = int(np.nanargmax(slope))
        row |= {
            "steepest_slope": float(slope[at]),
            "trail": stations["trail"].iloc[at],
            "chainage_m": float(stations["chainage_m"].iloc[at]),
        }
    return row
