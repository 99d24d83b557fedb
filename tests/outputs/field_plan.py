"""The small invented plan with weak stretches, crossings and an emergency point."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.ops import substring

from terrain.decision.results import Plan
from terrain.decision.wet_results import WetGround
from terrain.models.emergency import Emergency

__all__ = ["with_field_things"]


def _stretches(plan: Plan) -> gpd.GeoDataFrame:
    trails = plan.trails
    first, second = list(trails.index[:2])
    common = {"cause_setup": "bare", "shown_reserve": 0.02, "landing": "L", "volume_m3": 20.0}
    common |= {"loads": 3.0, "passes": 6.0, "over_bearing_m": 0.0, "cone_index_kpa": 300.0}
    common |= {
        "soil_polygons": "S2",
        "grade_up": 0.2,
        "cross_slope": 0.1,
        "cause": "climbing loaded",
    }
    line_1, line_2 = trails.geometry.iloc[0], trails.geometry.iloc[1]
    worst = line_1.interpolate(60)
    rows = [
        {
            **common,
            "stretch": f"{first}-40",
            "trail": first,
            "from_m": 40.0,
            "to_m": 90.0,
            "length_m": 50.0,
            "kind": "forces the choice",
            "needs": "open + open",
            "worst_reserve": -0.05,
            "worst_m": 60.0,
            "x_m": worst.x,
            "y_m": worst.y,
            "grade_down": np.nan,
        },
        {
            **common,
            "stretch": f"{second}-0",
            "trail": second,
            "from_m": 0.0,
            "to_m": 30.0,
            "length_m": 30.0,
            "kind": "thin reserve",
            "needs": pd.NA,
            "worst_reserve": np.nan,
            "worst_m": np.nan,
            "x_m": np.nan,
            "y_m": np.nan,
            "grade_down": 0.12,
        },
    ]
    lines = [substring(line_1, 40, 90), substring(line_2, 0, 30)]
    return gpd.GeoDataFrame(rows, geometry=lines, crs=plan.dem.crs)


def _wet_ground(plan: Plan, name: str) -> WetGround:
    west, south, _, _ = plan.dem.bounds
    depth = np.where(np.arange(plan.dem.shape[1]) < 60, 0.4, 1.9) * np.ones(plan.dem.shape)
    depth[:, 100:105] = np.nan
    crs = plan.dem.crs
    crossings = gpd.GeoDataFrame(
        {"kind": ["culvert", None], "carved": [True, False]},
        index=pd.Index([name, "X2"], name="crossing"),
        geometry=[
            shapely.Point(west + 100, south + 60),
            shapely.LineString([(west + 118, south + 60), (west + 122, south + 60)]),
        ],
        crs=crs,
    )
    stream = shapely.LineString([(west + 100, south - 50), (west + 100, south + 150)])
    ring = shapely.Point(west + 60, south + 150).buffer(10)
    hole = shapely.Point(west + 60, south + 150).buffer(4)
    empty = pd.DataFrame({"trail": []})
    depressions = gpd.GeoDataFrame(
        {"depth_m": [], "area_m2": [], "volume_m3": [], "trail_m": [], "trails": []},
        geometry=[],
        crs=crs,
    )
    return WetGround(
        depth_to_water={1.0: plan.dem.with_values(depth.astype(np.float32))},
        edge_share={1.0: 0.1},
        routed_ha=4.0,
        water_from="mapped water",
        buffer_words="10 m on each side of mapped water",
        streams=gpd.GeoDataFrame(geometry=[stream], crs=crs),
        open_water=gpd.GeoDataFrame(geometry=[ring.difference(hole)], crs=crs),
        crossings=crossings,
        buffers=gpd.GeoDataFrame(geometry=[stream.buffer(10)], crs=crs),
        depressions=depressions.rename_axis("depression"),
        wet_metres=pd.DataFrame({"moist": [1.0], "length_m": [2.0]}, index=[name]),
        buffer_runs=empty,
        water_runs=empty,
        depression_runs=empty,
        strength=empty,
        readings=None,
    )


def with_field_things(plan: Plan, name: str = "X1") -> Plan:
    """``plan`` with two stretches, two crossings, water, a strip and an emergency point.

    ``name`` is the name of the first crossing and of the emergency point.
    """
    west, south, _, _ = plan.dem.bounds
    frames = {"moist": plan.stations[["soil_class"]]}
    return replace(
        plan,
        bottlenecks=_stretches(plan),
        wet_ground=_wet_ground(plan, name),
        emergency=Emergency(name, west + 30, south + 30, "gate at the road"),
        states=frames,
    )
