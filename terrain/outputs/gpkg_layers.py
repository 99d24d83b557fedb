"""The layers and tables of ``block.gpkg`` about use, stretches, seasons, remedies and doubt."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from terrain.decision.results import Plan
from terrain.outputs.gpkg_use import use_layers

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
    "rating_places",
    "stability_checks",
    "crane_checks",
    "footprints",
    "effects_used",
    "outside_range",
)


def decision_layers(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the layers by name; only those that the plan has and that hold rows.

    Those of :func:`terrain.outputs.gpkg_use.use_layers` take the place of the layers of the same
    name that know nothing of use.
    """
    found = {name: getattr(plan, name, None) for name in _TABLES}
    found.update(use_layers(plan))
    if plan.doubt is not None:
        found["doubt_setups"] = plan.doubt.block
        found["doubt_trails"] = plan.doubt.trails
        found["doubt_sources"] = plan.doubt.sources
    if plan.emergency is not None:
        point = Point(plan.emergency.x_m, plan.emergency.y_m)
        words = {"name": [plan.emergency.name], "note": [plan.emergency.note]}
        found["emergency"] = gpd.GeoDataFrame(words, geometry=[point], crs=plan.dem.crs)
    return {name: table for name, table in found.items() if table is not None and len(table)}
