"""The fictional block: regenerates, holds together, and poses the questions it is meant to pose.

Every figure checked here is of our own making (an invented block); no published value is involved.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from numpy.typing import NDArray

from sample_data import make_block
from sample_data.network import DRAWN_UPHILL, LANDINGS, TRAILS
from sample_data.relief import route_flow
from terrain.grid import Grid

HOME = Path(make_block.__file__).parent
LAYERS = ("soils", "trails", "landings", "boundary", "streams")
Built = tuple[Grid, dict[str, gpd.GeoDataFrame]]


@pytest.fixture(scope="module")
def rebuilt() -> Built:
    """The block grown again from its seed (some ten seconds)."""
    return make_block.build()


@pytest.fixture(scope="module")
def dem() -> Grid:
    with rasterio.open(HOME / "dem.tif") as source:
        assert source.crs.to_string() == make_block.CRS
        west, north = source.bounds.left, source.bounds.top
        return Grid(source.read(1), west, north, source.transform.a, make_block.CRS)


@pytest.fixture(scope="module")
def layers() -> dict[str, gpd.GeoDataFrame]:
    return {name: gpd.read_file(HOME / f"{name}.gpkg") for name in LAYERS}


@pytest.fixture(scope="module")
def walked(dem: Grid, layers: dict[str, gpd.GeoDataFrame]) -> dict[str, NDArray[np.float64]]:
    """Per trail (n, 3): loaded grade, cross slope (ratios), soil class; one row every 5 m.

    The gradient is the difference of elevations 3 m ahead and behind, right and left: simpler
    than, and independent of, the package's own surfaces.
    """
    soils = layers["soils"]
    result = {}
    for trail, line in zip(layers["trails"]["trail"], layers["trails"].geometry, strict=True):
        loaded = line.reverse() if trail in DRAWN_UPHILL else line
        at = np.arange(3.0, loaded.length - 3.0, 5.0)

        def along(distance: NDArray, loaded: shapely.LineString = loaded) -> NDArray:
            return shapely.get_coordinates(shapely.line_interpolate_point(loaded, distance))

        here, ahead, behind = along(at), along(at + 3), along(at - 3)
        unit = (ahead - behind) / np.hypot(*(ahead - behind).T)[:, None]
        left = np.column_stack([-unit[:, 1], unit[:, 0]])
        rise = [dem.bilinear(*(here + 3 * way).T) - dem.bilinear(*(here - 3 * way).T)
                for way in (unit, left)]  # fmt: skip
        points, polygons = soils.sindex.query(shapely.points(here), predicate="intersects")
        soil = np.full(len(here), np.nan)
        soil[points] = soils["soil_class"].to_numpy()[polygons]
        result[trail] = np.column_stack([rise[0] / 6, rise[1] / 6, soil])
    return result


def test_the_seed_grows_the_committed_elevation_model(rebuilt: Built, dem: Grid) -> None:
    grown = rebuilt[0]
    assert (grown.west_m, grown.north_m, grown.cell_m) == (dem.west_m, dem.north_m, dem.cell_m)
    np.testing.assert_array_equal(grown.values, dem.values)


@pytest.mark.parametrize("name", LAYERS)
def test_the_seed_draws_the_committed_layers(
    name: str, rebuilt: Built, layers: dict[str, gpd.GeoDataFrame]
) -> None:
    made, kept = rebuilt[1][name], layers[name]
    assert shapely.equals_exact(made.geometry.values, kept.geometry.values, tolerance=0.0).all()
    columns = [column for column in made.columns if column != "geometry"]
    assert made[columns].astype(str).equals(kept[columns].astype(str))
    assert kept.crs.to_string() == make_block.CRS


def test_equal_layers_give_equal_bytes(rebuilt: Built, tmp_path: Path) -> None:
    first = make_block.write(tmp_path / "first", *rebuilt)
    second = make_block.write(tmp_path / "second", *rebuilt)
    assert [file.name for file in first] == ["dem.tif", *(f"{n}.gpkg" for n in rebuilt[1])]
    for one, other in zip(first, second, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name


def test_files_stay_small() -> None:
    assert (HOME / "dem.tif").stat().st_size < 700_000
    data = [file for file in HOME.rglob("*") if file.suffix in {".tif", ".gpkg", ".toml"}]
    assert sum(file.stat().st_size for file in data) < 1_500_000


def test_the_land_is_drained_and_neither_flat_nor_vertical(
    dem: Grid, layers: dict[str, gpd.GeoDataFrame]
) -> None:
    z = dem.values.astype(float)
    edge = np.ones(z.shape, bool)
    edge[1:-1, 1:-1] = False
    level = route_flow(z, dem.cell_m, edge, np.zeros((*z.shape, 8)), 0.0)[3].reshape(z.shape)
    assert (level - z).max() < 0.15  # no closed hollow deeper than the roughness
    north, east = np.gradient(z, dem.cell_m)
    rows, columns = np.indices(z.shape)
    inside = shapely.contains_xy(
        layers["boundary"].union_all(),
        dem.west_m + (columns + 0.5) * dem.cell_m,
        dem.north_m - (rows + 0.5) * dem.cell_m,
    )
    low, middle, high = np.percentile(np.hypot(north, east)[inside], [1, 50, 99])
    assert 0.02 < low < 0.08
    assert 0.10 < middle < 0.20
    assert 0.30 < high < 0.45


def test_soils_cover_the_frame_without_gap_or_overlap(
    layers: dict[str, gpd.GeoDataFrame], dem: Grid
) -> None:
    soils = layers["soils"]
    assert soils.is_valid.all()
    assert soils["polygon"].is_unique
    assert set(soils["soil_class"]) == {1, 2, 3, 4}
    assert shapely.coverage_is_valid(soils.geometry.values)
    assert shapely.box(*dem.bounds).difference(soils.union_all()).area == 0
    assert soils.area.sum() == pytest.approx(shapely.box(*dem.bounds).area, rel=1e-12)


def test_the_block_holds_its_trails_and_landings(layers: dict[str, gpd.GeoDataFrame]) -> None:
    block = layers["boundary"].union_all()
    assert 60 < block.area / 1e4 < 120
    assert layers["trails"].within(block).all()
    assert layers["landings"].within(block).all()
    assert 6_000 < layers["trails"].length.sum() < 10_000
    assert set(layers["trails"]["trail_class"]) == {"main trail", "base trail", "strip trail"}


def test_every_trail_ends_on_a_vertex_and_leads_to_a_landing(
    layers: dict[str, gpd.GeoDataFrame],
) -> None:
    ends: Mapping[str, str] = {plan.trail: plan.joins for plan in TRAILS}
    lines = dict(zip(layers["trails"]["trail"], layers["trails"].geometry, strict=True))
    places = dict(zip(layers["landings"]["landing"], layers["landings"].geometry, strict=True))
    for trail, goal in ends.items():
        line = lines[trail].reverse() if trail in DRAWN_UPHILL else lines[trail]
        target = places[goal] if goal in places else lines[goal]
        assert line.coords[-1] in list(target.coords), f"{trail} misses {goal}"
        seen = {trail}
        while goal not in LANDINGS:
            assert goal not in seen, f"{trail} goes round in a circle"
            seen.add(goal)
            goal = ends[goal]
    for trail, line in lines.items():
        for other, its in lines.items():
            if trail < other and line.intersects(its):
                met = line.intersection(its)
                assert met.geom_type == "Point", f"{trail} and {other}"
                assert met.coords[0] in line.coords, f"{trail} and {other} cross"
                assert met.coords[0] in its.coords, f"{trail} and {other} cross"


def test_streams_run_downhill(layers: dict[str, gpd.GeoDataFrame], dem: Grid) -> None:
    looked_at = 0
    for line in layers["streams"].geometry:
        ends = np.array([line.coords[0], line.coords[-1]])
        head, foot = dem.bilinear(*shapely.get_coordinates(shapely.points(ends)).T)
        if np.isfinite(foot):
            looked_at += 1
            assert head > foot + 1
    assert looked_at > 0


def metres(rows: NDArray[np.bool_]) -> float:
    return 5.0 * float(np.count_nonzero(rows))


def test_most_metres_are_firm_and_gentle(walked: dict[str, NDArray[np.float64]]) -> None:
    every = np.concatenate(list(walked.values()))
    assert np.isfinite(every).all()
    easy = (np.abs(every[:, 0]) < 0.20) & (every[:, 2] == 1)
    assert metres(easy) > 0.80 * metres(every[:, 0] > -9)


def test_one_trail_climbs_steeply_on_firm_ground(walked: dict[str, NDArray[np.float64]]) -> None:
    grade, _cross, soil = walked["T10"].T
    assert 60 <= metres((grade > 0.26) & (grade < 0.36)) <= 150
    assert grade.max() < 0.38
    assert (soil == 1).all()


@pytest.mark.parametrize("trail", ["T13", "T14"])
def test_two_trails_climb_over_the_soft_toe_slope(
    trail: str, walked: dict[str, NDArray[np.float64]]
) -> None:
    grade, _cross, soil = walked[trail].T
    assert metres((soil == 2) & (grade > 0.07) & (grade < 0.16)) > 80


def test_one_trail_crosses_the_gley_and_none_the_peat(
    walked: dict[str, NDArray[np.float64]],
) -> None:
    soft = {trail: metres(rows[:, 2] == 3) for trail, rows in walked.items()}
    assert [trail for trail, length in soft.items() if length] == ["T4"]
    assert 30 <= soft["T4"] <= 80
    assert not any((rows[:, 2] == 4).any() for rows in walked.values())


def test_one_trail_takes_a_needless_pitch(walked: dict[str, NDArray[np.float64]]) -> None:
    pitch = {trail: float(np.abs(rows[:, 0]).max()) for trail, rows in walked.items()}
    assert pitch["T15"] > 0.38
    assert all(steepest < 0.38 for trail, steepest in pitch.items() if trail != "T15")


def test_the_block_file_names_what_is_there(layers: dict[str, gpd.GeoDataFrame]) -> None:
    text = (HOME / "block.toml").read_text(encoding="utf-8")
    block = tomllib.loads(text)
    assert block["block"]["invented"] is True
    assert "INVENTED" in text
    for part in ("dem", "soils", "trails", "landings", "boundary", "machine"):
        assert (HOME / block[part]["file"]).is_file(), part
    wanted = {"soils": ("id", "soil_class", "drainage", "texture"), "landings": ("id",),
              "trails": ("id", "trail_class", "volume_m3", "width_m")}  # fmt: skip
    for part, keys in wanted.items():
        assert {block[part][key] for key in keys} <= set(layers[part].columns)
    assert 0.38 <= block["ground"]["film_grip_cap"] <= 0.42
    assert block["ground"]["film_cap_source"] == "invented for the demonstration"
