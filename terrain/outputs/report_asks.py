"""Page one of the report: what a figure of this plan cannot settle, and whom to ask about it."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.crane_places import crane_sentences
from terrain.decision.ratings import ANSWERS, OVER, set_too_soft
from terrain.decision.results import Plan
from terrain.decision.stability_checks import tip_sentences
from terrain.outputs.brief_shut import water_stops
from terrain.outputs.brief_steep import lowest_trigger, steep_trails
from terrain.outputs.document import clipped, named
from terrain.outputs.load_words import load_range
from terrain.outputs.page_parts import rows_of
from terrain.outputs.report_ratings import held_mass
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import listed

__all__ = ["ask_answers"]

_MOST_RATINGS = 2
_MOST_PLACES = 4


def ask_answers(plan: Plan, shown: Shown) -> list[tuple[str, str]]:
    """Questions with their words: tipping, ratings, steep trails, water without a crossing."""
    found = []
    if plan.tip_places is not None:
        tipping = [shown.sentence(text) for text in tip_sentences(plan.tip_places, _MOST_PLACES)]
        if tipping:
            found.append(("Tipping over", " ".join(tipping)))
    loads = load_range(plan, shown)
    if loads:
        found.append(("Load", loads))
    if plan.crane_places is not None:
        parts = [*crane_sentences(plan.crane_places, _MOST_PLACES), _crane_ratings(plan)]
        reaching = [shown.sentence(text) for text in parts if text]
        if reaching:
            found.append(("With the crane out", " ".join(reaching)))
    ratings = _ratings(plan, shown)
    if ratings:
        found.append(("Ask the manufacturer about", ratings))
    steep = _steep(plan, shown)
    if steep:
        found.append(("Steep", steep))
    water = [
        f"{named(clipped(stop.trail))} ({shown.length(stop.from_m)} to {shown.length(stop.to_m)})"
        for stop in water_stops(plan)
    ]
    if water:
        told = f"{listed(water, _MOST_PLACES)}. Stop and ask there; timber behind it is counted as "
        found.append(("Water, no crossing", told + "if a crossing were there."))
    return found


def _crane_ratings(plan: Plan) -> str:
    """Ratings that the shown setup exceeds with its crane out, in a sentence; or empty."""
    table = plan.crane_checks
    if table is None:
        return ""
    own = table[(table["setup"] == plan.ranking.shown) & table["near_m"].isna()]
    over = own[(own["over_m"] > 0) | (own["level_share"] > OVER)]
    if not len(over):
        return ""
    parts = [
        f"{line['check']}, {line['state']}, {_most(line)}"
        + (" (on level ground too)" if line["level_share"] > OVER else "")
        for line in rows_of(over.sort_values("largest_share", ascending=False, kind="stable"))
    ]
    told = listed(parts, _MOST_RATINGS, "more below")
    return f"Over a rating: {told}. Ask the manufacturer what holds standing still."


def _most(line: dict[str, Any]) -> str:
    """How far a rating is exceeded at most; the least of it for tyres that are set too soft."""
    if line["largest_share"] < 1.005:
        return "just over it"
    least = "at least " if set_too_soft(str(line["answer"])) else ""
    return f"up to {least}{100 * line['largest_share']:.0f} %"


def _steep(plan: Plan, shown: Shown) -> str:
    """Open trails beyond the lowest slope that a rule names for such a machine."""
    trails = steep_trails(plan)
    if not trails:
        return ""
    parts = []
    for one in trails:
        ways = [
            f"{way} loaded {shown.slope(slope)}"
            for way, slope in (("down", one.down), ("up", one.up))
            if np.isfinite(slope)
        ]
        parts.append(f"{named(clipped(one.trail))} {', '.join(ways)}")
    return (
        f"Over {shown.slope(lowest_trigger(plan.machine.kind))}, from which rules that were read "
        f"ask for more: {listed(parts, _MOST_PLACES)}. Braking was not assessed: ask before "
        "driving."
    )


def _ratings(plan: Plan, shown: Shown) -> str:
    """Ratings that the shown setup exceeds, those over on most metres first."""
    if plan.ratings is None or not len(plan.ratings):
        return ""
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    over = own[(own["over_m"] > 0) | (own["level_share"] > 1)]
    over = over.sort_values(["over_balanced_m", "over_m"], ascending=False, kind="stable")
    lines = [
        f"{line['rating']}, {line['state']}: {_level(line, shown)}{_over(line, shown)}"
        f"{_holding(line, shown)}"
        for line in rows_of(over)
    ]
    parts = []
    if lines:
        told = listed(lines, _MOST_RATINGS, "more below")
        parts.append(f"{told[:1].upper()}{told[1:]}.")
    unrated = own.loc[own["answer"] == ANSWERS["none"], "rating"].unique()
    if len(unrated):
        parts.append(f"No rating in the machine file: {', '.join(unrated)}.")
    soft = own.loc[own["answer"].map(set_too_soft).astype(bool), "rating"].unique()
    if len(soft):
        parts.append(f"Not known at the pressure that is set: {', '.join(soft)}.")
    judged = ~own["answer"].map(set_too_soft).astype(bool) & (own["answer"] != ANSWERS["none"])
    unknown = own.loc[judged, "unknown_m"]
    if len(unknown) and unknown.max() > 0:
        parts.append(f"On {shown.length(unknown.max())} a share is not known in full.")
    return " ".join(parts) or "Every rating in the machine file holds on all assessed slopes."


def _level(line: dict[str, Any], shown: Shown) -> str:
    """Share of the rating on level ground; nothing where it is not known."""
    if np.isnan(line["level_share"]):
        return ""
    return f"{shown.percent(line['level_share'])} of the rating on the level, "


def _over(line: dict[str, Any], shown: Shown) -> str:
    """How far and how much a rating is exceeded; for tyres of a bogie in both cases."""
    least = "at least " if set_too_soft(str(line["answer"])) else ""
    most = f"up to {least}{shown.percent(line['largest_share'])}"
    if line["over_m"] == line["over_balanced_m"]:
        return f"over it on {shown.length(line['over_m'])} of slopes, {most}"
    free = f"on {shown.length(line['over_m'])} if the bogie pivots freely, {most}"
    if line["over_balanced_m"] == 0:
        return f"over it {free}"
    balanced = f"up to {least}{shown.percent(line['balanced_share'])}"
    return (
        f"over it on {shown.length(line['over_balanced_m'])} of slopes with balanced bogies, "
        f"{balanced}; {free}"
    )


def _holding(line: dict[str, Any], shown: Shown) -> str:
    """The load that would hold the rating on every assessed slope, where there is one."""
    balanced, free = line["holding_payload_balanced_kg"], line["holding_payload_free_kg"]
    known = [held_mass(kilograms, shown) for kilograms in (balanced, free) if kilograms > 0]
    return f" (a load of {' or '.join(dict.fromkeys(known))} holds it everywhere)" if known else ""
