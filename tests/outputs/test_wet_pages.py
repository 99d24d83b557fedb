"""Wet ground in map, report and tables."""

from __future__ import annotations

import json

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point, box

from terrain.outputs.report import report_html
from terrain.outputs.tables import plan_record
from terrain.outputs.web_map import map_html
from terrain.outputs.wet_layers import sign_layers, wetness_grid, wetness_overlays
from terrain.outputs.wet_section import wet_tables
from terrain.plan import plan_block
from tests.cli.test_wet_valley import CRS, STEP, at, crossing_trail, soil, valley
from tests.outputs.synthetic import SCRIPT
from tests.tiny_block import BLOCK, write_block

EXTRA = """
[water]
streams_file = "streams.gpkg"
open_water_file = "lake.gpkg"
[crossings]
file = "crossings.gpkg"
id = "name"
kind = "kind"
[buffers]
file = "buffers.gpkg"
[readings]
file = "readings.csv"
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wet")
    z, transform = valley()
    z[100:103, :] += 3.0  # a bank that dams the valley
    path = write_block(
        folder, dem=(z, transform), soils=soil(2, "poorly drained"),
        block=BLOCK + STEP + EXTRA, **crossing_trail(205.0),
    )  # fmt: skip

    def save(file, geometry, **columns):
        frame = gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS)
        frame.to_file(folder / f"{file}.gpkg", driver="GPKG")

    save("streams", [LineString([at(161, 399), at(161, 1)])])
    save("lake", [box(*at(20, 20), *at(40, 40))])
    save("crossings", [Point(at(161, 205))], name=[SCRIPT], kind=[f"{SCRIPT} ford"])
    save("buffers", [box(*at(150, 0), *at(172, 400))])
    east, north = at(110, 205)
    rows = [f"{east + 5 * k},{north},15,{300 + k},kPa,cone,,moist" for k in range(3)]
    head = "x,y,depth_cm,value,unit,kind,date,moisture_state\n"
    (folder / "readings.csv").write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    return plan_block(path)


def test_report_tells_all_of_it_and_shows_names_as_text(plan):
    page = report_html(plan)
    for words in (
        "Wet metres by moisture state", "in the machine-free strip", "as drawn in the buffer layer",
        "Where trails meet water", "Depressions to check", "Soil strength", "301, 1",
        "was not significant by itself",
    ):  # fmt: skip
        assert words in page, words
    assert SCRIPT not in page
    assert "at crossing &lt;script&gt;" in page


def test_map_has_every_layer_and_shows_names_as_text(plan):
    page = map_html(plan)
    for name in (
        "Wet ground, dry", "Wet ground, moist (this run)", "Wet ground, wet",
        "Wet ground, saturated", "Mapped water", "Machine-free strip along water",
        "Crossings", "Depressions to check in the field", "Strength readings",
    ):  # fmt: skip
        assert name in page, name
    assert SCRIPT not in page


def test_every_state_has_its_picture_of_wet_ground(plan):
    names = {state: name for state, (name, _) in wetness_overlays(plan).items()}
    assert names == {
        "dry": "Wet ground, dry",
        "moist": "Wet ground, moist (this run)",
        "wet": "Wet ground, wet",
        "saturated": "Wet ground, saturated",
        "frozen": "Wet ground, frozen, not verified: as moist",
    }
    pictures = {state: picture.uri for state, (_, picture) in wetness_overlays(plan).items()}
    assert pictures["frozen"] == pictures["moist"] != pictures["dry"]


def test_wetness_by_soil_water_and_both(plan):
    grid = wetness_grid(plan, plan.wet_ground, "moist")
    # poorly drained is wet in the moist state everywhere; by water too at the stream
    x, y = at(161, 225)
    assert int(grid.at(x, y)) == 3
    assert int(grid.at(x + 50, y)) == 1
    dry = wetness_grid(plan, plan.wet_ground, "dry")
    assert int(dry.at(x, y)) == 2
    assert int(dry.at(x + 50, y)) == 0


def test_signs_carry_place_and_rows(plan):
    layers = sign_layers(plan)
    assert {name: len(items) for name, items in layers.items()} == {
        "Crossings": 1,
        "Depressions to check in the field": len(plan.wet_ground.depressions),
        "Strength readings": 3,
    }
    assert len(plan.wet_ground.depressions) >= 1


def test_tables_and_record(plan):
    tables = wet_tables(plan)
    assert len(tables["states"]) == 5 * len(plan.stations)
    assert set(tables) >= {"streams", "open_water", "crossings", "buffers", "readings", "strength"}
    record = plan_record(plan)["wet_ground"]
    json.dumps(record, allow_nan=False)
    assert record["machine_free_strip"] == "as drawn in the buffer layer"
    assert record["strength_of_polygons"][0]["places"] == 3


def test_a_plan_without_routed_water_has_no_such_section(small_plan):
    assert small_plan.wet_ground is None
    assert "Wet ground, state" not in map_html(small_plan)
    assert 'id="wet-ground"' not in report_html(small_plan)
    assert plan_record(small_plan)["wet_ground"] is None
    assert wet_tables(small_plan) == {}
