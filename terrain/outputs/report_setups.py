"""Report: setups compared by grip, flotation, disturbance and load; refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

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
from terrain.outputs.page_parts import leading_setups, rows_of
from terrain.outputs.report_registered import registered_table
from terrain.outputs.report_standing import column_standing
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN, code_list, count, outcome_mark

__all__ = ["grouped_exclusions", "numbered", "refusal_blocks", "setup_blocks"]


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
            "ask "
            "the manufacturer first, ringed is the candidate. Nearer to the lower left corner is "
            "better; marks apart are a trade. The line joins setups that no other one beats on "
            "both.",
            "Scatter plot: length short of traction against length over bearing, by setup",
        ),
    ]
    if rest:
        words = (
            f"{count(len(rest), 'more combination')} to ask the manufacturer about first; all are "
            "in setups.csv too"
        )
        blocks.append(_grip(plan, rest, shown, folded=words))
    if plan.weights is not None and len(plan.weights):
        blocks += [
            Heading("How far the weights decide"),
            Paragraph(
                "Setups on the front are beaten by no other on both traction need and ground "
                "pressure. The range is of the weight of traction need in which a setup's score is "
                "the lowest; where there is none, it never is. This run's weight is "
                f"{plan.settings.decision.traction_weight:g}, yours to set."
            ),
            _weights(plan, shown),
        ]
    if plan.machines is not None and len(plan.machines) > 1:
        blocks += [
            Heading("Machines and payloads compared"),
            registered_table(
                "machines",
                plan.machines,
                shown,
                only=(
                    "machine",
                    "payload_share",
                    "payload_kg",
                    "setup",
                    "outcome",
                    "short_m",
                    "over_bearing_m",
                    "added_mass_kg",
                    "loads",
                    "ngp_max_loaded_kpa",
                ),
            ),
        ]
    return blocks


def refusal_blocks(plan: Plan) -> list[Block]:
    """Return excluded setups with their reasons, and findings about the inputs."""
    blocks: list[Block] = [Heading("Excluded setups", anchor="excluded")]
    groups = grouped_exclusions(plan.ranking.excluded)
    if groups:
        rows = tuple(
            row(
                ", ".join(group["codes"]),
                _first(group["reasons"], 4, "more of the kind", " "),
                _first(
                    [named(name) for name, _ in group["setups"]], 6, "more, see excluded.csv", ", "
                ),
            )
            for group in groups
        )
        blocks.append(Table(texts("Codes", "Reason", "Setups"), rows))
    else:
        blocks.append(Paragraph("None."))
    blocks.append(Heading("Findings about the inputs"))
    if plan.issues:
        rows = tuple(
            row(issue.code, issue.severity, *map(named, (issue.what, issue.where, issue.fix)))
            for issue in plan.issues
        )
        blocks.append(Table(texts("Code", "Weight", "What", "Where", "What to do"), rows))
    else:
        blocks.append(Paragraph("None."))
    blocks += [
        Heading("What was not assessed", anchor="not-assessed"),
        Bullets(tuple(("", text) for text in plan.not_assessed)),
    ]
    return blocks


def grouped_exclusions(excluded: pd.DataFrame) -> list[dict[str, Any]]:
    """Return excluded setups grouped by their codes: ``codes``, ``reasons``, ``setups``.

    ``setups`` is a list of (id, description); groups with more setups come first.
    """
    groups: dict[tuple[str, ...], dict[str, Any]] = {}
    for _, line in excluded.iterrows():
        codes = code_list(line["codes"])
        group = groups.setdefault(codes, {"codes": codes, "reasons": [], "setups": []})
        reason = line["reasons"]
        reason = reason if isinstance(reason, str) else "; ".join(str(text) for text in reason)
        if reason not in group["reasons"]:
            group["reasons"].append(reason)
        group["setups"].append((str(line["setup"]), str(line["description"])))
    return sorted(groups.values(), key=lambda group: -len(group["setups"]))


def numbered(plan: Plan) -> list[dict[str, Any]]:
    """Return the ranked setups as dicts with their ``number`` from 1."""
    return [{**line, "number": k} for k, line in enumerate(rows_of(plan.ranking.setups), start=1)]


def _first(parts: list[str], most: int, more: str, joint: str) -> str:
    rest = len(parts) - most
    return joint.join(parts[:most]) + (f" and {rest} {more}" if rest > 0 else "")


def _setup_row(plan: Plan, line: dict[str, Any], *cells: str, note: str = "") -> Row:
    marked = line["setup"] == plan.ranking.candidate
    return row(str(line["number"]), named(line["description"]), *cells, note=note, marked=marked)


def _outside(lines: list[dict[str, Any]], shown: Shown) -> list[Block]:
    """Say once on how much ground relations are used outside their published ranges."""
    metres = [line["extrapolated_m"] for line in lines if line["extrapolated_m"] > 0]
    if not metres:
        return []
    low, high = min(metres), max(metres)
    span = shown.length(low) if high - low < 1 else f"{shown.length(low)} to {shown.length(high)}"
    words = f"By setup, a relation is used outside its published range on {span}."
    return [Paragraph(words, style="note")]


def _weights(plan: Plan, shown: Shown) -> Table:
    assert plan.weights is not None
    rows = tuple(
        row(
            named(str(line["setup"])),
            shown.length(line["short_m"]),
            shown.length(line["over_bearing_m"]),
            "yes" if line["on_front"] else "no",
            "never"
            if np.isnan(line["first_from"])
            else f"{line['first_from']:.2f} to {line['first_to']:.2f}",
        )
        for line in rows_of(plan.weights)
        if line["on_front"] or line["setup"] in (plan.ranking.shown, "bare")
    )
    columns = (
        *texts("Setup"),
        *numbers("Short", "Over bearing"),
        *texts("On the front", "Lowest score for weights"),
    )
    return Table(columns, rows)


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
                f"{shown.sentence(verdict)}",
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


def _load(plan: Plan, lines: list[dict[str, Any]], shown: Shown) -> Table:
    fuel: dict[str, Any] = {}
    if plan.second_opinions is not None:
        fuel = {line["setup"]: line for line in rows_of(plan.second_opinions)}
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
            )
        )
    columns = (
        *texts("No.", "Setup"),
        *numbers(
            "Mass of aids", "Payload", "Payload lost to ratings", "Work against bare wheels",
            "Fuel, one trip out and back on all trails",
        ),
    )  # fmt: skip
    return Table(columns, tuple(rows), caption="Load and work")
