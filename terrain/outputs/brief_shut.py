"""What a plan does not drive: closed trails, stretches that do not hold, water without a crossing.

Brief, map, and the files for phones and receivers ask here, so that they never say two things.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import shapely

from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing, place_name
from terrain.outputs.page_parts import keyed, rows_of, without_geometry

__all__ = [
    "AT_CROSSING",
    "IN_WATER",
    "KEEP_OUT",
    "NOT_KNOWN",
    "ON_CLOSED",
    "OPEN",
    "WaterStop",
    "behind_water",
    "closed_crossings",
    "closed_trails",
    "falls_short",
    "stretch_places",
    "unsure_trails",
    "water_stops",
]

KEEP_OUT = "keep out"
ON_CLOSED = "on a closed trail"
IN_WATER = "in water without a crossing"
NOT_KNOWN = "not known whether the setup holds"
AT_CROSSING = "at a crossing"
OPEN = "open"


@dataclass(frozen=True, slots=True)
class WaterStop:
    """A stretch of trail that meets water at which no crossing is mapped.

    ``name`` is that of :func:`terrain.decision.water_met.place_name`; ``from_m`` and ``to_m`` are
    metres along the trail as drawn; ``point`` is its middle in the working CRS.
    """

    name: str
    trail: str
    from_m: float
    to_m: float
    point: shapely.Point


def closed_trails(plan: Plan) -> list[str]:
    """Trails that the shown setup cannot use, or not reach, in the plan's ground state."""
    table = plan.trail_states
    if table is None:
        return []
    usable = table[f"usable_{plan.settings.ground.state}"].astype("boolean")
    shut = (~usable.fillna(True)).to_numpy(dtype=bool)
    return [str(name) for name in table["trail"].to_numpy()[shut]]


def unsure_trails(plan: Plan) -> list[str]:
    """Trails of which nobody knows whether the shown setup can use them.

    Those with water on the way at which no crossing is mapped are told apart from them, by
    :func:`water_stops` and :func:`behind_water`.
    """
    table = plan.trail_states
    if table is None:
        return []
    unknown = table[f"usable_{plan.settings.ground.state}"].isna()
    dry = table[["water_here", "water_on_way"]].isna().all(axis=1)
    return [str(name) for name in table.loc[unknown & dry, "trail"]]


def falls_short(row: dict[str, Any]) -> bool:
    """Whether the shown setup falls short on this stretch (a row of ``bottlenecks``).

    Where its reserve is not known it is False, and :func:`stretch_places` says that it is not.
    """
    return row["kind"] == "no listed setup passes" or float(row["shown_reserve"]) < 0


def water_stops(plan: Plan) -> list[WaterStop]:
    """Every place where a trail meets water without a mapped crossing."""
    if plan.wet_ground is None:
        return []
    trails = keyed(plan.trails, "trail")
    lines = dict(zip(trails["trail"].astype(str), plan.trails.geometry.values, strict=True))
    stops = []
    for row in rows_of(plan.wet_ground.water_runs):
        if has_crossing(row):
            continue
        trail, start, end = str(row["trail"]), float(row["from_m"]), float(row["to_m"])
        point = lines[trail].interpolate((start + end) / 2)
        stops.append(WaterStop(place_name(row), trail, start, end, point))
    return stops


def behind_water(plan: Plan) -> list[str]:
    """Trails whose way to the landing leads through water without a crossing on another trail.

    A trail with such water on itself is not among them for that reason.
    """
    table = plan.trail_states
    if table is None:
        return []
    return [str(name) for name in table.loc[table["water_on_way"].notna(), "trail"]]


def stretch_places(plan: Plan) -> list[str]:
    """What each row of ``bottlenecks`` is for the driver, the most forbidding word first.

    One of :data:`KEEP_OUT` (the shown setup falls short), :data:`ON_CLOSED`, :data:`IN_WATER`,
    :data:`NOT_KNOWN` (its reserve is not known there), :data:`AT_CROSSING` and :data:`OPEN`.
    """
    if plan.bottlenecks is None:
        return []
    closed = set(closed_trails(plan))
    lost = [(stop.trail, stop.from_m, stop.to_m) for stop in water_stops(plan)]
    wet = [] if plan.wet_ground is None else rows_of(plan.wet_ground.water_runs)
    bridged = [
        (str(run["trail"]), float(run["from_m"]), float(run["to_m"]))
        for run in wet
        if has_crossing(run)
    ]
    places = []
    for row in rows_of(without_geometry(plan.bottlenecks)):
        if falls_short(row):
            places.append(KEEP_OUT)
        elif str(row["trail"]) in closed:
            places.append(ON_CLOSED)
        elif _meets(row, lost):
            places.append(IN_WATER)
        elif math.isnan(float(row["shown_reserve"])):
            places.append(NOT_KNOWN)
        elif _meets(row, bridged):
            places.append(AT_CROSSING)
        else:
            places.append(OPEN)
    return places


def closed_crossings(plan: Plan) -> dict[str, list[str]]:
    """Crossings that only closed trails use, with those trails."""
    if plan.wet_ground is None:
        return {}
    closed = set(closed_trails(plan))
    users: dict[str, list[str]] = {}
    for row in rows_of(plan.wet_ground.water_runs):
        if has_crossing(row):
            trails = users.setdefault(str(row["crossing"]), [])
            if str(row["trail"]) not in trails:
                trails.append(str(row["trail"]))
    return {name: trails for name, trails in users.items() if closed.issuperset(trails)}


def _meets(row: dict[str, Any], runs: list[tuple[str, float, float]]) -> bool:
    """Whether the stretch shares metres with one of the runs (trail, from, to)."""
    return any(
        str(row["trail"]) == trail and float(row["from_m"]) < end and start < float(row["to_m"])
        for trail, start, end in runs
    )
