"""Strength readings: good rows placed in their polygon, bad ones left out by row and reason."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import Point, box

from terrain.inputs.readings import read_readings
from terrain.inputs.refs import LayerRef
from terrain.inputs.water_tables import ReadingsTable

CRS = "EPSG:32633"
HEADER = "x,y,depth_cm,value,unit,kind,date,moisture_state\n"
KEYS = ("x", "y", "depth_cm", "value", "unit", "kind", "date", "moisture_state")


def soils():
    return gpd.GeoDataFrame(
        {"soil_class": [1, 3]},
        index=["firm", "soft"],
        geometry=[box(0, 0, 100, 100), box(90, 0, 200, 100)],
        crs=CRS,
    )


def read(path, text=None, **keys):
    if text is not None:
        path.write_text(text, encoding="utf-8")
    table = ReadingsTable(file=path.name, **keys)
    ref = LayerRef(path, path.name, None, {key: getattr(table, key) for key in KEYS})
    return read_readings(ref, table, CRS, soils())


def test_units_and_polygons(tmp_path):
    rows = "10,10,15,250,kPa,cone,2026-05-04,moist\n95,10,,0.3,MPa,CONE,,Wet\n"
    # 1 psi = 6.894757 kPa; 2 kgf/cm2 = 196.133 kPa (a kilogram-force is 9.80665 N)
    rows += "150,10,15,40,psi,cone,,moist\n150,20,15,2,kgf/cm2,plate,,moist\n"
    found, file, issues = read(tmp_path / "r.csv", HEADER + rows, crs=CRS)
    assert issues == []
    assert found["value_kpa"].tolist() == pytest.approx([250, 300, 275.79028, 196.133])
    assert found["polygon"].tolist() == ["firm", "soft", "soft", "soft"]  # softer where both are
    assert found["moisture_state"].tolist() == ["moist", "wet", "moist", "moist"]
    assert np.isnan(found["depth_cm"].iloc[1])
    assert file.detail == "4 of 4 readings used"


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("500,10,15,250,kPa,cone,,moist", "outside every soil polygon"),
        (",10,15,250,kPa,cone,,moist", "no position"),
        ("10,10,15,250,kPa,cone,,frozen", "frozen ground"),
        ("10,10,15,250,kPa,cone,,frost crust", "frozen ground"),
        ("10,10,15,250,kPa,cone,,soggy", "'soggy'; allowed"),
        ("10,10,15,250,kPa,cone,,", "no moisture state"),
        ("10,10,15,250,Nm,cone,,moist", "'Nm' is none of pressure"),
        ("10,10,15,250,,cone,,moist", "no unit"),
        ("10,10,15,250,MPa,cone,,moist", "250000 kPa is no cone reading"),
        ("10,10,15,-3,kPa,cone,,moist", "-3 kPa is no cone reading"),
        ("10,10,15,0,kPa,cone,,moist", "0 kPa is no cone reading"),
        ("10,10,15,soft,kPa,cone,,moist", "no number as value"),
        ("10,10,15,,kPa,cone,,moist", "no number as value"),
        ("10,10,15,nan,kPa,cone,,moist", "no number as value"),
        ("10,10,15,900,kPa,vane,,moist", "900 kPa is no vane reading"),
        ("10,10,15,250,kPa,thumb,,moist", "kind 'thumb'"),
        ("10,10,-5,250,kPa,cone,,moist", "depth is not 0 to 200 cm"),
        ("10,10,15,250,kPa,cone,4.5.26,moist", "'4.5.26' is not like 2026-05-04"),
    ],
)
def test_bad_rows_are_left_out_by_name(tmp_path, row, reason):
    good = "20,20,15,250,kPa,cone,2026-05-04,moist\n"
    found, _, issues = read(tmp_path / "r.csv", f"{HEADER}{good}{row}\n", crs=CRS)
    (issue,) = issues
    assert (issue.code, issue.severity, issue.where) == ("RDG03", "warning", "r.csv, row 2")
    assert reason in issue.what
    assert found["row"].tolist() == [1]


def test_readings_that_all_lie_elsewhere_are_one_message_about_the_crs(tmp_path):
    rows = "5200,10,15,250,kPa,cone,,moist\n5300,10,15,250,kPa,cone,,moist\n"
    rows += ",10,15,250,kPa,cone,,moist\n5400,10,15,250,kPa,thumb,,moist\n"
    found, _, issues = read(tmp_path / "r.csv", HEADER + rows, crs=CRS)
    assert len(found) == 0
    assert [(i.code, i.severity) for i in issues] == [("RDG06", "warning")] + [
        ("RDG03", "warning")
    ] * 2
    # polygons end at x = 200, the nearest reading lies at 5200
    assert "(3 were read); the nearest is 5.0 km off" in issues[0].what
    assert f'crs in [readings] (it is "{CRS}")' in issues[0].fix
    assert [i.where for i in issues[1:]] == ["r.csv, row 3", "r.csv, row 4"]
    assert "outside" not in issues[2].what


def test_a_wrong_crs_out_of_reach_names_the_key(tmp_path):
    rows = "500000,5300000,15,250,kPa,cone,,moist\n"
    found, _, issues = read(tmp_path / "r.csv", HEADER + rows, crs="EPSG:4326")
    assert found is None
    assert issues[0].code == "INP30"
    assert "crs in [readings]" in issues[0].fix


def test_a_row_says_everything_that_is_wrong_with_it(tmp_path):
    _, _, issues = read(tmp_path / "r.csv", f"{HEADER},,999,x,bar?,thumb,,ice\n", crs=CRS)
    what = issues[0].what
    for reason in ("no position", "no number", "'bar?'", "'thumb'", "frozen", "depth"):
        assert reason in what
    assert issues[1].code == "RDG05"


def test_words_for_all_rows_and_other_names(tmp_path):
    text = "East;North;CI\n10;10;0,25\n150,5;10;0,2\n"
    found, _, issues = read(
        tmp_path / "r.csv", text, crs=CRS, x="East", y="North", value="CI",
        unit_of_all="MPa", kind_of_all="cone", state_of_all="wet",
    )  # fmt: skip
    assert issues == []
    assert found["value_kpa"].tolist() == [250, 200]
    assert found.geometry.x.tolist() == [10, 150.5]


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("x,y,value,unit,kind\n1,1,2,kPa,cone\n", "RDG02", "state_of_all"),
        ("x,y,unit,kind,moisture_state\n1,1,kPa,cone,moist\n", "RDG02", "'value'"),
        ("x,value,unit,kind,moisture_state\n1,2,kPa,cone,moist\n", "RDG02", "'y'"),
        (HEADER, "RDG01", "no row"),
        (HEADER + "1,1,2,3,4,5,6,7,8,9\n", "RDG01", "row 1"),
        ('<VRTDataset a="1">\n</VRTDataset>', "RDG01", "no table"),
        ("x,x\n1,2\n", "RDG01", "twice"),
    ],
)
def test_a_table_that_cannot_be_understood_is_refused(tmp_path, text, code, says):
    found, _, issues = read(tmp_path / "r.csv", text, crs=CRS)
    assert found is None
    assert [issue.severity for issue in issues] == ["error"] * len(issues)
    assert issues[0].code == code
    assert says in issues[0].what + issues[0].fix


def test_crs_of_a_csv(tmp_path):
    text = HEADER + "10,10,15,250,kPa,cone,,moist\n"
    _, _, issues = read(tmp_path / "r.csv", text)
    assert [(i.code, i.severity) for i in issues] == [("RDG04", "note")]
    found, _, issues = read(tmp_path / "r.csv", text, crs="EPSG:none")
    assert found is None
    assert issues[0].code == "RDG04"


def test_a_layer_of_points(tmp_path):
    layer = gpd.GeoDataFrame(
        {
            "value": [300.0, 310.0],
            "unit": ["kPa", "kPa"],
            "kind": ["cone", "cone"],
            "moisture_state": ["dry", "dry"],
        },
        geometry=[Point(10, 10), None],
        crs=CRS,
    )
    layer.to_file(tmp_path / "r.gpkg", driver="GPKG")
    found, _, issues = read(tmp_path / "r.gpkg")
    assert found["value_kpa"].tolist() == [300]
    assert "no position" in issues[0].what


def test_a_missing_file_is_an_error(tmp_path):
    found, _, issues = read(tmp_path / "none.csv")
    assert found is None
    assert issues[0].code == "INP20"
