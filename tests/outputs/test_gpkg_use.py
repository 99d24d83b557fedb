"""Closed trails, water without a crossing and ratings in ``block.gpkg``, read back by GDAL."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as Xml

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from terrain.columns import TABLES
from terrain.decision.results import Plan
from terrain.outputs.gpkg_looks import LAYER_LOOKS
from terrain.outputs.gpkg_use import (
    CLOSED_TRAIL,
    CROSSING_IN_USE,
    CROSSING_NOT_IN_USE,
    CROSSING_NOT_MET,
    IN_USE,
    NOT_KNOWN,
    STOP_AND_ASK,
)
from terrain.outputs.tables import write_tables
from tests.outputs.field_plan import with_field_things

SLD = "{http://www.opengis.net/sld}"
OGC = "{http://www.opengis.net/ogc}"


@pytest.fixture(scope="module")
def plan(small_plan: Plan) -> Plan:
    """T1 closed with X1 on it, T2 with water without a crossing, T3 behind that water."""
    plan = with_field_things(small_plan)
    names = [str(name) for name in plan.trails.index]
    states = pd.DataFrame(
        {
            "trail": names,
            "usable_moist": pd.array([False, None, None], dtype="boolean"),
            "water_here": [None, "T2 at 50 m", None],
            "water_on_way": [None, None, "T2 at 50 m"],
        }
    )
    runs = pd.DataFrame(
        {
            "trail": ["T1", "T2"],
            "from_m": [80.0, 50.0],
            "to_m": [90.0, 60.0],
            "crossing": ["X1", None],
            "to_crossing_m": [3.0, np.nan],
        }
    )
    assert plan.wet_ground is not None
    trails = plan.trails.assign(short_m=[12.0, 0.0, 0.0])
    return replace(
        plan,
        trails=trails,
        trail_states=states,
        wet_ground=replace(plan.wet_ground, water_runs=runs),
    )


@pytest.fixture(scope="module")
def package(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _package(plan, tmp_path_factory.mktemp("use"))


def _package(plan: Plan, folder: Path) -> Path:
    write_tables(plan, folder)
    return folder / "block.gpkg"


def _layer(package: Path, name: str) -> gpd.GeoDataFrame:
    return pyogrio.read_dataframe(package, layer=name)


def test_trails_say_which_are_closed_and_why(package: Path, plan: Plan) -> None:
    trails = _layer(package, "trails").set_index("trail")
    assert trails["use"].to_dict() == {
        "T1": CLOSED_TRAIL,
        "T2": STOP_AND_ASK,
        "T3": STOP_AND_ASK,
    }
    assert trails["closed"].fillna("").to_dict() == {"T1": "true", "T2": "", "T3": ""}
    words = trails["use_words"]
    assert words["T1"] == "the setup to carry falls short of traction on 12 m of it"
    assert words["T2"] == "no crossing is mapped: T2 at 50 m; stop and ask"
    assert "on the way to the landing" in words["T3"]
    np.testing.assert_allclose(trails["length_m"], plan.trails["length_m"])


def test_a_closed_trail_that_passes_by_itself_is_cut_off(plan: Plan, tmp_path: Path) -> None:
    cut = replace(plan, trails=plan.trails.assign(short_m=0.0))
    words = _layer(_package(cut, tmp_path), "trails").set_index("trail")["use_words"]
    assert words["T1"] == "the setup to carry falls short on the way to the landing"


def test_trails_in_use_and_trails_nobody_knows(plan: Plan, tmp_path: Path) -> None:
    assert plan.trail_states is not None
    assert plan.wet_ground is not None
    states = plan.trail_states.assign(
        usable_moist=pd.array([True, None, True], dtype="boolean"),
        water_here=None,
        water_on_way=None,
    )
    dry = replace(plan.wet_ground, water_runs=plan.wet_ground.water_runs.iloc[:1])
    package = _package(replace(plan, trail_states=states, wet_ground=dry), tmp_path)
    trails = _layer(package, "trails").set_index("trail")
    assert trails["use"].to_dict() == {"T1": IN_USE, "T2": NOT_KNOWN, "T3": IN_USE}
    assert trails["closed"].fillna("").to_dict() == {"T1": "false", "T2": "", "T3": "false"}
    assert "not assessed" in trails.loc["T2", "use_words"]
    crossings = _layer(package, "crossings").set_index("crossing")
    assert crossings.loc["X1", "use"] == CROSSING_IN_USE
    assert "no_crossing" not in {str(name) for name, _ in pyogrio.list_layers(package)}


def test_without_the_states_of_the_trails_nobody_knows(small_plan: Plan, tmp_path: Path) -> None:
    trails = _layer(_package(small_plan, tmp_path), "trails")
    assert set(trails["use"]) == {NOT_KNOWN}
    assert trails["closed"].isna().all()


def test_runs_of_closed_trails_are_drawn_as_closed(package: Path) -> None:
    runs = _layer(package, "runs")
    shut = runs["trail"] == "T1"
    assert shut.any()
    assert set(runs.loc[shut, "drawn_as"]) == {CLOSED_TRAIL}
    assert set(runs.loc[shut, "closed"]) == {"true"}
    # what is computed there stays in its own column
    assert (runs.loc[~shut, "drawn_as"] == runs.loc[~shut, "reserve_class"]).all()
    assert CLOSED_TRAIL not in set(runs["reserve_class"])


def test_places_of_water_without_a_crossing_are_points(package: Path, plan: Plan) -> None:
    stops = _layer(package, "no_crossing")
    assert stops["name"].tolist() == ["T2 at 50 m"]
    assert stops["label"].tolist() == ["No crossing: T2 at 50 m"]
    assert stops.crs == plan.dem.crs
    wanted = plan.trails.geometry.loc["T2"].interpolate(55)
    assert stops.geometry.iloc[0].distance(wanted) < 1e-6
    assert isinstance(stops.geometry.iloc[0], shapely.Point)


def test_crossings_that_only_closed_trails_use_are_marked(package: Path) -> None:
    crossings = _layer(package, "crossings").set_index("crossing")
    assert crossings["use"].to_dict() == {"X1": CROSSING_NOT_IN_USE, "X2": CROSSING_NOT_MET}
    assert "T1" in crossings.loc["X1", "use_words"]


def test_a_crossing_far_from_the_water_is_not_in_use(plan: Plan, tmp_path: Path) -> None:
    assert plan.wet_ground is not None
    far = plan.wet_ground.water_runs.assign(to_crossing_m=60.0)
    package = _package(replace(plan, wet_ground=replace(plan.wet_ground, water_runs=far)), tmp_path)
    assert set(_layer(package, "crossings")["use"]) == {CROSSING_NOT_MET}
    assert _layer(package, "no_crossing")["trail"].tolist() == ["T1", "T2"]


def test_styles_in_the_file_dash_closed_trails_in_both_languages(package: Path) -> None:
    with closing(sqlite3.connect(package)) as base:
        rows = base.execute("SELECT f_table_name, styleSLD, styleQML FROM layer_styles").fetchall()
    styles = {name: (Xml.fromstring(sld), Xml.fromstring(gis)) for name, sld, gis in rows}
    assert "no_crossing" in styles
    for name, attribute in (("trails", "use"), ("runs", "drawn_as")):
        sld, gis = styles[name]
        dashes = {
            rule.findtext(f"{OGC}Filter//{OGC}Literal"): [
                item.text
                for item in rule.iter(f"{SLD}CssParameter")
                if item.attrib["name"] == "stroke-dasharray"
            ]
            for rule in sld.iter(f"{SLD}Rule")
        }
        assert {item.text for item in sld.iter(f"{OGC}PropertyName")} >= {attribute}
        renderer = gis.find("renderer-v2")
        assert renderer is not None
        assert renderer.attrib["attr"] == attribute
        assert dashes[CLOSED_TRAIL]
        number = {item.attrib["value"]: item.attrib["symbol"] for item in gis.iter("category")}
        custom = {
            symbol.attrib["name"]: [
                item.attrib["v"] for item in symbol.iter("prop") if item.attrib["k"] == "customdash"
            ]
            for symbol in gis.iter("symbol")
        }
        assert custom[number[CLOSED_TRAIL]]
    assert not dashes["10 % (6°) and more"]  # of the runs: full line where the reserve is good


def test_every_value_drawn_from_has_a_look(package: Path) -> None:
    for name, attribute in (("trails", "use"), ("runs", "drawn_as"), ("crossings", "use")):
        looks = LAYER_LOOKS[name]
        assert looks.attribute == attribute
        assert set(_layer(package, name)[attribute]) <= {look.value for look in looks.looks}


def test_columns_on_use_are_described(package: Path) -> None:
    with closing(sqlite3.connect(package)) as base:
        rows = base.execute(
            "SELECT table_name, column_name, description FROM gpkg_data_columns"
        ).fetchall()
    described = {(table, column): words for table, column, words in rows}
    for layer, table in (
        ("trails", "use_of_trails"),
        ("runs", "use_of_runs"),
        ("crossings", "use_of_crossings"),
        ("no_crossing", "no_crossing"),
    ):
        present = set(_layer(package, layer).columns)
        wanted = {item.name: item.meaning for item in TABLES[table] if item.name in present}
        assert wanted
        for column, meaning in wanted.items():
            assert described[layer, column].startswith(meaning)
