"""Report: setups compared by grip, flotation, disturbance and load; weights and machines."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.ranking import OUTCOMES
from terrain.decision.results import Plan
from terrain.outputs import report_plots
from terrain.outputs.document import (
    Block,
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
from terrain.outputs.page_parts import USUAL, leading_setups, rows_of
from terrain.outputs.report_names import numbered, without_ids
from terrain.outputs.report_standing import column_standing
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN, code_list, count, outcome_mark

__all__ = ["setup_blocks"]


def setup_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return the comparison of setups: grip, ground, load and work, and the trade between them."""
    setups = numbered(plan)
    leading = set(leading_setups(plan.ranking.setups))
    first = [line for k, line in enumerate(setups) if k in leading]
    rest = [line for k, line in enumerate(setups) if k not in leading]
    blocks: list[Block] = [
        Heading("Setups compared", anchor="setups"),
        _grip(plan, first, shown),
        _ground(plan, first, shown),
        _load(plan, first, shown),
        *_others(plan, rest, shown),
        Paragraph(
            "Outcomes speak of traction alone: \u201csuits\u201d is for traction; pressure and "
            "ratings stand beside it.",
            style="note",
        ),
        Paragraph(
            "Every setup needs the manufacturer's approval, also one of usual practice. Masses of "
            "aids are often assumptions: ask the supplier for the figure of the very aid.",
            style="note",
        ),
        *_outside(first, shown),
        column_standing(plan),
        Figure(
            report_plots.trade_off(plan, shown),
            "Each mark is a setup, numbered as in the table: round is usual practice, square is "
            "ask the manufacturer first, ringed is the candidate. Nearer to the lower left corner "
            f"is better; marks apart are a trade. {_line_words(plan, shown)} Bold numbers: the "
            "candidate and what no other one beats; grey: others, close marks under one label.",
            "Scatter plot: length short of traction against length over bearing, by setup",
        ),
    ]
    if plan.weights is not None and len(plan.weights):
        blocks += [
            Heading("How far the weights decide"),
            Paragraph(
                "Setups of usual practice, held against each other: those on the front are beaten "
                "by no other of them on both traction need and ground pressure. The range is of "
                "the weight of traction need in which a setup's score is the lowest; where there "
                "is none, it never is. This run's weight is "
                f"{plan.settings.decision.traction_weight:g}, yours to set."
            ),
            _weights(plan, shown),
        ]
    if plan.machines is not None and len(plan.machines) > 1:
        blocks += [
            Heading("Machines and payloads compared"),
            _machines(plan, shown),
            Paragraph(
                "Each machine with its own aids and its own hopeless metres. Shares are of the "
                "full load, before the ratings cut it to the payload told; the part loads of the "
                "soil-disturbance check are shares of what the ratings leave. The pressure is the "
                "larger of front and rear, loaded, on the level: a load held behind the rear axle "
                "takes weight off the front, so that a smaller load can raise it.",
                style="note",
            ),
        ]
    return blocks


def _others(plan: Plan, rest: list[dict[str, Any]], shown: Shown) -> list[Block]:
    if not rest:
        return []
    words = (
        f"{count(len(rest), 'more combination')} to ask the manufacturer about first; all are in "
        "setups.csv too"
    )
    return [_grip(plan, rest, shown, folded=words)]


def _setup_row(plan: Plan, line: dict[str, Any], *cells: str, note: str = "") -> Row:
    marked = line["setup"] == plan.ranking.candidate
    return row(str(line["number"]), named(line["description"]), *cells, note=note, marked=marked)


def _outside(lines: list[dict[str, Any]], shown: Shown) -> list[Block]:
    """Say once on how much ground relations are used outside their stated ranges."""
    metres = [line["extrapolated_m"] for line in lines if line["extrapolated_m"] > 0]
    if not metres:
        return []
    low, high = min(metres), max(metres)
    span = shown.length(low) if high - low < 1 else f"{shown.length(low)} to {shown.length(high)}"
    words = f"By setup, the mobility number is used outside its stated range on {span}."
    return [Paragraph(words, style="note")]


def _weights(plan: Plan, shown: Shown) -> Table:
    assert plan.weights is not None
    lines = {line["setup"]: line for line in numbered(plan)}
    rows = tuple(
        _setup_row(
            plan,
            lines[line["setup"]],
            shown.length(line["short_m"]),
            shown.length(line["over_bearing_m"]),
            "yes" if line["on_front"] else "no",
            "never"
            if np.isnan(line["first_from"])
            else f"{line['first_from']:.2f} to {line['first_to']:.2f}",
        )
        for line in rows_of(plan.weights)
        if line["setup"] in lines and lines[line["setup"]]["standing"] == USUAL
    )
    columns = (
        *texts("No.", "Setup"),
        *numbers("Short", "Over bearing"),
        *texts("On the front", "Lowest score for weights"),
    )
    return Table(columns, rows)


def _line_words(plan: Plan, shown: Shown) -> str:
    if len(report_plots.front_of(plan, shown)) > 1:
        return "The line joins setups that no other one beats on both."
    return "One mark is beaten by no other on both, so there is no line of trades."


def _machines(plan: Plan, shown: Shown) -> Table:
    assert plan.machines is not None
    rows = tuple(
        row(
            named(str(line["machine"])),
            shown.percent(line["payload_share"]),
            shown.mass(line["payload_kg"]),
            f"{outcome_mark(line['outcome'])} {line['outcome']}",
            shown.length(line["short_m"]),
            shown.length(line["over_bearing_m"]),
            shown.mass(line["added_mass_kg"]),
            shown.number(line["loads"]),
            shown.pressure(line["ngp_max_loaded_kpa"]),
            note=f"{line['setup']}. {shown.sentence(str(line['headline']))}{_held(line, shown)}",
        )
        for line in rows_of(plan.machines)
    )
    columns = (
        *texts("Machine"),
        *numbers("Share of the full load", "Payload"),
        *texts("Outcome"),
        *numbers("Short", "Over bearing", "Mass of aids", "Loads", "Largest pressure"),
    )
    return Table(columns, rows)


def _held(line: dict[str, Any], shown: Shown) -> str:
    """Why a machine that is short on few metres may not suit all the same."""
    if isinstance(line["passed_by"], str):
        told = line["passed_by"].rstrip(".")
        return f" {told[:1].upper()}{told[1:]}."
    passed = line["short_m"] - line["unsolved_m"]
    if line["outcome"] != OUTCOMES[-1] or not passed > 0:
        return ""
    part = "them" if line["unsolved_m"] == 0 else f"{shown.length(passed)} of them"
    return (
        f" Another setup of this machine passes {part}, so that they are not hopeless for it and "
        "count against this one."
    )


def _grip(plan: Plan, lines: list[dict[str, Any]], shown: Shown, folded: str = "") -> Table:
    rows = []
    for line in lines:
        standing = line["standing"]
        codes = code_list(line["standing_codes"] if isinstance(line["standing_codes"], str) else "")
        place = ""
        if isinstance(line["worst_trail"], str):
            place = (
                f", trail {named(line['worst_trail'])} at "
                f"{shown.length(line['worst_chainage_m'])}: {line['worst_cause']}"
            )
        verdict = line["verdict"] if isinstance(line["verdict"], str) else UNKNOWN
        rows.append(
            _setup_row(
                plan,
                line,
                f"{standing} ({', '.join(codes)})" if codes else standing,
                shown.length(line["short_loaded_m"]),
                shown.length(line["short_empty_m"]),
                f"{shown.slope(line['worst_reserve'])}{place}",
                note=f"{outcome_mark(line['outcome'])} {line['outcome']}. "
                f"{shown.sentence(without_ids(plan, verdict))} Id: {line['setup']}.",
            )
        )
    columns = (
        *texts("No.", "Setup", "Standing"),
        *numbers("Short, loaded", "Short, empty"),
        *texts("Worst station and why"),
    )
    return Table(columns, tuple(rows), caption="" if folded else "Grip", folded=folded)


def _ground(plan: Plan, lines: list[dict[str, Any]], shown: Shown) -> Table:
    checked: dict[str, Any] = {}
    if plan.check_sheet is not None:
        checked = {line["setup"]: line for line in rows_of(plan.check_sheet.setups)}
    rows = []
    for line in lines:
        check = checked.get(line["setup"])
        rows.append(
            _setup_row(
                plan,
                line,
                *(
                    f"{shown.pressure_number(line[f'ngp_{axle}_empty_kpa'])} / "
                    f"{shown.pressure_number(line[f'ngp_{axle}_loaded_kpa'])}"
                    for axle in ("front", "rear")
                ),
                shown.length(line["over_bearing_m"]),
                UNKNOWN if check is None else shown.number(check["passes_max"]),
                UNKNOWN if check is None else shown.length(check["beyond_m"]),
            )
        )
    unit = shown.unit("kPa")
    columns = (
        *texts("No.", "Setup"),
        *numbers(
            f"Nominal pressure, front, empty / loaded, {unit}",
            f"Nominal pressure, rear, empty / loaded, {unit}",
            "Over bearing",
            "Passes, busiest place",
            "Ruts likely beyond the rule",
        ),
    )
    return Table(columns, tuple(rows), caption="Flotation and disturbance")


def _per_tonne(line: dict[str, Any], fuel: dict[str, Any]) -> float:
    """Work at the wheels of a trip out and back over the tonnes that it brings, MJ/t; or NaN."""
    work_mj = fuel.get(line["setup"], {}).get("round_trip_mj", np.nan)
    tonnes = line["payload_kg"] / 1000
    return float(work_mj / tonnes) if tonnes > 0 else np.nan


def _load(plan: Plan, lines: list[dict[str, Any]], shown: Shown) -> Table:
    fuel: dict[str, Any] = {}
    if plan.second_opinions is not None:
        fuel = {line["setup"]: line for line in rows_of(plan.second_opinions)}
    bare = max((_per_tonne(line, fuel) for line in lines if line["setup"] == "bare"), default=0.0)
    rows = []
    for line in lines:
        extra = fuel.get(line["setup"], {})
        low, high = extra.get("fuel_low_l", np.nan), extra.get("fuel_high_l", np.nan)
        rows.append(
            _setup_row(
                plan,
                line,
                shown.mass(line["added_mass_kg"]),
                shown.mass(line["payload_kg"]),
                shown.mass(line["payload_lost_kg"]),
                shown.ratio(line["work_ratio"]),
                UNKNOWN
                if np.isnan(low) or np.isnan(high)
                else f"{shown.bare(low, 'L')} to {shown.amount(high, 'L')}",
                shown.ratio(_per_tonne(line, fuel) / bare if bare > 0 else np.nan),
            )
        )
    columns = (
        *texts("No.", "Setup"),
        *numbers(
            "Mass of aids", "Payload", "Payload lost to ratings",
            "Motion resistance of one trip, against bare wheels",
            "Fuel, one trip out and back on all trails",
            "All work for a tonne brought out, against bare wheels",
        ),
    )  # fmt: skip
    return Table(columns, tuple(rows), caption="Load and work")
