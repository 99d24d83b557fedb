"""Layers about water, the keys that name them, and the two windows of the elevation model."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from terrain.grid import Grid
from terrain.inputs.block import inspect_block, load_block, read_block_file
from terrain.inputs.refs import LayerRef
from terrain.inputs.water_layers import read_areas, read_crossings, read_streams
from tests.inputs.made_block import BLOCK, SOUTH, WEST, make_block

CRS = "EPSG:32633"
DEM = Grid(np.ones((50, 50), np.float32), 0.0, 100.0, 2.0, CRS)


def layer(tmp_path, geometry, **columns):
    path = tmp_path / "layer.gpkg"
    gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS).to_file(path, driver="GPKG")
    named = {key: key for key in columns}
    return LayerRef(path, "layer.gpkg", None, named)


def codes(issues):
    return [(issue.code, issue.severity) for issue in issues]


def test_streams_must_be_lines(tmp_path):
    lines = [LineString([(0, 0), (50, 50)]), Point(3, 3)]
    streams, _, issues = read_streams(layer(tmp_path, lines), CRS, DEM)
    assert streams is None
    assert codes(issues) == [("WTR01", "error")]
    assert "row 2" in issues[0].what


def test_a_layer_far_off_is_warned_of(tmp_path):
    far = [LineString([(9000, 0), (9000, 50)])]
    streams, file, issues = read_streams(layer(tmp_path, far), CRS, DEM)
    assert len(streams) == 1
    assert file.role == "streams"
    assert codes(issues) == [("WTR03", "warning")]


def test_areas_are_repaired_or_refused(tmp_path):
    bow_tie = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    areas, _, issues = read_areas(layer(tmp_path, [bow_tie]), CRS, DEM, "open water")
    assert areas.geometry.is_valid.all()
    assert codes(issues) == [("WTR04", "warning")]
    areas, _, issues = read_areas(layer(tmp_path, [Point(1, 1)]), CRS, DEM, "buffers")
    assert areas is None
    assert codes(issues) == [("WTR02", "error")]


def test_crossings_by_point_and_line(tmp_path):
    shapes = [Point(10, 10), LineString([(20, 20), (30, 20)]), Point(500, 10)]
    ref = layer(tmp_path, shapes, id=["C1", "C2", "C3"], kind=["culvert", "bridge", None])
    crossings, _, issues = read_crossings(ref, CRS, DEM)
    assert crossings.index.tolist() == ["C1", "C2", "C3"]
    assert crossings["carved"].tolist() == [True, True, False]
    assert codes(issues) == [("CRS03", "warning")]
    assert "C3" in issues[0].what


def test_crossing_ids_and_shapes(tmp_path):
    ref = layer(tmp_path, [Point(1, 1), Point(2, 2)], id=["A", "A"])
    assert codes(read_crossings(ref, CRS, DEM)[2]) == [("CRS02", "error")]
    ref = layer(tmp_path, [box(0, 0, 2, 2)], id=["A"])
    assert codes(read_crossings(ref, CRS, DEM)[2]) == [("CRS01", "error")]


@pytest.mark.parametrize(
    ("extra", "code"),
    [
        ("[water]\nburn_depth_m = 1.0\n", "BLK06"),
        ('[water]\nstreams_layer = "s"\nopen_water_file = "w.gpkg"\n', "BLK06"),
        ("[buffers]\n", "BLK06"),
        ('[buffers]\nwidth_m = 5.0\nfile = "b.gpkg"\n', "BLK06"),
        ("[buffers]\nwidth_m = -5.0\n", "TOML07"),
        ("[flow]\nmargin = 5.0\n", "TOML04"),
        ("[flow]\ncap_m = 0.5\n", "TOML07"),
        ('[flow]\nform = "uphill"\n', "TOML08"),
        ("[readings]\n", "TOML05"),
        ('[readings]\nfile = "r.csv"\nkind_of_all = "thumb"\n', "TOML08"),
    ],
)
def test_keys_about_water(tmp_path, extra, code):
    path = tmp_path / "block.toml"
    path.write_text(BLOCK + extra, encoding="utf-8")
    block, issues = read_block_file(path)
    assert block is None
    assert code in [issue.code for issue in issues]


@pytest.mark.parametrize(
    "keys",
    [
        'uscs = "uscs"\n',
        'uscs = "uscs"\nmoisture_percent = "w"\n',
        'uscs = "uscs"\nmoisture_percent = "w"\nmoisture_state = "frozen"\n',
    ],
)
def test_moisture_needs_type_and_state(tmp_path, keys):
    path = tmp_path / "block.toml"
    text = BLOCK.replace('texture = "texture"\n', 'texture = "texture"\n' + keys)
    path.write_text(text, encoding="utf-8")
    assert "BLK07" in [issue.code for issue in read_block_file(path)[1]]


def test_missing_layers_are_all_listed_at_once(tmp_path):
    extra = """
[water]
streams_file = "a.gpkg"
open_water_file = "b.gpkg"
[crossings]
file = "c.gpkg"
[buffers]
file = "d.gpkg"
[readings]
file = "e.csv"
"""
    block, issues = inspect_block(make_block(tmp_path, BLOCK + extra))
    assert block is None
    missing = {issue.where for issue in issues if issue.code == "INP20"}
    assert missing == {
        f"block.toml, {key}: {name}"
        for key, name in (
            ("water.streams_file", "a.gpkg"),
            ("water.open_water_file", "b.gpkg"),
            ("crossings.file", "c.gpkg"),
            ("buffers.file", "d.gpkg"),
            ("readings.file", "e.csv"),
        )
    }


def test_water_gets_a_wider_window_of_the_same_cells(tmp_path):
    block = load_block(make_block(tmp_path, BLOCK + "[flow]\nmargin_m = 50.0\n"))
    # trails span 60 to 240 m and 150 to 240 m: 20 m of buffer for slopes, 50 m for water
    assert block.dem.bounds == (WEST + 40, SOUTH + 130, WEST + 260, SOUTH + 260)
    wide = block.water.dem
    assert wide.bounds == (WEST + 10, SOUTH + 100, WEST + 290, SOUTH + 290)
    assert np.array_equal(wide.values[15:-15, 15:-15], block.dem.values)


def test_the_buffer_rules_where_it_is_the_wider(tmp_path):
    block = load_block(make_block(tmp_path, BLOCK + "[flow]\nmargin_m = 0.0\n"))
    assert block.water.dem.bounds == block.dem.bounds


def test_soil_type_and_moisture_columns(tmp_path):
    keys = 'uscs = "uscs"\nmoisture_percent = "w"\nmoisture_state = "moist"\n'
    text = BLOCK.replace('texture = "texture"\n', 'texture = "texture"\n' + keys)
    path = make_block(tmp_path, text)
    soils = gpd.read_file(tmp_path / "soils.gpkg")
    soils.assign(uscs=["cl", "GW"], w=[40.0, None]).to_file(tmp_path / "soils.gpkg")
    block = load_block(path)
    assert block.soils["uscs"].tolist() == ["CL", "GW"]
    assert block.water.moisture_state == "moist"
    assert ("SOIL13", "note") in codes(block.issues)
    soils.assign(uscs=["CL", "CL"], w=[40.0, -3.0]).to_file(tmp_path / "soils.gpkg")
    _, issues = inspect_block(path)
    assert ("SOIL14", "error") in codes(issues)
