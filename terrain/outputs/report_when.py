"""Report: when to move in, in which order, and how sure the answer is."""

from __future__ import annotations

import math
from typing import Any

from terrain.decision.ranking import CANNOT_TELL
from terrain.decision.results import Plan
from terrain.outputs import report_plots
from terrain.outputs.document import (
    Block,
    Bullets,
    Figure,
    Heading,
    Paragraph,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import leading_setups, rows_of
from terrain.outputs.report_names import numbered, setup_names, setup_numbers
from terrain.outputs.report_registered import registered_blocks
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import count, outcome_mark

__all__ = ["doubt_blocks", "season_blocks"]

_MOST_ROWS = 25
_SEASON_SETUPS = 8


def season_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return setups by moisture state, and an order of work for the trails."""
    blocks: list[Block] = []
    if plan.seasons is not None and len(plan.seasons):
        blocks += [
            Heading("When: setups by the state of the ground", anchor="season"),
            *_season_figure(plan, shown),
            _season_table(plan, shown),
            Paragraph(
                "Metres that no listed setup passes are hopeless for all alike and do not spoil an "
                "outcome, up to the share set for this run. A setup that falls short in a drier "
                "state falls short in the wetter ones too, because one setup goes on for the whole "
                "block. Frozen ground earns nothing unless somebody verified the depth of frost. "
                "The state is never taken from the date.",
                style="note",
            ),
        ]
    if plan.trail_states is not None and len(plan.trail_states):
        table = plan.trail_states
        if "order" in table.columns:
            table = table.sort_values("order", kind="stable")
        blocks += [
            Heading("Order of work", anchor="order"),
            Paragraph(
                "Trails that bear only dry ground come first while it is dry; those that bear wet "
                "ground are the fall-back. A trail counts as usable when the shown setup passes it "
                "and its way to the landing. Where water without a mapped crossing lies on "
                "that way, nobody knows: those trails come after the others, and the advice names "
                "the place."
            ),
            *registered_blocks("trail_states", table, shown, explained=False),
        ]
    return blocks


def doubt_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return how sure the answer is, what the doubt comes from, and where to measure next."""
    doubt = plan.doubt
    if doubt is None:
        return []
    blocks: list[Block] = [
        Heading("How sure", anchor="doubt"),
        Paragraph(shown.sentence(doubt.sentence)),
    ]
    if doubt.measure_next:
        blocks.append(Paragraph(shown.sentence(doubt.measure_next), "Measure next:"))
    blocks += _chances(plan, shown)
    blocks += _chances_by_trail(plan, shown)
    names = setup_names(plan)
    first = [
        f"{names.get(str(line['setup']), str(line['setup']))} ({shown.percent(line['chance'])})"
        for line in rows_of(doubt.leaders)
        if line["chance"] > 0
    ]
    if first:
        blocks.append(Paragraph("; ".join(first) + ".", "First choice in the draws:"))
    sources = "; and what the doubt about the shown setup comes from" if len(doubt.sources) else ""
    blocks.append(
        Figure(
            report_plots.doubt_bars(plan),
            f"Share of {doubt.draws} draws in which each setup meets the need on the block, with "
            f"the 95 % range from the number of draws alone{sources}.",
            "Bar charts: chance of each setup, and shares of the doubt",
        )
    )
    blocks.append(
        Paragraph(f"{doubt.draws} draws, seed {doubt.seed}.", "What was varied:", style="note")
    )
    blocks.append(Bullets(tuple(("", shown.sentence(text)) for text in doubt.counted)))
    return blocks


def _season_setups(plan: Plan) -> list[str]:
    order = [str(name) for name in plan.ranking.setups["setup"]]
    kept = [order[k] for k in leading_setups(plan.ranking.setups)]
    known = set(plan.seasons["setup"]) if plan.seasons is not None else set()
    return [name for name in kept if name in known][:_SEASON_SETUPS]


def _season_figure(plan: Plan, shown: Shown) -> list[Block]:
    return [
        Figure(
            report_plots.season_grid(plan, _season_setups(plan), shown),
            "White: suits. Dots: suits with measures. Crossed: cannot tell, too much is not known. "
            "Hatched: does not suit, there or in a drier state. The length is that short of "
            "traction in the state itself.",
            "Grid of setups and moisture states",
        )
    ]


def _season_table(plan: Plan, shown: Shown) -> Table:
    assert plan.seasons is not None
    kept = _season_setups(plan)[:4]
    lines = [line for line in rows_of(plan.seasons) if line["setup"] in kept]
    lines.sort(key=lambda line: kept.index(line["setup"]))
    names, number = setup_names(plan), setup_numbers(plan)
    rows = tuple(
        row(
            str(number[line["setup"]]),
            names[line["setup"]],
            str(line["state"]),
            f"{outcome_mark(str(line['outcome']))} {line['outcome']}",
            shown.length(line["short_m"]),
            shown.length(line["unsolved_m"]),
            shown.length(line["over_bearing_m"]),
            _what_decides(line, shown),
        )
        for line in lines
    )
    columns = (
        *texts("No.", "Setup", "State", "Outcome"),
        *numbers("Short", "Of it hopeless for all", "Over bearing"),
        *texts("What decides"),
    )
    return Table(columns, rows, caption="What decides in each state, first setups")


def _what_decides(line: dict[str, Any], shown: Shown) -> str:
    """Trails with the most short metres, or what else the outcome of a season's row rests on."""
    blank_m, decides = line["not_assessed_m"], line["decides"]
    blank = f"{shown.length(blank_m)} not assessed"
    if isinstance(decides, str) and decides:
        told = shown.sentence(decides)
        return f"{told}; {blank}" if line["outcome"] == CANNOT_TELL else told
    if math.isnan(line["short_m"]):
        return "assessed nowhere"
    return f"no short metre; {blank}" if blank_m > 0 else "no short metre"


def _chances(plan: Plan, shown: Shown) -> list[Block]:
    """Chances in the state of the run, in the order of the comparison; the others in a sentence."""
    doubt = plan.doubt
    assert doubt is not None
    here = doubt.block[doubt.block["state"] == plan.settings.ground.state]
    chance = {str(line["setup"]): line for line in rows_of(here)}
    leading = set(leading_setups(plan.ranking.setups))
    lines = [(line, chance.pop(line["setup"], None)) for line in numbered(plan)]
    told = [(line, found) for k, (line, found) in enumerate(lines) if found and k in leading]
    others = [found for k, (_, found) in enumerate(lines) if found and k not in leading]
    if not told:
        return []
    rows = tuple(
        row(
            str(line["number"]),
            named(line["description"]),
            shown.percent(found["chance"]),
            f"{shown.percent(found['low'])} to {shown.percent(found['high'])}",
        )
        for line, found in told
    )
    columns = (*texts("No.", "Setup"), *numbers("Meets the need in", "95 % range"))
    blocks: list[Block] = [Table(columns, rows, caption="Chances in the state of this run")]
    if others:
        most = max(found["chance"] for found in others)
        chance_words = "under 1 %" if 0 < most < 0.01 else f"{shown.percent(most)} at most"
        words = f"{count(len(others), 'more combination')}: {chance_words}."
        blocks.append(Paragraph(words, style="note"))
    return blocks


def _chances_by_trail(plan: Plan, shown: Shown) -> list[Block]:
    doubt = plan.doubt
    assert doubt is not None
    here = doubt.trails[doubt.trails["setup"] == plan.ranking.shown]
    unknown = [str(line["trail"]) for line in rows_of(here) if line["chance"] != line["chance"]]
    unsure = [line for line in rows_of(here) if line["chance"] < 0.95]
    if not len(here):
        return []
    if not unsure and not unknown:
        return [
            Paragraph(
                "Every trail, with its way to the landing, is passed by the shown setup in at "
                "least 95 % of the draws."
            )
        ]
    unsure.sort(key=lambda line: line["chance"])
    rows = tuple(
        row(named(str(line["trail"])), shown.percent(line["chance"]))
        for line in unsure[:_MOST_ROWS]
    )
    rest = len(here) - len(unsure) - len(unknown)
    words = f"On {count(rest, 'other trail')} the chance is 95 % or more."
    if unknown:
        words += f" Not known, because metres of it are not assessed: {', '.join(unknown)}."
    columns = (*texts("Trail"), *numbers("Passed with its way out in"))
    return [
        Table(columns, rows, caption="Trails in doubt, shown setup"),
        Paragraph(words, style="note"),
    ]
