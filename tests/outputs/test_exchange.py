"""GPX, KML and GeoJSON: read back by GDAL and held against their standards."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as Xml

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from pyproj import Transformer

from terrain.decision.results import Plan
from terrain.models.emergency import Emergency
from terrain.outputs.exchange import geojson_text, kml_text
from terrain.outputs.field_features import DIGITS, place_features, trail_features
from terrain.outputs.geometry import to_degrees
from terrain.outputs.gps import gpx_text
from terrain.outputs.wording import DEFERRAL, INVENTED
from terrain.outputs.xml_text import xml_text
from tests.outputs.field_plan import with_field_things

GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module")
def plan(small_plan: Plan) -> Plan:
    return with_field_things(small_plan)


@pytest.fixture(scope="module")
def hostile(hostile_plan: Plan) -> Plan:
    return with_field_things(hostile_plan, '<b>"bridge"</b> & \u202eabc \x07')


@pytest.fixture(scope="module")
def files(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _written(plan, tmp_path_factory.mktemp("exchange"))


@pytest.fixture(scope="module")
def hostile_files(hostile: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _written(hostile, tmp_path_factory.mktemp("hostile"))


def _written(plan: Plan, folder: Path) -> Path:
    for name, text in (("t.gpx", gpx_text), ("b.kml", kml_text), ("b.geojson", geojson_text)):
        (folder / name).write_text(text(plan), encoding="utf-8")
    return folder


def _degrees(plan: Plan) -> gpd.GeoSeries:
    """Trails in degrees by the library, not by the code under test."""
    return plan.trails.geometry.to_crs("EPSG:4326")


def _bounds_close(one: np.ndarray, other: np.ndarray) -> None:
    np.testing.assert_allclose(one, other, atol=1e-7)  # what is written has seven decimals


# ---- GPX ----


def test_gpx_tracks_read_back_with_names_count_and_extent(files: Path, plan: Plan) -> None:
    tracks = pyogrio.read_dataframe(files / "t.gpx", layer="tracks")
    assert tracks["name"].tolist() == [str(name) for name in plan.trails.index]
    _bounds_close(tracks.total_bounds, _degrees(plan).total_bounds)
    points = pyogrio.read_dataframe(files / "t.gpx", layer="track_points")
    assert len(points) == shapely.get_num_coordinates(plan.trails.geometry.values).sum()
    first = plan.trails.geometry.iloc[0].coords[0]
    assert points["ele"].iloc[0] == pytest.approx(float(plan.dem.bilinear(*first)), abs=0.005)


def test_gpx_waypoints_are_emergency_landing_crossings_and_weakest_places(
    files: Path, plan: Plan
) -> None:
    points = pyogrio.read_dataframe(files / "t.gpx", layer="waypoints")
    assert points["name"].tolist() == [
        "Emergency: X1",
        "Landing Landing T3",
        "Crossing X1",
        "Crossing X2",
        "T1-40",
        "T2-0",
    ]
    assert points["type"].tolist() == ["emergency", "landing", *["crossing"] * 2, *["stretch"] * 2]
    back = points.to_crs(plan.dem.crs).geometry
    assert plan.emergency is not None
    assert plan.bottlenecks is not None
    wanted = shapely.Point(plan.emergency.x_m, plan.emergency.y_m)
    assert back.iloc[0].distance(wanted) < 0.02  # seven decimals of a degree are a centimetre
    worst = plan.bottlenecks.iloc[0]
    assert back.iloc[4].distance(shapely.Point(worst["x_m"], worst["y_m"])) < 0.02
    assert back.iloc[5].distance(plan.bottlenecks.geometry.iloc[1]) < 0.02
    assert "gate at the road" in points["desc"].iloc[0]
    assert "20 % (11°)" in points["desc"].iloc[4]
    assert "Enough traction with: open band tracks on both bogies" in points["desc"].iloc[4]
    assert "thin reserve" in points["desc"].iloc[5]  # not a question of grip: no setup is named
    assert "Enough traction with" not in points["desc"].iloc[5]
    # that of the setup to carry, known where the one of the setup that is told is not
    told = "Smallest traction reserve with the setup to carry: 2 % (1°)"
    assert told in points["desc"].iloc[4]
    assert told in points["desc"].iloc[5]


# Order of child elements by the GPX 1.1 schema documentation (Topografix 2004), sequences gpxType,
# metadataType, wptType, trkType. The whole document was once validated against the schema file.
ORDER = {
    tag: children.split()
    for tag, children in {
        "gpx": "metadata wpt rte trk extensions",
        "metadata": "name desc author copyright link time keywords bounds extensions",
        "wpt": "ele time magvar geoidheight name cmt desc src link sym type fix sat hdop vdop pdop "
        "ageofdgpsdata dgpsid extensions",
        "trk": "name cmt desc src link number type extensions trkseg",
        "trkseg": "trkpt extensions",
    }.items()
}
ORDER["trkpt"] = ORDER["wpt"]


@pytest.mark.parametrize("name", ["files", "hostile_files"])
def test_gpx_elements_stand_in_the_order_of_the_schema(
    name: str, request: pytest.FixtureRequest
) -> None:
    root = Xml.parse(request.getfixturevalue(name) / "t.gpx").getroot()
    assert root.attrib["version"] == "1.1"
    seen = set()
    for element in root.iter():
        tag = element.tag.removeprefix(GPX)
        children = [child.tag.removeprefix(GPX) for child in element]
        seen.add(tag)
        if children:
            order = [ORDER[tag].index(child) for child in children]
            assert order == sorted(order), tag
        for key, value in element.attrib.items():
            if key in ("lat", "lon"):
                assert re.fullmatch(r"-?\d+\.\d{7}", value)  # xsd:decimal knows no exponent
    assert {"metadata", "bounds", "wpt", "trk", "trkseg", "trkpt"} <= seen


def test_gpx_leaves_out_a_height_that_nobody_knows(plan: Plan) -> None:
    lost = replace(plan, emergency=Emergency("far", plan.dem.west_m - 500, plan.dem.north_m))
    root = Xml.fromstring(gpx_text(lost))
    points = root.findall(f"{GPX}wpt")
    assert points[0].find(f"{GPX}ele") is None
    assert points[1].find(f"{GPX}ele") is not None


def test_gpx_says_invented_and_defers(files: Path) -> None:
    desc = Xml.parse(files / "t.gpx").findtext(f"{GPX}metadata/{GPX}desc")
    assert desc is not None
    assert DEFERRAL in desc
    assert INVENTED in desc


# ---- KML ----


def test_kml_folders_read_back_with_names_counts_and_extent(files: Path, plan: Plan) -> None:
    layers = [str(name) for name, _ in pyogrio.list_layers(files / "b.kml")]
    assert layers == [
        "Emergency point",
        "Landings",
        "Crossings",
        "Weakest place of each stretch",
        "Weak stretches",
        "Traction reserve of the shown setup",
        "Trails",
        "Machine-free strip along water",
        "Mapped water",
        "Block boundary",
    ]
    trails = pyogrio.read_dataframe(files / "b.kml", layer="Trails")
    assert trails["Name"].tolist() == [str(name) for name in plan.trails.index]
    _bounds_close(trails.total_bounds, _degrees(plan).total_bounds)
    weak = pyogrio.read_dataframe(files / "b.kml", layer="Weak stretches")
    assert weak["Name"].tolist() == ["T1-40", "T2-0"]
    reserve = pyogrio.read_dataframe(
        files / "b.kml", layer="Traction reserve of the shown setup"
    ).to_crs(plan.dem.crs)
    assert reserve.length.sum() == pytest.approx(plan.trails.length.sum(), rel=1e-4)  # 7 decimals
    water = pyogrio.read_dataframe(files / "b.kml", layer="Mapped water").to_crs(plan.dem.crs)
    pond = water.geometry[water.geom_type == "Polygon"].iloc[0]
    assert len(pond.interiors) == 1


def test_kml_style_links_lead_somewhere_and_colours_are_turned(files: Path) -> None:
    root = Xml.parse(files / "b.kml").getroot()
    styles = {item.attrib["id"]: item for item in root.iter(f"{KML}Style")}
    links = {item.text for item in root.iter(f"{KML}styleUrl")}
    assert {str(link).removeprefix("#") for link in links} <= set(styles)
    # OGC KML 2.2 (OGC 07-147r2, 2008), kml:color: opacity, blue, green, red
    short = styles["reserve-1"].findtext(f"{KML}LineStyle/{KML}color")
    assert short == "ff005ed5"  # #d55e00


def test_kml_descriptions_are_html_and_escape_what_people_wrote(hostile_files: Path) -> None:
    root = Xml.parse(hostile_files / "b.kml").getroot()
    texts = [item.text or "" for item in root.iter(f"{KML}description")]
    assert texts
    for text in texts:
        assert re.findall(r"<[^>]*>", text) == ["<br/>"] * text.count("<"), text


def test_closed_trails_and_water_without_a_crossing_are_told(plan: Plan, tmp_path: Path) -> None:
    first, second = (str(name) for name in plan.trails.index[:2])
    states = pd.DataFrame({"trail": [first], "usable_moist": [False]})
    states["water_here"], states["water_on_way"] = None, None
    runs = pd.DataFrame(
        {"trail": [second], "from_m": [50.0], "to_m": [60.0], "crossing": [None]},
    ).assign(to_crossing_m=np.nan)
    wet = replace(plan.wet_ground, water_runs=runs)
    _written(replace(plan, trail_states=states, wet_ground=wet), tmp_path)
    tracks = pyogrio.read_dataframe(tmp_path / "t.gpx", layer="tracks")
    assert tracks["name"].iloc[0] == f"CLOSED {first}"
    assert tracks["desc"].iloc[0].startswith("CLOSED: closed on this ground")
    points = pyogrio.read_dataframe(tmp_path / "t.gpx", layer="waypoints").to_crs(plan.dem.crs)
    stop = points[points["name"] == f"WATER, NO CROSSING {second} at 50 m"].iloc[0]
    assert stop.geometry.distance(plan.trails.geometry.loc[second].interpolate(55)) < 0.02
    assert "stop and ask" in stop["desc"]
    folder = "Water without a crossing: stop and ask"
    assert len(pyogrio.read_dataframe(tmp_path / "b.kml", layer=folder)) == 1
    root = Xml.parse(tmp_path / "b.kml").getroot()
    styles = {item.attrib["id"] for item in root.iter(f"{KML}Style")}
    assert {str(item.text).removeprefix("#") for item in root.iter(f"{KML}styleUrl")} <= styles
    record = json.loads((tmp_path / "b.geojson").read_text(encoding="utf-8"))
    warned = {
        (one["properties"]["layer"], one["properties"]["warning"])
        for one in record["features"]
        if "warning" in one["properties"]
    }
    assert ("trail", "CLOSED") in warned
    assert ("no crossing", "WATER, NO CROSSING") in warned


# ---- GeoJSON, RFC 7946 (Butler et al. 2016) ----


def test_geojson_reads_back_with_names_counts_and_extent(files: Path, plan: Plan) -> None:
    frame = pyogrio.read_dataframe(files / "b.geojson")
    assert frame.crs == "EPSG:4326"
    trails = frame[frame["layer"] == "trail"]
    assert trails["name"].tolist() == [str(name) for name in plan.trails.index]
    _bounds_close(trails.total_bounds, _degrees(plan).total_bounds)
    np.testing.assert_allclose(trails["length_m"], plan.trails["length_m"])
    assert (frame["layer"] == "stretch").sum() == 2
    assert (frame["layer"] == "worst place").sum() == 2
    assert (frame["layer"] == "crossing").sum() == 2


def test_geojson_follows_the_standard(files: Path) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    text = (files / "b.geojson").read_text(encoding="utf-8")
    record = json.loads(text, parse_constant=refuse)
    assert record["type"] == "FeatureCollection"
    assert "crs" not in record  # section 4
    shapes = []
    for feature in record["features"]:
        assert {"type", "geometry", "properties"} <= set(feature)  # section 3.2
        shape = shapely.geometry.shape(feature["geometry"])
        shapes.append(shape)
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":  # section 3.1.6: the right-hand rule
                assert part.exterior.is_ccw
                assert not any(ring.is_ccw for ring in part.interiors)
    assert any(len(getattr(shape, "interiors", ())) for shape in shapes)
    assert record["bbox"] == pytest.approx(list(shapely.total_bounds(shapes)), abs=1e-9)
    decimals = re.findall(r"-?\d+\.(\d+)", json.dumps([f["geometry"] for f in record["features"]]))
    assert max(map(len, decimals)) == 7
    stretch = [f for f in record["features"] if f["properties"]["layer"] == "stretch"]
    assert stretch[1]["properties"]["worst_reserve"] is None  # unknown, never 0
    assert stretch[1]["properties"]["needs"] is None
    assert record["note"] == f"{INVENTED} {DEFERRAL}"


# ---- all ----


def test_hostile_names_survive_as_text(hostile_files: Path, hostile: Plan) -> None:
    names = [str(name) for name in hostile.trails.index]
    assert any("<script>" in name for name in names)
    tracks = pyogrio.read_dataframe(hostile_files / "t.gpx", layer="tracks")
    assert tracks["name"].tolist() == names
    trails = pyogrio.read_dataframe(hostile_files / "b.kml", layer="Trails")
    assert trails["Name"].tolist() == names
    frame = pyogrio.read_dataframe(hostile_files / "b.geojson")
    assert frame.loc[frame["layer"] == "trail", "name"].tolist() == names
    points = pyogrio.read_dataframe(hostile_files / "t.gpx", layer="waypoints")
    # XML 1.0 (W3C 2008), section 2.2 has no bell; the rest of the name stays
    assert points["name"].iloc[0] == 'Emergency: <b>"bridge"</b> & \u202eabc \ufffd'
    assert Xml.parse(hostile_files / "t.gpx").findtext(f"{GPX}metadata/{GPX}name") == hostile.name


def test_text_that_xml_cannot_hold_is_replaced() -> None:
    assert xml_text("a\x00b\x0bc\ud800d\uffffe\tf\U0001f332") == (
        "a\ufffdb\ufffdc\ufffdd\ufffde\tf\U0001f332"
    )


def test_a_plan_without_the_extras_still_writes(small_plan: Plan, tmp_path: Path) -> None:
    _written(small_plan, tmp_path)
    points = pyogrio.read_dataframe(tmp_path / "t.gpx", layer="waypoints")
    assert points["type"].tolist() == ["landing"]
    assert len(pyogrio.list_layers(tmp_path / "b.kml")) == 4


def test_the_same_plan_gives_the_same_text(small_plan: Plan) -> None:
    for text in (gpx_text, kml_text, geojson_text):
        assert text(with_field_things(small_plan)) == text(with_field_things(small_plan))


def test_degrees_agree_with_the_projection_library(plan: Plan) -> None:
    point = shapely.Point(plan.dem.west_m + 7, plan.dem.north_m - 3)
    moved = to_degrees(plan.dem.crs, DIGITS)(point)
    wanted = Transformer.from_crs(plan.dem.crs, 4326, always_xy=True).transform(point.x, point.y)
    assert (moved.x, moved.y) == pytest.approx(wanted, abs=5.1e-8)  # half the last decimal
    assert moved.y > moved.x  # here latitude 50, longitude 13: not swapped


def test_a_trail_that_nobody_could_assess_has_no_slope_of_none(plan: Plan) -> None:
    blind = plan.trails.assign(steepest_up=np.nan, steepest_down=np.nan)
    words = dict(trail_features(replace(plan, trails=blind))[0].words)
    assert words["Steepest uphill, loaded"] == "not known"
    downhill = plan.trails.assign(steepest_up=np.nan, steepest_down=0.2)
    words = dict(trail_features(replace(plan, trails=downhill))[0].words)
    assert words["Steepest uphill, loaded"] == "none"
    assert words["Steepest downhill, loaded"] == "20 % (11°)"


def test_places_come_with_the_emergency_point_first(plan: Plan) -> None:
    kinds = [item.kind for item in place_features(plan)]
    assert kinds == ["emergency", "landing", "crossing", "crossing", "stretch", "stretch"]


def test_reserve_of_a_closed_trail_is_drawn_closed(plan: Plan, tmp_path: Path) -> None:
    first = str(plan.trails.index[0])
    states = pd.DataFrame({"trail": [first], "usable_moist": [False]})
    states["water_here"], states["water_on_way"] = None, None
    _written(replace(plan, trail_states=states), tmp_path)
    root = Xml.parse(tmp_path / "b.kml").getroot()
    folder = next(
        item
        for item in root.iter(f"{KML}Folder")
        if item.findtext(f"{KML}name") == "Traction reserve of the shown setup"
    )
    drawn = {
        (str(mark.findtext(f"{KML}name")), mark.findtext(f"{KML}styleUrl") == "#closed")
        for mark in folder.iter(f"{KML}Placemark")
    }
    assert (f"CLOSED {first}", True) in drawn
    assert {shut for name, shut in drawn if not name.startswith("CLOSED")} == {False}
    assert not any(shut != name.startswith("CLOSED") for name, shut in drawn)
