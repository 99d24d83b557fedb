"""Where the operator does not go, where it is weak, and where water is crossed."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.bottlenecks import RATING_EXCEEDED
from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.outputs.brief_crane import crane_lines
from terrain.outputs.brief_loads import exceeded_ratings, stretches_over_rating
from terrain.outputs.brief_shut import (
    AT_CROSSING,
    IN_WATER,
    KEEP_OUT,
    NOT_KNOWN,
    ON_CLOSED,
    behind_water,
    closed_crossings,
    closed_trails,
    stretch_places,
    unsure_trails,
    water_stops,
)
from terrain.outputs.brief_steep import (
    lowest_trigger,
    steep_stretch,
    steep_trails,
    tipping_trails,
)
from terrain.outputs.brief_words import Figures, cause_words, listed, short_name, trail_names
from terrain.outputs.catalogue import mark
from terrain.outputs.page_parts import keyed, rows_of, without_geometry

__all__ = ["keep_out_section", "water_section", "weak_section"]

_ID = 12


def keep_out_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Stretches and trails that this plan does not drive: ``title``, ``lines``.

    They are the stretches on which the shown setup falls short, the trails that it cannot use in
    the plan's ground state or that are cut off from the landing, ground of the class without
    traffic, water without a crossing and what lies behind it, and ground that nobody assessed.
    """
    say = figures.words.say
    lines = []
    short = [row for row, place in _stretches(plan) if place == KEEP_OUT]
    if short:
        names = listed([_with_span(row, figures) for row in short], figures)
        lines.append(say("The setup does not hold here: {places}.", places=names))
    elif plan.bottlenecks is None:
        lines.append(say("Weak stretches were not worked out for this plan. Ask the planner."))
    closed, unsure = closed_trails(plan), unsure_trails(plan)
    if closed:
        lines.append(
            say(
                "Closed on this ground, or cut off from the landing: {trails}.",
                trails=trail_names(closed, figures),
            )
        )
    if unsure:
        names = trail_names(unsure, figures)
        lines.append(say("Not known whether it holds, walk it first: {trails}.", trails=names))
    lines += _tipping_lines(plan, figures)
    lines += [*crane_lines(plan, figures), *_steep_lines(plan, figures)]
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
            lines.append(say(message, trails=listed(words, figures)))
    lines += _water_lines(plan, figures)
    if not lines:
        lines.append(say("Nothing found. Holes, stumps and soft spots are not in the map."))
    return {"title": say("Keep out"), "lines": lines}


def _tipping_lines(plan: Plan, figures: Figures) -> list[str]:
    """Trails on which the shown setup comes near tipping over, or is beyond it."""
    say = figures.words.say
    near, beyond = tipping_trails(plan)
    return [
        say(message, trails=trail_names(list(trails), figures))
        for trails, message in (
            (beyond, mark("Tips over by plain statics, do not drive: {trails}. Stop and ask.")),
            (near, mark("Near tipping over, beyond the check slope: {trails}. Stop and ask.")),
        )
        if trails
    ]


def _steep_lines(plan: Plan, figures: Figures) -> list[str]:
    """Loaded climbs and descents beyond the lowest slope that a rule names for such a machine."""
    say = figures.words.say
    words = []
    for one in steep_trails(plan):
        for message, grade in (
            (mark("down loaded {slope}"), one.down),
            (mark("up loaded {slope}"), one.up),
        ):
            if np.isfinite(grade):
                slope = say(message, slope=figures.slope(grade))
                words.append(f"{short_name(one.trail, _ID)} {slope}")
    if not words:
        return []
    return [
        say(
            "Steep, over {limit}, from which rules that were read ask more: {places}. Braking was "
            "not assessed. Ask before driving.",
            limit=figures.slope(lowest_trigger(plan.machine.kind)),
            places=listed(words, figures),
        )
    ]


def _water_lines(plan: Plan, figures: Figures) -> list[str]:
    """Water without a crossing, what lies behind it, and the strips along water."""
    say, wet = figures.words.say, plan.wet_ground
    if wet is None:
        return []
    lines = []
    stops = water_stops(plan)
    if stops:
        places = [
            f"{short_name(stop.trail, _ID)} ({figures.span(stop.from_m, stop.to_m)})"
            for stop in stops
        ]
        lines.append(
            say(
                "Water without a mapped crossing. Stop and ask: {places}.",
                places=listed(places, figures),
            )
        )
        behind = behind_water(plan)
        if behind:
            names = trail_names(behind, figures)
            lines.append(say("Behind that water, ask too: {trails}.", trails=names))
    if wet.buffers is not None and len(wet.buffers):
        width = plan.settings.flow.buffer_width_m
        if width is None:
            lines.append(say("The machine-free strips along water, as the map shows them."))
        else:
            strip = figures.length(width)
            lines.append(say("{width} along water, but for the crossings.", width=strip))
    return lines


def weak_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Stretches that can be driven with care: ``title``, ``note``, ``rows``, ``closed``,
    ``more``, ``none``.

    Each row has ``id``, ``where``, ``what`` and ``do``; rows with the same ``do`` stand together.
    Stretches on closed trails have no row, for nobody drives there: ``closed`` names them.
    ``more[k]`` is the sentence to show when k rows are left out; ``more[0]`` is empty.
    """
    say = figures.words.say
    ratings, over = exceeded_ratings(plan, figures), stretches_over_rating(plan)
    rows = []
    on_closed = []
    for row, place in _stretches(plan):
        if place == ON_CLOSED:
            on_closed.append(short_name(str(row["stretch"]), _ID))
        elif place != KEEP_OUT:
            rated = ratings if str(row["stretch"]) in over else ""
            steep = steep_stretch(row, plan.machine.kind)
            number, do = _what_to_do(row, place, rated, figures, steep)
            rows.append((number, _weak_row(plan, row, place, do, figures)))
    rows.sort(key=lambda one: one[0])
    none = "" if rows else say("None was found under this setup.")
    closed = ""
    if on_closed:
        names = listed(on_closed, figures)
        closed = say("On closed trails, not to be driven: {places}.", places=names)
    more = [""] + [
        say("{count} more: see the report", count=count) for count in range(1, len(rows) + 1)
    ]
    return {
        "title": say("Weak spots"),
        "note": say("Names of stretches count metres.") if figures.units == "us" else "",
        "rows": [row for _, row in rows],
        "closed": closed,
        "more": more,
        "none": none,
    }


def _weak_row(
    plan: Plan, row: dict[str, Any], place: str, do: str, figures: Figures
) -> dict[str, str]:
    """One row: the slope as the loaded machine meets it comes before what binds there."""
    told = str(row["cause"]).removesuffix(RATING_EXCEEDED)  # the ratings stand with what to do
    if row["kind"] == "over bearing capacity":
        told = ""
    for way in ("climbing loaded", "descending loaded"):  # the slope says so already
        told = told.removeprefix(way).removeprefix(", ")
    parts = [
        _steeper(row, figures),
        cause_words(figures.words, told) if told else "",
        "" if place in (IN_WATER, NOT_KNOWN) else _easing(plan, str(row["stretch"]), figures),
    ]
    return {
        "id": short_name(str(row["stretch"]), _ID),
        "where": figures.span(float(row["from_m"]), float(row["to_m"])),
        "what": ", ".join(part for part in parts if part),
        "do": do,
    }


def _what_to_do(
    row: dict[str, Any], place: str, ratings: str, figures: Figures, steep: bool
) -> tuple[int, str]:
    """Place in the list, and what the driver does there. Nobody lays brash in water.

    ``ratings`` names what the shown setup exceeds on the very metres of the stretch; ``steep`` is
    :func:`terrain.outputs.brief_steep.steep_stretch`.
    """
    say = figures.words.say
    if place == IN_WATER:
        return 0, say("Water here, no crossing: stop and ask.")
    if place == NOT_KNOWN:
        words = say("Not known whether the setup holds: walk it and ask.")
        return _with_rating(1, words, ratings, figures)
    if steep:
        return _with_rating(2, say("Steep, braking not assessed: stop and ask."), ratings, figures)
    if row["kind"] == "forces the choice":
        soft = place != AT_CROSSING and row["over_bearing_m"] > 0
        if ratings and soft:
            return 4, say(
                "Aids fitted, soft, and rating exceeded on the slope ({ratings}): load as the "
                "trails table has it, or ask; brash, few passes.",
                ratings=ratings,
            )
        if ratings:
            return 3, say(
                "Aids fitted, and rating exceeded on the slope ({ratings}): load as the trails "
                "table has it, or ask.",
                ratings=ratings,
            )
        if soft:
            return 5, say("Aids fitted, and soft: lay brash, few passes, watch the ruts.")
        return 6, say("Only with the aids above fitted and checked.")
    if row["kind"] == "over bearing capacity":
        if place == AT_CROSSING:
            words = say("At a crossing: look at it first. No brash in water, watch the ruts.")
            return _with_rating(7, words, ratings, figures)
        words = say("Soft: lay brash, few passes, watch the ruts.")
        return _with_rating(9, words, ratings, figures)
    words = say("Little to spare: try it empty first, turn back when wheels slip.")
    return _with_rating(11, words, ratings, figures)


def _with_rating(number: int, words: str, ratings: str, figures: Figures) -> tuple[int, str]:
    """Add the ratings that are exceeded there; stretches without any come one place later."""
    if not ratings:
        return number + 1, words
    rated = mark(
        "Rating exceeded on the slope ({ratings}): load as the trails table has it, or ask."
    )
    return number, f"{words} {figures.words.say(rated, ratings=ratings)}"


def _easing(plan: Plan, stretch: str, figures: Figures) -> str:
    """Whether a drier state would solve it where no smaller load does: trails have the loads."""
    table = plan.remedies
    if table is None:
        return ""
    own = table[(table["setup"] == plan.ranking.shown) & (table["stretch"] == stretch)]
    solved = own.loc[own["solves"] == "yes", "remedy"].to_list()
    first = next((name for name in solved if name in ("smaller payload", "drier state")), "")
    return figures.words.say("better when drier") if first == "drier state" else ""


def water_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Crossings: ``title``, ``lines``; no lines without wet ground in the plan."""
    say, term = figures.words.say, figures.words.term
    lines: list[str] = []
    wet = plan.wet_ground
    if wet is not None and wet.crossings is not None and len(wet.crossings):
        kinds = dict(zip(wet.crossings.index.astype(str), wet.crossings["kind"], strict=True))
        closed = closed_crossings(plan)
        places: dict[str, list[str]] = {}
        for row in rows_of(wet.water_runs):
            if has_crossing(row):
                places.setdefault(str(row["crossing"]), []).append(_with_span(row, figures))
        words = []
        for name, kind in kinds.items():
            if name in closed:
                continue
            what = short_name(term(kind), 24) if isinstance(kind, str) and kind else ""
            inside = ", ".join(part for part in (what, *places.get(name, [])[:2]) if part)
            words.append(f"{short_name(name, _ID)} ({inside})" if inside else short_name(name, _ID))
        if words:
            crossings = listed(words, figures)
            lines.append(say("Cross water only at {crossings}.", crossings=crossings))
            lines.append(say("Look at each crossing before you load it."))
        else:
            lines.append(say("No crossing is in use. Do not cross water before you have asked."))
        if closed:
            shut = [
                f"{short_name(name, _ID)} ({', '.join(short_name(one, _ID) for one in trails)})"
                for name, trails in closed.items()
            ]
            crossings = listed(shut, figures)
            lines.append(say("On closed trails, not in use: {crossings}.", crossings=crossings))
    elif wet is not None:
        lines.append(say("No crossing is mapped. Do not cross water before the planner agreed."))
    return {"title": say("Crossings"), "lines": lines}


def _stretches(plan: Plan) -> list[tuple[dict[str, Any], str]]:
    """Stretches with what they are for the driver, most pressing first."""
    if plan.bottlenecks is None:
        return []
    rows = rows_of(without_geometry(plan.bottlenecks))
    return list(zip(rows, stretch_places(plan), strict=True))


def _steeper(row: dict[str, Any], figures: Figures) -> str:
    """The steeper of climb and descent of a stretch, in words; empty below one percent."""
    up, down = (np.nan_to_num(float(row[key])) for key in ("grade_up", "grade_down"))
    if max(up, down) < 0.01:
        return ""
    if up >= down:
        return figures.words.say("up loaded {slope}", slope=figures.slope(up))
    return figures.words.say("down loaded {slope}", slope=figures.slope(down))


def _with_span(row: dict[str, Any], figures: Figures) -> str:
    name = short_name(str(row.get("stretch", row["trail"])), _ID)
    return f"{name} ({figures.span(float(row['from_m']), float(row['to_m']))})"
