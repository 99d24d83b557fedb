"""Trails, landings, boundary: every odd row is handled or refused by its name and row."""

import re
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import (
    LineString,
    MultiLineString,
    MultiPoint,
    Point,
    Polygon,
    box,
)

from terrain.inputs import trails as module
from terrain.inputs.attributes import number_values, text_values
from terrain.inputs.trails import read_boundary, read_landings, read_trails

CRS = "EPSG:26915"
X, Y = 500000.0, 5100000.0
COLUMNS = {
    "id": "trail",
    "trail_class": "trail_class",
    "volume_m3": "volume_m3",
    "width_m": "width_m",
}


def line(*points):
    return LineString([(X + x, Y + y, *z) for x, y, *z in points])


def layer(path, geometry, crs=CRS, **columns):
    columns.setdefault("trail", [f"T{n + 1}" for n in range(len(geometry))])
    for key in ("trail_class", "volume_m3", "width_m"):
        columns.setdefault(key, [None] * len(geometry))
    # a FlatGeobuf with an index is written in an order of its own
    options = {"SPATIAL_INDEX": "NO"} if path.suffix == ".fgb" else {}
    gpd.GeoDataFrame(columns, geometry=geometry, crs=crs).to_file(path, **options)
    return path


def read(path, snap_m=3.0, columns=None):
    return read_trails(path, COLUMNS if columns is None else columns, CRS, snap_m)


def codes(issues, severity=None):
    return [i.code for i in issues if severity in (None, i.severity)]


def the(issues, code):
    (found,) = [issue for issue in issues if issue.code == code]
    return found


def refused(path, code, **options):
    trails, file, issues = read(path, **options)
    assert trails is None
    assert file is None
    assert codes(issues, "error") == [code], [str(issue) for issue in issues]
    return the(issues, code)


STRAIGHT = line((0, 0), (100, 0))
BRANCH = line((50, 0), (50, 80))


@pytest.mark.parametrize("suffix", ["gpkg", "geojson", "shp", "fgb"])
def test_good_trails_come_through(tmp_path, suffix):
    path = layer(
        tmp_path / f"ruta ėšų.{suffix}",
        [STRAIGHT, BRANCH],
        trail_class=["main", None],
        volume_m3=[120.5, 0.0],
        width_m=[4.0, np.nan],
        trail=["Körper 7", "T-2"],
    )
    trails, file, issues = read(path, columns={**COLUMNS, **_ten_letters(suffix)})
    assert issues == []
    assert trails.index.name == "trail"
    assert list(trails.index) == ["Körper 7", "T-2"]
    assert trails["trail_class"].tolist() == ["main", None]
    assert trails["volume_m3"].tolist() == [120.5, 0.0]
    assert trails["width_m"].tolist()[0] == 4.0
    assert np.isnan(trails["width_m"].iloc[1])
    assert trails.geometry.iloc[0].equals(STRAIGHT)
    assert file.detail == "2 trails, 180 m"


def _ten_letters(suffix):
    return {"trail_class": "trail_clas"} if suffix == "shp" else {}


def test_column_cut_by_the_shapefile_is_suggested(tmp_path):
    path = layer(tmp_path / "trails.shp", [STRAIGHT])
    issue = refused(path, "INP29")
    assert "Did you mean 'trail_clas'" in issue.fix


def test_id_column_is_required(tmp_path):
    path = layer(tmp_path / "trails.gpkg", [STRAIGHT])
    assert "trail" in refused(path, "INP29", columns={}).fix


def test_numbers_as_ids_and_missing_ids(tmp_path):
    path = layer(tmp_path / "a.gpkg", [STRAIGHT, BRANCH], trail=[7.0, 8.0])
    assert list(read(path)[0].index) == ["7", "8"]
    path = layer(tmp_path / "b.gpkg", [STRAIGHT, BRANCH, BRANCH], trail=["A", None, "  "])
    assert "row 2, row 3" in refused(path, "TRL01").what


def test_pieces_that_meet_are_joined_whatever_their_direction(tmp_path):
    pieces = MultiLineString([line((0, 0), (40, 0)), line((100, 0), (40, 0))])
    trails, _, issues = read(layer(tmp_path / "trails.gpkg", [pieces]))
    assert trails.geometry.iloc[0].geom_type == "LineString"
    assert trails.geometry.iloc[0].length == pytest.approx(100)
    assert the(issues, "TRL04").severity == "note"


def test_pieces_apart_or_forked_are_refused(tmp_path):
    apart = MultiLineString([line((0, 0), (40, 0)), line((60, 0), (100, 0))])
    fork = MultiLineString([line((0, 0), (9, 0)), line((9, 0), (9, 9)), line((9, 0), (18, 0))])
    path = layer(tmp_path / "trails.gpkg", [apart, STRAIGHT, fork])
    what = refused(path, "TRL04").what
    assert "T1, 2 pieces (row 1)" in what
    assert "T3, 3 pieces (row 3)" in what
    assert "T2" not in what


def test_rows_that_are_no_line_are_all_listed(tmp_path):
    geometry = [
        STRAIGHT,
        None,
        LineString(),
        Point(X, Y),
        line((5, 5), (5, 5)),
        box(X, Y, X + 1, Y + 1),
    ]
    path = layer(tmp_path / "trails.geojson", geometry)
    trails, _, issues = read(path)
    assert trails is None
    said = [i.what for i in issues if i.code == "TRL03"]
    assert said == [
        "rows without geometry: T2 (row 2), T3 (row 3)",
        "not a line: T4 (row 4), T6 (row 6)",
        "lines without length: T5 (row 5)",
    ]


def test_same_row_twice_is_used_once_reversed_or_not(tmp_path):
    path = layer(
        tmp_path / "trails.gpkg",
        [STRAIGHT, STRAIGHT.reverse(), BRANCH],
        trail=["A", "A", "B"],
        volume_m3=[10.0, 10.0, 5.0],
    )
    trails, _, issues = read(path)
    assert list(trails.index) == ["A", "B"]
    assert "A (row 2)" in the(issues, "TRL05").what
    assert the(issues, "TRL05").severity == "warning"


def test_same_id_for_other_line_or_other_figures_is_refused(tmp_path):
    path = layer(tmp_path / "a.gpkg", [STRAIGHT, BRANCH], trail=["A", "A"])
    assert "A (row 2)" in refused(path, "TRL02").what
    path = layer(
        tmp_path / "b.gpkg", [STRAIGHT, STRAIGHT], trail=["A", "A"], volume_m3=[10.0, 20.0]
    )
    refused(path, "TRL02")


def test_same_line_under_two_ids_is_refused(tmp_path):
    more_points = line((0, 0), (30, 0), (100, 0))
    path = layer(tmp_path / "trails.gpkg", [STRAIGHT, BRANCH, more_points.reverse()])
    assert "T1 and T3 (rows 1 and 3)" in refused(path, "TRL05").what


def test_unusable_figures_are_listed(tmp_path):
    path = layer(
        tmp_path / "trails.gpkg",
        [STRAIGHT, BRANCH, line((0, 9), (9, 9))],
        volume_m3=["-5", "many", "7"],
        width_m=["0", None, "4"],
    )
    trails, _, issues = read(path)
    assert trails is None
    volume, width = [i.what for i in issues if i.code == "TRL06"]
    assert volume == "volume_m3 is not usable in T1 (row 1), T2 (row 2) (values: '-5', 'many')"
    assert width == "width_m is not usable in T1 (row 1) (values: '0')"


def test_unusable_numbers_are_shown_as_they_stand_in_the_layer(tmp_path):
    path = layer(
        tmp_path / "trails.gpkg", [STRAIGHT, BRANCH], volume_m3=[-5, 7], width_m=[3.5, -1.5]
    )
    volume, width = [i.what for i in read(path)[2] if i.code == "TRL06"]
    assert volume.endswith("(values: -5)")
    assert width.endswith("(values: -1.5)")


def test_self_crossing_and_heights_are_noted(tmp_path):
    eight = line((0, 0, 1), (100, 100, 2), (100, 0, 3), (0, 100, 4))
    trails, _, issues = read(layer(tmp_path / "trails.gpkg", [eight]))
    assert codes(issues) == ["TRL09", "TRL07"]
    assert codes(issues, "note") == ["TRL09", "TRL07"]
    assert not trails.geometry.iloc[0].has_z


def test_end_just_short_of_another_trail_is_named_with_the_gap(tmp_path):
    path = layer(
        tmp_path / "trails.gpkg",
        [
            STRAIGHT,
            line((20, 60), (20, 5)),  # 5 m short: warned
            line((40, 2), (40, 60)),  # within snap: touches
            line((60, 10), (60, 60)),  # more than 3 x snap: another matter
        ],
    )
    _, _, issues = read(path)
    issue = the(issues, "TRL08")
    assert issue.severity == "warning"
    assert issue.what.endswith(": end of T2 5.0 m from T1")
    assert codes(read(path, snap_m=6.0)[2]) == ["TRL08"]
    assert "start of T4 10.0 m from T1" in the(read(path, snap_m=6.0)[2], "TRL08").what


def test_very_short_trail(tmp_path):
    path = layer(tmp_path / "trails.gpkg", [STRAIGHT, line((50, 0), (50, 2))])
    assert "T2" in the(read(path)[2], "TRL10").what


def landings_layer(path, geometry, **columns):
    columns.setdefault("landing", [f"L{n + 1}" for n in range(len(geometry))])
    gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS).to_file(path)
    return path


def good_trails():
    return gpd.GeoDataFrame(geometry=[STRAIGHT, BRANCH], index=["T1", "T2"], crs=CRS)


def test_landings(tmp_path):
    points = [Point(X, Y, 312), MultiPoint([(X + 100, Y + 2)])]
    path = landings_layer(tmp_path / "landings.geojson", points)
    landings, file, issues = read_landings(path, {"id": "landing"}, CRS, trails=good_trails())
    assert issues == []
    assert list(landings.index) == ["L1", "L2"]
    assert landings.index.name == "landing"
    assert not landings.geometry.has_z.any()
    assert (file.role, file.detail) == ("landings", "2 landings")


def test_landing_that_touches_no_trail_is_named_with_its_distance(tmp_path):
    path = landings_layer(tmp_path / "landings.gpkg", [Point(X, Y), Point(X + 90, Y - 40)])
    landings, _, issues = read_landings(path, {"id": "landing"}, CRS, trails=good_trails())
    assert landings.index.tolist() == ["L1"]  # no timber gets to the other one
    assert codes(issues) == ["LND03"]
    assert issues[0].severity == "warning"
    assert issues[0].what.startswith("landings touch no trail within 3 m: L2 (40.0 m from T1);")
    options = {"trails": good_trails(), "snap_m": 39.9}
    assert codes(read_landings(path, {"id": "landing"}, CRS, **options)[2]) == ["LND03"]
    options["snap_m"] = 40.0
    assert read_landings(path, {"id": "landing"}, CRS, **options)[2] == []


def test_no_landing_at_all_on_a_trail_is_refused(tmp_path):
    path = landings_layer(tmp_path / "landings.gpkg", [Point(X, Y - 40), Point(X + 90, Y - 40)])
    landings, _, issues = read_landings(path, {"id": "landing"}, CRS, trails=good_trails())
    assert landings is None
    assert [(issue.code, issue.severity) for issue in issues] == [("LND03", "error")]


def test_landings_refused(tmp_path):
    path = landings_layer(
        tmp_path / "landings.geojson",
        [Point(X, Y), box(X, Y, X + 5, Y + 5), None, MultiPoint([(X, Y), (X + 1, Y)])],
        landing=["A", "B", None, "A"],
    )
    landings, _, issues = read_landings(path, {"id": "landing"}, CRS)
    assert landings is None
    assert codes(issues) == ["LND01", "LND01", "LND02"]
    assert "row 3" in issues[0].what
    assert "A (row 4)" in issues[1].what
    assert "B (row 2), row 3, A (row 4)" in issues[2].what


def test_boundary(tmp_path):
    path = tmp_path / "boundary.gpkg"
    bow_tie = Polygon([(X, Y), (X + 100, Y + 100), (X + 100, Y), (X, Y + 100)])
    gpd.GeoDataFrame({"name": ["b"]}, geometry=[bow_tie], crs=CRS).to_file(path)
    boundary, file, issues = read_boundary(path, {}, CRS)
    assert list(boundary.columns) == ["geometry"]
    assert boundary.geometry.area.sum() == pytest.approx(5000)
    assert codes(issues) == ["BND02"]
    assert file.role == "boundary"
    gpd.GeoDataFrame(geometry=[STRAIGHT], crs=CRS).to_file(path)
    boundary, _, issues = read_boundary(path, {}, CRS)
    assert boundary is None
    assert codes(issues) == ["BND01"]


def test_missing_file_comes_back_as_an_issue(tmp_path):
    for result in (
        read_trails(tmp_path / "no.gpkg", COLUMNS, CRS, 3.0),
        read_landings(tmp_path / "no.gpkg", {"id": "landing"}, CRS),
        read_boundary(tmp_path / "no.gpkg", {}, CRS),
    ):
        assert result[0] is None
        assert codes(result[2]) == ["INP20"]


def test_numbers_and_words_of_columns():
    numbers, wrong = number_values(pd.Series(["1", " 2.5 ", "", None, "x", "inf", "nan", 3]))
    np.testing.assert_array_equal(numbers, [1, 2.5, np.nan, np.nan, np.nan, np.nan, np.nan, 3])
    assert wrong == [4, 5, 6]
    assert text_values(pd.Series([1.0, 1.5, None, " a "], dtype=object)) == ["1", "1.5", None, "a"]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=2, max_size=7))
def test_same_line_is_found_whichever_way_it_runs(points):
    drawn = line(*points)
    if drawn.length < 0.01:
        return
    assert module._same_line(drawn, drawn.reverse())
    moved = line(*[(x + 1, y) for x, y in points])
    longer = LineString([*drawn.coords, (X + 500, Y)])
    assert not module._same_line(drawn, longer)
    # shifted sideways by a metre; a line along x may lie partly on itself but its ends differ
    assert not module._same_line(drawn, moved)


def test_every_code_used_has_a_title():
    text = Path(module.__file__).read_text("utf-8")
    assert set(re.findall(r'"((?:TRL|LND|BND)\d\d)"(?!:)', text)) == set(module.ISSUE_CODES)
