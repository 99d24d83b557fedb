"""Report: the stretches that decide, what would ease them, what a lighter setup would cost."""

from __future__ import annotations

from typing import Any

from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.outputs.document import (
    Block,
    Heading,
    Paragraph,
    Row,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import lighter_setups, rows_of, without_geometry
from terrain.outputs.report_names import setup_key, setup_names, setup_numbers
from terrain.outputs.report_registered import registered_table
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN

__all__ = ["stretch_blocks"]

_MOST_ROWS = 25
_NAMED_ONLY = "named only"
_WADING = "Water here and no crossing is mapped: keep out, whatever the figures say."


def stretch_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return bottlenecks, remedies, reroutes and what a lighter setup would cost."""
    table = plan.bottlenecks
    if table is None:
        return []
    blocks: list[Block] = [
        Heading("Stretches that decide", anchor="stretches"),
        Paragraph(
            "A stretch is named by its trail and the distance along it, as drawn, at which it "
            "starts; the same name stands on the map and in the files for the receiver. A stretch "
            "takes in single better metres between worse ones, so the lengths can add up to more "
            "than the metres that are short.",
            style="note",
        ),
    ]
    if not len(table):
        return [*blocks, Paragraph("None: no stretch is short, over the bearing capacity or thin.")]
    lines = rows_of(without_geometry(table))
    names, wading = setup_names(plan), _stretches_in_water(plan)
    blocks.append(
        Table(
            (
                *texts("Stretch", "What it does"),
                *numbers(
                    "Length", "Worst reserve", "Shown setup there", "Passes", "Timber over it"
                ),
            ),
            tuple(
                _stretch_row(line, names, str(line["stretch"]) in wading, shown)
                for line in lines[:_MOST_ROWS]
            ),
        )
    )
    if len(lines) > _MOST_ROWS:
        words = f"{len(lines) - _MOST_ROWS} less pressing stretches: see stretches.csv."
        blocks.append(Paragraph(words, style="note"))
    return [*blocks, *_remedies(plan, shown), *_ways_round(plan, shown), *_lighter(plan, shown)]


def _in_water(plan: Plan, stretch: dict[str, Any]) -> bool:
    """Whether a stretch meets known water where no crossing is mapped."""
    if plan.wet_ground is None:
        return False
    return any(
        str(run["trail"]) == str(stretch["trail"])
        and run["from_m"] < stretch["to_m"]
        and run["to_m"] > stretch["from_m"]
        and not has_crossing(run)
        for run in rows_of(plan.wet_ground.water_runs)
    )


def _stretch_row(line: dict[str, Any], names: dict[str, str], wading: bool, shown: Shown) -> Row:
    needs = line["needs"]
    needs = names.get(needs, needs) if isinstance(needs, str) else "none listed"
    cause = line["cause"] if isinstance(line["cause"], str) else UNKNOWN
    up, down = shown.steepest(line["grade_up"], line["grade_down"])
    ground = (
        f"Lightest setup of usual practice that passes, for traction: {needs}. Grade up {up}, "
        f"down {down}, cross {shown.slope(line['cross_slope'])}; "
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
        note=f"{_WADING} {ground}" if wading else ground,
        marked=line["kind"] == "no listed setup passes",
    )


def _remedies(plan: Plan, shown: Shown) -> list[Block]:
    """Return what would ease each stretch for the shown setup and for the next lighter one."""
    if plan.remedies is None or not len(plan.remedies):
        return []
    lines = rows_of(plan.remedies)
    computed = [line for line in lines if line["solves"] != _NAMED_ONLY]
    cases: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for line in computed:
        cases.setdefault((str(line["stretch"]), str(line["setup"])), []).append(line)
    kept = _first_cases(plan, list(cases))
    number = setup_numbers(plan)
    wading = _stretches_in_water(plan)
    rows = [
        _case_row(case, cases[case], number.get(case[1]), case[0] in wading, plan, shown)
        for case in kept
    ]
    key = setup_key(plan, [setup for _, setup in kept])
    blocks: list[Block] = [
        Heading("What would ease them", anchor="remedies"),
        Paragraph(
            "Each remedy was computed anew, for the shown setup and for the next lighter one that "
            f"falls short on the stretch. {key}{'.' if key else ''}",
            style="note",
        ),
    ]
    if rows:
        columns = texts("Stretch", "Setup", "Solves it", "Helps in part")
        blocks.append(Table(columns, tuple(rows)))
    rest = len(computed) - sum(len(cases[case]) for case in kept)
    if rest:
        words = f"{rest} more, for lighter setups: see remedies.csv."
        blocks.append(Paragraph(words, style="note"))
    told = dict.fromkeys(str(line["remedy"]) for line in lines if line["solves"] == _NAMED_ONLY)
    if told:
        words = f"{'; '.join(told)}. Not computed here."
        blocks.append(Paragraph(words, "Other measures, only named:", style="note"))
    return blocks


def _stretches_in_water(plan: Plan) -> set[str]:
    if plan.bottlenecks is None:
        return set()
    lines = rows_of(without_geometry(plan.bottlenecks))
    return {str(line["stretch"]) for line in lines if _in_water(plan, line)}


def _first_cases(plan: Plan, cases: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Of (stretch, setup) keep the shown setup and the heaviest lighter one of each stretch."""
    heaviest_first = lighter_setups(plan)[::-1]
    kept = []
    for stretch in dict.fromkeys(stretch for stretch, _ in cases):
        setups = [setup for name, setup in cases if name == stretch]
        if plan.ranking.shown in setups:
            kept.append((stretch, plan.ranking.shown))
        lighter = next((name for name in heaviest_first if name in setups), None)
        if lighter is not None:
            kept.append((stretch, lighter))
    return kept


def _case_row(
    case: tuple[str, str],
    lines: list[dict[str, Any]],
    number: int | None,
    wading: bool,
    plan: Plan,
    shown: Shown,
) -> Row:
    stretch, setup = case
    solving = [_done(line, shown) for line in lines if line["solves"] == "yes"]
    helping = [_done(line, shown) for line in lines if line["solves"] in ("partly", "cannot tell")]
    vain = dict.fromkeys(str(line["remedy"]) for line in lines if line["solves"] == "no")
    notes = [_WADING] if wading else []
    if vain:
        notes.append(f"In vain: {'; '.join(vain)}.")
    name = named(setup) if number is None else f"No. {number}"
    return row(
        named(stretch),
        f"{name} (shown)" if setup == plan.ranking.shown else name,
        " Or: ".join(solving) or "none of those looked at",
        " Or: ".join(helping) or "none more",
        note=" ".join(notes),
    )


def _done(line: dict[str, Any], shown: Shown) -> str:
    words = shown.sentence(str(line["does"]))
    why = "" if line["solves"] == "yes" else _comes_of(line, shown)
    return f"{words.rstrip('.')} ({why})." if why else words


def _comes_of(line: dict[str, Any], shown: Shown) -> str:
    """Why a remedy helps in part only; empty where its own words say so."""
    if line["solves"] == "cannot tell":
        return "cannot be told: metres of it are not assessed"
    parts = []
    if line["left_m"] > 0 and METRIC.length(line["left_m"]) not in line["does"]:
        parts.append(f"leaves {shown.length(line['left_m'])} of it")
    if line["moved_m"] > 0:
        parts.append(f"makes {shown.length(line['moved_m'])} elsewhere short")
    if line["stranded_m3"] > 0:
        parts.append(f"strands {shown.volume(line['stranded_m3'])}")
    words = " and ".join(parts)
    if words and not line["left_m"] > 0:
        words = f"passes, but {words}"
    note = shown.sentence(line["note"]).rstrip(".") if isinstance(line["note"], str) else ""
    return "; ".join(part for part in (words, note[:1].lower() + note[1:]) if part)


def _ways_round(plan: Plan, shown: Shown) -> list[Block]:
    if plan.reroutes is None or not len(plan.reroutes):
        return []
    table = without_geometry(plan.reroutes)
    number = setup_numbers(plan)
    table = table.assign(setup=[_name(setup, number) for setup in table["setup"]])
    return [
        Heading("Short ways round", 3),
        registered_table("reroutes", table, shown, most=_MOST_ROWS),
        Paragraph(
            "A line on the elevation model: it knows no stones, trees, boundaries or ownership. "
            "Walk it before you plan it.",
            style="note",
        ),
    ]


def _name(setup: object, number: dict[str, int]) -> str:
    return f"No. {number[str(setup)]}" if str(setup) in number else str(setup)


def _lighter(plan: Plan, shown: Shown) -> list[Block]:
    if plan.drop_it is None or not len(plan.drop_it):
        return []
    names, number = setup_names(plan), setup_numbers(plan)
    rows = []
    for line in rows_of(plan.drop_it):
        sentence = line["sentence"] if isinstance(line["sentence"], str) else ""
        eased = f" Or ease it by: {line['eased_by']}." if isinstance(line["eased_by"], str) else ""
        trails = line["stranded_trails"]
        setup = str(line["setup"])
        rows.append(
            row(
                f"{_name(setup, number)}, {names[setup]}" if setup in names else named(setup),
                named(str(line["stretches"])),
                shown.length(line["left_out_m"]),
                shown.volume(line["stranded_m3"]),
                named(trails) if isinstance(trails, str) and trails else "none",
                note=shown.sentence(sentence + eased),
            )
        )
    columns = (
        *texts("Setup", "Stretches"), *numbers("Left out", "Timber stranded"),
        *texts("Trails cut off"),
    )  # fmt: skip
    return [
        Heading("What a lighter setup would cost", anchor="drop-it"),
        Table(columns, tuple(rows)),
    ]
