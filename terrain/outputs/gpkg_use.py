"""Which trails and crossings of ``block.gpkg`` the plan drives on, and where it stops at water.

A GIS that draws the trails by their reserve alone shows a closed trail like an open one. So the
layers say it themselves, in columns that the styles draw from.
"""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd

from terrain.decision.rating_places import ANY_RATING
from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.outputs.brief_shut import (
    behind_water,
    closed_crossings,
    closed_trails,
    unsure_trails,
    water_stops,
)
from terrain.outputs.page_parts import keyed, rows_of
from terrain.outputs.rating_words import rating_places, slope_words
from terrain.outputs.shown_units import METRIC

__all__ = [
    "CLOSED_TRAIL",
    "CROSSING_IN_USE",
    "CROSSING_NOT_IN_USE",
    "CROSSING_NOT_MET",
    "IN_USE",
    "NOT_KNOWN",
    "STOP_AND_ASK",
    "use_layers",
]

CLOSED_TRAIL = "closed"
STOP_AND_ASK = "stop and ask: water without a crossing"
NOT_KNOWN = "not known"
IN_USE = "in use"
"""What a trail is in this plan; ``in use`` is the plan's answer, no permission."""

CROSSING_IN_USE = "in use"
CROSSING_NOT_IN_USE = "not in use: closed trails only"
CROSSING_NOT_MET = "no trail meets water here"


def use_layers(plan: Plan) -> dict[str, gpd.GeoDataFrame]:
    """Layers ``trails``, ``runs``, ``crossings`` and ``no_crossing``, with the columns on use.

    The columns are those of ``terrain.columns.TABLES``: ``use_of_trails``, ``use_of_runs``,
    ``use_of_crossings``, ``no_crossing``. A layer without features is left out.
    """
    from terrain.outputs.tables import runs_table  # tables puts these layers into the file

    words = _trail_words(plan)
    layers = {"trails": _trails(plan, words), "runs": _runs(runs_table(plan), words)}
    crossings, stops = _crossings(plan), _stops(plan)
    if crossings is not None and len(crossings):
        layers["crossings"] = crossings
    if len(stops):
        layers["no_crossing"] = stops
    return layers


def _trail_words(plan: Plan) -> dict[str, tuple[str, str]]:
    """Use and reason by trail."""
    closed, unsure, behind = closed_trails(plan), unsure_trails(plan), behind_water(plan)
    slopes, table = slope_words(plan), keyed(plan.trails, "trail")
    short = dict(zip(table["trail"].astype(str), table["short_m"], strict=True))
    stops: dict[str, list[str]] = {}
    for stop in water_stops(plan):
        stops.setdefault(stop.trail, []).append(stop.name)
    found = {}
    for name in short:
        reasons = []
        if name in closed and short[name] > 0:
            reasons.append(
                f"the setup to carry falls short of traction on {METRIC.length(short[name])} of it"
            )
        elif name in closed:
            reasons.append("the setup to carry falls short on the way to the landing")
        if name in stops:
            reasons.append(f"no crossing is mapped: {', '.join(stops[name])}; stop and ask")
        if name in behind:
            reasons.append(
                "water without a mapped crossing on the way to the landing; stop and ask"
            )
        if name in unsure:
            reasons.append("not assessed somewhere on it or on the way to the landing")
        reasons += [f"{label}: {text}" for label, text in slopes.get(name, ())]
        if name in closed:
            use = CLOSED_TRAIL
        elif name in stops or name in behind:
            use = STOP_AND_ASK
        elif name in unsure or plan.trail_states is None:
            use = NOT_KNOWN
        else:
            use = IN_USE
        found[name] = (use, "; ".join(reasons))
    return found


def _closed(uses: list[str]) -> Any:
    """True on a closed trail, False on one in use, NA where it has to be asked or is not known."""
    known: dict[str, Any] = {CLOSED_TRAIL: True, IN_USE: False}
    return pd.array([known.get(use, pd.NA) for use in uses], dtype="boolean")


def _trails(plan: Plan, words: dict[str, tuple[str, str]]) -> gpd.GeoDataFrame:
    layer = keyed(plan.trails, "trail")
    names = layer["trail"].astype(str)
    uses = [words[name][0] for name in names]
    layer = layer.assign(
        closed=_closed(uses),
        use=uses,
        use_words=pd.array([words[name][1] or pd.NA for name in names], dtype=object),
    )
    table = rating_places(plan)
    if table is not None and len(table):
        every = table[table["rating"] == ANY_RATING].set_index("trail")
        for column in ("over_balanced_m", "over_m"):
            layer[f"rating_{column}"] = names.map(every[column]).astype(float)
    return layer


def _runs(layer: gpd.GeoDataFrame, words: dict[str, tuple[str, str]]) -> gpd.GeoDataFrame:
    uses = [words[name][0] for name in layer["trail"].astype(str)]
    drawn = [
        CLOSED_TRAIL if use == CLOSED_TRAIL else reserve
        for use, reserve in zip(uses, layer["reserve_class"], strict=True)
    ]
    return layer.assign(closed=_closed(uses), drawn_as=drawn)


def _crossings(plan: Plan) -> gpd.GeoDataFrame | None:
    wet = plan.wet_ground
    if wet is None or wet.crossings is None:
        return None
    layer = keyed(wet.crossings, "crossing")
    shut = closed_crossings(plan)
    met = {str(run["crossing"]) for run in rows_of(wet.water_runs) if has_crossing(run)}
    uses, words = [], []
    for name in layer["crossing"].astype(str):
        if name in shut:
            uses.append(CROSSING_NOT_IN_USE)
            words.append(f"only closed trails lead over it: {', '.join(shut[name])}")
        elif name in met:
            uses.append(CROSSING_IN_USE)
            words.append("look at it before driving over; not judged here whether it carries")
        else:
            uses.append(CROSSING_NOT_MET)
            words.append("no trail of this block meets water at it")
    return layer.assign(use=uses, use_words=words)


def _stops(plan: Plan) -> gpd.GeoDataFrame:
    stops = water_stops(plan)
    return gpd.GeoDataFrame(
        {
            "name": [stop.name for stop in stops],
            "label": [f"No crossing: {stop.name}" for stop in stops],
            "trail": [stop.trail for stop in stops],
            "from_m": [stop.from_m for stop in stops],
            "to_m": [stop.to_m for stop in stops],
            "words": ["no crossing is mapped: stop and ask, do not drive through"] * len(stops),
        },
        geometry=[stop.point for stop in stops],
        crs=plan.dem.crs,
    )
