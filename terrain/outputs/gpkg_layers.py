"""The layers and tables of ``block.gpkg`` about stretches, seasons, remedies and doubt."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from terrain.decision.results import Plan

__all__ = ["decision_layers"]

_TABLES = (
    "bottlenecks",
    "reroutes",
    "stretch_setups",
    "seasons",
    "trail_states",
    "remedies",
    "drop_it",
    "weights",
    "machines",
    "ratings",
    "stability_checks",
    "footprints",
    "effects_used",
    "outside_range",
)


def decision_layers(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the layers by name; only those that the plan has and that hold rows."""
    found = {name: getattr(plan, name) for name in _TABLES}
    if plan.doubt is not None:
        found["doubt_setups"] = plan.doubt.block
        found["doubt_trails"] = plan.doubt.trails
        found["doubt_sources"] = plan.doubt.sources
    if plan.emergency is not None:
        point = Point(plan.emergency.x_m, plan.emergency.y_m)
        words = {"name": [plan.emergency.name], "note": [plan.emergency.note]}
        found["emergency"] = gpd.GeoDataFrame(words, geometry=[point], crs=plan.dem.crs)
    return {name: table for name, table in found.items() if table is not None and len(table)}
