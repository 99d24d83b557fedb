"""Report: the stretches that decide, what would ease them, what a lighter setup would cost."""

from __future__ import annotations

from typing import Any

import pandas as pd

from terrain.decision.remedy_load import HARDLY
from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.outputs.document import (
    Block,
    Heading,
    Paragraph,
    Row,
    Table,
    clipped,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import lighter_setups, rows_of, without_geometry
from terrain.outputs.report_names import setup_key, setup_names, setup_numbers
from terrain.outputs.report_registered import registered_table
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN, count

__all__ = [
    "BESIDE_WATER",
    "HOPELESS",
    "deciding",
    "eased_stretches",
    "remedy_words",
    "stretch_blocks",
]

HOPELESS = "no listed setup passes"
"""Kind of the stretches that come first on every page."""

_DECIDING = (HOPELESS, "forces the choice")
_MOST_ROWS = 25
_MOST_EASED = 2
_MOST_WAYS = 2
_HELPING = ("yes", "partly")
_OTHER_SETUPS = ("heavier aid on one axle group",)
_NAMED_ONLY = "named only"
_WADING = "Water here and no crossing is mapped: keep out, whatever the figures say."
BESIDE_WATER = "water without a crossing: stop and ask; the measure is for the ground beside it"
"""What stands by every measure for a stretch that meets water where no crossing is mapped."""
_NO_NEWS = "Setup "  # notes that begin so repeat an id that the words before them describe


def stretch_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return bottlenecks, remedies, reroutes and what a lighter setup would cost."""
    table = plan.bottlenecks
    if table is None:
        return []
    blocks: list[Block] = [
        Heading("Stretches that decide", anchor="stretches"),
        Paragraph(
            "A stretch is named by its trail and the distance along it, as drawn, at which it "
            "starts; the same name stands on the map and in the files for the receiver. Names hold "
            "within this plan: another state or load may cut the stretches elsewhere. A stretch "
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
    solving = [remedy_words(line, shown) for line in lines if line["solves"] == "yes"]
    helping = [
        remedy_words(line, shown) for line in lines if line["solves"] in ("partly", "cannot tell")
    ]
    vain = dict.fromkeys(str(line["remedy"]) for line in lines if line["solves"] == "no")
    notes = [f"{BESIDE_WATER[:1].upper()}{BESIDE_WATER[1:]}."] if wading else []
    beside = "Beside the water: " if wading else ""
    if vain:
        notes.append(f"In vain: {'; '.join(vain)}.")
    name = named(setup) if number is None else f"No. {number}"
    return row(
        named(stretch),
        f"{name} (shown)" if setup == plan.ranking.shown else name,
        f"{beside}{' Or: '.join(solving)}" if solving else "none of those looked at",
        f"{beside}{' Or: '.join(helping)}" if helping else "none more",
        note=" ".join(notes),
    )


def remedy_words(line: dict[str, Any], shown: Shown) -> str:
    """What a remedy does with its standing: what it leaves, and what to know about it."""
    words = shown.sentence(str(line["does"]))
    why = _note(line, shown) if line["solves"] == "yes" else _comes_of(line, shown)
    return f"{words.rstrip('.')} ({why})." if why else words


def _note(line: dict[str, Any], shown: Shown) -> str:
    if not isinstance(line["note"], str) or line["note"].startswith(_NO_NEWS):
        return ""
    note = shown.sentence(line["note"]).rstrip(".")
    return note[:1].lower() + note[1:]


def _comes_of(line: dict[str, Any], shown: Shown) -> str:
    """Why a remedy helps in part only; empty where its own words say how much it leaves."""
    if line["solves"] == "cannot tell":
        return "cannot be told: metres of it are not assessed"
    parts = []
    if line["left_m"] > 0 and METRIC.length(line["left_m"]) not in line["does"]:
        parts.append(f"leaves {shown.length(line['left_m'])} of it")
    if line["moved_m"] > 0:
        parts.append(f"makes {shown.length(line['moved_m'])} elsewhere short")
    if line["stranded_m3"] > 0 and f"{line['stranded_m3']:.0f} m3" not in line["does"]:
        parts.append(f"strands {shown.volume(line['stranded_m3'])}")
    words = " and ".join(parts)
    if words and not line["left_m"] > 0:
        words = f"passes, but {words}"
    told = "; ".join(part for part in (words, _note(line, shown)) if part)
    return told or ("" if line["left_m"] > 0 else "helps in part only")


def deciding(plan: Plan) -> list[dict[str, Any]]:
    """Rows of ``bottlenecks`` where traction decides; none in a plan without them."""
    if plan.bottlenecks is None:
        return []
    lines = rows_of(without_geometry(plan.bottlenecks))
    return [line for line in lines if line["kind"] in _DECIDING]


def eased_stretches(plan: Plan, table: pd.DataFrame, shown: Shown) -> list[str]:
    """Remedies of the shown setup with their standing, first where no listed setup passes.

    A stretch that nothing passes is told even when no remedy was found for it. A load that is
    hardly a way to work is told only where nothing else helps.
    """
    own = table[
        (table["setup"] == plan.ranking.shown)
        & table["solves"].isin(_HELPING)
        & (table["left_m"] == 0)
        & ~table["remedy"].isin(_OTHER_SETUPS)
    ]
    rows = deciding(plan)
    hopeless = [str(line["stretch"]) for line in rows if line["kind"] == HOPELESS]
    others = [str(line["stretch"]) for line in rows if line["kind"] != HOPELESS]
    looked_at, helped = set(table["stretch"].astype(str)), set(own["stretch"].astype(str))
    names = [name for name in hopeless if name in looked_at]
    names += [name for name in others if name in helped]
    wading = _stretches_in_water(plan)
    parts = []
    for name in names[:_MOST_EASED]:
        lines = sorted(rows_of(own[own["stretch"].astype(str) == name]), key=_worth)
        lines = [line for line in lines if _worth(line) < 2] or lines
        told = " Or: ".join(remedy_words(line, shown) for line in lines[:_MOST_WAYS])
        told = told or "nothing that was computed helps the shown setup there."
        water = f" ({BESIDE_WATER})" if name in wading and lines else ""
        parts.append(f"{named(clipped(name))}{water}: {told}")
    rest = len(names) - _MOST_EASED
    if rest > 0:
        where = "\u201cWhat would ease them\u201d"
        parts.append(f"{count(rest, 'more stretch', 'more stretches')} under {where}.")
    return parts


def _worth(line: dict[str, Any]) -> int:
    """What solves it comes first; a load that is hardly a way to work comes last."""
    if line["solves"] == "yes":
        return 0
    return 2 if isinstance(line["note"], str) and HARDLY in line["note"] else 1


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
