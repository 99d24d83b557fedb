"""Report: wet ground by state, the strip along water, crossings, depressions, strength."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.decision.wet_results import WetGround
from terrain.mechanics.soil_strength import state_rules
from terrain.mechanics.wet_classes import water_rule
from terrain.outputs.document import (
    Block,
    Heading,
    Paragraph,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import keyed, rows_of, without_geometry
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import count

__all__ = ["crossing_words", "wet_blocks"]


def wet_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return the part on wet ground; empty for a plan whose water was not routed."""
    wet = plan.wet_ground
    if wet is None:
        return []
    fringe = shown.fine_length(water_rule().wet_up_to_m)
    return [
        Heading("Wet ground", anchor="wet-ground"),
        Paragraph(
            "Soil type leads and wetness modifies. Ground counts as wet where its class or "
            "drainage "
            f"says so in a moisture state, or where water stands at most {fringe} below it as "
            "computed from the shape of the ground. The moisture state is your choice; it is never "
            "taken from the date. Depth to water alone condemns no trail: it says where to look."
        ),
        *_by_state(plan, wet, shown),
        *_strip(wet, shown),
        *_met(wet, shown),
        *_depressions(wet, shown),
        *_strength(plan, wet, shown),
    ]


def crossing_words(line: dict[str, Any], shown: Shown) -> str:
    """Say the nearest mapped crossing in words."""
    name, distance = line["crossing"], line["to_crossing_m"]
    if not isinstance(name, str):
        return "no crossing is mapped"
    if has_crossing(line):
        return f"at crossing {named(name)}"
    return f"none here; nearest is {named(name)}, {shown.length(distance)} away"


def _by_state(plan: Plan, wet: WetGround, shown: Shown) -> list[Block]:
    states = [name for name in plan.states if name != "frozen"]
    if plan.settings.ground.frost_depth_m is not None:
        states.append("frozen")
    metres, chosen = wet.wet_metres, plan.settings.ground.state
    facts = keyed(without_geometry(plan.trails), "trail").set_index("trail")
    rows, dry = [], 0
    for name in metres.index:
        unknown = float(facts.loc[name, "wetness_unknown_m"])
        values = [float(metres.loc[name, state]) for state in states]
        if not any(values) and not unknown:
            dry += 1
            continue
        rows.append(
            row(
                named(str(name)),
                shown.length(float(metres.loc[name, "length_m"])),
                *(shown.length(value) for value in values),
                shown.length(unknown),
                shown.length(float(facts.loc[name, "buffer_m"])),
                shown.length(float(facts.loc[name, "least_to_water_m"])),
            )
        )
    foot = (
        "All trails",
        shown.length(float(metres["length_m"].sum())),
        *(shown.length(float(metres[state].sum())) for state in states),
        "", "", "",
    )  # fmt: skip
    heads = [f"{state}{' (this run)' if state == chosen else ''}" for state in states]
    columns = (
        *texts("Trail"),
        *numbers("Length", *heads, "Not known", "In the strip along water", "Nearest to water"),
    )
    caption = f"Wet metres by moisture state; this run is planned for \u201c{chosen}\u201d"
    blocks: list[Block] = [Table(columns, tuple(rows), caption=caption, foot=foot)]
    if dry:
        words = f"{count(dry, 'more trail')} with no wet metre in any of these states."
        blocks.append(Paragraph(words, style="note"))
    starts = ", ".join(
        f"{state} {_catchment(state_rules()[state].flow_initiation_ha, shown)}"  # type: ignore[index]
        for state in states
    )
    cut = "; ".join(
        f"channels from {_catchment(area, shown)}, "
        + ("none found" if np.isnan(share) else f"{shown.percent(share)} of their cells")
        for area, share in sorted(wet.edge_share.items(), reverse=True)
    )
    blocks.append(
        Paragraph(
            f"Channels are taken to start at a catchment of: {starts}. Water was routed on "
            f"{shown.area(wet.routed_ha)}. Catchments that the edge of the "
            "elevation model cuts are too small, so channels start too late there and the ground "
            "is "
            f"shown too dry: {cut}. Distances are measured from {wet.water_from}.",
            style="note",
        )
    )
    return blocks


def _catchment(area_ha: float, shown: Shown) -> str:
    return shown.area(area_ha, 1) if shown.is_us else f"{area_ha:g} ha"


def _strip(wet: WetGround, shown: Shown) -> list[Block]:
    blocks: list[Block] = [
        Heading("Trails in the machine-free strip along water", 3),
        Paragraph(
            f"Strip: {shown.sentence(wet.buffer_words)}. Widths differ between codes and sites; "
            f"the "
            "site's own rule decides."
        ),
    ]
    if len(wet.buffer_runs):
        rows = tuple(
            row(
                named(str(line["trail"])),
                *(shown.length(line[name]) for name in ("from_m", "to_m", "length_m")),
                crossing_words(line, shown),
            )
            for line in rows_of(wet.buffer_runs)
        )
        columns = (*texts("Trail"), *numbers("From", "To", "Length"), *texts("Crossing"))
        blocks.append(Table(columns, rows))
    else:
        none = wet.buffer_words == "not stated"
        blocks.append(Paragraph("None is checked." if none else "No trail runs in it."))
    return blocks


def _met(wet: WetGround, shown: Shown) -> list[Block]:
    blocks: list[Block] = [Heading("Where trails meet water", 3)]
    if not len(wet.water_runs):
        words = (
            "No trail meets water that is known here. Streams missing from maps are common: look "
            "for them."
        )
        return [*blocks, Paragraph(words)]
    rows = tuple(
        row(
            named(str(line["trail"])),
            shown.length(line["from_m"]),
            shown.length(line["to_m"]),
            crossing_words(line, shown),
        )
        for line in rows_of(wet.water_runs)
    )
    return [
        *blocks,
        Table((*texts("Trail"), *numbers("From", "To"), *texts("Crossing")), rows),
        Paragraph(
            "Every passage over water needs a crossing that carries the machine with its load and "
            "aids, and whatever permission local codes ask for. Nothing here judges a bridge or a "
            "culvert.",
            style="note",
        ),
    ]


def _depressions(wet: WetGround, shown: Shown) -> list[Block]:
    blocks: list[Block] = [Heading("Depressions to check in the field", 3)]
    if not len(wet.depressions):
        return [*blocks, Paragraph("No listed depression lies on or beside a trail.")]
    table = keyed(without_geometry(wet.depressions), "depression")
    rows = tuple(
        row(
            str(line["depression"]),
            shown.fine_length(line["depth_m"]),
            shown.amount(line["area_m2"], "m2"),
            shown.length(line["trail_m"]),
            named(line["trails"])
            if isinstance(line["trails"], str) and line["trails"]
            else "beside a trail",
        )
        for line in rows_of(table)
    )
    columns = (
        *texts("Depression"),
        *numbers("Depth below its spill level", "Area", "Trail in it"),
        *texts("Trails"),
    )
    return [
        *blocks,
        Table(columns, rows),
        Paragraph(
            "A depression is a pond or wet patch, or water held up by a bank whose culvert the "
            "elevation does not show. Draw the culvert as a crossing if there is one.",
            style="note",
        ),
    ]


def _strength(plan: Plan, wet: WetGround, shown: Shown) -> list[Block]:
    blocks: list[Block] = [Heading("Soil strength: class figures and own readings", 3)]
    lines = rows_of(wet.strength)
    told = [line for line in lines if line["places"] or isinstance(line["note"], str)]
    if not told:
        words = (
            "No readings were given: the class figures stand. A few penetrometer readings at the "
            "doubtful places, with their moisture state, would firm this up."
        )
        return [*blocks, Paragraph(words)]
    rows = tuple(_strength_row(line, shown) for line in told)
    columns = (
        *texts("Polygon", "Measure"),
        *numbers("Before readings"),
        *texts("Rests on"),
        *numbers("Places read", "Median, spread", "Weight of readings", "After readings"),
    )
    caption = (
        f"State \u201c{plan.settings.ground.state}\u201d; likely figure and its range, "
        f"{shown.unit('kPa')}"
    )
    blocks.append(Table(columns, rows, caption=caption))
    others = {line["polygon"] for line in lines} - {line["polygon"] for line in told}
    if others:
        words = f"{count(len(others), 'other polygon')} without readings: the class figure stands."
        blocks.append(Paragraph(words, style="note"))
    blocks.append(
        Paragraph(
            "Figures before computed wetness. Where a small depth to water softens a station below "
            "its polygon, readings may lower its strength but not raise it.",
            style="note",
        )
    )
    return blocks


def _strength_row(line: dict[str, Any], shown: Shown) -> Any:
    def spread(kind: str) -> str:
        likely, low, high = (
            shown.pressure_number(line[f"{kind}{end}_kpa"]) for end in ("", "_low", "_high")
        )
        return f"{likely} ({low} to {high})"

    median = "none"
    if line["places"]:
        figures = (shown.pressure_number(line[name]) for name in ("median_kpa", "spread_kpa"))
        state = f", {line['read_in']}" if isinstance(line["read_in"], str) else ""
        median = f"{', '.join(figures)}{state}"
    return row(
        named(str(line["polygon"])),
        str(line["measure"]),
        spread("prior"),
        str(line["prior_from"]),
        str(line["places"]),
        median,
        shown.ratio(line["weight"]),
        spread("posterior"),
        note=named(shown.sentence(line["note"])) if isinstance(line["note"], str) else "",
    )
