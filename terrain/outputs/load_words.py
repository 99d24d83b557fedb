"""What the shown setup may load on each trail by the computation, in words; never a permission."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.ratings import ANSWERS, set_too_soft
from terrain.decision.results import Plan
from terrain.outputs.brief_shut import closed_trails
from terrain.outputs.page_parts import rows_of
from terrain.outputs.report_ratings import held_mass
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN, count

__all__ = ["load_range", "load_words", "nothing_holds", "nothing_known", "unrated"]

_ROUNDING_M = 1e-6


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
        if nothing_known(row):
            found[str(row["trail"])] = UNKNOWN
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


def nothing_known(row: Any) -> Any:
    """Whether nothing is known on all of a trail and its way: a row, or all, of ``trail_loads``."""
    return row["unknown_m"] >= row["way_m"] - _ROUNDING_M


def nothing_holds(plan: Plan) -> bool:
    """Whether no load holds on any open trail by the table ``trail_loads``; False without it."""
    loads = _open_loads(plan)
    return bool(len(loads)) and bool(loads["load_kg"].isna().all())


def load_range(plan: Plan, shown: Shown = METRIC) -> str:
    """One sentence or two on the loads of the open trails; empty where nothing is known of them."""
    loads = _open_loads(plan)
    if not len(loads):
        return ""
    if nothing_holds(plan):
        return (
            "No load holds on any open trail in this state, by grip, ground or ratings: do not "
            "plan hauling in it."
        )
    held = loads["load_kg"].dropna()
    ends = dict.fromkeys(held_mass(kilograms, shown) for kilograms in (held.min(), held.max()))
    full = held_mass(loads["full_kg"].max(), shown)
    told = f"{' to '.join(ends)} by trail, with its way to the landing ({full} is what the ratings "
    told += "allow on the level)."
    none = int(loads["load_kg"].isna().sum())
    if none:
        told += f" On {count(none, 'open trail')} no load holds: ask."
    return told


def _open_loads(plan: Plan) -> pd.DataFrame:
    """Rows of the trails that are not closed and of which something is known."""
    table = plan.trail_loads
    if table is None or not len(table):
        return pd.DataFrame()
    return table[~nothing_known(table) & ~table["trail"].astype(str).isin(closed_trails(plan))]


def unrated(plan: Plan) -> list[str]:
    """Ratings that are not known, as they are called: nothing is fully held to them.

    The machine file does not state them, or its tyres are set below the pressure they hold for.
    """
    if plan.ratings is None:
        return []
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    unknown = (own["answer"] == ANSWERS["none"]) | own["answer"].map(set_too_soft).astype(bool)
    return list(dict.fromkeys(own.loc[unknown, "rating"].astype(str)))
