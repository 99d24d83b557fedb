"""What the operator mounts and checks: setup, payload, fit, pressures, and when to stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from terrain.decision.ranking import CANNOT_TELL, OUTCOMES
from terrain.decision.results import Plan
from terrain.mechanics.mounted import mounted
from terrain.models.machine import AxleGroup
from terrain.models.site_rules import RuleProfile, rule_profiles
from terrain.outputs.brief_loads import load_lines
from terrain.outputs.brief_words import Figures, short_name
from terrain.outputs.catalogue import mark
from terrain.outputs.page_parts import USUAL
from terrain.sources import data_table

__all__ = ["AxleLoadout", "carry_section", "checks_section", "loadout", "stop_section"]

BLANK = "\N{LOW LINE}" * 16
"""A line to write on."""

KINDS = ("chains", "wheel track", "band track", "dual tyres")


@dataclass(frozen=True, slots=True)
class AxleLoadout:
    """What one axle group carries in the shown setup.

    ``names`` are names of aids as the catalogue has them; empty for bare wheels. ``kinds`` is None
    where the kind of an aid is not known here.
    """

    group: AxleGroup
    names: tuple[str, ...]
    kinds: tuple[str, ...] | None


def loadout(plan: Plan) -> tuple[AxleLoadout, AxleLoadout]:
    """What front and rear carry in the shown setup.

    A plan that holds only the setup's id gives the keys of its aids as written, their kinds
    unknown, so that every check is printed.
    """
    if plan.shown_setup is not None:
        aids = [mount.left for mount in plan.shown_setup.mounts]
        made = [
            AxleLoadout(group, tuple(a.name for a in carried), tuple(a.kind for a in carried))
            for group, carried in zip(plan.machine.groups, aids, strict=True)
        ]
        return made[0], made[1]
    parts = plan.ranking.shown.split(" + ")
    sides = parts if len(parts) == 2 else ["bare", "bare"]
    made = [
        AxleLoadout(group, () if text == "bare" else (text,), () if text == "bare" else None)
        for group, text in zip(plan.machine.groups, sides, strict=True)
    ]
    return made[0], made[1]


def carry_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """What to fit, how much to load, and whether the plan stands at all.

    Returns
    -------
    dict
        ``title``, ``warning`` (empty when the setup suits), ``items`` (pairs of axle and aids),
        ``lines``.
    """
    say = figures.words.say
    items = [(_axle(item.group, figures), _names(item, figures)) for item in loadout(plan)]
    if items[0][1] == items[1][1]:
        both = say("Front and rear")
        items = [(both, items[0][1])]
    row = _row(plan)
    warning, lines = "", []
    if plan.ranking.candidate is None:
        if row.get("outcome") == CANNOT_TELL:
            warning = say(
                "Too much of this block is not assessed: no setup is named. Do not start. The "
                "planner decides first."
            )
        else:
            meets = plan.ranking.setups["outcome"].isin(OUTCOMES[:2])
            warning = (
                say("No usual setup suits this block. Do not start. The planner asks first.")
                if meets.any()
                else say(
                    "No listed setup suits this block. Do not start. The planner decides first."
                )
            )
    elif row.get("outcome") != "suits":
        lines.append(say("Some metres need other measures. Read Keep out and Weak spots."))
    if row.get("standing", USUAL) != USUAL:
        lines.append(say("Not usual practice. Ask the manufacturer before anything else."))
    lines += load_lines(
        plan,
        float(row.get("payload_kg", np.nan)),
        float(row.get("payload_lost_kg", np.nan)),
        figures,
    )
    lines.append(say("Fit it only with the manufacturer's approval. Number: {line}", line=BLANK))
    return {"title": say("Carry"), "warning": warning, "items": items, "lines": lines}


def checks_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """Fit and pressures: ``title``, ``lines`` and ``standing``, the standing of the fit figures."""
    say, term = figures.words.say, figures.words.term
    fit = data_table("fit_checks")
    system = figures.units
    worn = loadout(plan)
    lines = []
    fitted = any(item.names for item in worn)
    if fitted:
        lines.append(say("Compare tyre size, make and tread with the plate of the aid."))
    standings = []
    if _carries(worn, "band track"):
        sag, gap = fit["band_sag"], fit["shoe_clearance"]
        low, high = sag[system]
        lines.append(
            say("Band track: sag midway between the tyres {span}.", span=figures.small(low, high))
        )
        lines.append(
            say(
                "Band track: about {gap} between shoe and tyre sidewall, on each side.",
                gap=figures.small(gap[system]),
            )
        )
        standings += [sag["status"], gap["status"]]
    if _carries(worn, "wheel track"):
        lines.append(say("Wheel track: it sits tight. Chalk the tyre: it must not creep."))
        standings.append("common practice, no source")
    if _carries(worn, "chains"):
        lines.append(say("Chains: tension them as their supplier says."))
    if _carries(worn, "dual tyres"):
        lines.append(say("Dual tyres: the outer tyre is smaller than the inner one."))
        standings.append("common practice, no source")
    lines += _pressures(plan, figures)
    lines.append(say("No liquid in the tyres. Never more pressure than the sidewall says."))
    if fitted:
        lines.append(say("Check the fit again after the first drive, and every day."))
    standing = ""
    if standings:
        standing = say(
            "Fit figures: {status}. The supplier's instruction goes first.",
            status=", ".join(dict.fromkeys(term(status) for status in standings)),
        )
    return {"title": say("Check before driving"), "lines": lines, "standing": standing}


def stop_section(plan: Plan, figures: Figures) -> dict[str, Any]:
    """When the work stops: ``title``, ``lines``, ``ruts`` (three steps), ``rule`` (lines)."""
    say = figures.words.say
    profile = plan.check_sheet.profile if plan.check_sheet is not None else None
    return {
        "title": say("Stop when"),
        "lines": [
            say("wheels spin or the machine slides"),
            say("water runs in the trail, or mud flows out of the ruts"),
            say("rain or thaw makes the ground softer than planned"),
            say("a chain or track rubs, is loose or walks off"),
            say("it is steeper than the manual or the site's rule allows"),
            say("anybody is unsure. Everybody may stop the work"),
        ],
        "ruts_title": say("Look behind the first machine, and again after rain"),
        "ruts": [
            say("Print only: go on as planned, and look again."),
            say("Shoulders pushed up: slow down, tell the planner."),
            say("Soil flows like mud: stop at once."),
        ],
        "rule": _rule(profile, figures),
        "cautions": [
            say("Go straight up and down. Overturning, braking and steering are not assessed."),
            say("Aids do not make the machine more stable."),
            say("Never free a bogged machine alone."),
        ],
    }


def _rule(profile: RuleProfile | None, figures: Figures) -> list[str]:
    say, term = figures.words.say, figures.words.term
    if profile is None:
        return [say("Site's rule: none was named for this plan. Ask which one holds.")]
    lines = [_rule_title(profile, figures)]
    mineral, organic = profile.depth_mineral_cm, profile.depth_organic_cm
    if mineral is not None and profile.is_about_ruts:
        lines.append(
            say("On mineral soil a rut counts over {depth}.", depth=figures.depth(mineral))
        )
    if organic is not None and profile.is_about_ruts:
        lines.append(
            say("On organic soil a rut counts over {depth}.", depth=figures.depth(organic))
        )
    if profile.max_share is not None and profile.is_about_ruts:
        share = figures.share(profile.max_share)
        if profile.max_share == 0:
            lines.append(say("None is allowed."))
        elif profile.share_of == "trail length":
            lines.append(say("At most {share} of the trail length.", share=share))
        elif profile.share_of == "block area":
            lines.append(say("At most {share} of the block's area.", share=share))
    if profile.effects:
        lines.append(say("None of the effects that the report lists may occur."))
    standing = ", ".join(term(part) for part in (profile.date, profile.status) if part)
    lines.append(say("Dated copy ({standing}): check the current text.", standing=standing))
    return lines


def _rule_title(profile: RuleProfile, figures: Figures) -> str:
    """The rule by its title. Titles of the shipped rules are English: elsewhere the report has it.

    A title that the block file gives is in its planner's words and stays.
    """
    say = figures.words.say
    if figures.words.language != "en" and profile == rule_profiles().get(profile.key):
        return say("Site's rule: the one named in the report.")
    place = f" ({short_name(profile.place, 40)})" if profile.place else ""
    return say("Site's rule: {title}.", title=short_name(profile.title, 120) + place)


def _pressures(plan: Plan, figures: Figures) -> list[str]:
    """The pressures that the plan was computed with, and how they stand to the chart."""
    say = figures.words.say
    computed = [_computed_kpa(plan, number) for number in (0, 1)]
    charted = [group.tyre.charted_inflation_kpa for group in plan.machine.groups]
    places = [_axle(group, figures) for group in plan.machine.groups]
    if computed[0] == computed[1] and charted[0] == charted[1]:
        places, computed, charted = [say("Front and rear")], computed[:1], charted[:1]
    lines = []
    for where, kpa, chart in zip(places, computed, charted, strict=True):
        if chart is None:
            words = mark(
                "{where}: tyres {pressure}, cold, in this plan. Charted pressure not known. Ask: "
                "{line}"
            )
        elif kpa < chart:
            words = mark(
                "{where}: tyres {pressure}, cold, in this plan: below the chart's {charted}. Ask "
                "which holds for this load."
            )
        else:
            words = mark("{where}: tyres {pressure}, cold, as charted.")
        given = {"where": where, "pressure": figures.pressure(kpa)}
        if chart is None:
            given["line"] = BLANK
        elif kpa < chart:
            given["charted"] = figures.pressure(chart)
        lines.append(say(words, **given))
    return lines


def _computed_kpa(plan: Plan, number: int) -> float:
    """Inflation in kPa that the shown setup was computed with on the front (0) or rear (1) group.

    A plan without the setup's aids gives the pressure that the machine file sets.
    """
    group = plan.machine.groups[number]
    if plan.shown_setup is None:
        return group.tyre.inflation_kpa
    computed = mounted(group, plan.shown_setup.mounts[number]).inflation_kpa
    return computed if np.isfinite(computed) else group.tyre.inflation_kpa


def _carries(worn: tuple[AxleLoadout, AxleLoadout], kind: str) -> bool:
    """Whether an axle carries the kind, or might: its aid is known by name only."""
    return any(bool(item.names) and (item.kinds is None or kind in item.kinds) for item in worn)


def _axle(group: AxleGroup, figures: Figures) -> str:
    say = figures.words.say
    if group.kind == "bogie":
        return say("Front bogie") if group.name == "front" else say("Rear bogie")
    return say("Front axle") if group.name == "front" else say("Rear axle")


def _names(item: AxleLoadout, figures: Figures) -> str:
    term = figures.words.term
    return " + ".join(short_name(term(name), 60) for name in item.names) or term("no aid")


def _row(plan: Plan) -> dict[str, Any]:
    table = plan.ranking.setups
    rows = table[table["setup"] == plan.ranking.shown]
    return {str(key): value for key, value in rows.iloc[0].items()} if len(rows) else {}
