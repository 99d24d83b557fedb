"""Rasters, looks and metadata of the GeoPackage, and the page that knows where it lies."""

from __future__ import annotations

import shutil
import sqlite3
import struct
import subprocess
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as Xml

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pypdf
import pytest
import rasterio
from pyproj import Transformer

from terrain.columns import TABLES
from terrain.decision.results import Plan
from terrain.outputs import geopdf
from terrain.outputs.file_names import RASTERS
from terrain.outputs.geopdf import map_frame, map_picture, write_geopdf
from terrain.outputs.gpkg_looks import LAYER_LOOKS
from terrain.outputs.gpkg_styles import gis_style, sld_style
from terrain.outputs.page_parts import RESERVE_CLASSES, SLOPE_COLOURS
from terrain.outputs.rasters import UNKNOWN_CLASS, VOID, wet_classes, write_rasters
from terrain.outputs.tables import write_tables
from terrain.outputs.wet_layers import WETNESS_CLASSES
from terrain.outputs.wording import DEFERRAL, INVENTED
from tests.outputs.field_plan import with_field_things

SLD = "{http://www.opengis.net/sld}"
OGC = "{http://www.opengis.net/ogc}"


@pytest.fixture(scope="module")
def plan(small_plan: Plan) -> Plan:
    return with_field_things(small_plan)


@pytest.fixture(scope="module")
def rasters(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rasters")
    assert write_rasters(plan, folder) == list(RASTERS)
    return folder


@pytest.fixture(scope="module")
def package(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("package")
    write_tables(plan, folder)
    return folder / "block.gpkg"


# ---- rasters ----


@pytest.mark.parametrize("name", RASTERS)
def test_raster_reads_back_with_place_tags_and_words(name: str, rasters: Path, plan: Plan) -> None:
    with rasterio.open(rasters / name) as file:
        assert file.crs == plan.dem.crs
        assert tuple(file.bounds) == plan.dem.bounds
        assert file.shape == plan.dem.shape
        tags = file.tags()
        assert tags["TITLE"] == plan.name
        assert tags["TIFFTAG_SOFTWARE"] == f"Rutwise {plan.version}"
        assert tags["INVENTED"] == "yes"
        assert tags["NOTE"] == f"{INVENTED} {DEFERRAL}"
        assert file.descriptions[0]
        assert file.nodata is not None


def test_slope_is_in_percent_and_a_void_stays_unknown(rasters: Path, plan: Plan) -> None:
    with rasterio.open(rasters / "slope_percent.tif") as file:
        values = file.read(1, masked=True)
        assert file.units == ("percent",)
        assert "percent" in str(file.descriptions[0])
        assert file.nodata == VOID
    known = np.isfinite(plan.slope.values)
    assert not known.all()
    np.testing.assert_array_equal(~np.ma.getmaskarray(values), known)
    np.testing.assert_allclose(values[known], 100 * plan.slope.values[known], rtol=1e-6)  # float32


def test_slope_classes_keep_numbers_names_and_colours(rasters: Path, plan: Plan) -> None:
    with rasterio.open(rasters / "slope_class.tif") as file:
        np.testing.assert_array_equal(file.read(1), plan.slope_class.values)
        colours = file.colormap(1)
        names = file.tags(1)
        assert file.nodata == 0
    for number, label in enumerate(plan.slope_labels, start=1):
        assert names[f"CLASS_{number}"] == label
        assert "#{:02x}{:02x}{:02x}".format(*colours[number]) == SLOPE_COLOURS[number - 1]


def test_depth_to_water_is_that_of_the_state_in_metres(rasters: Path, plan: Plan) -> None:
    assert plan.wet_ground is not None
    wanted = plan.wet_ground.depth_to_water[1.0].values  # moist: channels from 1 ha
    with rasterio.open(rasters / "depth_to_water.tif") as file:
        values = file.read(1, masked=True).filled(np.nan)
        assert file.units == ("metre",)
        assert file.tags()["MOISTURE_STATE"] == "moist"
    np.testing.assert_array_equal(values, wanted)


def test_wet_classes_by_hand(plan: Plan, rasters: Path) -> None:
    # soil: class 2 well drained in the west, class 4 in the east from 110 m; moist counts class 3
    # and worse as wet; water: depth 0.4 m west of 60 m, unknown from 100 to 105 m, else 1.9 m
    row = 100
    grid = wet_classes(plan).values
    assert grid[row, 30] == 2
    assert grid[row, 80] == 0
    assert grid[row, 102] == UNKNOWN_CLASS
    assert grid[row, 150] == 1
    assert grid[3, 3] == UNKNOWN_CLASS  # a void of the elevation
    with rasterio.open(rasters / "wet_ground.tif") as file:
        np.testing.assert_array_equal(file.read(1), grid)
        assert file.nodata == UNKNOWN_CLASS
        colours = file.colormap(1)
    assert colours[UNKNOWN_CLASS][3] == 0  # the void is transparent
    assert min(colours[0][:3]) > 230  # not wet is light: a table of TIFF knows no transparency
    for number, (_, colour) in enumerate(WETNESS_CLASSES, start=1):
        assert "#{:02x}{:02x}{:02x}".format(*colours[number]) == colour


def test_wet_classes_where_soil_is_unknown(plan: Plan) -> None:
    nameless = plan.soils.assign(
        soil_class=pd.array([None, 4], dtype="Int64"), drainage=[None, None]
    )
    grid = wet_classes(replace(plan, soils=nameless)).values
    assert grid[100, 80] == UNKNOWN_CLASS  # dry by water, but nobody knows the soil
    assert grid[100, 30] == 2  # wet by water whatever the soil
    nowhere = replace(plan, soils=plan.soils.iloc[1:])
    assert wet_classes(nowhere).values[100, 80] == UNKNOWN_CLASS


def test_rasters_are_laid_out_for_the_cloud(plan: Plan, tmp_path: Path) -> None:
    """OGC 21-026 (2023) by structure: tiles, reduced copies, all directories before the pixels."""
    big = replace(
        plan,
        slope=replace(plan.slope, values=np.tile(plan.slope.values, (4, 4))),
        slope_class=replace(plan.slope_class, values=np.tile(plan.slope_class.values, (4, 4))),
        wet_ground=None,
    )
    assert write_rasters(big, tmp_path) == ["slope_percent.tif", "slope_class.tif"]
    for name in ("slope_percent.tif", "slope_class.tif"):
        with rasterio.open(tmp_path / name) as file:
            assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
            assert file.block_shapes == [(256, 256)]
            assert file.overviews(1) == [2, 4]
        directories, tiles = _directories((tmp_path / name).read_bytes())
        assert len(directories) == 3
        assert directories == sorted(directories)
        assert max(directories) < min(min(offsets) for offsets in tiles)
        # reduced copies come first in the pixels, the full picture last
        assert min(tiles[0]) > max(tiles[1])
        assert min(tiles[1]) > max(tiles[2])


def _directories(content: bytes) -> tuple[list[int], list[list[int]]]:
    """Place of each image file directory and of its tiles that hold data (TIFF 6.0, 1992)."""
    assert content[:4] == b"II*\x00"
    at = struct.unpack_from("<I", content, 4)[0]
    places, tiles = [], []
    while at:
        places.append(at)
        count = struct.unpack_from("<H", content, at)[0]
        for k in range(count):
            tag, _, number, value = struct.unpack_from("<HHII", content, at + 2 + 12 * k)
            if tag == 324:  # TileOffsets
                where = at + 10 + 12 * k if number == 1 else value
                found = struct.unpack_from(f"<{number}I", content, where)
                tiles.append([offset for offset in found if offset])
        at = struct.unpack_from("<I", content, at + 2 + 12 * count)[0]
    return places, tiles


def test_rasters_have_the_same_bytes_twice(plan: Plan, rasters: Path, tmp_path: Path) -> None:
    names = write_rasters(plan, tmp_path)
    assert len(names) == 4
    for name in names:
        assert (tmp_path / name).read_bytes() == (rasters / name).read_bytes(), name


# ---- GeoPackage ----


def _rows(package: Path, query: str) -> list[tuple]:
    with closing(sqlite3.connect(package)) as base:
        return base.execute(query).fetchall()


def test_every_spatial_layer_has_a_look_for_its_geometry(package: Path) -> None:
    styled = _rows(
        package, "SELECT f_table_name, f_geometry_column, useAsDefault FROM layer_styles"
    )
    spatial = _rows(package, "SELECT table_name, column_name FROM gpkg_geometry_columns")
    assert {(name, column, 1) for name, column in spatial} == set(styled)
    kinds = {"POINT": "point", "LINESTRING": "line", "POLYGON": "area", "MULTIPOLYGON": "area"}
    for name, kind in _rows(
        package, "SELECT table_name, geometry_type_name FROM gpkg_geometry_columns"
    ):
        if kind != "GEOMETRY":  # crossings may be points and lines
            assert kinds[kind] == LAYER_LOOKS[name].kind, name


def test_looks_name_columns_and_classes_that_are_there(package: Path) -> None:
    for name, kind in _rows(package, "SELECT f_table_name, styleSLD FROM layer_styles"):
        columns = {row[1] for row in _rows(package, f'PRAGMA table_info("{name}")')}
        named = {item.text for item in Xml.fromstring(kind).iter(f"{OGC}PropertyName")}
        assert named <= columns, name
    values = {row[0] for row in _rows(package, "SELECT reserve_class FROM runs")}
    assert values <= {look.value for look in LAYER_LOOKS["runs"].looks}
    kinds = {row[0] for row in _rows(package, "SELECT kind FROM bottlenecks")}
    assert kinds <= {look.value for look in LAYER_LOOKS["bottlenecks"].looks}


# Order of elements by OGC 02-070 (2002), Styled Layer Descriptor 1.0, annex A, from memory.
SLD_ORDER = {
    "Rule": ["Name", "Title", "Filter", "LineSymbolizer", "PolygonSymbolizer", "PointSymbolizer"],
    "PolygonSymbolizer": ["Geometry", "Fill", "Stroke"],
    "TextSymbolizer": ["Geometry", "Label", "Font", "LabelPlacement", "Halo", "Fill"],
    "Mark": ["WellKnownName", "Fill", "Stroke"],
    "Graphic": ["Mark", "Opacity", "Size", "Rotation"],
}
SLD_ORDER["Rule"].append("TextSymbolizer")


@pytest.mark.parametrize("name", LAYER_LOOKS)
def test_both_style_languages_tell_the_same_look(name: str) -> None:
    layer = LAYER_LOOKS[name]
    sld, gis = Xml.fromstring(sld_style(name, layer)), Xml.fromstring(gis_style(layer))
    for element in sld.iter():
        order = SLD_ORDER.get(element.tag.removeprefix(SLD))
        if order:
            tags = [order.index(child.tag.split("}")[1]) for child in element]
            assert tags == sorted(tags)
    rules = list(sld.iter(f"{SLD}Rule"))
    symbols = list(gis.iter("symbol"))
    assert len(rules) == len(symbols) == len(layer.looks)
    for look, rule, symbol in zip(layer.looks, rules, symbols, strict=True):
        assert rule.findtext(f"{SLD}Title") == look.label
        sld_colours = {item.text for item in rule.iter(f"{SLD}CssParameter")}
        assert look.colour in sld_colours
        red, green, blue = (int(look.colour[k : k + 2], 16) for k in (1, 3, 5))
        values = {item.attrib["v"] for item in symbol.iter("prop")}
        assert any(value.startswith(f"{red},{green},{blue},") for value in values)
        if layer.attribute:
            literal = rule.findtext(f"{SLD}Filter".replace(SLD, OGC) + f"//{OGC}Literal")
            assert literal == str(look.value)
    labels = [item.text for item in sld.iter(f"{OGC}PropertyName")]
    assert (layer.label_from in labels) == bool(layer.label_from)


def test_trail_classes_are_drawn_as_on_the_map() -> None:
    looks = {look.value: look for look in LAYER_LOOKS["runs"].looks}
    for item in RESERVE_CLASSES:
        look = looks[item.label]
        assert (look.colour, look.width, look.dash) == (item.colour, item.width, item.dash)


def test_geopackage_tells_what_it_is_and_what_each_layer_is(package: Path, plan: Plan) -> None:
    assert pyogrio.read_info(package, layer="trails")["crs"] == plan.dem.crs
    whole = _rows(
        package,
        "SELECT m.metadata FROM gpkg_metadata m JOIN gpkg_metadata_reference r "
        "ON r.md_file_id = m.id WHERE r.reference_scope = 'geopackage'",
    )
    assert len(whole) == 1
    words = {item.tag.split("}")[1]: item.text for item in Xml.fromstring(whole[0][0])}
    assert words["title"] == plan.name
    assert words["creator"] == f"Rutwise {plan.version}"
    assert words["description"] == f"{INVENTED} {DEFERRAL}"
    tables = _rows(package, "SELECT table_name, description, last_change FROM gpkg_contents")
    assert all(text for _, text, _ in tables), [name for name, text, _ in tables if not text]
    assert {date for *_, date in tables} == {"2000-01-01T00:00:00.000Z"}
    extensions = {row[0] for row in _rows(package, "SELECT extension_name FROM gpkg_extensions")}
    assert {"gpkg_schema", "gpkg_metadata", "gpkg_rtree_index"} <= extensions
    assert _rows(package, "PRAGMA integrity_check") == [("ok",)]
    assert _rows(package, "PRAGMA foreign_key_check") == []


def test_stretches_and_emergency_point_are_layers_with_described_columns(
    package: Path, plan: Plan
) -> None:
    stretches = gpd.read_file(package, layer="bottlenecks")
    assert plan.bottlenecks is not None
    assert stretches["stretch"].tolist() == plan.bottlenecks["stretch"].tolist()
    np.testing.assert_allclose(stretches.total_bounds, plan.bottlenecks.total_bounds)
    assert gpd.read_file(package, layer="emergency")["note"].tolist() == ["gate at the road"]
    described = {
        (table, column)
        for table, column in _rows(package, "SELECT table_name, column_name FROM gpkg_data_columns")
    }
    for table in ("bottlenecks", "runs", "trails", "setups"):
        present = {row[1] for row in _rows(package, f'PRAGMA table_info("{table}")')}
        wanted = {(table, item.name) for item in TABLES[table] if item.name in present}
        assert wanted
        assert wanted <= described


def test_the_geopackage_has_the_same_bytes_twice(
    package: Path, small_plan: Plan, tmp_path: Path
) -> None:
    write_tables(with_field_things(small_plan), tmp_path)
    assert (tmp_path / "block.gpkg").read_bytes() == package.read_bytes()


# ---- the page that knows where it lies ----


@pytest.fixture(scope="module")
def page(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "map_geo.pdf"
    assert write_geopdf(plan, path)
    return path


def test_page_carries_its_corners(page: Path, plan: Plan) -> None:
    """Corners by ISO 32000-2 (2020), measure dictionary of a geospatial viewport."""
    reader = pypdf.PdfReader(page)
    assert len(reader.pages) == 1
    assert sorted(round(float(side) / 72 * 25.4) for side in reader.pages[0].mediabox[2:]) == [
        210,
        297,
    ]
    assert reader.metadata is not None
    assert reader.metadata.title == plan.name
    assert reader.metadata.subject == f"{INVENTED} {DEFERRAL}"
    measure = reader.pages[0]["/VP"][0]["/Measure"]  # type: ignore[index]
    corners = np.array([float(value) for value in measure["/GPTS"]]).reshape(4, 2)
    frame = map_frame(plan)
    turn = Transformer.from_crs(plan.dem.crs, 4326)
    # /LPTS tells which corner of the unit square each pair of degrees belongs to
    unit = np.array([float(value) for value in measure["/LPTS"]]).reshape(4, 2)
    x = np.where(unit[:, 0] == 0, frame.west_m, frame.east_m)
    y = np.where(unit[:, 1] == 0, frame.south_m, frame.north_m)
    wanted = np.column_stack(turn.transform(x, y))
    np.testing.assert_allclose(corners, wanted, atol=2e-7)  # a pixel is 1e-6 degrees
    inside = gpd.GeoSeries(plan.trails.geometry).total_bounds
    assert frame.west_m < inside[0]
    assert frame.south_m < inside[1]
    assert frame.east_m > inside[2]
    assert frame.north_m > inside[3]


@pytest.mark.skipif(shutil.which("gdalinfo") is None, reason="needs a GDAL that reads PDF")
def test_page_reads_back_where_the_block_lies(page: Path, plan: Plan) -> None:
    done = subprocess.run(
        ["gdalinfo", str(page)], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    frame = map_frame(plan)
    words = next(line for line in done.stdout.splitlines() if line.startswith("Upper Left"))
    x, y = (float(part) for part in words.split("(")[1].split(")")[0].split(","))
    assert (x, y) == pytest.approx((frame.west_m, frame.north_m), abs=0.01)
    assert "Origin" in done.stdout


def test_page_is_all_map_and_has_the_same_bytes_twice(
    page: Path, plan: Plan, tmp_path: Path
) -> None:
    frame = map_frame(plan)
    picture = map_picture(plan, frame)
    assert picture.shape == (frame.rows, frame.columns, 3)
    aspect = (frame.east_m - frame.west_m) / (frame.north_m - frame.south_m)
    assert aspect == pytest.approx(frame.columns / frame.rows, rel=1e-9)
    # the middle of the second trail is drawn dark where the frame says that it lies
    line = plan.trails.geometry.iloc[2]
    where = line.interpolate(0.3, normalized=True)
    column = int((where.x - frame.west_m) / (frame.east_m - frame.west_m) * frame.columns)
    row = int((frame.north_m - where.y) / (frame.north_m - frame.south_m) * frame.rows)
    assert picture[row - 2 : row + 3, column - 2 : column + 3].max(axis=2).min() < 60
    assert write_geopdf(plan, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == page.read_bytes()


def test_without_the_driver_there_is_no_page_and_no_crash(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(geopdf, "_DRIVER", "NO SUCH DRIVER")
    assert not write_geopdf(plan, tmp_path / "map_geo.pdf")
    assert not list(tmp_path.iterdir())


def test_hostile_names_do_not_stop_the_page(hostile_plan: Plan, tmp_path: Path) -> None:
    assert write_geopdf(with_field_things(hostile_plan, "$x^{2$ <b>"), tmp_path / "map_geo.pdf")
    title = pypdf.PdfReader(tmp_path / "map_geo.pdf").metadata
    assert title is not None
    assert "<script>" in str(title.title)
