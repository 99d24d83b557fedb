"""Report: other published routes to the same setups, ratings on slopes, and what aids change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.crane_checks import CHECKS
from terrain.decision.results import Plan
from terrain.models.machine import Crane
from terrain.outputs.document import Block, Heading, Paragraph, Table, named, numbers, row, texts
from terrain.outputs.page_parts import leading_setups, rows_of
from terrain.outputs.report_names import numbered, setup_names
from terrain.outputs.report_ratings import with_holding_words
from terrain.outputs.report_registered import asked_from, registered_blocks
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN

__all__ = ["second_opinion_blocks"]

_RATINGS = (
    "setup", "state", "rating", "answer", "level_share", "largest_share", "trail", "chainage_m",
    "over_balanced_m", "over_m", "holding_payload_balanced_kg", "holding_payload_free_kg",
)  # fmt: skip
_CRANE_TIPS = (
    "setup", "state", "check", "answer", "level_share", "largest_share", "trail", "chainage_m",
    "near_m", "over_m", "check_slope", "tip_slope",
)  # fmt: skip
_CRANE_RATINGS = (
    "setup", "state", "check", "answer", "level_share", "largest_share", "trail", "chainage_m",
    "over_m",
)  # fmt: skip
_EFFECTS = ("aid", "effect", "value", "low", "high", "unit", "status", "used_for")


def second_opinion_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return other published routes to the same setups, ratings on slopes, and what aids change."""
    blocks: list[Block] = []
    if plan.second_opinions is not None:
        found = {line["setup"]: line for line in rows_of(plan.second_opinions)}
        leading = [numbered(plan)[k] for k in leading_setups(plan.ranking.setups)]
        lines = [{**line, **found[line["setup"]]} for line in leading if line["setup"] in found]
        blocks += _opinions(plan, lines, shown)
    for title, name, frame, only in (
        ("Ratings on slopes", "ratings", plan.ratings, _RATINGS),
        ("Where stability data must be looked up", "stability_checks", plan.stability_checks, ()),
        ("With the crane out: standing", "crane_checks", _tipping(plan.crane_checks), _CRANE_TIPS),
        ("With the crane out: ratings", "crane_checks", _rated(plan.crane_checks), _CRANE_RATINGS),
        ("Footprints", "footprints", plan.footprints, ()),
        ("What each aid changes", "effects_used", plan.effects_used, _EFFECTS),
        ("Relations used outside their stated range", "outside_range", plan.outside_range, ()),
    ):
        kept, words = _of_shown(plan, frame)
        by = "aid" if name == "effects_used" else "setup"
        if kept is not None and name == "footprints":
            kept = kept[kept["state"] == "loaded"]
        if only == _CRANE_TIPS and plan.machine.crane is not None:
            words = " ".join(filter(None, (words, _crane_words(plan.machine.crane, shown))))
        if kept is not None and name == "ratings":
            kept = with_holding_words(kept, shown)
        part = registered_blocks(name, kept, shown, most=40, only=only, by=by)
        if part:
            blocks += [Heading(title), *([Paragraph(words)] if words else []), *part]
    return blocks


def _crane_words(crane: Crane, shown: Shown) -> str:
    """What is computed of the crane, before its table."""
    reach, high = (shown.amount(figure, "m", 1) for figure in (crane.reach_m, crane.tip_height_m))
    return (
        f"Crane out to {reach} with {shown.mass(crane.lifted_mass_kg)} "
        f"from a tip {high} high, in every direction, the machine "
        "standing still with its frames locked and straight, facing either way. Loaded, what hangs "
        "is a part of the load. Jolts and a load that swings are not in it. Where a frame rolls "
        "freely, the end that carries the crane stands alone and may tip on level ground. The "
        "manufacturer's crane chart decides, not this table."
    )


def _tipping(crane_checks: pd.DataFrame | None) -> pd.DataFrame | None:
    """The rows about tipping over, without the ratings."""
    return None if crane_checks is None else crane_checks[crane_checks["check"].isin(CHECKS)]


def _rated(crane_checks: pd.DataFrame | None) -> pd.DataFrame | None:
    """The rows about ratings."""
    return None if crane_checks is None else crane_checks[~crane_checks["check"].isin(CHECKS)]


def _of_shown(plan: Plan, frame: pd.DataFrame | None) -> tuple[pd.DataFrame | None, str]:
    """Keep the rows of the shown setup and of bare wheels, where rows belong to setups."""
    if frame is None or "setup" not in frame.columns:
        return frame, ""
    kept = frame[frame["setup"].isin([plan.ranking.shown, "bare"])]
    kept = kept.assign(setup=kept["setup"].replace(setup_names(plan)))
    words = "Shown setup and bare wheels" if len(kept) < len(frame) else ""
    return kept, f"{words}; all others in plan.json." if words else ""


def _opinions(plan: Plan, lines: list[dict[str, Any]], shown: Shown) -> list[Block]:
    grip, ground, work = [], [], []
    for line in lines:
        name = named(line["description"])
        routes = [line[key] for key in ("net_brixius", "net_maclaurin", "net_wismer_luth")]
        ends = (line["net_contact_low"], line["net_contact_high"])
        contact = "no track"
        if not np.isnan(ends).any():
            contact = " to ".join(shown.ratio(value) for value in sorted(ends))
        spread = shown.ratio(line["models_high"] - line["models_low"])
        low, high = line["short_if_strong_m"], line["short_if_weak_m"]
        grip.append(
            row(
                name,
                UNKNOWN
                if np.isnan([low, high]).any()
                else f"{shown.length(low)} to {shown.length(high)}",
                *_slip(plan, line, shown),
                *(shown.ratio(value) for value in routes),
                contact,
                spread,
            )
        )
        ground.append(
            row(
                name,
                "not computed"
                if np.isnan(line["vci1_kpa"]) and np.isnan(line["vci50_kpa"])
                else f"{shown.pressure_number(line['vci1_kpa'])}, "
                f"{shown.pressure(line['vci50_kpa'])}",
                _weaker(line, shown),
                shown.pressure(line["mmp_kpa"]),
                shown.slope(asked_from(line["check_cross_slope"])),
                shown.length(line["check_cross_m"]),
                shown.percent(line["tyre_load_share"]),
            )
        )
        trips = []
        for trip in ("loaded", "empty"):
            trips += [
                shown.amount(line[f"{trip}_trip_mj"], "MJ"),
                shown.amount(line[f"{trip}_grade_mj"], "MJ"),
                shown.ratio(line[f"{trip}_trip_ratio"]),
            ]
        work.append(row(name, *trips))
    limit = shown.percent(plan.settings.decision.slip_limit)
    return [
        Heading("Second opinions", anchor="second-opinions"),
        Paragraph(
            "Other published routes to the same setups, at the worst station of each, in the "
            "direction that leaves less there, on bare strength without a film. Where they part, "
            "trust none of them alone. By contact length only axles with tracks are reckoned, "
            "with two figures for how fast the soil gives way. The slip needed is the plan's own "
            "balance solved for slip (film, cross slope, driveline, both directions), where the "
            f"setup passes; where it is short it needs more than the limit of {limit}. The cross "
            "slope is where the manufacturer's stability data must be looked up: it is a check, "
            "never a permission, and no aid is credited with stability. The range of short ground "
            "takes all of it at the strong, then at the weak end of its class or readings.",
            style="note",
        ),
        Table(
            (
                *texts("Setup"),
                *numbers(
                    "Short, strong to weak ground",
                    "Slip needed, tightest place passed",
                ),
                *texts("Most slip needed where it passes"),
                *numbers(
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
                *numbers("Vehicle cone index, 1 and 50 passes"),
                *texts("Trail weaker than that"),
                *numbers(
                    "Mean maximum pressure", "Check the cross slope from", "Length there",
                    "Wheel load as share of the tyre's rating, on the level, balanced",
                ),
            ),
            tuple(ground),
            caption="Soft ground and stability",
        ),
        *_soft_ground_notes(lines),
        Table(
            (
                *texts("Setup"),
                *numbers(
                    "Loaded trip", "of it climbing", "against bare wheels",
                    "Empty trip", "of it climbing", "against bare wheels",
                ),
            ),
            tuple(work),
            caption="Work at the wheels over all assessed trails, out and back",
        ),
        Paragraph(
            "Each trip is with the load that the ratings leave, so a setup that carries less does "
            "less work on a trip and needs more trips. What does not go into climbing is motion "
            "resistance and what drags; on a descent gravity pays for the rolling first, and what "
            "is left over returns nothing.",
            style="note",
        ),
        *_published(plan, lines, shown),
    ]  # fmt: skip


def _slip(plan: Plan, line: dict[str, Any], shown: Shown) -> tuple[str, str]:
    """Slip at the tightest place that the setup passes, and the most of any, with what is short."""
    over = f"more than {shown.percent(plan.settings.decision.slip_limit)}"
    if np.isnan(line["slip_needed"]):
        known = not np.isnan(line["net_brixius"])
        return (f"{over}: it passes nowhere", over) if known else (UNKNOWN, UNKNOWN)
    most = shown.percent(line["slip_needed_most"])
    short_m = float(line.get("short_m", 0.0))
    if short_m > 0:
        most += f"; {over} on {shown.length(short_m)}"
    return shown.percent(line["slip_needed"]), most


def _weaker(line: dict[str, Any], shown: Shown) -> str:
    """Metres below both vehicle cone indices, or why there is nothing to compare."""
    once, fifty = line["below_vci1_m"], line["below_vci50_m"]
    if np.isnan(once) and np.isnan(fifty):
        return str(line["vci_word"]) if isinstance(line["vci_word"], str) else UNKNOWN
    return f"{shown.length(once)} for 1 pass, {shown.length(fifty)} for 50 passes"


def _soft_ground_notes(lines: list[dict[str, Any]]) -> list[Block]:
    words = {str(line["vci_word"]): None for line in lines if not np.isnan(line["below_vci1_m"])}
    compared = f" Here the ground: {'; '.join(named(word) for word in words)}." if words else ""
    return [
        Paragraph(
            "The vehicle cone index was made for fine-grained, level ground and all axles driven. "
            "It asks for a rating cone index: what the soil keeps when it is kneaded. It screens "
            "soft ground, never enters the verdict and says nothing of what chains do at the "
            f"surface.{compared} The form for band tracks is that of tracked vehicles, which asks "
            "for the area of one shoe and the height of the grousers: it is computed where the "
            "catalogue holds both, and for fifty passes from memory. The form does not fit wheel "
            "tracks, dual tyres and axles that carry different gear.",
            style="note",
        )
    ]


def _published(plan: Plan, lines: list[dict[str, Any]], shown: Shown) -> list[Block]:
    """Loaded travel of a skidder beyond published work, with the shown setup."""
    here = [line for line in lines if line["setup"] == plan.ranking.shown]
    if not here or np.isnan(here[0]["beyond_published_m"]):
        return []
    line = here[0]
    metres = line["beyond_published_m"]
    told = (
        "Published work of a cable skidder with such a load (Đuka et al. 2018, another model) "
        f"stayed between a descent of {shown.slope(line['published_descent'])} and a climb of "
        f"{shown.slope(line['published_climb'])}. "
    )
    if metres > 0:
        told += (
            f"Loaded travel is steeper on {shown.length(metres)} here; by grip alone the shown "
            f"setup passes {shown.length(line['beyond_passed_m'])} of that. The published work "
            "stayed below: do not read the pass as a permission."
        )
    else:
        told += "No loaded travel here is steeper."
    return [Paragraph(told, "Published slopes of skidders")]
