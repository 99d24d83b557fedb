"""Elevation models of other people: checked before reading, voids kept, metres inside."""

import re
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import rasterio.shutil
from pyproj import Transformer
from rasterio.transform import Affine, from_origin
from shapely.geometry import LineString

from terrain.grid import Grid
from terrain.inputs import elevation, metric_grid
from terrain.inputs.elevation import read_dem, trails_off_dem

WEST, NORTH = 500000.0, 5100000.0
TRAILS = (WEST + 20, NORTH - 50, WEST + 60, NORTH - 20)


def plane(rows=60, columns=80, cell_m=1.0):
    """Heights at cell centres of a plane rising 20 % east and 10 % north."""
    x = (np.arange(columns) + 0.5) * cell_m
    y = -(np.arange(rows) + 0.5) * cell_m
    return (300 + 0.2 * x[None, :] + 0.1 * y[:, None]).astype(np.float32)


def write(path, values, transform=None, crs="EPSG:26915", driver="GTiff", **options):
    transform = from_origin(WEST, NORTH, 1, 1) if transform is None else transform
    bands = values if values.ndim == 3 else values[None]
    with rasterio.open(
        path,
        "w",
        driver=driver,
        height=bands.shape[1],
        width=bands.shape[2],
        count=len(bands),
        dtype=bands.dtype,
        transform=transform,
        crs=crs,
        **options,
    ) as target:
        target.write(bands)
    return path


def read(path, bounds=TRAILS, crs="EPSG:26915", buffer_m=10.0, **options):
    return read_dem(path, bounds_of_trails=bounds, trails_crs=crs, buffer_m=buffer_m, **options)


def codes(issues, severity=None):
    return [i.code for i in issues if severity in (None, i.severity)]


def refused(path, code, **options):
    grid, file, issues = read(path, **options)
    assert grid is None
    assert file is None
    assert codes(issues, "error") == [code], [str(issue) for issue in issues]
    return next(issue for issue in issues if issue.severity == "error")


def test_only_the_window_is_read_and_cells_are_kept(tmp_path):
    path = write(tmp_path / "dem.tif", plane())
    grid, file, issues = read(path)
    assert grid.bounds == (WEST + 10, NORTH - 60, WEST + 70, NORTH - 10)
    assert grid.values.dtype == np.float32
    assert grid.crs == "EPSG:26915"
    np.testing.assert_array_equal(grid.values, plane()[10:60, 10:70])
    assert file.name == "dem.tif"
    assert len(file.sha256) == 64
    assert codes(issues) == ["DEM09"]  # unit not stated: metres, said as a note
    assert issues[0].severity == "note"


@pytest.mark.parametrize(
    ("name", "driver", "options"),
    [
        ("höhe mit leer.tif", "GTiff", {"BIGTIFF": "YES"}),
        ("dem.asc", "AAIGrid", {}),
        ("dem.gpkg", "GPKG", {}),
    ],
)
def test_allowed_formats(tmp_path, name, driver, options):
    path = tmp_path / name
    if driver == "AAIGrid":
        rasterio.shutil.copy(write(tmp_path / "a.tif", plane()), path, driver=driver)
    else:
        write(path, plane(), driver=driver, **options)
    grid, _, issues = read(path)
    assert codes(issues, "error") == []
    np.testing.assert_allclose(grid.values, plane()[10:60, 10:70], atol=1e-3)


def test_degrees_become_the_local_utm_zone(tmp_path):
    # heights are those of the plane at the UTM position of each cell centre
    to_utm = Transformer.from_crs(4269, 26915, always_xy=True)
    west, north = Transformer.from_crs(26915, 4269, always_xy=True).transform(WEST, NORTH)
    step = 1e-5
    lon, lat = np.meshgrid(
        west + (np.arange(150) + 0.5) * step, north - (np.arange(90) + 0.5) * step
    )
    x, y = to_utm.transform(lon, lat)
    heights = (300 + 0.2 * (x - WEST) + 0.1 * (y - NORTH)).astype(np.float32)
    path = write(tmp_path / "dem.tif", heights, from_origin(west, north, step, step), "EPSG:4269")
    grid, _, issues = read(path)
    assert grid.crs == "EPSG:26915"
    # area of a 1e-5 degree cell at 46.05 N, from the ellipsoid radii: 1.112 x 0.774 m
    assert grid.cell_m == pytest.approx(np.sqrt(1.1115 * 0.7737), abs=0.002)
    x, y = (
        np.array([WEST + 25, WEST + 40, WEST + 55]),
        np.array([NORTH - 45, NORTH - 30, NORTH - 22]),
    )
    expected = 300 + 0.2 * (x - WEST) + 0.1 * (y - NORTH)
    # resampling a plane bilinearly is exact but for float32 (3e-5 m at 300 m)
    np.testing.assert_allclose(grid.bilinear(x, y), expected, atol=1e-4)
    assert "DEM08" in codes(issues, "note")


def test_web_mercator_is_metric_but_not_true_to_length(tmp_path):
    x, y = Transformer.from_crs(26915, 3857, always_xy=True).transform(WEST, NORTH)
    path = write(tmp_path / "dem.tif", plane(120, 160), from_origin(x, y, 1, 1), "EPSG:3857")
    grid, _, issues = read(path, buffer_m=5)
    assert grid.crs == "EPSG:32615"
    # stretch of the map at 46.05 N is close to 1 / cos(latitude)
    assert grid.cell_m == pytest.approx(np.cos(np.radians(46.05)), rel=0.004)
    assert "DEM08" in codes(issues)


@pytest.mark.parametrize(
    ("crs", "given", "factor", "said"),
    [
        ("EPSG:26915", "ft", 0.3048, "note"),
        ("EPSG:26915", "us-ft", 1200 / 3937, "note"),
        ("EPSG:26915+6360", None, 1200 / 3937, "note"),
        ("EPSG:26915+8228", None, 0.3048, "note"),
        ("EPSG:26915+5703", None, 1.0, None),
        ("EPSG:26915+5703", "ft", 0.3048, "warning"),
    ],
)
def test_feet_become_metres(tmp_path, crs, given, factor, said):
    """Foot 0.3048 m and US survey foot 1200/3937 m: NIST SP 811, appendix B."""
    path = write(tmp_path / "dem.tif", plane(), crs=crs)
    grid, _, issues = read(path, elevation_unit=given)
    np.testing.assert_allclose(grid.values, plane()[10:60, 10:70] * factor, rtol=1e-6)
    found = [issue.severity for issue in issues if issue.code == "DEM09"]
    assert (said in found) if said else found == []


def test_map_in_feet_is_reprojected_and_warned(tmp_path):
    x, y = Transformer.from_crs(26915, 26849, always_xy=True).transform(WEST, NORTH)
    assert rasterio.crs.CRS.from_epsg(26849).linear_units_factor[1] == pytest.approx(1200 / 3937)
    path = write(tmp_path / "dem.tif", plane(200, 260), from_origin(x, y, 1, 1), "EPSG:26849")
    grid, _, issues = read(path, bounds=(WEST + 15, NORTH - 40, WEST + 50, NORTH - 15), buffer_m=1)
    assert grid.crs == "EPSG:26915"
    assert grid.cell_m == pytest.approx(1200 / 3937, rel=1e-3)
    assert [i.severity for i in issues if i.code == "DEM09"] == ["warning"]


def test_unknown_units_are_refused(tmp_path):
    path = write(tmp_path / "dem.tif", plane())
    assert "m, ft, us-ft" in refused(path, "DEM09", elevation_unit="yards").fix
    with rasterio.open(path, "r+") as target:
        target.units = ("fathoms",)
    assert "fathoms" in refused(path, "DEM09").what


def test_voids_of_every_kind_stay_voids(tmp_path):
    values = plane()
    values[20, 20], values[21, 21], values[22, 22], values[23, 23] = -9999, np.nan, np.inf, -32768
    path = write(tmp_path / "dem.tif", values, nodata=-9999.0)
    grid, _, issues = read(path)
    expected = np.zeros((50, 60), bool)
    expected[[10, 11, 12, 13], [10, 11, 12, 13]] = True
    np.testing.assert_array_equal(np.isnan(grid.values), expected)
    assert codes(issues, "warning") == ["DEM10"]  # -32768 was not declared
    assert "-32768" in next(i.what for i in issues if i.code == "DEM10")
    assert "DEM12" in codes(issues, "note")


def test_resampling_neither_fills_nor_spreads_voids():
    values = plane(40, 40)
    values[10:20, 10:20] = np.nan
    crs = metric_grid.CRS.from_epsg(26915)
    grid = metric_grid.resampled(
        values,
        Affine(1, 0, WEST, 0, -1, NORTH),
        crs,
        crs,
        (WEST, NORTH - 40, WEST + 40, NORTH),
        10**6,
    )
    np.testing.assert_array_equal(np.isnan(grid.values), np.isnan(values))
    np.testing.assert_allclose(grid.values, values, atol=1e-3)
    half = metric_grid.resampled(
        values[:, ::2],
        Affine(2, 0, WEST, 0, -1, NORTH),
        crs,
        crs,
        (WEST, NORTH - 40, WEST + 40, NORTH),
        10**6,
    )
    rows, columns = half.shape
    x = half.west_m + (np.arange(columns) + 0.5) * half.cell_m
    y = half.north_m - (np.arange(rows) + 0.5) * half.cell_m
    void = ((x[None, :] - WEST) // 2 >= 5) & ((x[None, :] - WEST) // 2 < 10)
    void = void & ((NORTH - y[:, None]) // 1 >= 10) & ((NORTH - y[:, None]) // 1 < 20)
    inside = np.broadcast_to(x[None, :] < WEST + 40, void.shape) & (y[:, None] > NORTH - 40)
    np.testing.assert_array_equal(np.isnan(half.values)[inside], void[inside])


def test_cells_not_square_are_resampled_with_a_warning(tmp_path):
    path = write(tmp_path / "dem.tif", plane(), from_origin(WEST, NORTH, 1, 1.5))
    grid, _, issues = read(path)
    assert grid.cell_m == pytest.approx(np.sqrt(1.5), abs=1e-4)
    assert "DEM08" in codes(issues, "warning")
    nearly = write(tmp_path / "nearly.tif", plane(), from_origin(WEST, NORTH, 1, 1.005))
    _, _, issues = read(nearly)
    assert "DEM08" in codes(issues, "note")


def test_scale_and_offset_of_the_band_are_applied(tmp_path):
    path = write(tmp_path / "dem.tif", np.full((60, 80), 1234, np.int16))
    with rasterio.open(path, "r+") as target:
        target.scales, target.offsets = (0.1,), (200.0,)
    grid, _, _ = read(path)
    np.testing.assert_allclose(grid.values, 323.4, rtol=1e-6)


def test_whole_heights_are_noted(tmp_path):
    assert "DEM11" in codes(read(write(tmp_path / "a.tif", plane().astype(np.int16)))[2], "note")
    assert "DEM11" in codes(read(write(tmp_path / "b.tif", np.round(plane())))[2], "note")
    assert "DEM11" not in codes(read(write(tmp_path / "c.tif", plane()))[2])


def test_coarse_cells_are_warned(tmp_path):
    path = write(tmp_path / "dem.tif", plane(), from_origin(WEST - 600, NORTH + 600, 30, 30))
    assert "DEM14" in codes(read(path)[2], "warning")


def test_all_void_is_refused(tmp_path):
    path = write(tmp_path / "dem.tif", np.full((60, 80), -9999, np.float32), nodata=-9999.0)
    refused(path, "DEM07")


def test_trails_elsewhere_are_refused_with_both_places(tmp_path):
    path = write(tmp_path / "dem.tif", plane())
    issue = refused(path, "DEM06", bounds=(WEST + 9000, NORTH, WEST + 9100, NORTH + 100))
    assert "508990" in issue.what
    assert "500000" in issue.what
    refused(path, "DEM06", bounds=(5e9, 5e9, 6e9, 6e9))


@pytest.mark.parametrize(
    "transform",
    [
        Affine(1, 0.2, WEST, 0.2, -1, NORTH),
        Affine(1, 0, WEST, 0, 1, NORTH - 60),
        Affine(-1, 0, WEST + 80, 0, -1, NORTH),
        Affine(float("nan"), 0, WEST, 0, -1, NORTH),
        Affine.identity(),
    ],
)
@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_rotated_turned_nan_and_missing_positions_are_refused(tmp_path, transform):
    refused(write(tmp_path / "dem.tif", plane(), transform), "DEM04")


def test_no_crs_and_unearthly_crs_are_refused(tmp_path):
    refused(write(tmp_path / "a.tif", plane(), crs=None), "DEM03")
    local = 'LOCAL_CS["office grid",UNIT["metre",1],AXIS["E",EAST],AXIS["N",NORTH]]'
    refused(write(tmp_path / "b.tif", plane(), crs=local), "DEM03")


def test_bands_and_kinds(tmp_path):
    assert "2 bands" in refused(write(tmp_path / "a.tif", np.stack([plane()] * 2)), "DEM02").what
    refused(write(tmp_path / "b.tif", plane().astype(np.complex64)), "DEM02")


def test_virtual_raster_named_tif_is_refused(tmp_path):
    secret = write(tmp_path / "secret.tif", plane())
    path = tmp_path / "dem.tif"
    rasterio.shutil.copy(secret, path, driver="VRT")
    assert path.read_bytes().startswith(b"<VRTDataset")
    issue = refused(path, "INP24")
    assert issue.where == "dem.tif"


def test_other_content_named_tif_is_refused(tmp_path):
    path = tmp_path / "dem.tif"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 100)
    refused(path, "INP23")


def test_mask_beside_it_may_not_be_a_virtual_dataset(tmp_path):
    path = write(tmp_path / "dem.tif", plane())
    (tmp_path / "dem.tif.msk").write_text('<VRTDataset rasterXSize="80" rasterYSize="60"/>')
    assert "dem.tif.msk" in refused(path, "DEM13").what


def test_huge_sparse_file_is_capped_before_reading(tmp_path):
    path = tmp_path / "dem.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=400_000,
        width=400_000,
        count=1,
        dtype="float32",
        transform=from_origin(WEST, NORTH, 1, 1),
        crs="EPSG:26915",
        SPARSE_OK="TRUE",
        tiled=True,
        blockxsize=4096,
        blockysize=4096,
        BIGTIFF="YES",
    ):
        pass
    assert path.stat().st_size < 1_000_000
    everything = (WEST, NORTH - 399_000, WEST + 399_000, NORTH)
    assert "the cap is 100,000,000" in refused(path, "DEM05", bounds=everything).what
    # a small window may be read, but cells that were never written are voids, not 0 m
    issues = read(path)[2]
    assert codes(issues, "error") == ["DEM07"]
    assert "never written" in next(i.what for i in issues if i.code == "DEM12")


def test_one_block_as_large_as_the_file_counts_against_the_cap(tmp_path):
    path = write(tmp_path / "dem.tif", plane(512, 512), tiled=True, blockxsize=512, blockysize=512)
    refused(path, "DEM05", max_cells=10_000)


def test_part_never_written_is_void(tmp_path):
    path = tmp_path / "dem.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=64,
        width=80,
        count=1,
        dtype="float32",
        crs="EPSG:26915",
        transform=from_origin(WEST, NORTH, 1, 1),
        SPARSE_OK="TRUE",
        tiled=True,
        blockxsize=16,
        blockysize=16,
    ) as target:
        target.write(plane(64, 32), 1, window=((0, 64), (0, 32)))
    grid, _, issues = read(path)
    x = np.arange(WEST + 10, WEST + 70) + 0.5
    np.testing.assert_array_equal(np.isnan(grid.values), np.tile(x > WEST + 32, (50, 1)))
    assert "DEM12" in codes(issues, "warning")


@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_truncated_file_is_an_issue_not_a_crash(tmp_path, share):
    path = write(tmp_path / "dem.tif", plane())
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])
    assert read(path)[0] is None
    assert set(codes(read(path)[2], "error")) <= {"DEM01", "DEM02", "DEM03", "DEM04", "DEM07"}


def test_trails_off_the_model_and_over_voids():
    values = plane()
    values[:, 40:50] = np.nan
    dem = Grid(values, WEST, NORTH, 1.0, "EPSG:26915")
    y = NORTH - 30
    trails = gpd.GeoDataFrame(
        geometry=[
            LineString([(WEST + 5, y), (WEST + 35, y)]),
            LineString([(WEST + 60, y), (WEST + 100, y)]),
            LineString([(WEST + 200, y), (WEST + 300, y)]),
            LineString([(WEST + 30, y), (WEST + 60, y)]),
        ],
        index=["fine", "part", "far", "void"],
        crs="EPSG:26915",
    )
    found = {(i.severity, i.code): i.what for i in trails_off_dem(dem, trails, where="dem.tif")}
    assert found[("error", "DEM20")] == "trails off the elevation model: far 100 of 100 m"
    assert found[("warning", "DEM20")] == "trails leave the elevation model: part 20 of 40 m"
    assert found[("warning", "DEM21")] == "trails cross voids: void 10 of 30 m"
    assert len(found) == 3
    assert trails_off_dem(dem, trails.loc[["fine"]], where="dem.tif") == []


def test_every_code_used_has_a_title():
    text = "".join(Path(m.__file__).read_text("utf-8") for m in (elevation, metric_grid))
    used = set(re.findall(r'"(DEM\d\d)"(?!:)', text))
    assert used == set(elevation.ISSUE_CODES)
