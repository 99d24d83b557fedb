"""Where a crane that is out comes near tipping the machine, and the sentences that say so.

By the parts of :func:`terrain.decision.crane_checks.tip_shares`. Silence is no permission.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from terrain.decision.carried import Carried
from terrain.decision.crane_checks import CHECKS, states_of, tip_shares
from terrain.decision.ratings import OVER, ground_of
from terrain.decision.stability_checks import nearest_first, some_names
from terrain.mechanics.stability import CHECK_PART

__all__ = [
    "CranePlaces",
    "crane_at",
    "crane_places",
    "crane_sentences",
    "crane_used",
    "crane_warning",
]

_STANDS = "standing still with frames locked and straight"


@dataclass(frozen=True, slots=True)
class CranePlaces:
    """Where one setup with its crane out is the check part of the way to tipping, and all.

    Attributes
    ----------
    lifted_kg, reach_m : float
        What hangs and how far out, from the machine file.
    check_m, tip_m : float
        Metres on which :data:`terrain.mechanics.stability.CHECK_PART` of the way is used up or
        more, and those of them on which a rigid machine begins to tip; a metre counts once.
    check_trails, tip_trails : tuple of str
        Trails that have such metres, the nearest to tipping first.
    unknown_m : float
        Metres whose grade or cross slope is not known and on which it may be worse than counted.
    level : float
        Largest part that is used up on level ground already.
    trail, chainage_m, state, check, used
        The place, load state and one of :data:`terrain.decision.crane_checks.CHECKS` with the
        largest part, and that part; empty and NaN where no slope is known.
    """

    lifted_kg: float
    reach_m: float
    check_m: float
    tip_m: float
    check_trails: tuple[str, ...]
    tip_trails: tuple[str, ...]
    unknown_m: float
    level: float
    trail: str = ""
    chainage_m: float = np.nan
    state: str = ""
    check: str = ""
    used: float = np.nan


def crane_places(stations: pd.DataFrame, item: Carried) -> CranePlaces | None:
    """Look up where a setup with its crane out comes near tipping; None without a crane's figures.

    ``stations`` as in :func:`terrain.decision.crane_checks.crane_checks`.
    """
    crane = item.machine.crane
    if crane is None:
        return None
    ground = ground_of(stations)
    states = states_of(item)
    shares = [part for laden in states for part in tip_shares(item, laden, ground)]
    used = np.stack([part.used for part in shares])
    known = np.all([part.known for part in shares], axis=0)
    most = np.nan_to_num(used, nan=-1.0, posinf=np.inf).max(axis=0)
    length = stations["length_m"].to_numpy(float)
    trail = stations["trail"].astype(str).to_numpy()
    check, tips = most >= CHECK_PART, most > OVER
    found = CranePlaces(
        crane.lifted_mass_kg,
        crane.reach_m,
        float(length[check].sum()),
        float(length[tips].sum()),
        nearest_first(trail, most, check),
        nearest_first(trail, most, tips),
        float(length[~known & ~tips].sum()),
        max(part.level for part in shares),
    )
    if not (most >= 0).any():
        return found
    at = int(most.argmax())
    worst = int(np.nan_to_num(used[:, at], nan=-1.0, posinf=np.inf).argmax())
    names = [("loaded" if laden else "empty", check) for laden in states for check in CHECKS]
    state, check_word = names[worst]
    return replace(
        found,
        trail=str(trail[at]),
        chainage_m=float(stations["chainage_m"].iloc[at]),
        state=state,
        check=check_word,
        used=float(most[at]),
    )


def crane_used(stations: pd.DataFrame, item: Carried) -> pd.Series:
    """Part of the way to tipping with the crane out at each station, the worst of all checks.

    NaN without figures of a crane, and where the slope is not known and level ground does not ask
    for a check already; then what level ground uses up is the least.
    """
    if item.machine.crane is None:
        return pd.Series(np.nan, index=stations.index)
    ground = ground_of(stations)
    shares = [part for laden in states_of(item) for part in tip_shares(item, laden, ground)]
    return pd.Series(np.fmax.reduce([part.used for part in shares]), index=stations.index)


def crane_sentences(places: CranePlaces, most: int = 6) -> tuple[str, ...]:
    """What to say of them: stop, ask, not known; nothing where the check part is reached nowhere.

    ``most`` trails are named in one sentence.
    """
    lift = f"with {places.lifted_kg:.0f} kg at {places.reach_m:g} m, {_STANDS},"
    where = f"{places.trail} at {places.chainage_m:.0f} m, {places.state}, {places.check}"
    said = []
    if places.tip_m > 0:
        level = ", on level ground too" if places.level > OVER else ""
        said.append(
            f"Stop and ask: {lift} a rigid machine begins to tip on {places.tip_m:.0f} m "
            f"({some_names(places.tip_trails, most)}; worst {where}){level}. Nobody works there "
            "with the crane like that before the manufacturer's crane chart, its stability data "
            "and a competent person have decided. No aid makes the machine stand safer."
        )
    rest = places.check_m - places.tip_m
    if rest > 0:
        level = ", on level ground already" if places.level >= CHECK_PART else ""
        nearest = "" if said else f"; nearest {where}"
        more = "more " if said else ""
        said.append(
            f"Ask before working there: {lift} a rigid machine is {100 * CHECK_PART:.0f} % of the "
            f"way to tipping, or more, on {rest:.0f} m {more}"
            f"({some_names(places.check_trails, most)}{nearest}){level}. Check with the crane "
            "chart and the manufacturer's stability data."
        )
    if places.unknown_m > 0:
        said.append(f"On {places.unknown_m:.0f} m the slope is not known, so neither is this.")
    return tuple(said)


def crane_warning(places: CranePlaces | None) -> str:
    """One sentence for the headline where a rigid machine would begin to tip; else empty."""
    if places is None or not places.tip_m > 0:
        return ""
    where = some_names(places.tip_trails, 3)
    return (
        f"Crane out to {places.reach_m:g} m with {places.lifted_kg:.0f} kg: stop and ask on "
        f"{places.tip_m:.0f} m ({where}), a rigid machine begins to tip even with its frames "
        "locked and straight."
    )


def crane_at(item: Carried, here: pd.DataFrame) -> str:
    """What the crane does to standing at one station, in a sentence; empty without figures of it.

    ``here`` is one row of the stations.
    """
    places = crane_places(here, item)
    if places is None:
        return ""
    lift = (
        f"Crane out to {places.reach_m:g} m with {places.lifted_kg:.0f} kg, standing still here: "
    )
    if np.isnan(places.used):
        return lift + "not known, the slope is not."
    part = "beyond all" if np.isinf(places.used) else f"{100 * places.used:.0f} %"
    part = f"at least {part}" if places.unknown_m > 0 else part
    end = "Stop and ask." if places.used > OVER else "The crane chart decides, never this figure."
    return f"{lift}{part} of the way to tipping ({places.state}, {places.check}). {end}"
