"""A soft patch across a trail on a plane: blocks whose remedies are known or can be run again."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
from shapely.geometry import LineString, Point, box

from terrain.decision.bottlenecks import bottlenecks, stretch_rows, stretch_setups
from terrain.plan import check_block, look_at
from tests.tiny_block import BLOCK, CRS, at, plane, write_block

ROOT = Path(__file__).parents[2]
FORWARDER = (ROOT / "sample_data" / "machines" / "forwarder_8.toml").read_text(encoding="utf-8")

TEXT = BLOCK.replace(
    'id = "trail"', 'id = "trail"\nvolume_m3 = "volume_m3"\nwidth_m = "width_m"'
) + ("[traffic]\ngreen_density_kg_m3 = 875.0\nserved_width_m = 20.0\n")
WITH_LANDING = TEXT.replace(
    'volume_m3 = "volume_m3"', 'volume_m3 = "volume_m3"\nlanding = "goes_to"'
)
WHOLE = box(*at(-60, -110), *at(260, 110))


def patch(west=90.0, east=110.0, half=15.0, soil_class=2, drainage="poorly drained"):
    """Firm soil but for a patch across T1."""
    soft = box(*at(west, -half), *at(east, half))
    return gpd.GeoDataFrame(
        {
            "polygon": ["firm", "soft"],
            "soil_class": [1, soil_class],
            "drainage": ["well drained", drainage],
        },
        geometry=[WHOLE.difference(soft), soft],
        crs=CRS,
    )


def lines(**points):
    """Trails by name from lists of (x, y); a cubic metre of timber on each metre."""
    shapes = [LineString([at(*p) for p in way]) for way in points.values()]
    return gpd.GeoDataFrame(
        {
            "trail": list(points),
            "volume_m3": [shape.length for shape in shapes],
            "width_m": 4.0,
        },
        geometry=shapes,
        crs=CRS,
    )


def straight():
    """T1 alone, 200 m toward the landing at x = 200."""
    return lines(T1=[(0, 0), (200, 0)])


def two_landings():
    """A landing at each end of T1."""
    return gpd.GeoDataFrame(
        {"landing": ["L1", "L2"]}, geometry=[Point(at(200, 0)), Point(at(0, 0))], crs=CRS
    )


def block_file(folder, gx=0.08, text=TEXT, gy=0.0, **layers):
    """Write a block on a plane that rises by ``gx`` toward the landing."""
    filled = {"dem": plane(gx=gx, gy=gy), "soils": patch(), "trails": straight()}
    return write_block(Path(folder), block=text, **{"machine": FORWARDER, **filled, **layers})


def situation_of(path, state=None):
    """Situation, bottlenecks and stretch_setups of a block file."""
    block, network, issues = check_block(path, state=state)
    assert block is not None, issues
    situation = look_at(block, network)
    return situation, *tables(situation)


def tables(situation):
    """Bottlenecks and stretch_setups of a situation."""
    stations, found = situation.along.stations, situation.assessment
    rows = stretch_rows(stations, found, situation.settings)
    forcing = bottlenecks(situation.block.trails, stations, found, situation.settings, rows)
    return forcing, stretch_setups(stations, found, rows)


def reserve_of(plan, setup):
    """Reserve of a setup at every station of a plan."""
    return plan.evaluation.reserve[:, plan.evaluation.column(setup)]


def between(stations, trail, from_m, to_m):
    """Stations of a trail between two chainages, as a mask."""
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    own = (stations["trail"] == trail).to_numpy()
    return np.asarray(own & (chainage > from_m) & (chainage < to_m))
