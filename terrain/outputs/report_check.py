"""Report: the soil-disturbance check that a forester reads before signing."""

from __future__ import annotations

from typing import Any

from terrain.decision.check_sheet import CheckSheet
from terrain.decision.results import Plan
from terrain.outputs.check_sheet import FIELD_TESTS, NOT_IN_IT, water_conflicts, without_crossing
from terrain.outputs.document import (
    Block,
    Bullets,
    Facts,
    Heading,
    Paragraph,
    Row,
    Table,
    Terms,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import USUAL, rows_of
from terrain.outputs.report_brash import brash_blocks
from terrain.outputs.report_rules import depth_words, rule_blocks, site_rule_blocks
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN, count
from terrain.sources import all_sources

__all__ = ["check_blocks"]

_MOST_STRETCHES = 15


def check_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return the check; empty for a plan whose traffic was not looked at."""
    sheet = plan.check_sheet
    if sheet is None:
        return []
    return [
        Heading("Soil-disturbance check", 1, "check"),
        *site_rule_blocks(sheet.profile, shown),
        *_facts(sheet, shown),
        *_by_setup(plan, sheet, shown),
        *_by_trail(sheet, shown),
        *_stretches(sheet, shown),
        *_water(plan, shown),
        *_states(sheet, shown),
        *_parts(sheet, shown),
        *brash_blocks(sheet, shown),
        Heading("The test in the field that settles it"),
        Terms(FIELD_TESTS),
        *rule_blocks(plan, shown),
        Heading("What this check leaves out"),
        Bullets(tuple(("", text) for text in [*NOT_IN_IT, *_gaps(sheet, shown)])),
    ]


def _facts(sheet: CheckSheet, shown: Shown) -> list[Block]:
    line = next((line for line in rows_of(sheet.setups) if line["setup"] == sheet.shown), None)
    if line is None:
        return []
    load = shown.volume(line["payload_m3"], 1)
    items = [
        (
            shown.number(line["passes_max"]),
            f"passes over the busiest metre, in {shown.number(line['loads_max'])} loads of {load}",
        )
    ]
    if sheet.profile is not None and sheet.profile.is_about_ruts:
        low, high = shown.length(line["beyond_low_m"]), shown.length(line["beyond_high_m"])
        items.append(
            (
                shown.length(line["beyond_m"]),
                f"likely deeper than the rule's {depth_words(sheet.profile, shown)} (band {low} to "
                f"{high})",
            )
        )
    no_width = sheet.area.unknown_m
    missing = f", at least: {shown.length(no_width)} have no width" if no_width > 0 else ""
    items += [
        (
            shown.tonnes(line["mass_driven_max_t"]),
            "mass driven over the busiest metre, harvester not counted",
        ),
        (shown.percent(sheet.area.share, 1), f"of the block lies under trails{missing}"),
        (shown.length(line["not_predicted_m"]), "without a predicted rut"),
    ]
    return [Facts(tuple(items))]


def _band(line: dict[str, Any], shown: Shown) -> str:
    if line["beyond_m"] != line["beyond_m"]:
        return UNKNOWN
    low, high = (shown.bare(line[f"beyond_{end}_m"], "m") for end in ("low", "high"))
    return f"{shown.length(line['beyond_m'])} ({low} to {high})"


def _by_setup(plan: Plan, sheet: CheckSheet, shown: Shown) -> list[Block]:
    ranked = plan.ranking.setups.set_index("setup")
    order = {name: number for number, name in enumerate(ranked.index)}
    lines = sorted(rows_of(sheet.setups), key=lambda line: order[line["setup"]])
    usual = set(ranked.index[ranked["standing"] == USUAL])
    lead = [line for line in lines if line["setup"] in usual or line["setup"] == sheet.shown]
    rows = tuple(
        row(
            named(str(ranked.loc[line["setup"], "description"]))
            + (" (shown)" if line["setup"] == sheet.shown else ""),
            shown.number(line["loads_max"]),
            shown.number(line["passes_max"]),
            shown.tonnes(line["mass_driven_max_t"]),
            shown.length(line["over_bearing_m"]),
            _band(line, shown),
            f"{shown.percent(line['share'], 1)} ({shown.percent(line['share_low'], 1)} to "
            f"{shown.percent(line['share_high'], 1)})",
            note=f"Against the rule: {shown.sentence(str(line['verdict']))}",
        )
        for line in lead
    )
    columns = (
        *texts("Setup"),
        *numbers(
            "Loads, busiest metre", "Passes there", "Mass driven there", "Over bearing",
            "Likely beyond the rule's depth (band)",
            "Share the rule looks at (low end to high end with all not predicted)",
        ),
    )  # fmt: skip
    rest = len(lines) - len(lead)
    more = (
        f" {count(rest, 'more combination')} to ask the manufacturer about first: see plan.json."
        if rest
        else ""
    )
    note = (
        "All of it is for the load that the ratings allow on the level; the smaller loads by trail "
        "mean more passes. Passes count the empty trip in, the loaded trip out and the harvester. "
        "The band spans the soil's strength, two relations (from memory) and the growth with "
        f"passes: read it as a class, not a depth.{more}"
    )
    return [Heading("By setup"), Table(columns, rows), Paragraph(note, style="note")]


def _by_trail(sheet: CheckSheet, shown: Shown) -> list[Block]:
    lines = rows_of(sheet.trails)
    traffic = Table(
        (
            *texts("Trail"),
            *numbers("Timber", "Passes"),
            *texts("Class by passes"),
            *numbers("Mass driven", "Over bearing", "Likely beyond the rule's depth (band)",
                     "Not predicted", "In machine-free strip"),
        ),
        tuple(_traffic_row(line, shown) for line in lines),
    )  # fmt: skip
    counts = sheet.trails["volume_from"].value_counts(sort=False)
    origins = "; ".join(f"{words}, {count(number, 'trail')}" for words, number in counts.items())
    return [
        Heading("By trail, shown setup"),
        traffic,
        Paragraph(
            f"Timber comes from: {origins}. Classes by passes: 1-2 small strip road, 3-5 strip "
            "road, 6-10 base road, over 10 main base road (Mohtashami et al. 2017); empty passes "
            "and the harvester are counted here. In each trail the busiest metre is shown.",
            style="note",
        ),
    ]


def _traffic_row(line: dict[str, Any], shown: Shown) -> Row:
    kind = line["pass_class"]
    return row(
        named(str(line["trail"])),
        shown.volume(line["volume_m3"]),
        shown.number(line["passes_max"]),
        kind.split(", ")[-1] if isinstance(kind, str) else UNKNOWN,
        shown.tonnes(line["mass_driven_max_t"]),
        shown.length(line["over_bearing_m"]),
        _band(line, shown),
        shown.length(line["not_predicted_m"]),
        shown.length(line["in_buffer_m"]),
    )


def _stretches(sheet: CheckSheet, shown: Shown) -> list[Block]:
    lines = rows_of(sheet.stretches)
    if not lines:
        return []
    rows = tuple(
        row(
            named(str(line["trail"])),
            shown.length(line["from_m"]),
            shown.length(line["to_m"]),
            shown.number(line["passes_max"]),
            shown.sentence(str(line["rut_words"])),
            shown.number(line["ground_class"]),
        )
        for line in lines[:_MOST_STRETCHES]
    )
    columns = (
        *texts("Trail"),
        *numbers("From", "To", "Passes"),
        *texts("Rut class, band"),
        *numbers("Ground class"),
    )
    rest = len(lines) - _MOST_STRETCHES
    more = (
        f" {count(rest, 'shorter stretch', 'shorter stretches')}: see plan.json."
        if rest > 0
        else ""
    )
    return [
        Heading("Stretches to look at first"),
        Table(columns, rows),
        Paragraph(f"Distances along the trail as drawn.{more}", style="note"),
    ]


def _water(plan: Plan, shown: Shown) -> list[Block]:
    water = water_conflicts(plan)
    if water is None:
        return []
    without = ", ".join(
        f"{named(str(trail))} at {shown.length(start)}" for trail, start in without_crossing(plan)
    )
    end = (
        f"; no crossing is mapped for: {without}. Avoid them, or plan a crossing and ask for the "
        "permit."
        if without
        else "."
    )
    words = (
        f"Machine-free strip: {shown.sentence(water['strip'])}. In it: "
        f"{count(water['strip_runs'], 'stretch', 'stretches')}, {shown.length(water['strip_m'])}. "
        f"Trails meet water on {count(water['met'], 'stretch', 'stretches')}{end} Each of these "
        "stretches, with its crossing, stands in part 2 under \u201cTrails in the machine-free "
        "strip along water\u201d and \u201cWhere trails meet water\u201d."
    )
    return [Heading("Water and crossings"), Paragraph(words)]


def _states(sheet: CheckSheet, shown: Shown) -> list[Block]:
    if not len(sheet.states):
        return []
    rows = tuple(
        row(
            str(line["state"]),
            "shown" if line["setup"] == sheet.shown else "bare wheels",
            _band(line, shown),
            shown.length(line["over_bearing_m"]),
        )
        for line in rows_of(sheet.states)
    )
    columns = (
        *texts("State", "Setup"),
        *numbers("Likely beyond the rule's depth (band)", "Over bearing"),
    )
    return [
        Heading("By state of the ground"),
        Table(columns, rows),
        Paragraph(
            "Frozen earns nothing unless somebody verified the depth of frost.", style="note"
        ),
    ]


def _parts(sheet: CheckSheet, shown: Shown) -> list[Block]:
    if not len(sheet.part_loads):
        return []
    rows = tuple(
        row(
            shown.percent(line["payload_share"]),
            shown.mass(line["payload_kg"]),
            shown.number(line["loads"]),
            shown.number(line["passes"]),
            shown.tonnes(line["mass_driven_t"]),
            shown.pressure(line["ngp_front_loaded_kpa"]),
            shown.pressure(line["ngp_rear_loaded_kpa"]),
        )
        for line in rows_of(sheet.part_loads)
    )
    columns = (
        *texts("Load"),
        *numbers("Payload", "Loads", "Passes", "Mass driven", "Nominal pressure front, loaded",
                 "Nominal pressure rear, loaded"),
    )  # fmt: skip
    trial = all_sources()["half_loading_wsl"].citation.rstrip(".")
    note = (
        "Shares are of the load that the ratings leave with these aids; the table of machines "
        "takes shares of the full load, before the ratings cut it. Less mass a pass, more passes: "
        "a trial with half loads found somewhat less compaction and no smaller ruts "
        f"({trial})."
    )
    return [
        Heading("Part loads, shown setup, busiest metre"),
        Table(columns, rows),
        Paragraph(note, style="note"),
    ]


def _gaps(sheet: CheckSheet, shown: Shown) -> list[str]:
    gaps = []
    if sheet.unknown_volume_m > 0:
        gaps.append(f"{shown.length(sheet.unknown_volume_m)} of trail whose passes are not known.")
    if sheet.too_strong_m > 0:
        words = f"{shown.length(sheet.too_strong_m)} on ground stronger than the relations reach."
        gaps.append(words)
    return gaps
