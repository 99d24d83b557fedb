"""The whole run on real open terrain.

The ground is the 1 m lidar elevation model, 400 by 400 cells, that the package ``lidar`` 0.8.4
ships (MIT licence). ``make test`` installs that package without its dependencies; only the file is
used. The trails, soils and landing on it are drawn here and are invented.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from shapely.geometry import LineString, Point, box

from terrain.plan import plan_block
from terrain.surfaces import gradient
from tests.cli.run import rutwise
from tests.tiny_block import BLOCK, MACHINE

pytestmark = pytest.mark.terrain_real


@pytest.fixture(scope="module")
def dem_path():
    found = importlib.util.find_spec("lidar")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("the package lidar 0.8.4 is missing; 'make test' installs it")
        pytest.skip("the package lidar 0.8.4 is not installed; 'make test' installs it")
    return Path(found.submodule_search_locations[0]) / "data" / "dem.tif"


@pytest.fixture(scope="module")
def block(dem_path, tmp_path_factory):
    folder = tmp_path_factory.mktemp("real")
    with rasterio.open(dem_path) as source:
        west, south = source.bounds[:2]
        crs = source.crs.to_string()
    (folder / "dem.tif").write_bytes(dem_path.read_bytes())

    def at(x, y):
        return west + x, south + y

    lines = {
        "M1": [at(60, 40), at(90, 130), at(150, 210), at(190, 330)],
        "B1": [at(330, 90), at(240, 110), at(90, 130)],
        "B2": [at(320, 300), at(230, 250), at(150, 210)],
        "B3": [at(60, 260), at(100, 240), at(150, 210)],
    }
    gpd.GeoDataFrame(
        {"trail": list(lines)}, geometry=[LineString(p) for p in lines.values()], crs=crs
    ).to_file(folder / "trails.gpkg")
    gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(at(60, 40))], crs=crs).to_file(
        folder / "landings.gpkg"
    )
    gpd.GeoDataFrame(
        {"polygon": ["w", "e"], "soil_class": [1, 2], "drainage": ["well drained"] * 2},
        geometry=[box(*at(-9, -9), *at(200, 409)), box(*at(200, -9), *at(409, 409))],
        crs=crs,
    ).to_file(folder / "soils.gpkg")
    (folder / "machine.toml").write_text(MACHINE, encoding="utf-8")
    (folder / "block.toml").write_text(BLOCK, encoding="utf-8")
    return folder / "block.toml"


def test_horn_equals_an_independent_implementation(dem_path):
    # oracle: pyflwdir 0.5.12, an independent Horn slope; tolerance 1e-5 against another code
    import pyflwdir

    with rasterio.open(dem_path) as source:
        z = source.read(1).astype(np.float64)
    ours = gradient.slope(*gradient.horn(z, 1.0))
    theirs = pyflwdir.dem.slope(z, nodata=-9999.0, transform=(1.0, 0.0, 0.0, 0.0, -1.0, 0.0))
    inner = np.s_[1:-1, 1:-1]  # that code fills the rim, ours leaves it unknown
    assert ours[inner] == pytest.approx(theirs[inner], abs=1e-5)
    assert np.isnan(ours[0]).all()
    assert np.isnan(ours[:, -1]).all()
    # slopes of this model as measured when it was chosen: median 20 %, 90 in 100 below 38 %
    assert np.nanpercentile(ours, 50) == pytest.approx(0.20, abs=0.005)
    assert np.nanpercentile(ours, 90) == pytest.approx(0.375, abs=0.01)


def test_the_whole_run_keeps_its_invariants(block, dem_path):
    plan = plan_block(block)
    stations = plan.stations
    assert stations["length_m"].sum() == pytest.approx(plan.trails["length_m"].sum())
    assert stations["grade"].notna().all()
    slope2 = stations["grade"] ** 2 + stations["cross_slope"] ** 2
    assert slope2.to_numpy() == pytest.approx(stations["slope"].to_numpy() ** 2, abs=1e-6)
    # elevation beside an independent reader: rasterio's own sampling of the nearest cell
    with rasterio.open(dem_path) as source:
        xy = stations[["x_m", "y_m"]].to_numpy()
        nearest = np.array([v[0] for v in source.sample(xy)])
    steepest = stations["slope_native"].to_numpy()
    assert (np.abs(stations["elevation_m"] - nearest) <= 0.75 * steepest + 0.3).all()
    # the trail falls or climbs as its ends do
    for name, along in stations.groupby("trail"):
        climbed = (along["grade"] * along["length_m"]).sum()
        ordered = along.sort_values("to_landing_m")
        rise = ordered["elevation_m"].iloc[0] - ordered["elevation_m"].iloc[-1]
        assert climbed == pytest.approx(rise, abs=0.25 * abs(rise) + 1.0), name
    assert set(plan.ranking.setups["standing"]) <= {"usual practice", "ask the manufacturer first"}
    assert plan.ranking.setups["not_assessed_m"].eq(0).all()


def test_the_command_writes_everything(block, tmp_path):
    done = rutwise("plan", block, "-o", tmp_path / "out")
    assert done.returncode in (0, 3), done.stderr
    assert (tmp_path / "out" / "map.html").stat().st_size < 8_000_000
