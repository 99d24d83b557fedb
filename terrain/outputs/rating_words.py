"""What slopes ask beside traction, in words for each trail: ratings, steepness, tipping."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.rating_places import ANY_RATING
from terrain.decision.results import Plan
from terrain.outputs.brief_steep import BRAKING, lowest_trigger, steep_trails, tipping_trails
from terrain.outputs.load_words import unrated
from terrain.outputs.page_parts import keyed, rows_of
from terrain.outputs.shown_units import METRIC, Shown

__all__ = ["rating_places", "rating_words", "slope_words"]

_ASK = "ask the manufacturer"
_NONE_STATED = "not known, because the machine file states none"
_ROUNDING_M = 1e-6


def rating_places(plan: Plan) -> pd.DataFrame | None:
    """Table ``rating_places`` of the plan; None where it was made without it."""
    return getattr(plan, "rating_places", None)


def rating_words(plan: Plan, shown: Shown = METRIC) -> dict[str, str]:
    """What to say of each trail on which the shown setup exceeds a rating, or nobody knows.

    Trails within every known rating are not among them: that is no permission, so nothing is said.
    """
    table = rating_places(plan)
    if table is None:
        return {}
    if not len(table):
        return dict.fromkeys(keyed(plan.trails, "trail")["trail"].astype(str), _NONE_STATED)
    bogies = any(group.kind == "bogie" for group in plan.machine.groups)
    missing, soft = ", ".join(unrated(plan)), set(unrated(plan))
    gap = f"no rating that holds is known for {missing}" if missing else ""
    words = {}
    for name, rows in table.groupby("trail", sort=False):
        parts = [part for part in (_words(rows_of(rows), bogies, soft, shown), gap) if part]
        if parts:
            words[str(name)] = "; ".join(parts)
    return words


def slope_words(plan: Plan, shown: Shown = METRIC) -> dict[str, tuple[tuple[str, str], ...]]:
    """Label and text for each trail that comes near tipping over, or is steep beyond a rule.

    Closed trails are not among them. Silence on the others is no permission.
    """
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    near, beyond = tipping_trails(plan)
    for trails, text in (
        (beyond, "tips over by plain statics, do not drive"),
        (near, "near tipping over, beyond the check slope"),
    ):
        found |= dict.fromkeys(trails, (("Stop and ask", text),))
    limit = shown.percent(lowest_trigger(plan.machine.kind))
    for one in steep_trails(plan):
        told = " and ".join(
            f"{way} loaded {shown.slope(grade)}"
            for way, grade in (("down", one.down), ("up", one.up))
            if np.isfinite(grade)
        )
        text = f"{told}, over {limit}: {BRAKING}"
        found[one.trail] = (*found.get(one.trail, ()), ("Steep", text))
    return found


def _words(rows: list[dict[str, Any]], bogies: bool, soft: set[str], shown: Shown) -> str:
    """``soft`` names the ratings of which only the least share is known."""
    every = next(row for row in rows if row["rating"] == ANY_RATING)
    single = [row for row in rows if row["rating"] != ANY_RATING]
    found = []
    balanced, worst = np.nan_to_num([every["over_balanced_m"], every["over_m"]])
    if balanced > 0:
        names = ", ".join(str(row["rating"]) for row in single if row["over_balanced_m"] > 0)
        share = every["largest_share"]
        least = any(row["rating"] in soft for row in single if row["over_balanced_m"] > 0)
        bound = "at least" if every["unknown_m"] > 0 or least else "at most"
        most = f"{bound} {shown.percent(share)} of it" if share >= 1.005 else "just over it"
        case = " with balanced bogies" if bogies else ""
        place = f"at {shown.length(every['at_m'])} as drawn"
        found.append(f"{shown.length(balanced)}{case} ({names}; {most}, {place})")
    more = worst - balanced
    if more > _ROUNDING_M:
        names = ", ".join(str(row["rating"]) for row in single if row["over_m"] > 0)
        also = "more " if found else ""
        found.append(f"{shown.length(more)} {also}only if bogies pivot freely ({names})")
    if found:
        found[-1] += f": {_ASK}"
    if every["unknown_m"] > 0:
        found.append(f"not known on {shown.length(every['unknown_m'])}")
    return "; ".join(found)
