"""The table of the trails: order of work, landing, steepest places, and what is not driven."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.brief_loads import BALANCED, FREE, rated_trails, trail_loads
from terrain.outputs.brief_shut import behind_water, closed_trails, water_stops
from terrain.outputs.brief_words import Figures, short_name
from terrain.outputs.page_parts import keyed, rows_of

__all__ = ["MOST_TRAILS", "trails_section"]

MOST_TRAILS = 60
"""More trails than this do not fit on one side; the rest is left to the report, and it is said."""

_ID = 12
_UNKNOWN = "?"
_CLOSED = "\N{MULTIPLICATION SIGN}"
_WEAK = "*"
_OVER = {BALANCED: "!", FREE: "(!)"}
_LEVEL = 0.005
"""A slope below this is written as 0 % and is none to speak of."""


def trails_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Every trail in the order of work: ``title``, ``head``, ``rows``, ``notes``.

    Closed trails come last, have ``closed`` set and no number: nobody works there on this ground.
    ``landing`` is empty in head and rows where the block has one landing only, ``load`` where no
    trail asks for a smaller one.
    """
    say, term = figures.words.say, figures.words.term
    trails = keyed(plan.trails, "trail")
    names = [str(name) for name in trails["trail"]]
    order, wettest = _states(plan, names)
    landing = _landings(plan)
    weak: set[str] = set()
    if plan.bottlenecks is not None:
        weak = set(plan.bottlenecks["trail"].astype(str))
    closed = set(closed_trails(plan))
    wet = {stop.trail for stop in water_stops(plan)} | set(behind_water(plan))
    places = sorted(
        range(len(trails)),
        key=lambda k: (names[k] in closed, order[k] is None, order[k] or 0, k),
    )
    rated = rated_trails(plan)
    loads = {k: text for k, text in trail_loads(plan, figures).items() if k not in closed}
    rows = []
    for place in places[:MOST_TRAILS]:
        row, name = trails.iloc[place], names[place]
        number, state = order[place], wettest[place]
        until = term(state) if state else ""
        if name in closed:
            until = say("closed")
        elif name in wet:
            until = say("to water, ask")
        rows.append(
            {
                "order": "" if number is None or name in closed else str(number),
                "trail": short_name(name, _ID),
                "landing": short_name(landing.get(name, _UNKNOWN), 9) if landing else "",
                **_slopes(row, figures),
                "until": until,
                "load": loads.get(name, ""),
                "mark": _CLOSED
                if name in closed
                else (_WEAK if name in weak else "") + _OVER.get(rated.get(name, ""), ""),
                "closed": name in closed,
            }
        )
    head = {
        "order": say("Order"),
        "trail": say("Trail"),
        "landing": say("To") if landing else "",
        "up": say("Up"),
        "down": say("Down"),
        "cross": say("Cross"),
        "load": say("Load") if loads else "",
        "until": say("Could hold"),
        "ask": say("ask first"),
    }
    notes = _notes(plan, rows, figures, any(name in wet for name in names))
    if loads:
        notes.append(
            say(
                "Load: the most that ground, grip and ratings bear in the computation, on the "
                "trail and its way to the landing. No figure: the full load. \N{EN DASH} none "
                "holds: ask."
            )
        )
    open_rated = {rated[name] for name in rated if name not in closed}
    if BALANCED in open_rated:
        notes.append(say("! over a rating on its slopes at full load: ask the manufacturer first."))
    if FREE in open_rated:
        notes.append(say("(!) the same, only if bogies pivot freely."))
    return {"title": say("Trails, steepest places"), "head": head, "rows": rows, "notes": notes}


def _notes(plan: Plan, rows: list[dict[str, Any]], figures: Figures, wet: bool) -> list[str]:
    say = figures.words.say
    notes = [say("Up, down: as the loaded machine goes. Shorter pitches can be steeper.")]
    if plan.trail_states is not None:
        notes.append(
            say(
                "Order: 1 first. Could hold: wettest ground for traction alone, in the "
                "computation; no permission."
            )
        )
    else:
        notes.append(say("No order of work was worked out. Agree it before you start."))
    notes.append(say("* weak spot on it. \N{MULTIPLICATION SIGN} closed."))
    if wet:
        notes.append(
            say("To water, ask: drive to the water only; no crossing is mapped on it or before it.")
        )
    if any(_UNKNOWN in f"{row['up']}{row['cross']}{row['landing']}{row['load']}" for row in rows):
        notes.append(say("? not known."))
    left = len(plan.trails) - MOST_TRAILS
    if left > 0:
        notes.append(say("{count} more: see the report", count=left))
    return notes


def _landings(plan: Plan) -> dict[str, str]:
    """Landing of each trail, both where its timber parts; empty where there is one landing only."""
    if len(plan.landings) < 2:
        return {}
    sent = plan.stations[["trail", "landing"]].dropna().astype(str).drop_duplicates()
    return {
        str(trail): "/".join(part) for trail, part in sent.groupby("trail", sort=False)["landing"]
    }


def _slopes(row: pd.Series, figures: Figures) -> dict[str, str]:
    """Steepest places as the brief writes them: "none" is known, a question mark is not."""
    up, down = float(row["steepest_up"]), float(row["steepest_down"])
    cross = float(row["steepest_cross"])
    none = _UNKNOWN if math.isnan(up) and math.isnan(down) else figures.words.say("none")
    return {
        "up": none if math.isnan(up) or up < _LEVEL else figures.slope(up),
        "down": none if math.isnan(down) or down < _LEVEL else figures.slope(down),
        "cross": _UNKNOWN if math.isnan(cross) else figures.slope(cross),
    }


def _states(plan: Plan, trails: list[str]) -> tuple[list[int | None], list[str | None]]:
    """Order and wettest state of each of ``trails``; None where there is none."""
    table = plan.trail_states
    if table is None:
        return [None] * len(trails), [None] * len(trails)
    rows = {str(row["trail"]): row for row in rows_of(table)}
    order: list[int | None] = []
    wettest: list[str | None] = []
    for name in trails:
        row = rows.get(name, {})
        number, state = row.get("order"), row.get("wettest")
        order.append(None if number is None or pd.isna(number) else int(number))
        if not isinstance(state, str):
            state = "frozen" if row.get("usable_frozen") is True else None
        wettest.append(state)
    return order, wettest
