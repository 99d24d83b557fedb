"""Ways to the landing that the map follows, on the plan whose lengths are known by arithmetic."""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from terrain.decision.results import Plan
from terrain.outputs.map_data import map_data
from terrain.outputs.map_ways import ways_of
from terrain.plan import plan_block
from tests.outputs.synthetic import CRS, SOUTH, WEST, make_plan
from tests.tiny_block import write_block

JOIN = hypot(70, 30)
"""T1 runs from the landing (20, 30) over (90, 60), where T2 joins, to (185, 55), where T3 does."""
END = JOIN + hypot(95, 5)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan()


def test_a_way_is_the_part_from_the_junction_to_the_landing(plan: Plan) -> None:
    ways = ways_of(plan)
    assert ways["T1"] == []
    assert [part[0] for part in ways["T2"]] == ["T1"]
    assert ways["T2"][0][1:] == pytest.approx((0.0, JOIN))
    assert [part[1:] for part in ways["T3"]] == [
        pytest.approx((0.0, JOIN)), pytest.approx((JOIN, END)),
    ]  # fmt: skip


def test_a_trail_that_goes_to_another_landing_takes_that_way(plan: Plan) -> None:
    """All of T3's loads go to a second landing at its far end."""
    first = plan.landings.index[0]
    landings = gpd.GeoDataFrame(
        index=pd.Index([first, "L2"], name="landing"),
        geometry=[plan.landings.geometry.iloc[0], Point(WEST + 150, SOUTH + 180)],
        crs=CRS,
    )
    to = plan.stations["trail"].map({"T1": first, "T2": first, "T3": "L2"})
    two = replace(plan, landings=landings, stations=plan.stations.assign(landing=to))
    assert ways_of(two)["T3"] == []
    to = plan.stations["trail"].map(dict.fromkeys(("T1", "T2", "T3"), first))
    assigned = replace(plan, landings=landings, stations=plan.stations.assign(landing=to))
    assert {part[0] for part in ways_of(assigned)["T3"]} == {"T1"}


def test_the_page_names_trails_by_their_number(plan: Plan) -> None:
    trails = map_data(plan)["trails"]
    number = [trail["id"] for trail in trails]
    assert trails[number.index("T2")]["way"] == [[number.index("T1"), 0.0, round(JOIN, 1)]]


def test_a_trail_in_the_middle_is_passed_from_its_junction_on(tmp_path: Path) -> None:
    """T1 is drawn away from the landing and T2 joins it after 100 m (tests.tiny_block)."""
    ways = ways_of(plan_block(write_block(tmp_path)))
    assert ways["T1"] == []
    assert ways["T2"] == [("T1", pytest.approx(0.0), pytest.approx(100.0))]
