"""Report: other published routes to the same setups, ratings on slopes, and what aids change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.document import Block, Heading, Paragraph, Table, named, numbers, row, texts
from terrain.outputs.page_parts import leading_setups, rows_of
from terrain.outputs.report_names import numbered, setup_names
from terrain.outputs.report_registered import registered_blocks
from terrain.outputs.shown_units import Shown

__all__ = ["second_opinion_blocks"]

_RATINGS = (
    "setup", "state", "rating", "answer", "level_share", "largest_share", "trail", "chainage_m",
    "over_balanced_m", "over_m", "holding_payload_balanced_kg", "holding_payload_free_kg",
)  # fmt: skip
_EFFECTS = ("aid", "effect", "value", "low", "high", "unit", "status", "used_for")


def second_opinion_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return other published routes to the same setups, ratings on slopes, and what aids change."""
    blocks: list[Block] = []
    if plan.second_opinions is not None:
        found = {line["setup"]: line for line in rows_of(plan.second_opinions)}
        leading = [numbered(plan)[k] for k in leading_setups(plan.ranking.setups)]
        lines = [{**line, **found[line["setup"]]} for line in leading if line["setup"] in found]
        blocks += _opinions(lines, shown)
    for title, name, frame, only in (
        ("Ratings on slopes", "ratings", plan.ratings, _RATINGS),
        ("Where stability data must be looked up", "stability_checks", plan.stability_checks, ()),
        ("Footprints", "footprints", plan.footprints, ()),
        ("What each aid changes", "effects_used", plan.effects_used, _EFFECTS),
        ("Relations used outside their published range", "outside_range", plan.outside_range, ()),
    ):
        kept, words = _of_shown(plan, frame)
        by = "aid" if name == "effects_used" else "setup"
        if kept is not None and name == "footprints":
            kept = kept[kept["state"] == "loaded"]
        part = registered_blocks(name, kept, shown, most=40, only=only, by=by)
        if part:
            blocks += [Heading(title), *([Paragraph(words)] if words else []), *part]
    return blocks


def _of_shown(plan: Plan, frame: pd.DataFrame | None) -> tuple[pd.DataFrame | None, str]:
    """Keep the rows of the shown setup and of bare wheels, where rows belong to setups."""
    if frame is None or "setup" not in frame.columns:
        return frame, ""
    kept = frame[frame["setup"].isin([plan.ranking.shown, "bare"])]
    kept = kept.assign(setup=kept["setup"].replace(setup_names(plan)))
    words = "Shown setup and bare wheels" if len(kept) < len(frame) else ""
    return kept, f"{words}; all others in plan.json." if words else ""


def _opinions(lines: list[dict[str, Any]], shown: Shown) -> list[Block]:
    grip, ground = [], []
    for line in lines:
        slip = shown.percent(line["slip_needed"])
        if np.isnan(line["slip_needed"]) and not np.isnan(line["net_brixius"]):
            slip = "none is enough"
        routes = [line[name] for name in ("net_brixius", "net_maclaurin", "net_wismer_luth")]
        ends = (line["net_contact_low"], line["net_contact_high"])
        contact = "no band track"
        if not np.isnan(ends).any():
            contact = " to ".join(shown.ratio(value) for value in sorted(ends))
        spread = shown.ratio(line["models_high"] - line["models_low"])
        low, high = line["short_if_strong_m"], line["short_if_weak_m"]
        grip.append(
            row(
                named(line["description"]),
                f"{shown.length(low)} to {shown.length(high)}",
                slip,
                *(shown.ratio(value) for value in routes),
                contact,
                spread,
            )
        )
        ground.append(
            row(
                named(line["description"]),
                "not computed"
                if np.isnan(line["vci1_kpa"]) and np.isnan(line["vci50_kpa"])
                else f"{shown.pressure_number(line['vci1_kpa'])}, "
                f"{shown.pressure(line['vci50_kpa'])}",
                shown.pressure(line["mmp_kpa"]),
                shown.slope(line["check_cross_slope"]),
                shown.length(line["check_cross_m"]),
                shown.percent(line["tyre_load_share"]),
                shown.amount(line["round_trip_mj"], "MJ"),
            )
        )
    return [
        Heading("Second opinions", anchor="second-opinions"),
        Paragraph(
            "Other published routes to the same setups, at the worst station of each, in the "
            "direction that leaves less there, on bare strength without a film. Where they part, "
            "trust none of them alone. By contact length only axles with band tracks are reckoned, "
            "with two figures for how fast the soil gives way. The vehicle cone index of "
            "band tracks has the form of tracked vehicles, which asks for the area of one shoe and "
            "the height of the grousers: it is computed where the catalogue holds both, for one "
            "pass; it is not computed for axles that carry different gear. The cross "
            "slope is where the manufacturer's stability data must be looked up: it is a check, "
            "never a permission, and no aid is credited with stability. The range of short ground "
            "takes all of it at the strong, then at the weak end of its class or readings.",
            style="note",
        ),
        Table(
            (
                *texts("Setup"),
                *numbers(
                    "Short, strong to weak ground", "Slip needed",
                    "Net traction at 20 % slip: primary", "Turnage, Maclaurin", "Wismer, Luth",
                    "Contact length, soft to stiff soil", "Range of the models",
                ),
            ),
            tuple(grip),
            caption="Grip by other models",
        ),
        Table(
            (
                *texts("Setup"),
                *numbers(
                    "Vehicle cone index, 1 and 50 passes", "Mean maximum pressure",
                    "Check the cross slope from", "Length there",
                    "Wheel load as share of the tyre's rating", "Work, out and back",
                ),
            ),
            tuple(ground),
            caption="Soft ground, stability and work",
        ),
    ]  # fmt: skip
