"""What the shown setup may load on each trail by the computation, in words; never a permission."""

from __future__ import annotations

import numpy as np

from terrain.decision.ratings import ANSWERS
from terrain.decision.results import Plan
from terrain.outputs.brief_shut import closed_trails
from terrain.outputs.page_parts import rows_of
from terrain.outputs.report_ratings import held_mass
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN

__all__ = ["load_words", "unrated"]


def load_words(plan: Plan, shown: Shown = METRIC) -> dict[str, str]:
    """The most that each open trail and its way to the landing bear, by trail.

    Ground, grip and the ratings on slopes with balanced bogies, by the table ``trail_loads``; empty
    for a machine that carries nothing. On a metre of which nothing is known no load rests.
    """
    if plan.trail_loads is None:
        return {}
    closed, found = set(closed_trails(plan)), {}
    for row in rows_of(plan.trail_loads):
        if str(row["trail"]) in closed:
            continue
        if np.isnan(row["load_kg"]):
            words = "no load holds: ask"
        else:
            words = held_mass(row["load_kg"], shown)
            words += " (full)" if row["load_kg"] >= row["full_kg"] else " at most"
        if row["unknown_m"] > 0:
            words += f"; {shown.length(row['unknown_m'])} {UNKNOWN}"
        found[str(row["trail"])] = words
    return found


def unrated(plan: Plan) -> list[str]:
    """Ratings that the machine file does not state, as they are called: nothing is held to them."""
    if plan.ratings is None:
        return []
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    return list(dict.fromkeys(own.loc[own["answer"] == ANSWERS["none"], "rating"].astype(str)))
