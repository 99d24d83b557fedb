"""The fictional block: stream, hollow and toe slope come out wet, the crest dry."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest

import sample_data
from terrain.outputs.wet_layers import wetness_grid
from terrain.plan import plan_block

HOME = Path(sample_data.__file__).parent
STATES = ("dry", "moist", "wet", "saturated")


@pytest.fixture(scope="module")
def plan():
    return plan_block(HOME / "block.toml")


@pytest.fixture(scope="module")
def wetness(plan):
    return {state: wetness_grid(plan, plan.wet_ground, state) for state in STATES}


def at(grid, point):
    return int(grid.at(point.x, point.y, 0))


def test_streams_are_wet_in_every_state(plan, wetness):
    window = plan.dem.bounds
    for line in gpd.read_file(HOME / "streams.gpkg").geometry:
        for share in (0.25, 0.5, 0.75):
            point = line.interpolate(share, normalized=True)
            if not (window[0] < point.x < window[2] and window[1] < point.y < window[3]):
                continue
            assert all(at(wetness[state], point) for state in STATES)


def test_the_hollow_is_wet_by_its_peat_and_by_water(plan, wetness):
    hollow = plan.soils.geometry["P7"].representative_point()
    assert [at(wetness[state], hollow) for state in STATES] == [3, 3, 3, 3]


def test_the_toe_slope_is_wet_after_rain_and_near_water(plan, wetness):
    toe = plan.soils.geometry["P5"]
    inside = toe.intersection(plan.boundary.union_all()).representative_point()
    assert at(wetness["wet"], inside)
    assert at(wetness["saturated"], inside)
    on_toe = (plan.stations["soil_polygon"] == "P5").to_numpy(bool)
    assert plan.states["wet"].loc[on_toe, "wet"].all()
    assert plan.states["moist"].loc[on_toe, "wet"].sum() < on_toe.sum()


def test_the_crest_is_dry_in_every_state(plan, wetness):
    crest = plan.soils.geometry["P2"]
    on_crest = (plan.stations["soil_polygon"] == "P2").to_numpy(bool)
    assert on_crest.any()
    top = plan.stations.loc[on_crest, "elevation_m"].idxmax()
    place = plan.stations.geometry[top]
    assert crest.intersects(place)
    assert [at(wetness[state], place) for state in STATES] == [0, 0, 0, 0]
    assert not plan.states["moist"].loc[on_crest, "wet"].any()


def test_map_and_stations_agree(plan, wetness):
    x, y = plan.stations["x_m"], plan.stations["y_m"]
    for state in STATES:
        drawn = wetness[state].at(x, y, 0) > 0
        told = plan.states[state]["wet"].fillna(False).to_numpy(bool)
        # a cell on the edge of two soil polygons takes one of them
        assert (drawn == told).mean() > 0.98


def test_a_wetter_state_never_has_fewer_wet_metres(plan):
    metres = plan.wet_ground.wet_metres
    for drier, wetter in pairwise(STATES):
        assert (metres[wetter] >= metres[drier] - 1e-9).all()
        assert (plan.states[wetter]["ground_class"] >= plan.states[drier]["ground_class"]).all()
    assert metres["saturated"].sum() > metres["dry"].sum()


def test_strips_crossings_and_readings_are_reported(plan):
    wet = plan.wet_ground
    assert wet.water_from == "mapped water"
    assert set(wet.water_runs["trail"]) >= {"T3", "T4"}
    crossed = wet.water_runs[wet.water_runs["trail"].isin(["T3", "T4"])]
    assert (crossed["to_crossing_m"] < 15).all()
    assert plan.stations.loc[plan.stations["in_buffer"], "to_water_m"].max() <= 10
    table = wet.strength.set_index(["polygon", "measure"])
    row = table.loc[("P5", "cone index")]
    # 5 places (one with two depths): 370, 330, 420, 360, 340 kPa; the class says 400 kPa:
    # (5 x 360 + 3 x 400) / 8
    assert (row["places"], row["median_kpa"]) == (5, 360)
    assert row["posterior_kpa"] == pytest.approx(375)
    assert np.isfinite(plan.stations["to_water_m"]).all()
