"""Soil polygons: classes, suggestions, and every defect with its metres of trail."""

import re
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from terrain.inputs import soils as module
from terrain.inputs.soils import known_drainage, known_texture, read_soils, suggest_class
from terrain.models.soil import DRAINAGE_CLASSES, TEXTURE_GROUPS
from terrain.sources import STATUSES, all_sources, data_table

CRS = "EPSG:26915"
X, Y = 500000.0, 5100000.0
COLUMNS = {"id": "polygon", "soil_class": "soil_class"}
WORDS = {"id": "polygon", "drainage": "drainage", "texture": "texture"}


def area(west, east, south=0.0, north=100.0):
    return box(X + west, Y + south, X + east, Y + north)


def trail(name="T1", west=0.0, east=200.0, y=50.0):
    line = LineString([(X + west, Y + y), (X + east, Y + y)])
    return gpd.GeoDataFrame(geometry=[line], index=pd.Index([name], name="trail"), crs=CRS)


def layer(path, geometry, crs=CRS, **columns):
    columns.setdefault("polygon", [f"P{n + 1}" for n in range(len(geometry))])
    gpd.GeoDataFrame(columns, geometry=geometry, crs=crs).to_file(path)
    return path


def codes(issues, severity=None):
    return [i.code for i in issues if severity in (None, i.severity)]


def the(issues, code):
    (found,) = [issue for issue in issues if issue.code == code]
    return found


def test_forester_classes_come_through(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(0, 100), area(100, 200)], soil_class=["3", "1 "])
    soils, file, issues = read_soils(path, COLUMNS, CRS, trail())
    assert issues == []
    assert soils.index.name == "polygon"
    assert list(soils.index) == ["P1", "P2"]
    assert list(soils["soil_class"]) == [3, 1]
    assert soils["soil_class"].dtype == "Int64"
    assert list(soils["class_from"]) == ["forester", "forester"]
    assert soils["drainage"].isna().all()
    assert (file.role, file.name, file.detail) == ("soils", "soils.gpkg", "2 polygons")


def test_other_crs_is_brought_over(tmp_path):
    polygons = gpd.GeoSeries([area(0, 200)], crs=CRS).to_crs(4269)
    path = layer(tmp_path / "soils.fgb", list(polygons), crs=4269, soil_class=[2])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert codes(issues) == []
    assert soils.crs.to_epsg() == 26915
    np.testing.assert_allclose(soils.total_bounds, area(0, 200).bounds, atol=1e-3)


def test_every_wrong_class_is_listed_with_its_row(tmp_path):
    path = layer(
        tmp_path / "soils.gpkg",
        [area(n * 40, n * 40 + 40) for n in range(5)],
        soil_class=["1", "5", "2.5", "soft", None],
    )
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert soils is None
    what = the(issues, "SOIL02").what
    for named in ("P2 (row 2)", "P3 (row 3)", "P4 (row 4)", "5", "2.5", "soft"):
        assert named in what
    assert "P1" not in what
    assert "P5" not in what


def test_class_unknown_is_kept_unknown_with_its_metres(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(0, 150), area(150, 200)], soil_class=[2, None])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert soils["soil_class"].isna().tolist() == [False, True]
    assert soils["class_from"].tolist() == ["forester", "unknown"]
    assert the(issues, "SOIL09").severity == "warning"
    assert the(issues, "SOIL09").what == "class unknown: P2 (50 m of trail)"


def test_class_is_suggested_and_said(tmp_path):
    path = layer(
        tmp_path / "soils.gpkg",
        [area(0, 50), area(50, 100), area(100, 200)],
        drainage=["Well Drained", "PD", None],
        texture=["SL", "peat", "clay"],
    )
    soils, _, issues = read_soils(path, WORDS, CRS, trail())
    assert soils["soil_class"].tolist()[:2] == [2, 4]
    assert soils["soil_class"].isna().tolist() == [False, False, True]
    assert soils["class_from"].tolist() == ["suggested", "suggested", "unknown"]
    assert soils["drainage"].tolist() == ["well drained", "poorly drained", None]
    assert soils["texture"].tolist() == ["sandy loam", "peat", "clay"]
    assert "the forester decides: P1, P2 (100 m of trail)" in the(issues, "SOIL10").what
    assert "P3 (100 m of trail)" in the(issues, "SOIL09").what


def test_forester_rules_over_the_suggestion_but_is_told(tmp_path):
    path = layer(
        tmp_path / "soils.gpkg",
        [area(0, 200)],
        soil_class=[1],
        drainage=["very poorly drained"],
        texture=["clay"],
    )
    soils, _, issues = read_soils(path, {**COLUMNS, **WORDS}, CRS, trail())
    assert soils["soil_class"].tolist() == [1]
    assert soils["class_from"].tolist() == ["forester"]
    assert the(issues, "SOIL12").severity == "note"


def test_unknown_words_name_the_nearest_known(tmp_path):
    path = layer(
        tmp_path / "soils.gpkg",
        [area(0, 100), area(100, 200)],
        drainage=["porly drained", "wet"],
        texture=["sandy lome", "loam"],
    )
    soils, _, issues = read_soils(path, WORDS, CRS, trail())
    assert soils is None
    assert "'porly drained' (nearest known: 'poorly drained') in P1 (row 1)" in (
        the(issues, "SOIL03").what
    )
    assert "'wet' in P2 (row 2)" in the(issues, "SOIL03").what
    assert "nearest known: 'sandy loam'" in the(issues, "SOIL04").what


def test_invalid_polygon_is_repaired_with_its_metres(tmp_path):
    corners = [(0, 0), (100, 100), (100, 0), (0, 100)]
    bow_tie = Polygon([(X + x, Y + y) for x, y in corners])
    assert not bow_tie.is_valid
    path = layer(tmp_path / "soils.gpkg", [bow_tie, area(100, 200)], soil_class=[1, 2])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail(y=25))
    assert soils.geometry.is_valid.all()
    # two triangles of 2500 m2; at y = 25 the trail crosses 25 m of each: (0,0)-(50,50)-(0,100) from
    # x = 0 to 25 and (100,0)-(50,50)-(100,100) from 75 to 100
    assert soils.geometry.iloc[0].area == pytest.approx(5000)
    assert "P1, 50 m of trail (row 1)" in the(issues, "SOIL06").what
    assert "T1 50 m" in the(issues, "SOIL08").what


def test_rows_without_polygon_are_left_out_by_name(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(0, 200), None, Polygon()], soil_class=[1, 2, 3])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert list(soils.index) == ["P1"]
    assert "P2 (row 2), P3 (row 3)" in the(issues, "SOIL05").what
    assert the(issues, "SOIL05").severity == "warning"


def test_no_polygon_at_all_and_other_shapes_are_refused(tmp_path):
    path = layer(tmp_path / "a.gpkg", [None, None], soil_class=[1, 2])
    assert read_soils(path, COLUMNS, CRS, trail())[0] is None
    line = LineString([(X, Y), (X + 9, Y)])
    path = layer(tmp_path / "b.geojson", [area(0, 200), line], soil_class=[1, 2])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert soils is None
    assert "P2 (row 2)" in the(issues, "SOIL05").what


def test_overlaps_are_told_pair_by_pair_and_left_as_drawn(tmp_path):
    shapes = [area(0, 110), area(100, 200), area(150, 200, 60, 100)]
    path = layer(tmp_path / "soils.gpkg", shapes, soil_class=[1, 2, 3])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    what = the(issues, "SOIL07").what
    assert "P1 and P2 (1000 m2, 10 m of trail)" in what
    assert "P2 and P3 (2000 m2, 0 m of trail)" in what
    assert the(issues, "SOIL07").severity == "warning"
    assert [g.area for g in soils.geometry] == [g.area for g in shapes]


def test_neighbours_that_only_touch_do_not_overlap(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(0, 100), area(100, 200)], soil_class=[1, 2])
    assert codes(read_soils(path, COLUMNS, CRS, trail())[2]) == []


def test_uncovered_trail_metres_are_told_per_trail(tmp_path):
    trails = pd.concat([trail("T1"), trail("T2", 0, 100), trail("T3", 150, 300)])
    path = layer(tmp_path / "soils.gpkg", [area(0, 160)], soil_class=[1])
    issue = the(read_soils(path, COLUMNS, CRS, trails)[2], "SOIL08")
    assert issue.severity == "warning"
    assert issue.what == "180 m of trail lie on no soil polygon: T1 40 m, T3 140 m"


def test_soils_of_another_block_are_refused(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(5000, 6000)], soil_class=[1])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert soils is None
    assert the(issues, "SOIL08").severity == "error"


def test_shared_and_missing_ids(tmp_path):
    shapes = [area(n * 50, n * 50 + 50) for n in range(4)]
    path = layer(
        tmp_path / "soils.gpkg", shapes, polygon=["A", "A", None, " "], soil_class=[1, 1, 2, 2]
    )
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert list(soils.index) == ["A", "A-2", "row 3", "row 4"]
    assert soils.index.is_unique
    assert [i.severity for i in issues if i.code == "SOIL11"] == ["warning", "note"]


def test_missing_columns_name_the_nearest(tmp_path):
    path = layer(tmp_path / "soils.gpkg", [area(0, 200)], **{"Soil Class %": [1]})
    soils, _, issues = read_soils(path, {"soil_class": "soil_class"}, CRS, trail())
    assert soils is None
    assert codes(issues) == ["INP29"]
    assert "Did you mean 'Soil Class %'" in issues[0].fix
    soils, _, issues = read_soils(path, {"soil_class": "Soil Class %"}, CRS, trail())
    assert soils["soil_class"].tolist() == [1]
    assert codes(read_soils(path, {"drainage": "polygon"}, CRS, trail())[2]) == ["SOIL01"]


def test_multipolygons_are_kept(tmp_path):
    both = MultiPolygon([area(0, 50), area(60, 200)])
    path = layer(tmp_path / "soils.gpkg", [both], soil_class=[4])
    soils, _, issues = read_soils(path, COLUMNS, CRS, trail())
    assert soils.geometry.iloc[0].area == pytest.approx(both.area)
    assert "T1 10 m" in the(issues, "SOIL08").what


@pytest.mark.parametrize(
    ("drainage", "texture", "expected"),
    [
        # own planning assumption: texture group 1-4, +1 somewhat poorly, +2 poorly and very poorly
        ("well drained", "sand", 1),
        ("somewhat poorly drained", "sand", 2),
        ("poorly drained", "loamy sand", 3),
        ("well drained", "loam", 2),
        ("somewhat poorly drained", "silt loam", 3),
        ("very poorly drained", "clay loam", 4),
        ("moderately well drained", "clay", 3),
        ("poorly drained", "silty clay", 4),
        ("excessively drained", "peat", 4),
        (None, "loam", None),
        ("well drained", None, None),
        ("soggy", "loam", None),
        ("well drained", "gravel", None),
        ("", "", None),
    ],
)
def test_suggestion(drainage, texture, expected):
    assert suggest_class(drainage, texture) == expected


def test_suggestion_never_firms_with_poorer_drainage():
    for textures in data_table("soil_suggestion")["texture_groups"].values():
        for texture in textures if isinstance(textures, list) else []:
            row = [suggest_class(drainage, texture) for drainage in DRAINAGE_CLASSES]
            assert row == sorted(row)
            assert None not in row


def test_texture_groups_are_the_published_ones():
    """USDA NRCS: coarse = sands and loamy sands; fine = sandy clay, silty clay and clay."""
    groups = data_table("soil_suggestion")["texture_groups"]
    assert groups["coarse"] == ["sand", "loamy sand"]
    assert groups["fine"] == ["sandy clay", "silty clay", "clay"]
    assert len(groups["coarse"] + groups["medium"] + groups["fine"]) == 12


@pytest.mark.parametrize(
    ("word", "meaning"),
    [
        ("WELL DRAINED", "well drained"),
        ("Well", "well drained"),
        ("well-drained", "well drained"),
        ("somewhat_poorly", "somewhat poorly drained"),
        (" mwd ", "moderately well drained"),
        ("vp", "very poorly drained"),
        ("drained", None),
        (None, None),
    ],
)
def test_drainage_words(word, meaning):
    assert known_drainage(word) == meaning


def test_texture_words():
    assert known_texture("SiCL") == "silty clay loam"
    assert known_texture("Fine  Sandy_Loam") == "fine sandy loam"
    assert known_texture("rock") is None


def test_tables_carry_sources_and_known_words():
    table = data_table("soil_suggestion")
    for name, part in table.items():
        assert part["status"] in STATUSES, name
        assert part["source"] in all_sources() or part["status"] == "planning assumption", name
    assert set(table["drainage_short"].values()) >= set(DRAINAGE_CLASSES)
    assert set(table["drainage_steps"]) >= set(DRAINAGE_CLASSES)
    assert set(table["texture_class"]) >= set(TEXTURE_GROUPS)
    shorts = {key: v for key, v in table["texture_short"].items() if key.isupper()}
    assert all(known_texture(key) == meaning for key, meaning in shorts.items())


def test_every_code_used_has_a_title():
    text = Path(module.__file__).read_text("utf-8")
    assert set(re.findall(r'"(SOIL\d\d)"(?!:)', text)) == set(module.ISSUE_CODES)
