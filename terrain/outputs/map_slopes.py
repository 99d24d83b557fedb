"""What the slopes of each trail ask beside traction: ratings exceeded, slopes that rules name."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.decision.rating_places import ANY_RATING
from terrain.decision.results import Plan
from terrain.models.site_rules import rule_texts
from terrain.outputs.brief_steep import BRAKING
from terrain.outputs.document import named
from terrain.outputs.load_words import unrated
from terrain.outputs.page_parts import rows_of
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN

__all__ = [
    "OWN_ONLY",
    "rating_items",
    "rating_rows",
    "rating_words",
    "rule_slope_words",
    "rule_slopes",
    "steep_items",
    "steep_rows",
]

Items = list[dict[str, Any]]

OWN_ONLY = "told for the plan's own setup only"
"""Said of ratings on slopes where another setup is looked at."""

_LABEL = "Over a level rating on slopes"
_ASK = "ask the manufacturer"
_BRAKING = f"; {BRAKING}"
_NO_RATING = "no rating in the machine file to hold it against"


def rating_words(plan: Plan, shown: Shown = METRIC) -> str:
    """Say over how many metres the plan's own setup exceeds a level rating; for the verdict.

    Empty for a plan that holds no ratings at all.
    """
    places = plan.rating_places
    if places is None:
        return _words_without_places(plan, shown)
    if not len(places):
        return f"Ratings on slopes: {_NO_RATING}."
    whole = places[places["rating"] == ANY_RATING]
    told = _metres(whole["over_balanced_m"].sum(), whole["over_m"].sum(), shown)
    blind = float(whole["unknown_m"].sum())
    gap = f" On {shown.length(blind)} a share is not known in full." if blind > 0 else ""
    missing = ", ".join(unrated(plan))
    gap += f" No rating that holds is known for {missing}." if missing else ""
    if not told:
        return f"{_LABEL}: on no metre that was assessed.{gap}"
    return f"{_LABEL}: {told}; {_ASK}.{gap}"


def _words_without_places(plan: Plan, shown: Shown) -> str:
    if plan.ratings is None:
        return ""
    own = plan.ratings[plan.ratings["setup"] == plan.ranking.shown]
    over = own[own["over_m"] > 0]
    if not len(over):
        return ""
    worst = rows_of(over.sort_values(["over_balanced_m", "over_m"], kind="stable"))[-1]
    told = _metres(worst["over_balanced_m"], worst["over_m"], shown)
    return f"{_LABEL} ({worst['rating']}, {worst['state']}): {told}; {_ASK}."


def _metres(balanced_m: float, over_m: float, shown: Shown) -> str:
    """Metres over a rating, in the cases of a bogie that differ; empty for none."""
    if over_m > 0 and balanced_m == 0:
        return f"{shown.length(over_m)}, only if bogies pivot freely"
    if over_m > balanced_m:
        both = f"{shown.length(balanced_m)} with balanced bogies"
        return f"{both}, {shown.length(over_m)} if they pivot freely"
    return shown.length(balanced_m) if balanced_m > 0 else ""


def rating_rows(plan: Plan, shown: Shown = METRIC) -> dict[str, list[list[str]]]:
    """Rows of the strip's table by trail, for the plan's own setup.

    Empty where the plan has no table of places; then nothing is known by trail.
    """
    places = plan.rating_places
    if places is None:
        return {}
    if not len(places):
        trails = plan.stations["trail"].astype(str).unique()
        return {str(name): [[_LABEL, _NO_RATING]] for name in trails}
    missing = unrated(plan)
    gap = [["No rating that holds is known", ", ".join(missing)]] if missing else []
    return {
        str(trail): [*_rows_of_trail(rows_of(here), shown), *gap]
        for trail, here in places.groupby("trail", sort=False)
    }


def _rows_of_trail(lines: list[dict[str, Any]], shown: Shown) -> list[list[str]]:
    whole = next(line for line in lines if line["rating"] == ANY_RATING)
    if np.isnan(whole["over_m"]):
        return [[_LABEL, UNKNOWN]]
    told = _metres(whole["over_balanced_m"], whole["over_m"], shown)
    blind = f"; {shown.length(whole['unknown_m'])} {UNKNOWN}" if whole["unknown_m"] > 0 else ""
    if not told:
        return [[_LABEL, f"no metre{blind}"]]
    rows = [[_LABEL, f"{told}; {_ASK}{blind}"]]
    if whole["over_balanced_m"] > 0:
        largest = f"{shown.percent(whole['largest_share'])} of it at {shown.length(whole['at_m'])}"
        rows.append(["Largest load over a rating", largest])
    over = [line for line in lines if line["rating"] != ANY_RATING and line["over_m"] > 0]
    parts = [
        f"{line['rating']} {_metres(line['over_balanced_m'], line['over_m'], shown)}"
        for line in over
    ]
    return [*rows, ["Ratings exceeded", "; ".join(parts)]]


def rating_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Trails on which the plan's own setup exceeds a level rating, most metres first."""
    places = plan.rating_places
    if places is None or not len(places):
        return []
    over = places[(places["rating"] == ANY_RATING) & (places["over_m"] > 0)]
    over = over.sort_values(["over_balanced_m", "over_m"], ascending=False, kind="stable")
    items = []
    for line in rows_of(over):
        trail, balanced_m, over_m = str(line["trail"]), line["over_balanced_m"], line["over_m"]
        if balanced_m > 0:
            largest = shown.percent(line["largest_share"])
            words = f"{shown.length(balanced_m)}, up to {largest}"
            if over_m > balanced_m:
                words += f"; {shown.length(over_m)} if bogies pivot freely"
        else:
            words = _metres(balanced_m, over_m, shown)
        items.append(
            {
                "t": trail,
                "at": round(float(line["at_m"]), 1),
                "words": f"{named(trail)}: {words}",
            }
        )
    return items


def rule_slopes() -> list[tuple[float, str]]:
    """Slopes (ratios, smallest first) that the rules that were read name, and who for what."""
    by: dict[float, list[str]] = {}
    for line in rule_texts().values():
        for trigger in line.triggers:
            by.setdefault(trigger.slope, []).append(f"{line.place} ({trigger.meant_for})")
    return [(slope, "; ".join(by[slope])) for slope in sorted(by)]


def steep_rows(plan: Plan, shown: Shown = METRIC) -> dict[str, list[list[str]]]:
    """Rows of the strip's table by trail: metres steeper than the slopes that rules name.

    Along the trail, and the ground in its steepest direction, because the texts do not say which
    of the two they mean.
    """
    made = {}
    for trail, here in plan.stations.groupby(plan.stations["trail"].astype(str), sort=False):
        length = here["length_m"].to_numpy(dtype=float)
        along = np.abs(here["grade"].to_numpy(dtype=float))
        ground = here["slope"].to_numpy(dtype=float)
        made[str(trail)] = [
            ["Steeper than slopes that rules name, along the trail", _passed(along, length, shown)],
            ["The same, the ground itself", _passed(ground, length, shown)],
        ]
    return made


def _passed(slope: NDArray[np.float64], length: NDArray[np.float64], shown: Shown) -> str:
    """Metres over each of the slopes that rules name; the unknown ones too."""
    parts = []
    for limit, _ in rule_slopes():
        metres = float(length[slope > limit].sum())
        if metres > 0:
            parts.append(f"over {shown.slope(limit)} on {shown.length(metres)}")
    blind = float(length[np.isnan(slope)].sum())
    if blind > 0:
        parts.append(f"{shown.length(blind)} {UNKNOWN}")
    return "; ".join(parts) or "no metre"


def steep_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Trails that are steeper along them than a slope that a rule names, steepest first.

    ``at`` is the chainage of the steepest place; "down loaded" is said of the travel toward the
    landing, where the machine brakes with its load.
    """
    lowest, items = rule_slopes()[0][0], []
    for trail, here in plan.stations.groupby(plan.stations["trail"].astype(str), sort=False):
        grade = here["grade"].to_numpy(dtype=float)
        steep = np.abs(grade)
        if not (steep > lowest).any():
            continue
        length, at = here["length_m"].to_numpy(dtype=float), int(np.nanargmax(steep))
        down = grade[at] < 0
        words = (
            f"{named(str(trail))}: {shown.slope(steep[at])} {'down' if down else 'up'} loaded; "
            f"{_passed(steep, length, shown)}{_BRAKING if down else ''}"
        )
        place = round(float(here["chainage_m"].iloc[at]), 1)
        items.append((-steep[at], {"t": str(trail), "at": place, "words": words}))
    return [item for _, item in sorted(items, key=lambda pair: pair[0])]


def rule_slope_words(shown: Shown = METRIC) -> str:
    """Who names which slope, and for what; for the note under the list."""
    return ". ".join(f"{shown.slope(slope)}: {who}" for slope, who in rule_slopes()) + "."
