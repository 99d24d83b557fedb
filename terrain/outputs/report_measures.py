"""Report: the stretches that decide, what would ease them, when to move in, how sure it is."""

from __future__ import annotations

from typing import Any

from terrain.decision.results import Plan
from terrain.outputs import report_plots
from terrain.outputs.document import (
    Block,
    Bullets,
    Figure,
    Heading,
    Paragraph,
    Row,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import leading_setups, rows_of, without_geometry
from terrain.outputs.report_registered import registered_blocks, registered_table
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN, count, outcome_mark

__all__ = ["doubt_blocks", "season_blocks", "stretch_blocks"]

_MOST_ROWS = 25
_MOST_REMEDIES = 60
_SEASON_SETUPS = 10


def stretch_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return bottlenecks, remedies, reroutes and what a lighter setup would cost."""
    table = plan.bottlenecks
    if table is None:
        return []
    blocks: list[Block] = [
        Heading("Stretches that decide", anchor="stretches"),
        Paragraph(
            "A stretch is named by its trail and the distance along it, as drawn, at which it "
            "starts; the same name stands on the map and in the files for the receiver.",
            style="note",
        ),
    ]
    if not len(table):
        return [*blocks, Paragraph("None: no stretch is short, over the bearing capacity or thin.")]
    lines = rows_of(without_geometry(table))
    blocks.append(
        Table(
            (
                *texts("Stretch", "What it does"),
                *numbers(
                    "Length", "Worst reserve", "Shown setup there", "Passes", "Timber over it"
                ),
            ),
            tuple(_stretch_row(line, shown) for line in lines[:_MOST_ROWS]),
        )
    )
    if len(lines) > _MOST_ROWS:
        rest = len(lines) - _MOST_ROWS
        blocks.append(
            Paragraph(
                f"{rest} less pressing stretches: see block.gpkg and plan.json.", style="note"
            )
        )
    blocks += _remedies(plan, shown)
    if plan.drop_it is not None and len(plan.drop_it):
        blocks += [
            Heading("What a lighter setup would cost", anchor="drop-it"),
            registered_table(
                "drop_it", plan.drop_it, shown,
                only=("setup", "stretches", "left_out_m", "stranded_m3", "stranded_trails"),
            ),
            Bullets(
                tuple(("", shown.sentence(str(text))) for text in plan.drop_it["sentence"].dropna())
            ),
        ]  # fmt: skip
    return blocks


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
                "outcome, up to the share set for this run; a wetter state can have more of them, "
                "and a lighter setup may then lead. Read the length beside the word. Frozen ground "
                "earns nothing unless somebody verified the depth of frost. The state is never "
                "taken from the date.",
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
                "and its way to the landing."
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
    chance = doubt.block[doubt.block["state"] == plan.settings.ground.state]
    blocks.append(
        Figure(
            report_plots.doubt_bars(plan),
            f"Share of {doubt.draws} draws in which each setup meets the need on the block, with "
            f"the "
            "95 % range from the number of draws alone; and what the doubt about the shown setup "
            "comes from.",
            "Bar charts: chance of each setup, and shares of the doubt",
        )
    )
    rows = tuple(
        row(
            named(str(line["setup"])),
            shown.percent(line["chance"]),
            f"{shown.percent(line['low'])} to {shown.percent(line['high'])}",
        )
        for line in rows_of(chance)
    )
    if rows:
        columns = (*texts("Setup"), *numbers("Meets the need in", "95 % range"))
        blocks.append(Table(columns, rows[:_MOST_ROWS], caption="Chances in the state of this run"))
    blocks += _chances_by_trail(plan, shown)
    if len(doubt.leaders):
        first = [
            f"{line['setup']} ({shown.percent(line['chance'])})"
            for line in rows_of(doubt.leaders)
            if line["chance"] > 0
        ]
        blocks.append(Paragraph("; ".join(first) + ".", "First choice in the draws:"))
    blocks.append(
        Paragraph(f"{doubt.draws} draws, seed {doubt.seed}.", "What was varied:", style="note")
    )
    blocks.append(Bullets(tuple(("", shown.sentence(text)) for text in doubt.counted)))
    return blocks


def _stretch_row(line: dict[str, Any], shown: Shown) -> Row:
    needs = line["needs"] if isinstance(line["needs"], str) else "none listed"
    cause = line["cause"] if isinstance(line["cause"], str) else UNKNOWN
    up, down = shown.steepest(line["grade_up"], line["grade_down"])
    ground = (
        f"Lightest setup of usual practice that passes: {needs}. Grade up {up}, down {down}, "
        f"cross {shown.slope(line['cross_slope'])}; "
        f"cone index {shown.pressure(line['cone_index_kpa'])}."
    )
    return row(
        named(str(line["stretch"])),
        cause if line["kind"] == "over bearing capacity" else f"{line['kind']}: {cause}",
        shown.length(line["length_m"]),
        shown.slope(line["worst_reserve"]),
        shown.slope(line["shown_reserve"]),
        shown.number(line["passes"]),
        shown.volume(line["volume_m3"]),
        note=ground,
        marked=line["kind"] == "no listed setup passes",
    )


def _remedy_row(line: dict[str, Any], shown: Shown) -> Row:
    cost = []
    for name, words in (
        ("extra_loads", "{} more loads"),
        ("stranded_m3", "{} stranded"),
        ("added_m", "{} longer"),
        ("moved_m", "{} short elsewhere"),
    ):
        value = line[name]
        if value == value and value:
            write = {"extra_loads": shown.number, "stranded_m3": shown.volume}.get(
                name, shown.length
            )
            cost.append(words.format(write(value)))
    note = f" {line['note']}" if isinstance(line["note"], str) else ""
    return row(
        named(str(line["stretch"])),
        named(str(line["setup"])),
        f"{line['remedy']}: {shown.sentence(str(line['does']))}{shown.sentence(note)}",
        str(line["solves"]),
        shown.length(line["left_m"]),
        ", ".join(cost) or "none told",
    )


def _remedies(plan: Plan, shown: Shown) -> list[Block]:
    if plan.remedies is None or not len(plan.remedies):
        return []
    lines = [line for line in rows_of(plan.remedies) if line["solves"] != "named only"]
    others = [line for line in rows_of(plan.remedies) if line["solves"] == "named only"]
    helpful = [line for line in lines if line["solves"] != "no"]
    in_vain: dict[tuple[str, str], list[str]] = {}
    for line in lines:
        if line["solves"] == "no":
            key = (str(line["stretch"]), str(line["setup"]))
            in_vain.setdefault(key, []).append(str(line["remedy"]))
    rows = [_remedy_row(line, shown) for line in helpful[:_MOST_REMEDIES]]
    columns = (
        *texts("Stretch", "Setup", "What to do", "Solves it"),
        *numbers("Still short"),
        *texts("Cost"),
    )
    blocks: list[Block] = [
        Heading("What would ease them", anchor="remedies"),
        Paragraph(
            "Each line was computed anew. Remedies that do not help stand together below; a remedy "
            "that helps in part leaves the length told.",
            style="note",
        ),
        Table(columns, tuple(rows)),
    ]
    if len(helpful) > _MOST_REMEDIES:
        words = f"{len(helpful) - _MOST_REMEDIES} more: see plan.json."
        blocks.append(Paragraph(words, style="note"))
    if in_vain:
        vain = [
            row(named(stretch), named(setup), "; ".join(dict.fromkeys(names)))
            for (stretch, setup), names in in_vain.items()
        ]
        blocks.append(
            Table(
                texts("Stretch", "Setup", "Does not solve it"),
                tuple(vain[:_MOST_REMEDIES]),
                caption="Looked at in vain",
            )
        )
    if others:
        told = "; ".join(dict.fromkeys(str(line["remedy"]) for line in others))
        blocks.append(
            Paragraph(f"{told}. Not computed here.", "Other measures, only named:", style="note")
        )
    if plan.reroutes is not None and len(plan.reroutes):
        blocks += [
            Heading("Short ways round", 3),
            registered_table(
                "reroutes",
                without_geometry(plan.reroutes),
                shown,
                most=_MOST_ROWS,
            ),
            Paragraph(
                "A line on the elevation model: it knows no stones, trees, boundaries or "
                "ownership. "
                "Walk it before you plan it.",
                style="note",
            ),
        ]
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
            "White: suits. Dots: suits with measures. Hatched: does not suit. The length is that "
            "short of traction.",
            "Grid of setups and moisture states",
        )
    ]


def _season_table(plan: Plan, shown: Shown) -> Table:
    assert plan.seasons is not None
    kept = _season_setups(plan)[:4]
    lines = [line for line in rows_of(plan.seasons) if line["setup"] in kept]
    lines.sort(key=lambda line: kept.index(line["setup"]))
    rows = tuple(
        row(
            named(str(line["setup"])),
            str(line["state"]),
            f"{outcome_mark(str(line['outcome']))} {line['outcome']}",
            shown.length(line["short_m"]),
            shown.length(line["unsolved_m"]),
            shown.length(line["over_bearing_m"]),
            shown.sentence(str(line["decides"])) if isinstance(line["decides"], str) else "nothing",
        )
        for line in lines
    )
    columns = (
        *texts("Setup", "State", "Outcome"),
        *numbers("Short", "Of it hopeless for all", "Over bearing"),
        *texts("What decides"),
    )
    return Table(columns, rows, caption="What decides in each state, first setups")


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
            Paragraph("Every trail is passed by the shown setup in at least 95 % of the draws.")
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
    columns = (*texts("Trail"), *numbers("Shown setup passes in"))
    return [
        Table(columns, rows, caption="Trails in doubt, shown setup"),
        Paragraph(words, style="note"),
    ]
