"""Where the operator does not go, where it is weak, where water is crossed, and every trail."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.bottlenecks import KINDS
from terrain.decision.results import Plan
from terrain.outputs.brief_words import Figures, cause_words, short_name
from terrain.outputs.catalogue import mark
from terrain.outputs.page_parts import keyed, rows_of, without_geometry
from terrain.outputs.report_wet import NEAR_CROSSING_M

__all__ = [
    "MOST_TRAILS",
    "closed_stretches",
    "keep_out_section",
    "trails_section",
    "water_section",
    "weak_section",
]

MOST_TRAILS = 60
"""More trails than this do not fit on one side; the rest is left to the report, and it is said."""

_MOST_IN_A_LINE = 10
_ID = 12


def closed_stretches(plan: Plan) -> set[str]:
    """Names of the stretches on which the shown setup falls short."""
    return {str(row["stretch"]) for row in _stretches(plan, closed=True)}


def keep_out_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Stretches and trails that this plan does not drive: ``title``, ``lines``.

    They are the stretches on which the shown setup falls short, the trails that it cannot use in
    the plan's ground state or that are cut off from the landing, ground of the class without
    traffic, water without a crossing, and ground that nobody assessed.
    """
    say = figures.words.say
    lines = []
    short = _stretches(plan, closed=True)
    if len(short):
        names = _listed([_with_span(row, figures) for row in short], figures)
        lines.append(say("The setup does not hold here: {places}.", places=names))
    elif plan.bottlenecks is None:
        lines.append(say("Weak stretches were not worked out for this plan. Ask the planner."))
    closed, unsure = _closed_trails(plan)
    if closed:
        names = _listed([short_name(name, _ID) for name in closed], figures)
        lines.append(
            say("Closed on this ground, or cut off from the landing: {trails}.", trails=names)
        )
    if unsure:
        names = _listed([short_name(name, _ID) for name in unsure], figures)
        lines.append(say("Not known whether it holds, walk it first: {trails}.", trails=names))
    trails = keyed(plan.trails, "trail")
    for column, message in (
        ("no_traffic_m", mark("Ground of class 4, no traffic: {trails}.")),
        ("not_assessed_m", mark("Not assessed, walk it first: {trails}.")),
    ):
        metres = trails[column].to_numpy(dtype=float)
        rows = np.flatnonzero(metres > 0.5)
        if rows.size:
            words = [
                f"{short_name(str(trails['trail'].iloc[row]), _ID)} ({figures.length(metres[row])})"
                for row in rows
            ]
            lines.append(say(message, trails=_listed(words, figures)))
    wet = plan.wet_ground
    if wet is not None:
        lost = [row for row in rows_of(wet.water_runs) if not _at_crossing(row)]
        if lost:
            names = _listed([_with_span(row, figures) for row in lost], figures)
            lines.append(
                say("Water without a mapped crossing. Stop and ask: {places}.", places=names)
            )
        if wet.buffers is not None and len(wet.buffers):
            width = plan.settings.flow.buffer_width_m
            if width is None:
                lines.append(say("The machine-free strips along water, as the map shows them."))
            else:
                strip = figures.length(width)
                lines.append(say("{width} along water, but for the crossings.", width=strip))
    if not lines:
        lines.append(say("Nothing found. Holes, stumps and soft spots are not in the map."))
    return {"title": say("Keep out"), "lines": lines}


def weak_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Stretches that can be driven with care: ``title``, ``rows``, ``more``, ``none``.

    Each row has ``id``, ``where``, ``what`` and ``do``; rows with the same ``do`` stand together.
    ``more[k]`` is the sentence to show when k rows are left out; ``more[0]`` is empty.
    """
    say = figures.words.say
    rows = []
    for row in sorted(_stretches(plan, closed=False), key=_what_kind):
        cause = cause_words(figures.words, str(row["cause"]))
        parts = ["" if row["kind"] == "over bearing capacity" else cause, _steeper(row, figures)]
        rows.append(
            {
                "id": short_name(str(row["stretch"]), _ID),
                "where": figures.span(float(row["from_m"]), float(row["to_m"])),
                "what": ", ".join(part for part in parts if part),
                "do": _what_to_do(row, figures),
            }
        )
    none = "" if rows else say("None was found under this setup.")
    more = [""] + [
        say("{count} more: see the report", count=count) for count in range(1, len(rows) + 1)
    ]
    return {"title": say("Weak spots"), "rows": rows, "more": more, "none": none}


def water_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Crossings: ``title``, ``lines``; no lines without wet ground in the plan."""
    say, term = figures.words.say, figures.words.term
    lines: list[str] = []
    wet = plan.wet_ground
    if wet is not None and wet.crossings is not None and len(wet.crossings):
        kinds = dict(zip(wet.crossings.index.astype(str), wet.crossings["kind"], strict=True))
        places: dict[str, list[str]] = {}
        for row in rows_of(wet.water_runs):
            if _at_crossing(row):
                places.setdefault(str(row["crossing"]), []).append(_with_span(row, figures))
        words = []
        for name, kind in kinds.items():
            what = short_name(term(kind), 24) if isinstance(kind, str) and kind else ""
            inside = ", ".join(part for part in (what, *places.get(name, [])[:2]) if part)
            words.append(f"{short_name(name, _ID)} ({inside})" if inside else short_name(name, _ID))
        lines.append(say("Cross water only at {crossings}.", crossings=_listed(words, figures)))
        lines.append(say("Look at each crossing before you load it."))
    elif wet is not None:
        lines.append(say("No crossing is mapped. Do not cross water before the planner agreed."))
    return {"title": say("Crossings"), "lines": lines}


def trails_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Every trail in the order of work: ``title``, ``head``, ``rows``, ``notes``."""
    say, term = figures.words.say, figures.words.term
    trails = keyed(plan.trails, "trail")
    order, wettest = _states(plan, [str(name) for name in trails["trail"]])
    weak: set[str] = set()
    closed = set(_closed_trails(plan)[0])
    if plan.bottlenecks is not None:
        weak = set(plan.bottlenecks["trail"].astype(str))
    places = sorted(range(len(trails)), key=lambda k: (order[k] is None, order[k] or 0, k))
    rows = []
    for place in places[:MOST_TRAILS]:
        row, name = trails.iloc[place], str(trails["trail"].iloc[place])
        number, state = order[place], wettest[place]
        rows.append(
            {
                "order": "" if number is None else str(number),
                "trail": short_name(name, _ID),
                "up": figures.slope(float(row["steepest_up"])),
                "down": figures.slope(float(row["steepest_down"])),
                "cross": figures.slope(float(row["steepest_cross"])),
                "until": term(state) if state else "",
                "mark": "\N{MULTIPLICATION SIGN}"
                if name in closed
                else "!"
                if name in weak
                else "",
            }
        )
    notes = [say("Up, down: as the loaded machine goes. Shorter pitches can be steeper.")]
    if plan.trail_states is not None:
        notes.append(say("Order: 1 first. Until: wettest ground on which it still holds."))
    else:
        notes.append(say("No order of work was worked out. Agree it before you start."))
    notes.append(say("! weak spot on it. \N{MULTIPLICATION SIGN} closed."))
    if len(trails) > MOST_TRAILS:
        left = len(trails) - MOST_TRAILS
        notes.append(say("{count} more: see the report", count=left))
    head = {
        "order": say("Order"),
        "trail": say("Trail"),
        "up": say("Up"),
        "down": say("Down"),
        "cross": say("Cross"),
        "until": say("Until"),
    }
    return {"title": say("Trails, steepest places"), "head": head, "rows": rows, "notes": notes}


def _stretches(plan: Plan, *, closed: bool) -> list[dict[str, Any]]:
    """Stretches on which the shown setup falls short, or the others, most pressing first."""
    if plan.bottlenecks is None:
        return []
    rows = rows_of(without_geometry(plan.bottlenecks))
    return [row for row in rows if _falls_short(row) == closed]


def _falls_short(row: dict[str, Any]) -> bool:
    return row["kind"] == "no listed setup passes" or float(row["shown_reserve"]) < 0


def _steeper(row: dict[str, Any], figures: Figures) -> str:
    """The steeper of climb and descent of a stretch, in words; empty below one percent."""
    up, down = (np.nan_to_num(float(row[key])) for key in ("grade_up", "grade_down"))
    if max(up, down) < 0.01:
        return ""
    if up >= down:
        return figures.words.say("up {slope}", slope=figures.slope(up))
    return figures.words.say("down {slope}", slope=figures.slope(down))


def _what_kind(row: dict[str, Any]) -> int:
    return KINDS.index(row["kind"])


def _what_to_do(row: dict[str, Any], figures: Figures) -> str:
    say = figures.words.say
    if row["kind"] == "forces the choice":
        return say("Only with the aids above fitted and checked.")
    if row["kind"] == "over bearing capacity":
        return say("Soft: lay brash, few passes, watch the ruts.")
    return say("Little to spare: try it empty first, turn back when wheels slip.")


def _closed_trails(plan: Plan) -> tuple[list[str], list[str]]:
    """Trails that cannot be used in the plan's state, and those of which nobody knows."""
    table = plan.trail_states
    if table is None:
        return [], []
    names = table["trail"].astype(str).to_numpy()
    usable = table[f"usable_{plan.settings.ground.state}"].astype("boolean")
    closed = names[(~usable.fillna(True)).to_numpy(dtype=bool)]
    return list(closed), list(names[usable.isna().to_numpy(dtype=bool)])


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


def _at_crossing(row: dict[str, Any]) -> bool:
    return isinstance(row["crossing"], str) and float(row["to_crossing_m"]) <= NEAR_CROSSING_M


def _with_span(row: dict[str, Any], figures: Figures) -> str:
    name = short_name(str(row.get("stretch", row["trail"])), _ID)
    return f"{name} ({figures.span(float(row['from_m']), float(row['to_m']))})"


def _listed(words: list[str], figures: Figures) -> str:
    """Join words by commas; beyond ten the rest is counted."""
    shown = ", ".join(words[:_MOST_IN_A_LINE])
    left = len(words) - _MOST_IN_A_LINE
    if left <= 0:
        return shown
    return f"{shown}; {figures.words.say('{count} more: see the report', count=left)}"
