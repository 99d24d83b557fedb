"""What to load: the most on the level, less on single trails, and ratings that slopes exceed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.decision.carried import carried
from terrain.decision.rating_places import ANY_RATING
from terrain.decision.ratings import over_rating
from terrain.decision.results import Plan
from terrain.known import largest, smallest
from terrain.outputs.brief_words import Figures
from terrain.outputs.catalogue import mark
from terrain.outputs.load_words import nothing_holds, nothing_known, unrated
from terrain.outputs.page_parts import rows_of

__all__ = [
    "BALANCED",
    "FREE",
    "NO_LOAD",
    "exceeded_ratings",
    "load_lines",
    "rated_trails",
    "stretches_over_rating",
    "trail_loads",
]

NO_LOAD = "\N{EN DASH}"
"""Written for a trail on which no load holds."""

BALANCED, FREE = "balanced", "free"
"""A rating is exceeded whatever the bogies do, or only if they pivot freely."""


def load_lines(plan: Plan, payload_kg: float, lost_kg: float, figures: Figures) -> list[str]:
    """The line on the load, and the question to the manufacturer where slopes exceed a rating.

    Parameters
    ----------
    plan : Plan
    payload_kg : float
        The most that the ratings allow on the level with the shown setup.
    lost_kg : float
        What they take from the machine's full load; 0 where they take nothing.
    figures : Figures
    """
    say = figures.words.say
    lines = []
    if plan.machine.load is not None and nothing_holds(plan):
        lines.append(
            say("No load holds on any trail in the computation. Do not haul: ask the planner.")
        )
    elif plan.machine.load is not None:
        mass = figures.at_most(payload_kg)
        if lost_kg > 0:
            line = say("Load: {mass} at most, as the ratings allow on the level.", mass=mass)
        else:
            line = say("Load: {mass} at most, the full load on the level.", mass=mass)
        if trail_loads(plan, figures):
            line += " " + say("Less where the trails table has a load.")
        lines.append(line)
    missing = unrated(plan)
    if missing:
        names = ", ".join(figures.words.term(name) for name in missing)
        lines.append(say("No rating that holds is known for: {names}. Ask.", names=names))
    over = _over_ratings(plan, figures)
    if not over:
        return lines
    balanced, free = _holding_kg(plan)
    line = say("Over a rating on slopes, on {length}: trails with !.", length=over)
    if np.isfinite(balanced) and np.isfinite(free):
        line += " " + say(
            "Ask the manufacturer what may be loaded there: computed are {balanced} with "
            "balanced bogies, {free} if they pivot freely.",
            balanced=figures.at_most(balanced),
            free=figures.at_most(free),
        )
    elif np.isfinite(free) or np.isfinite(balanced):
        line += " " + say(
            "Ask the manufacturer what may be loaded there: computed is {mass}.",
            mass=figures.at_most(smallest(np.array([balanced, free]))),
        )
    else:
        line += " " + say("Ask the manufacturer before any load there.")
    return [*lines, line]


def rated_trails(plan: Plan) -> dict[str, str]:
    """Trails on whose slopes the shown setup exceeds a rating: :data:`BALANCED` or :data:`FREE`."""
    table = _places(plan)
    if table is None:
        return {}
    found = {}
    for trail, balanced, free in zip(
        table["trail"].astype(str), table["over_balanced_m"], table["over_m"], strict=True
    ):
        if balanced > 0:
            found[trail] = BALANCED
        elif free > 0:
            found[trail] = FREE
    return found


def stretches_over_rating(plan: Plan) -> set[str]:
    """Stretches on whose metres the shown setup exceeds a rating with balanced bogies.

    Empty where the plan holds no setup to ask with; then only the trails are marked.
    """
    if plan.bottlenecks is None or plan.shown_setup is None:
        return set()
    over = over_rating(plan.stations, carried(plan.shown_setup, plan.machine))
    here = plan.stations.loc[over, ["trail", "chainage_m"]]
    trail, chainage = here["trail"].astype(str).to_numpy(), here["chainage_m"].to_numpy(float)
    table = plan.bottlenecks
    return {
        str(name)
        for name, own, start, end in zip(
            table["stretch"],
            table["trail"].astype(str),
            table["from_m"],
            table["to_m"],
            strict=True,
        )
        if ((trail == own) & (chainage > start) & (chainage < end)).any()
    }


def exceeded_ratings(plan: Plan, figures: Figures) -> str:
    """Names of the ratings that the shown setup exceeds on slopes; empty where it exceeds none.

    Those exceeded even with balanced bogies are named, the others only where there are none.
    """
    term = figures.words.term
    if plan.ratings is None:
        return term(mark("tyres or axle"))
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    for column in ("over_balanced_m", "over_m"):
        names = own.loc[own[column] > 0, "rating"].astype(str)
        if len(names):
            return ", ".join(dict.fromkeys(term(name) for name in names))
    return ""


def trail_loads(plan: Plan, figures: Figures) -> dict[str, str]:
    """What to load on the trails that do not bear the full load, with their way to the landing.

    A mass, rounded down, with ``?`` where a part of the way is not known; :data:`NO_LOAD` where
    none holds.
    """
    table = plan.trail_loads
    if table is None:
        return {}
    found = {}
    for row in rows_of(table):
        blind = " ?" if row["unknown_m"] > 0 else ""
        if nothing_known(row):
            found[str(row["trail"])] = blind.strip()
        elif np.isnan(row["load_kg"]):
            found[str(row["trail"])] = NO_LOAD + blind
        elif row["load_kg"] < row["full_kg"]:
            found[str(row["trail"])] = figures.at_most_short(row["load_kg"]) + blind
        elif blind:
            found[str(row["trail"])] = blind.strip()
    return found


def _places(plan: Plan) -> pd.DataFrame | None:
    """Rows of the plan's table of places over a rating that count every metre once."""
    table = plan.rating_places
    return None if table is None else table[table["rating"] == ANY_RATING]


def _over_ratings(plan: Plan, figures: Figures) -> str:
    """Length over any rating, from balanced to free bogies; or empty."""
    table = _places(plan)
    if table is not None:
        balanced, free = (float(table[name].sum()) for name in ("over_balanced_m", "over_m"))
    elif plan.ratings is not None:  # the rating that is exceeded farthest
        own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
        balanced, free = largest(own["over_balanced_m"]), largest(own["over_m"])
    else:
        return ""
    if not free > 0:
        return ""
    return figures.span(balanced, free) if 0 < balanced < free else figures.length(free)


def _holding_kg(plan: Plan) -> tuple[float, float]:
    """Loads that hold every exceeded rating on all slopes: balanced and free bogies, kg; or NaN."""
    if plan.ratings is None:
        return np.nan, np.nan
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    loads = []
    for column, over in (
        ("holding_payload_balanced_kg", "over_balanced_m"),
        ("holding_payload_free_kg", "over_m"),
    ):
        exceeded = own[own[over] > 0]
        known = exceeded[column].notna().all()  # one without a load: no load holds them all
        loads.append(smallest(exceeded[column]) if len(exceeded) and known else np.nan)
    return loads[0], loads[1]
