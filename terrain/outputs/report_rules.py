"""Report: the site's rule, the rules that were read, and what is steeper than the slopes named."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.results import Plan
from terrain.models.site_rules import DATED_COPY, RuleProfile, rule_texts
from terrain.outputs.document import (
    Block,
    Bullets,
    Heading,
    Paragraph,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import count
from terrain.sources import all_sources
from terrain.units import INCH_M

__all__ = ["depth_words", "rule_blocks", "site_rule_blocks"]

_MOST_TRAILS = 4


def site_rule_blocks(profile: RuleProfile | None, shown: Shown) -> list[Block]:
    """Return the rule that the block is held against, with its depths and its standing."""
    if profile is None:
        words = (
            "in the block file ([site_rules] profile), so nothing was held against one. The "
            "command "
            "rutwise rules lists rules that were read, each a dated copy."
        )
        return [Paragraph(words, "No rule is named")]
    known = all_sources().get(profile.source)
    source = (known.citation if known else profile.source).rstrip(".")
    place = f" ({profile.place})" if profile.place else ""
    where = f"; {profile.where}" if profile.where else ""
    remark = f" {profile.note.capitalize()}." if profile.note else ""
    blocks: list[Block] = [
        Paragraph(
            f"{profile.title}{place}. {_depth_sentence(profile, shown)}Depth is measured from: "
            f"{profile.reference_surface}. If exceeded: {profile.action}.",
            "Rule held against:",
        ),
        Paragraph(
            f"{source}{where}; {profile.date}; standing: {profile.status}. "
            f"{DATED_COPY.capitalize()}.{remark}",
            style="note",
        ),
    ]
    if profile.effects:
        effects = tuple(("", text) for text in profile.effects)
        blocks += [Paragraph("Effects that must not occur:"), Bullets(effects)]
    return blocks


def depth_words(profile: RuleProfile, shown: Shown) -> str:
    """Depths of the rule by soil: ``10 cm on mineral soil, 20 cm on organic soil``."""

    def depth(value: float) -> str:
        inches = f" ({value * 0.01 / INCH_M:.1f} in)" if shown.is_us else ""
        return f"{value:g} cm{inches}"

    mineral, organic = profile.depth_mineral_cm, profile.depth_organic_cm
    if mineral is not None and mineral == organic:
        return f"{depth(mineral)} on any soil"
    return ", ".join(
        f"{depth(value)} on {soil} soil"
        for value, soil in ((mineral, "mineral"), (organic, "organic"))
        if value is not None
    )


def _depth_sentence(profile: RuleProfile, shown: Shown) -> str:
    depths = depth_words(profile, shown)
    if not profile.is_about_ruts or not depths:
        return ""
    run = profile.min_length_m
    digits = 1 if shown.is_us or run % 1 else 0
    over = f", where it runs on for at least {shown.amount(run, 'm', digits)}" if run else ""
    silent = "".join(
        f" For {soil} soil it gives no depth: metres on it count as not predicted."
        for soil, value in (
            ("mineral", profile.depth_mineral_cm), ("organic", profile.depth_organic_cm),
        )
        if value is None
    )  # fmt: skip
    return f"A rut counts when deeper than {depths}{over}.{silent} "


def rule_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return the rules that were read as sentences, and the metres beyond the slopes they name."""
    return [
        Heading("Stop rules and slope triggers that were read"),
        Bullets(tuple(_read_rules())),
        Heading("Steeper than the slopes that those rules name", 3),
        _steeper(plan, shown),
        Paragraph(
            "For information, never as permission: none of these rules is held to apply here, each "
            "has conditions, and staying below a slope makes nothing safe. The texts read do not "
            "say whether they mean the slope of the ground or of the travel, so both are told: the "
            "ground in its steepest direction, and the grade along the trail, up or down. "
            f"{_scale(plan, shown)}",
            style="note",
        ),
    ]


def _read_rules() -> list[tuple[str, str]]:
    """Place and kind, and text, of every rule that was read as a sentence."""
    sources = all_sources()
    found = []
    for line in rule_texts().values():
        note = f" {line.note.capitalize()}." if line.note else ""
        found.append(
            (
                f"{line.place}, {line.kind}:",
                f"{line.text} {line.conditions}{note} {sources[line.source].citation} "
                f"{DATED_COPY.capitalize()}.",
            )
        )
    return found


def _steeper(plan: Plan, shown: Shown) -> Table:
    named_by: dict[float, list[str]] = {}
    for line in rule_texts().values():
        for trigger in line.triggers:
            named_by.setdefault(trigger.slope, []).append(f"{line.place} ({trigger.meant_for})")
    slope = plan.stations["slope"].to_numpy(dtype=float)
    grade = np.abs(plan.stations["grade"].to_numpy(dtype=float))
    rows = tuple(
        row(
            shown.slope(limit),
            "; ".join(named_by[limit]),
            *_beyond(plan, slope > limit, shown),
            *_beyond(plan, grade > limit, shown),
        )
        for limit in sorted(named_by)
    )
    columns = (
        *texts("Steeper than", "Named by (for)"), *numbers("Ground"), *texts("Trails"),
        *numbers("Along the trail"), *texts("Trails"),
    )  # fmt: skip
    return Table(columns, rows)


def _beyond(plan: Plan, over: NDArray[np.bool_], shown: Shown) -> tuple[str, str]:
    """Metres of the stations ``over``, and their trails with the metres of each, most first."""
    length = plan.stations["length_m"].where(over, 0.0)
    by_trail = pd.Series(length.to_numpy(), index=plan.stations["trail"].astype(str).to_numpy())
    sums = by_trail.groupby(level=0, sort=False).sum().sort_values(ascending=False, kind="stable")
    sums = sums[sums > 0]
    if not len(sums):
        return shown.length(0.0), "none"
    told = [
        f"{named(str(name))} {shown.length(metres)}" for name, metres in sums[:_MOST_TRAILS].items()
    ]
    rest = len(sums) - len(told)
    more = f" and {count(rest, 'more trail')}" if rest else ""
    return shown.length(float(sums.sum())), f"{', '.join(told)}{more}"


def _scale(plan: Plan, shown: Shown) -> str:
    unknown = plan.stations[["slope", "grade"]].isna().any(axis=1)
    blind = float(plan.stations.loc[unknown, "length_m"].sum())
    gap = f" On {shown.length(blind)} the slope is not known." if blind > 0 else ""
    window = shown.length(plan.settings.terrain.machine_scale_m)
    return f"Both are levelled over {window}; a short pitch can be steeper.{gap}"
