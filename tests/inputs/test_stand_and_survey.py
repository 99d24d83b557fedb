"""Stands and surveys: what is read, and what is refused by name or row."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from terrain.inputs.site_rules import read_profile
from terrain.inputs.stand import read_stand
from terrain.inputs.survey import read_survey

CRS = "EPSG:32633"
MAPPING = {"volume_m3_per_ha": "vol"}


def stand_file(path, geometry, volumes):
    gpd.GeoDataFrame({"vol": volumes}, geometry=geometry, crs=CRS).to_file(path)
    return path


def codes(issues):
    return [issue.code for issue in issues]


def test_a_stand_is_read_with_its_unknowns(tmp_path):
    path = stand_file(tmp_path / "s.gpkg", [box(0, 0, 9, 9), box(20, 0, 29, 9)], [250.0, None])
    stand, file, issues = read_stand(path, MAPPING, CRS)
    assert not issues
    assert stand["volume_m3_per_ha"].iloc[0] == 250
    assert np.isnan(stand["volume_m3_per_ha"].iloc[1])
    assert file.role == "stand"


@pytest.mark.parametrize(
    ("geometry", "volumes", "code", "word"),
    [
        ([box(0, 0, 9, 9), LineString([(0, 0), (1, 1)])], [1, 2], "STD01", "row 2"),
        ([box(0, 0, 9, 9), box(20, 0, 29, 9)], ["many", "3"], "STD02", "row 1"),
        ([box(0, 0, 9, 9), box(20, 0, 29, 9)], [1.0, -3.0], "STD02", "row 2"),
        ([box(0, 0, 9, 9), box(5, 0, 29, 9)], [1.0, 3.0], "STD03", "36 m2"),
    ],
)
def test_bad_stands_are_named(tmp_path, geometry, volumes, code, word):
    stand, _, issues = read_stand(stand_file(tmp_path / "s.gpkg", geometry, volumes), MAPPING, CRS)
    assert codes(issues) == [code]
    assert word in issues[0].what
    assert (stand is None) == (issues[0].severity == "error")


def test_a_missing_column_is_suggested(tmp_path):
    path = stand_file(tmp_path / "s.gpkg", [box(0, 0, 9, 9)], [1.0])
    stand, _, issues = read_stand(path, {"volume_m3_per_ha": "volu"}, CRS)
    assert stand is None
    assert "vol" in issues[0].fix


def test_a_profile_by_key_and_by_file(tmp_path):
    profile, file, issues = read_profile("fiji_code")
    assert profile.depth_mineral_cm == 30
    assert file is None
    assert not issues
    profile, _, issues = read_profile("fiji_cod")
    assert profile is None
    assert "fiji_code" in issues[0].fix
    own = tmp_path / "own.toml"
    own.write_text('[[profile]]\nkey = "a"\ntitle = "t"\ndepth_cm = 3\n', encoding="utf-8")
    profile, _, issues = read_profile("a", own)
    assert profile is None
    assert {"TOML04", "TOML05"} == set(codes(issues))


@pytest.mark.parametrize("separator", [",", ";"])
def test_a_survey_in_csv(tmp_path, separator):
    path = tmp_path / "ruts.csv"
    rows = [["Trail", "Chainage", "depth_cm"], ["T1", "10", "12.5"], ["T1", "20", "0"]]
    rows[1][2] = "12,5" if separator == ";" else '"12,5"'
    path.write_text("\n".join(separator.join(row) for row in rows), encoding="utf-8-sig")
    table, issues = read_survey(path, CRS)
    assert not issues
    assert table["depth_cm"].tolist() == [12.5, 0.0]  # no rut is a measurement
    assert table["length_m"].tolist() == [1.0, 1.0]
    assert table["when"].tolist() == ["after", "after"]
    assert table["rut_type"].tolist() == [0, 0]


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ("T1,,5,1,1,after", "SVY03"),
        (",10,5,1,1,after", "SVY03"),
        ("T1,10,,1,1,after", "SVY04"),
        ("T1,10,301,1,1,after", "SVY04"),
        ("T1,10,5,0,1,after", "SVY05"),
        ("T1,10,5,1,4,after", "SVY05"),
        ("T1,10,5,1,1,later", "SVY05"),
    ],
)
def test_bad_rows_are_left_out_by_number(tmp_path, cells, code):
    path = tmp_path / "ruts.csv"
    head = "trail,chainage_m,depth_cm,length_m,rut_type,when"
    path.write_text(f"{head}\nT1,5,3,1,1,before\n{cells}\n", encoding="utf-8")
    table, issues = read_survey(path, CRS)
    assert codes(issues) == [code]
    assert "row 2" in issues[0].what
    assert table["row"].tolist() == [1]


@pytest.mark.parametrize("end", ["", "\n", "\n\n"])
def test_a_survey_of_headings_alone_is_refused_in_words(tmp_path, end):
    path = tmp_path / "ruts.csv"
    path.write_text(f"trail,chainage_m,depth_cm{end}", encoding="utf-8")
    table, (issue,) = read_survey(path, CRS)
    assert table is None
    assert (issue.code, issue.severity) == ("SVY01", "error")
    assert "no row below the headings" in issue.what


def test_points_give_the_place_and_nothing_usable_is_an_error(tmp_path):
    points = gpd.GeoDataFrame(
        {"depth_cm": [5.0, 7.0], "x": [1, 1], "y": [1, 1]},
        geometry=[Point(500_010, 10), None],
        crs=CRS,
    )
    points.to_file(tmp_path / "p.gpkg")
    table, issues = read_survey(tmp_path / "p.gpkg", CRS)
    assert table["x_m"].tolist() == [500_010]
    assert "SVY03" in codes(issues)
    (tmp_path / "e.csv").write_text("trail,chainage_m,depth_cm\nT1,,\n", encoding="utf-8")
    table, issues = read_survey(tmp_path / "e.csv", CRS)
    assert table is None
    assert "SVY01" in codes(issues)
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00bad")
    assert read_survey(tmp_path / "b.csv", CRS)[0] is None


def test_a_survey_with_more_cells_than_headings_is_refused_with_its_lines(tmp_path):
    path = tmp_path / "ruts.csv"
    path.write_text("trail,chainage_m,depth_cm\n1,10,22,5\n2,20,24\n3,40,21,5\n")
    table, issues = read_survey(path, CRS)
    assert table is None
    assert [i.code for i in issues] == ["SVY01"]
    assert "line 2, line 4" in issues[0].what
    path.write_text("trail,chainage_m,depth_cm\nT1,10,12,\nT1,20,13\n")  # an empty cell behind
    table, issues = read_survey(path, CRS)
    assert issues == []
    assert table["depth_cm"].tolist() == [12.0, 13.0]
    for text in ("", 'trail,chainage_m,depth_cm\n"T1,10,5\nT1,20,6\n'):
        path.write_text(text)
        table, issues = read_survey(path, CRS)
        assert table is None
        assert [i.code for i in issues] == ["SVY01"]
