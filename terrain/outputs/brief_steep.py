"""Trails that are too steep to be silent about: beyond a rule's slope, or beyond a check slope.

None of the rules is held to apply here; a driver is told where they begin to ask for more than
this plan looked at. Braking is assessed nowhere. Silence is never a permission.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.crane_checks import CHECKS
from terrain.decision.ratings import OVER
from terrain.decision.results import Plan
from terrain.models.site_rules import rule_texts
from terrain.outputs.brief_shut import closed_trails

__all__ = [
    "BRAKING",
    "SteepTrail",
    "crane_check_slopes",
    "crane_ratings",
    "crane_trails",
    "lowest_trigger",
    "steep_stretch",
    "steep_trails",
    "tipping_trails",
]


BRAKING = "braking was not assessed: ask before driving"
"""Said wherever loaded travel goes beyond :func:`lowest_trigger`."""


@dataclass(frozen=True, slots=True)
class SteepTrail:
    """Steepest loaded climb and descent of a trail beyond the trigger, as ratios; NaN within it."""

    trail: str
    up: float
    down: float


def lowest_trigger(kind: str) -> float:
    """Lowest slope (ratio) that a rule which was read names for a wheeled machine of this kind.

    Figures for machines on tracks, with a winch or designed for steep ground are left aside: a
    wheeled machine with aids stays a wheeled machine.
    """
    meant = (kind, f"rubber-tyred {kind}", "any machine")
    return min(
        trigger.slope
        for text in rule_texts().values()
        for trigger in text.triggers
        if trigger.meant_for in meant or trigger.meant_for.startswith("rubber tyres")
    )


def steep_trails(plan: Plan) -> list[SteepTrail]:
    """Trails that are not closed and go beyond :func:`lowest_trigger`, steepest first."""
    limit, closed = lowest_trigger(plan.machine.kind), set(closed_trails(plan))
    grade = plan.stations["grade"].to_numpy(dtype=float)
    trail = plan.stations["trail"].astype(str).to_numpy()
    found = []
    for name in dict.fromkeys(trail):
        own = grade[(trail == name) & np.isfinite(grade)]
        if name in closed or not own.size:
            continue
        up, down = float(own.max()), float(-own.min())
        if max(up, down) > limit:
            found.append(
                SteepTrail(name, up if up > limit else np.nan, down if down > limit else np.nan)
            )
    return sorted(found, key=lambda one: -np.nanmax([one.up, one.down]))


def steep_stretch(row: Mapping[str, Any] | pd.Series, kind: str) -> bool:
    """Whether a stretch (a row of ``bottlenecks``) goes beyond :func:`lowest_trigger`, loaded."""
    grades = np.array([row["grade_up"], row["grade_down"]], dtype=float)
    return bool((grades > lowest_trigger(kind)).any())


def tipping_trails(plan: Plan) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Trails that reach the shown setup's check slope, and those that reach its tipping slope.

    By ``plan.tip_places``, nearest to tipping first; the second are not among the first. Closed
    trails are left out: nobody drives there.
    """
    found, closed = plan.tip_places, set(closed_trails(plan))
    if found is None:
        return (), ()
    beyond = tuple(name for name in found.tip_trails if name not in closed)
    near = tuple(name for name in found.check_trails if name not in {*closed, *beyond})
    return near, beyond


def crane_trails(plan: Plan) -> tuple[str, ...]:
    """Open trails on which the shown setup with its crane out begins to tip, the worst first."""
    closed = set(closed_trails(plan))
    found = plan.crane_places
    return () if found is None else tuple(name for name in found.tip_trails if name not in closed)


def crane_ratings(plan: Plan) -> tuple[str, ...]:
    """Ratings that the shown setup exceeds on level ground with its crane out."""
    table = plan.crane_checks
    if table is None:
        return ()
    own = table[(table["setup"] == plan.ranking.shown) & ~table["check"].isin(CHECKS)]
    return tuple(dict.fromkeys(own.loc[own["level_share"] > OVER, "check"].astype(str)))


def crane_check_slopes(plan: Plan) -> dict[str, float]:
    """Smallest slope (ratio) in each of the crane's checks from which its chart must be asked.

    Of the shown setup, by :data:`terrain.decision.crane_checks.CHECKS`; 0 where level ground is
    near tipping. Over the side always, over an end where a trail or the level comes near it. Empty
    without a crane.
    """
    table = plan.crane_checks
    if table is None:
        return {}
    found = {}
    for check in CHECKS:
        own = table[(table["setup"] == plan.ranking.shown) & (table["check"] == check)]
        near = (own["near_m"] > 0).any() or (own["check_slope"] <= 0).any()
        if len(own) and (check == CHECKS[0] or near):
            found[check] = float(own["check_slope"].min())
    return found
