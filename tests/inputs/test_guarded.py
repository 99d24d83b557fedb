"""Other people's layers: nothing but the file itself is opened, and every refusal names it.

The hostile files are those that a plain reader of the format libraries was seen to follow.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point

from terrain.inputs import guarded

LINE = LineString([(500000, 5100000), (500100, 5100050)])


def one_line(crs="EPSG:26915", **columns):
    return gpd.GeoDataFrame({"trail": ["T1"], **columns}, geometry=[LINE], crs=crs)


def codes(issues):
    return [issue.code for issue in issues]


@pytest.mark.parametrize("variable", ["PROJ_LIB", "PROJ_DATA"])
def test_foreign_proj_folder_does_not_break_epsg_codes(variable, tmp_path):
    program = (
        "import terrain.inputs.guarded, rasterio.crs, os;"
        "assert 'PROJ_LIB' not in os.environ and 'PROJ_DATA' not in os.environ;"
        "print(rasterio.crs.CRS.from_epsg(26915).to_wkt()[:40])"
    )
    environment = {**os.environ, variable: str(tmp_path)}
    run = subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert "UTM zone 15N" in run.stdout


def test_guarded_itself_imports_no_heavy_library():
    program = (
        "import terrain.inputs.guarded, sys;"
        "print([m for m in ('geopandas', 'rasterio', 'pyogrio') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "written",
    [
        "http://example.org/trails.gpkg",
        "/vsicurl/trails.gpkg",
        "/vsizip/a.zip/trails.shp",
        "CSV:trails.csv",
        "GPKG:trails.gpkg",
        "zip+file:/a.zip",
        "https:/example.org/x",
    ],
)
def test_remote_and_prefixed_paths_are_refused_unopened(written):
    path, issues = guarded.check_file(Path("/data") / written, name=written)
    assert path is None
    assert codes(issues) == ["INP21"]
    assert written in issues[0].where


def test_missing_folder_empty_and_large_files(tmp_path):
    empty = tmp_path / "empty.gpkg"
    empty.touch()
    large = tmp_path / "large.gpkg"
    large.write_bytes(b"x" * 2_000_001)
    assert codes(guarded.check_file(tmp_path / "none.gpkg")[1]) == ["INP20"]
    assert codes(guarded.check_file(tmp_path)[1]) == ["INP20"]
    assert codes(guarded.check_file(Path("/dev/null"))[1]) == ["INP20"]
    assert codes(guarded.check_file(tmp_path / "nul\0byte")[1]) == ["INP20"]
    assert codes(guarded.check_file(empty)[1]) == ["INP23"]
    path, issues = guarded.check_file(large, max_file_mb=2)
    assert path is None
    assert codes(issues) == ["INP22"]
    assert guarded.check_file(large, max_file_mb=3) == (large.resolve(), [])


@pytest.mark.parametrize("suffix", ["gpkg", "geojson", "shp", "fgb", "parquet"])
@pytest.mark.parametrize("folder", ["plain", "with space", "Körper-ėglė"])
def test_allowed_formats_open_by_content(tmp_path, suffix, folder):
    home = tmp_path / folder
    home.mkdir()
    path = home / f"trails.{suffix}"
    if suffix == "parquet":
        one_line().to_parquet(path)
    else:
        one_line().to_file(path)
    frame, issues = guarded.open_layer(path)
    assert issues == []
    assert frame.crs.to_epsg() == 26915
    assert frame.geometry[0].equals(LINE)
    assert list(frame["trail"]) == ["T1"]


def test_name_does_not_matter_content_does(tmp_path):
    path = tmp_path / "trails.gpkg"
    one_line().to_file(path)
    misnamed = path.rename(tmp_path / "trails.geojson")
    frame, issues = guarded.open_layer(misnamed)
    assert issues == []
    assert len(frame) == 1


def test_vector_vrt_named_geojson_is_refused(tmp_path):
    secret = tmp_path / "secret.csv"
    secret.write_text("a,x,y\n1,2,3\n")
    path = tmp_path / "trails.geojson"
    path.write_text(
        f'<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>{secret}</SrcDataSource>'
        "<GeometryType>wkbPoint</GeometryType><LayerSRS>EPSG:4326</LayerSRS>"
        '<GeometryField encoding="PointFromColumns" x="x" y="y"/></OGRVRTLayer></OGRVRTDataSource>'
    )
    # the format library alone follows it, unless the environment set by guarded forbids it
    bare = {key: value for key, value in os.environ.items() if key != "OGR_SKIP"}
    assert _plain_reader(path, bare).stdout.strip() == "1"
    assert _plain_reader(path, dict(os.environ)).returncode != 0
    frame, issues = guarded.open_layer(path)
    assert frame is None
    assert codes(issues) == ["INP24"]
    assert "trails.geojson" in issues[0].where


def _plain_reader(path, environment):
    program = f"import geopandas; print(len(geopandas.read_file({str(path)!r})))"
    return subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_computed_dataset_and_foreign_json_are_refused(tmp_path):
    computed = tmp_path / "trails.geojson"
    computed.write_text(
        json.dumps(
            {
                "type": "gdal_streamed_alg",
                "command_line": "gdal vector pipeline ! read x.gpkg",
                "note": {"type": "FeatureCollection"},
            }
        )
    )
    assert codes(guarded.open_layer(computed)[1]) == ["INP24"]
    topology = tmp_path / "topology.geojson"
    topology.write_text('{"type": "Topology", "objects": {}, "arcs": []}')
    assert codes(guarded.open_layer(topology)[1]) == ["INP23"]
    table = tmp_path / "table.csv"
    table.write_text("id,x,y\n1,2,3\n")
    assert codes(guarded.open_layer(table)[1]) == ["INP23"]


def test_driver_that_the_library_chose_is_checked_too(tmp_path):
    path = tmp_path / "trails.geojson"
    path.write_text(
        '{"type": "Topology", "note": "FeatureCollection", "objects": {"a": {"type": '
        '"GeometryCollection", "geometries": [{"type": "Point", "coordinates": [0, 0]}]}},'
        ' "arcs": []}'
    )
    frame, issues = guarded.open_layer(path)
    assert frame is None
    assert codes(issues) == ["INP24"]
    assert "TopoJSON" in issues[0].what


def test_path_that_the_library_would_split_is_refused(tmp_path):
    path = tmp_path / "a!b.gpkg"
    one_line().to_file(tmp_path / "b.gpkg")
    (tmp_path / "b.gpkg").rename(path)
    assert codes(guarded.open_layer(path)[1]) == ["INP21"]


@pytest.mark.parametrize("suffix", ["gpkg", "fgb", "parquet", "geojson"])
def test_truncated_file_is_an_issue_not_a_crash(tmp_path, suffix):
    path = tmp_path / f"trails.{suffix}"
    if suffix == "parquet":
        one_line().to_parquet(path)
    else:
        one_line().to_file(path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    frame, issues = guarded.open_layer(path)
    assert frame is None or len(frame) == 0
    assert codes(issues)[0] in ("INP25", "INP26", "INP28")


def test_shapefile_without_its_prj_names_the_file(tmp_path):
    path = tmp_path / "trails.shp"
    one_line().to_file(path)
    (tmp_path / "trails.prj").unlink()
    frame, issues = guarded.open_layer(path)
    assert frame is None
    assert codes(issues) == ["INP27"]
    assert "trails.shp" in issues[0].where


def test_layer_has_to_be_named_when_there_are_two(tmp_path):
    path = tmp_path / "block.gpkg"
    one_line().to_file(path, layer="trails")
    one_line().to_file(path, layer="streams")
    frame, issues = guarded.open_layer(path)
    assert frame is None
    assert codes(issues) == ["INP26"]
    assert "trails" in issues[0].fix
    assert "streams" in issues[0].fix
    frame, issues = guarded.open_layer(path, "trials")
    assert frame is None
    assert "Did you mean 'trails'" in issues[0].fix
    assert len(guarded.open_layer(path, "trails")[0]) == 1


def test_empty_layer(tmp_path):
    path = tmp_path / "trails.gpkg"
    one_line().iloc[:0].to_file(path)
    assert codes(guarded.open_layer(path)[1]) == ["INP28"]


def test_metres_under_a_crs_in_degrees_are_found(tmp_path):
    path = tmp_path / "trails.geojson"
    feature = {"type": "Feature", "properties": {}, "geometry": LINE.__geo_interface__}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    _, issues = guarded.open_layer(path)
    assert codes(issues) == ["INP30"]
    assert "5,100,050" in issues[0].what


def test_extent(tmp_path):
    path = tmp_path / "trails.gpkg"
    one_line().to_file(path)
    (bounds, crs), issues = guarded.layer_extent(path)
    assert bounds == LINE.bounds
    assert crs.to_epsg() == 26915
    assert issues == []
    assert guarded.layer_extent(tmp_path / "none.gpkg")[0] is None


def test_working_crs_keeps_places_and_states_the_doubt():
    degrees = gpd.GeoDataFrame(geometry=[Point(-93, 46, 7)], crs="EPSG:4269")
    moved, issues = guarded.to_working_crs(degrees, "EPSG:26915", where="landings.gpkg")
    # the central meridian of UTM zone 15 is 93 W, so the easting is the false easting
    assert moved.geometry[0].x == pytest.approx(500000, abs=1e-3)
    assert not moved.geometry[0].has_z
    assert issues == []
    old = gpd.GeoDataFrame(geometry=[Point(-93, 46)], crs="EPSG:4267")
    issues = guarded.to_working_crs(old, "EPSG:26915", where="landings.gpkg")[1]
    assert codes(issues) == ["INP31"]
    assert issues[0].severity == "warning"


def test_working_crs_refuses_what_cannot_be_placed():
    bare = gpd.GeoDataFrame(geometry=[Point(1, 2)])
    frame, issues = guarded.to_working_crs(bare, "EPSG:26915", where="soils.gpkg")
    assert frame is None
    assert codes(issues) == ["INP27"]
    assert issues[0].where == "soils.gpkg"
    lost = gpd.GeoDataFrame(geometry=[Point(-93, 46), Point(-93, 95)], crs="EPSG:4269")
    frame, issues = guarded.to_working_crs(lost, "EPSG:26915", where="soils.gpkg")
    assert frame is None
    assert codes(issues) == ["INP30"]
    assert "rows 2" in issues[0].where


def test_sha256_of_known_text(tmp_path):
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    # FIPS 180-2, appendix B.1
    assert guarded.sha256_of(path) == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_every_code_used_has_a_title():
    text = Path(guarded.__file__).read_text(encoding="utf-8")
    used = set(re.findall(r'Issue\(\s*"(\w+)"', text))
    assert used == set(guarded.ISSUE_CODES)
