"""Strength of polygons and stations: class figures, readings, soil type with moisture."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point, box

from terrain.decision.ground import ground_in_states
from terrain.decision.strength import strength_of_polygons
from terrain.mechanics.soil_moisture import (
    cone_index_from_moisture_kpa,
    rating_cone_index_from_moisture_kpa,
)
from terrain.models.settings import GroundSettings

STATES = ("dry", "moist", "wet", "saturated")


def soils(number=2, drainage="well drained", **columns):
    return gpd.GeoDataFrame(
        {
            "soil_class": pd.array([number, 1], dtype="Int64"),
            "drainage": [drainage, "well drained"],
            "uscs": columns.get("uscs", [None, None]),
            "moisture_percent": columns.get("moisture_percent", [np.nan, np.nan]),
        },
        index=pd.Index(["A", "B"], name="polygon"),
        geometry=[box(0, 0, 100, 100), box(100, 0, 200, 100)],
        crs="EPSG:32633",
    )


def readings(values, kind="cone", state="moist", polygon="A", apart_m=10.0):
    return gpd.GeoDataFrame(
        {
            "polygon": polygon,
            "kind": kind,
            "value_kpa": [float(v) for v in values],
            "moisture_state": state,
        },
        geometry=[Point(apart_m * k, 5) for k in range(len(values))],
        crs="EPSG:32633",
    )


def stations(number=2, drainage="well drained", depth=(2.0, 0.5)):
    """Two stations in A, the second one with small depth to water; a third one in B."""
    depths = np.array([*depth, 2.0])
    return pd.DataFrame(
        {
            "soil_polygon": ["A", "A", "B"],
            "soil_class": pd.array([number, number, 1], dtype="Int64"),
            "drainage": [drainage, drainage, "well drained"],
            "depth_to_water_4ha_m": depths,
            "depth_to_water_1ha_m": depths,
            "depth_to_water_025ha_m": depths,
        }
    )


def ground(strength, state="moist", **keys):
    return ground_in_states(stations(**keys), GroundSettings(), strength)[state]


def cone(strength, state="moist", **keys):
    return ground(strength, state, **keys)["cone_index_kpa"].tolist()


def test_without_readings_the_class_figures_stand():
    strength = strength_of_polygons(soils(), None, None, "moist")
    assert strength.special == {}
    # class 2 likely 400; softened by water to class 3: 250; class 1: 1000 kPa
    assert cone(strength) == [400, 250, 1000]
    table = strength.table.set_index("polygon")
    assert table.loc["A", ["prior_kpa", "posterior_kpa", "places"]].tolist() == [400, 400, 0]


def test_readings_shrink_their_own_polygon_only():
    strength = strength_of_polygons(soils(), readings([200, 200, 200]), None, "moist")
    # weight 3/6: 300; the wet station keeps the same share of its class, 250 x 300/400
    assert cone(strength) == pytest.approx([300, 187.5, 1000])
    row = strength.table.set_index("polygon").loc["A"]
    assert (row["places"], row["median_kpa"], row["weight"]) == (3, 200, 0.5)
    assert row["posterior_kpa"] == 300


def test_firm_readings_do_not_firm_up_the_wet_spot():
    strength = strength_of_polygons(soils(), readings([1000] * 6), None, "moist")
    assert cone(strength) == pytest.approx([800, 250, 1000])  # weight 6/9


def test_bearing_follows_the_cone_index_and_plates_rule_over_it():
    strength = strength_of_polygons(soils(), readings([200, 200, 200]), None, "moist")
    bearing = ground(strength)["bearing_kpa"].tolist()
    assert bearing[0] == pytest.approx(60)  # card: 300 kPa goes with 60
    both = pd.concat([readings([200, 200, 200]), readings([20, 20, 20], kind="plate")])
    strength = strength_of_polygons(soils(), both, None, "moist")
    bearing = ground(strength)["bearing_kpa"].tolist()
    assert bearing[0] == pytest.approx(40)  # midway between 60 and 20
    assert strength.table["measure"].tolist().count("bearing capacity") == 1


def test_one_stop_with_many_pushes_counts_once():
    one_stop = readings([200] * 9, apart_m=0.01)
    assert cone(strength_of_polygons(soils(), one_stop, None, "moist"))[0] == pytest.approx(350)


def test_readings_of_other_states_help_one_way():
    weak_when_dry = readings([200] * 3, state="dry")
    strength = strength_of_polygons(soils(), weak_when_dry, None, "moist")
    assert cone(strength)[0] == pytest.approx(300)
    firm_when_dry = readings([2000] * 9, state="dry")
    strength = strength_of_polygons(soils(), firm_when_dry, None, "moist")
    assert cone(strength)[0] == 400
    assert cone(strength, state="dry")[0] == pytest.approx(1600)
    row = strength.table.set_index("polygon").loc["A"]
    assert row["weight"] == 0
    assert "may only lower" in row["note"]


@pytest.mark.parametrize("taken", STATES)
@pytest.mark.parametrize("value", [50, 300, 1500])
def test_no_state_gets_firmer_with_water(taken, value):
    strength = strength_of_polygons(soils(), readings([value] * 5, state=taken), None, "moist")
    for k in range(2):
        figures = [cone(strength, state=state)[k] for state in STATES]
        assert figures == sorted(figures, reverse=True), (k, figures)


def test_an_unknown_class_with_readings():
    few = strength_of_polygons(soils(pd.NA), readings([300, 300]), None, "moist")
    assert np.isnan(cone(few, number=pd.NA)[:2]).all()
    enough = strength_of_polygons(soils(pd.NA), readings([300, 300, 300]), None, "moist")
    assert cone(enough, number=pd.NA)[:2] == [300, 300]


def test_shear_readings_pick_a_softer_class_and_never_a_firmer_one():
    # card, Owende et al. 2002: shear below 20 kPa is class 3, above 60 kPa class 1
    soft = strength_of_polygons(soils(), readings([15, 15, 15], kind="vane"), None, "moist")
    frame = ground(soft)
    assert frame["ground_class"].tolist() == [3, 3, 1]
    assert frame["cone_index_kpa"].tolist() == [250, 250, 1000]
    firm = strength_of_polygons(soils(), readings([90, 90, 90], kind="vane"), None, "moist")
    assert cone(firm) == [400, 250, 1000]
    few = strength_of_polygons(soils(), readings([15, 15], kind="vane"), None, "moist")
    assert cone(few) == [400, 250, 1000]
    assert "not used" in few.table["note"].iloc[0]


def test_soil_type_and_moisture_only_lower():
    # SM at 30 %: relation from memory; rating cone index held at the cone index
    low = float(rating_cone_index_from_moisture_kpa("SM", 30.0))
    high = float(cone_index_from_moisture_kpa("SM", 30.0))
    assert low < 300 < 400 < high + low  # the low end lies below class 2, the middle too
    given = soils(uscs=["SM", "SM"], moisture_percent=[30.0, 5.0])
    strength = strength_of_polygons(given, None, "moist", "moist")
    frame = ground(strength)
    assert frame["cone_index_low_kpa"].iloc[0] == pytest.approx(low)
    assert frame["cone_index_kpa"].iloc[0] == pytest.approx(min(400, (low + high) / 2))
    assert frame["cone_index_kpa"].iloc[2] == 1000  # firm at 5 %: the class figure stays
    # found in the moist state: holds in wetter ones, says nothing of the dry one
    assert cone(strength, state="dry")[0] == 400
    assert cone(strength, state="wet")[0] <= cone(strength)[0]


def test_figures_stay_in_order():
    for values in ([5], [50, 60, 900], [1500] * 4):
        strength = strength_of_polygons(soils(), readings(values), None, "moist")
        for frame in ground_in_states(stations(), GroundSettings(), strength).values():
            for name in ("cone_index", "bearing"):
                low, likely, high = (
                    frame[f"{name}{which}_kpa"].to_numpy() for which in ("_low", "", "_high")
                )
                assert ((low <= likely) & (likely <= high) & (low >= 0)).all()


def test_verified_frost_ignores_readings_of_thawed_ground():
    strength = strength_of_polygons(
        soils(3, "poorly drained"), readings([100] * 9), None, "frozen", frost_verified=True
    )
    frost = GroundSettings(state="frozen", frost_depth_m=0.4, frost_verified_by="somebody")
    frame = ground_in_states(stations(3, "poorly drained"), frost, strength)["frozen"]
    assert frame["ground_class"].tolist()[:2] == [2, 2]
    assert frame["cone_index_kpa"].tolist()[:2] == [400, 400]
