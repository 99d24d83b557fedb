"""The trails on the map as plain data: names, weak stretches, arrows, and which ones are shut."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer

from terrain.decision.bottlenecks import GRIP_KINDS
from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.models.soil import MOISTURE_STATES
from terrain.outputs.brief_steep import BRAKING, steep_stretch
from terrain.outputs.document import Paragraph, tidied
from terrain.outputs.geometry import to_degrees
from terrain.outputs.map_classes import STRETCH_LOOKS
from terrain.outputs.page_parts import keyed, rows_of
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN

__all__ = [
    "SHUT",
    "SHUT_ON_THE_WAY",
    "USE_UNKNOWN",
    "arrow_items",
    "label_items",
    "latlon",
    "one_way",
    "stretch_items",
    "stretch_table",
    "trail_rows",
    "trail_use",
    "unknown_use",
    "water_words",
]

Items = list[dict[str, Any]]
_WALK = "not known whether it can be used: walk it first"
_WATER = "water without a mapped crossing: stop and ask"

SHUT, SHUT_ON_THE_WAY, USE_UNKNOWN = "shut", "way", "unknown"
"""Why a trail cannot be used: short of traction itself, on the way to the landing; or not known."""


def latlon(geometry: shapely.Geometry) -> list[list[float]]:
    """Coordinates of ``geometry`` (in degrees) as latitude and longitude, the map's order."""
    return shapely.get_coordinates(geometry)[:, ::-1].tolist()


def one_way(text: str, shown: Shown = METRIC) -> str:
    """Write the amounts of a sentence as the report does: ``6 521 m``, ``419 m³``."""
    (block,) = tidied([Paragraph(text)], shown)
    assert isinstance(block, Paragraph)
    return block.text


def _steepest(up: float, down: float, shown: Shown) -> list[list[str]]:
    uphill, downhill = shown.steepest(up, down)
    return [["Steepest uphill, loaded", uphill], ["Steepest downhill, loaded", downhill]]


def trail_rows(row: pd.Series, shown: Shown = METRIC) -> list[list[str]]:
    """Figures of a whole trail that no setup changes; ``row`` is one of the trail table."""
    trail_class = row.get("trail_class")
    return [
        ["Class", str(trail_class) if isinstance(trail_class, str) else "not given"],
        ["Length", shown.length(row["length_m"])],
        *_steepest(row["steepest_up"], row["steepest_down"], shown),
        ["Steepest cross slope", shown.slope(row["steepest_cross"])],
    ]


def label_items(plan: Plan) -> Items:
    """Trail names with the places along the trail where a name may stand."""
    moved = to_degrees(plan.dem.crs)
    return [
        {
            "l": str(row["trail"]),
            "ats": [
                latlon(moved(row["geometry"].interpolate(share, normalized=True)))[0]
                for share in (0.5, 0.35, 0.65, 0.2, 0.8)
            ],
        }
        for _, row in keyed(plan.trails, "trail").iterrows()
    ]


def stretch_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Weak stretches with id, trail, chainages and the figures of their pop-up."""
    if plan.bottlenecks is None or not len(plan.bottlenecks):
        return []
    moved = to_degrees(plan.dem.crs)
    kinds = [kind for kind, _ in STRETCH_LOOKS]
    return [
        {
            "id": str(row["stretch"]),
            "t": str(row["trail"]),
            "from": round(float(row["from_m"]), 1),
            "to": round(float(row["to_m"]), 1),
            "worst": round(float(row["worst_m"]), 1),
            "k": kinds.index(row["kind"]),
            "dash": STRETCH_LOOKS[kinds.index(row["kind"])][1],
            "kind": str(row["kind"]),
            "p": latlon(moved(row["geometry"])),
            "r": _stretch_rows(plan, row, shown),
        }
        for _, row in keyed(plan.bottlenecks, "stretch").iterrows()
    ]


def _stretch_rows(plan: Plan, row: pd.Series, shown: Shown) -> list[list[str]]:
    cause = row["cause"]
    return [
        ["Kind", str(row["kind"])],
        *([["Water", _WATER]] if _in_water(plan, row) else []),
        ["Length", shown.length(row["length_m"])],
        ["What makes it weak", cause if isinstance(cause, str) and cause else UNKNOWN],
        *(
            [["Lightest usual setup that passes", _needed(plan, row["needs"])]]
            if _about_grip(plan, row)
            else []
        ),
        ["Smallest reserve there, shown setup", shown.slope(row["shown_reserve"])],
        *_steepest(row["grade_up"], row["grade_down"], shown),
        *([["Steep", BRAKING]] if steep_stretch(row, plan.machine.kind) else []),
        ["Steepest cross slope", shown.slope(row["cross_slope"])],
        ["Soil's likely strength, lowest", shown.pressure(row["cone_index_kpa"])],
    ]


def _about_grip(plan: Plan, row: pd.Series) -> bool:
    """Whether another setup is the question there; it never is where water has no crossing."""
    return row["kind"] in GRIP_KINDS and not _in_water(plan, row)


def _in_water(plan: Plan, row: pd.Series) -> bool:
    """Whether a stretch takes in water that is met without a mapped crossing."""
    runs = [] if plan.wet_ground is None else rows_of(plan.wet_ground.water_runs)
    return any(
        run["trail"] == row["trail"]
        and run["from_m"] < row["to_m"]
        and run["to_m"] > row["from_m"]
        and not has_crossing(run)
        for run in runs
    )


def _needed(plan: Plan, needs: Any) -> str:
    table = plan.ranking.setups.set_index("setup")["description"]
    return "no listed setup" if pd.isna(needs) else str(table.get(needs, needs))


def stretch_table(plan: Plan, shown: Shown = METRIC) -> list[list[str]]:
    """Cells of the list of weak stretches that is printed below the map, most pressing first.

    Name, from and to along the trail, kind, smallest reserve of the shown setup, lightest usual
    setup that passes.
    """
    if plan.bottlenecks is None:
        return []
    return [
        [
            str(row["stretch"]),
            f"{shown.bare(row['from_m'], 'm')} to {shown.length(row['to_m'])}",
            str(row["kind"]) + (f"; {_WATER}" if _in_water(plan, row) else ""),
            shown.slope(row["shown_reserve"]),
            _needed(plan, row["needs"]) if _about_grip(plan, row) else "\N{EN DASH}",
        ]
        for _, row in plan.bottlenecks.iterrows()
    ]


def trail_use(plan: Plan, shown: Shown = METRIC) -> dict[str, dict[str, list[str]]]:
    """Trails that the shown setup cannot use, or of which nobody knows, by trail and state.

    Each entry is one of :data:`SHUT`, :data:`SHUT_ON_THE_WAY` and :data:`USE_UNKNOWN`, and the
    words for it. A trail that can be used has no entry. Empty for a plan without the table of
    trails by state.
    """
    table = plan.trail_states
    if table is None:
        return {}
    made: dict[str, dict[str, list[str]]] = {}
    waters = water_words(plan)
    for row in rows_of(table):
        name = str(row["trail"])
        by_state: dict[str, list[str]] = {}
        water = waters.get(name, "")
        for state in MOISTURE_STATES:
            usable = row[f"usable_{state}"]
            if pd.isna(usable):
                by_state[state] = [USE_UNKNOWN, water or _WALK]
            elif not usable:
                by_state[state] = _why_shut(plan, name, state, shown)
        made[name] = by_state
    return made


def unknown_use() -> list[str]:
    """Kind and words for a trail of which nobody knows whether it can be used."""
    return [USE_UNKNOWN, _WALK]


def water_words(plan: Plan) -> dict[str, str]:
    """What to do about water without a mapped crossing on a trail or on its way, by trail."""
    if plan.trail_states is None:
        return {}
    made = {}
    for row in rows_of(plan.trail_states):
        places = [row[where] for where in ("water_here", "water_on_way")]
        told = ", ".join(place for place in places if isinstance(place, str))
        if told:
            made[str(row["trail"])] = f"{_WATER} ({told})"
    return made


def _why_shut(plan: Plan, trail: str, state: str, shown: Shown) -> list[str]:
    own = state == plan.settings.ground.state
    answer = plan.evaluation if own else plan.evaluations.get(state)
    if answer is None:
        return [SHUT, "shut"]
    here = (plan.stations["trail"].astype(str) == trail).to_numpy()
    short = answer.reserve[:, answer.column(plan.ranking.shown)] < 0
    metres = float(plan.stations["length_m"].to_numpy(dtype=float)[here & short].sum())
    if metres > 0:
        return [SHUT, f"shut: {shown.length(metres)} of it short of traction"]
    return [SHUT_ON_THE_WAY, "shut on the way to the landing"]


def arrow_items(plan: Plan, every_m: float = 200.0) -> Items:
    """Arrows in the direction of loaded travel, about every ``every_m`` metres of trail.

    ``turn`` is clockwise from the top of the map, which is not quite grid north.
    """
    moved = to_degrees(plan.dem.crs)
    to_web = Transformer.from_crs(plan.dem.crs, "EPSG:3857", always_xy=True)
    items: Items = []
    for _, here in plan.stations.groupby("trail", sort=False):
        total = float(here["length_m"].sum())
        number = max(1, round(total / every_m))
        wanted = (np.arange(number) + 0.25) * total / number
        order = np.abs(here["chainage_m"].to_numpy()[:, None] - wanted).argmin(axis=0)
        for _, row in here.iloc[np.unique(order)].iterrows():
            heading = np.radians(row["heading_deg"])
            ahead = (row["x_m"] + 5 * np.sin(heading), row["y_m"] + 5 * np.cos(heading))
            (x0, y0), (x1, y1) = to_web.transform(row["x_m"], row["y_m"]), to_web.transform(*ahead)
            turn = round(float(np.degrees(np.arctan2(x1 - x0, y1 - y0))) % 360)
            items.append({"at": latlon(moved(row["geometry"]))[0], "turn": turn})
    return items
