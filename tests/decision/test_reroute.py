"""Detours: the search on made-up ground, and the offered line run again as a trail."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box
from shapely.ops import substring

from terrain.decision.remedy_case import cases_of
from terrain.decision.reroute import Detour, Reroutes, line_across
from terrain.decision.reroute_ground import Corridor, corridor_along, slope_limits
from terrain.plan import plan_block
from tests.decision.remedy_block import (
    TEXT,
    block_file,
    lines,
    patch,
    reserve_of,
    situation_of,
    straight,
)
from tests.tiny_block import CRS, at, plane


def found_in(path):
    situation, forcing, fares = situation_of(path)
    case = next(c for c in cases_of(situation, forcing, fares) if c.setup == "bare")
    return situation, case, Reroutes(situation)


@pytest.fixture(scope="module")
def soft_patch(tmp_path_factory):
    return found_in(block_file(tmp_path_factory.mktemp("patch")))


def level(rows=31, columns=31, place_m=2.0):
    """A corridor on level, firm, dry ground; its south-west place is at (0, 0)."""
    shape = (rows, columns)
    return Corridor(
        west_m=0.0,
        north_m=(rows - 1) * place_m,
        place_m=place_m,
        free=np.ones(shape, dtype=bool),
        wet=np.zeros(shape, dtype=bool),
        gradient_east=np.zeros(shape),
        gradient_north=np.zeros(shape),
        ground={
            "cone_index_kpa": np.full(rows * columns, 1000.0),
            "bearing_kpa": np.full(rows * columns, 160.0),
        },
    )


ENDS = np.array([[2.0, 30.0], [58.0, 30.0]])


def best(soft_patch, corridor, ends=ENDS):
    situation, case, _ = soft_patch
    return line_across(situation, case, corridor, ends)


def test_on_level_ground_the_line_is_straight(soft_patch):
    line = best(soft_patch, level())
    assert line.length == pytest.approx(56.0)
    assert list(line.coords) == [tuple(ENDS[0]), tuple(ENDS[1])]


def test_a_barrier_is_gone_round_and_a_closed_one_is_not_passed(soft_patch):
    barred = level()
    barred.free[5:, 15] = False  # open only in the north, at y from 52 m
    line = best(soft_patch, barred)
    y = np.asarray(line.coords)[:, 1]
    assert y.max() >= 52
    # by two straight pieces round the corner at (30, 52) at least
    assert line.length >= 2 * np.hypot(28, 22) - 1e-9
    assert line.length < 1.15 * 2 * np.hypot(28, 22)
    barred.free[:, 15] = False
    assert best(soft_patch, barred) is None


def test_fewest_wet_metres_come_before_a_shorter_line(soft_patch):
    wet = level()
    wet.wet[5:, 13:18] = True
    line = best(soft_patch, wet)
    assert np.asarray(line.coords)[:, 1].max() >= 52
    wet.wet[:, 13:18] = True  # no dry way: straight through is the fewest wet metres
    line = best(soft_patch, wet)
    assert 56 <= line.length < 58  # wet metres are counted place by place


def test_ground_that_is_too_steep_or_unknown_is_not_crossed(soft_patch):
    situation, case, _ = soft_patch
    limits = slope_limits(situation, case.item)
    steep = level()
    steep.gradient_north[5:, 13:18] = limits.cross + 0.05  # cross slope on the straight line
    assert np.asarray(best(soft_patch, steep).coords)[:, 1].max() >= 50
    unknown = level()
    unknown.ground["cone_index_kpa"].reshape(31, 31)[5:, 13:18] = np.nan
    assert np.asarray(best(soft_patch, unknown).coords)[:, 1].max() >= 50


def test_direction_counts_loaded_down_is_not_loaded_up(soft_patch):
    situation, case, _ = soft_patch
    hill = level()
    hill.gradient_east[:] = 0.10
    hill.ground["cone_index_kpa"][:] = 400.0
    place = np.zeros(2, dtype=np.int64)
    up, down = hill.passes(place, np.array([90.0, 270.0]), case.item, situation)
    assert (bool(up), bool(down)) == (False, True)


def test_the_corridor_reads_what_the_stations_read(soft_patch):
    situation, _, _ = soft_patch
    stations = situation.along.stations
    line = situation.block.trails.geometry.loc["T1"]
    corridor = corridor_along(situation, line, stations.iloc[0])
    place, inside = corridor.index(stations["x_m"].to_numpy(), stations["y_m"].to_numpy())
    assert inside.all()
    assert corridor.gradient_east.ravel()[place] == pytest.approx(
        stations["gradient_east"].to_numpy(), abs=1e-6
    )
    for name in ("cone_index_kpa", "bearing_kpa"):
        assert corridor.ground[name][place] == pytest.approx(stations[name].to_numpy())
    assert (corridor.wet.ravel()[place] == stations["wet"].to_numpy(dtype=bool)).all()
    width = situation.settings.decision.reroute_corridor_m
    far = shapely.distance(
        shapely.points(corridor.west_m + np.arange(corridor.free.shape[1]) * 2.0, corridor.north_m),
        line,
    )
    assert not corridor.free[0][far > width].any()


def test_a_detour_round_the_patch_run_again_as_the_trail(soft_patch, tmp_path):
    _, case, reroutes = soft_patch
    row, line = reroutes.row(case)
    assert row["solves"] == "yes"
    detour = line["geometry"]
    assert row["added_m"] == pytest.approx(detour.length - line["replaced_m"])
    assert line["replaced_m"] == pytest.approx(40)  # the stretch of 20 m and 10 m on both sides
    assert not detour.intersects(box(*at(92, -13), *at(108, 13)))
    trails = straight()
    old = trails.geometry.iloc[0]
    whole = [
        *substring(old, 0, 80).coords[:-1], *detour.coords, *substring(old, 120, 200).coords[1:]
    ]  # fmt: skip
    trails.geometry = [LineString(whole)]
    plan = plan_block(block_file(tmp_path, trails=trails))
    reserve = reserve_of(plan, "bare")
    assert (reserve >= 0).all()
    assert plan.trails["length_m"].iloc[0] == pytest.approx(160 + detour.length)
    assert reserve.min() == pytest.approx(line["worst_reserve"], abs=0.005)
    assert row["reserve_after"] == line["worst_reserve"]
    assert ("with a thin reserve" in row["does"]) == (line["worst_reserve"] < 0.03)
    assert np.abs(plan.stations["cross_slope"]).max() == pytest.approx(line["max_cross"], rel=1e-6)


def test_a_wall_across_the_corridor_leaves_no_line(tmp_path):
    _, case, reroutes = found_in(block_file(tmp_path, soils=patch(half=100)))
    row, line = reroutes.row(case)
    assert line is None
    assert row["solves"] == "no"
    assert "No line within 60 m" in row["does"]
    assert row["left_m"] == pytest.approx(case.failing_m)


def test_a_machine_free_strip_is_kept_out_of(tmp_path):
    south = gpd.GeoDataFrame(geometry=[box(*at(80, -90), *at(120, -5))], crs=CRS)
    south.to_file(tmp_path / "strip.gpkg", driver="GPKG")
    path = block_file(tmp_path, text=TEXT + '[buffers]\nfile = "strip.gpkg"\n')
    _, case, reroutes = found_in(path)
    _, line = reroutes.row(case)
    assert line["geometry"].distance(south.geometry.iloc[0]) > 0
    assert np.asarray(line["geometry"].coords)[:, 1].max() > at(0, 15)[1]


def test_a_detour_that_would_cut_another_trail_off_is_not_offered(tmp_path):
    trails = lines(T1=[(0, 0), (200, 0)], T2=[(100, 100), (100, 0)])
    _, case, reroutes = found_in(block_file(tmp_path, trails=trails, soils=patch(half=8)))
    row, line = reroutes.row(case)
    assert line is None
    assert row["solves"] == "no"
    assert "another trail that joins there would lose its way" in row["does"]


def test_a_line_that_the_look_does_not_confirm_is_not_offered(soft_patch, monkeypatch):
    situation, case, _ = soft_patch
    through = LineString([at(80, 0), at(120, 0)])  # the old line, through the soft ground
    monkeypatch.setattr("terrain.decision.reroute.line_across", lambda *_: through)
    row, line = Reroutes(situation).row(case)
    assert line is None
    assert row["solves"] == "no"
    assert "not offered: looked at as a trail, 20 m fall short" in row["does"]


def test_neighbouring_short_metres_are_gone_round_too(tmp_path):
    two = patch(90, 110)
    two = gpd.GeoDataFrame(
        {"polygon": ["firm", "soft", "softer"], "soil_class": [1, 2, 3],
         "drainage": ["well drained", "poorly drained", "well drained"]},
        geometry=[two.geometry.iloc[0].difference(box(*at(110, -15), *at(125, 15))),
                  two.geometry.iloc[1], box(*at(110, -15), *at(125, 15))],
        crs=CRS,
    )  # fmt: skip
    situation, forcing, fares = situation_of(block_file(tmp_path, soils=two))
    bare = [c for c in cases_of(situation, forcing, fares) if c.setup == "bare"]
    reroutes = Reroutes(situation)
    assert len(bare) > 1
    found = [reroutes.find(case) for case in bare]
    assert all(isinstance(detour, Detour) for detour in found)
    # 90 to 125 m and 10 m on both sides
    assert [detour.replaced_m for detour in found] == pytest.approx([55.0] * len(bare))


def test_slope_limits_follow_the_planned_trails_and_the_machine(tmp_path, soft_patch):
    situation, case, _ = soft_patch
    limits = slope_limits(situation, case.item)
    assert limits.grade == pytest.approx(0.10)  # first slope band; the plane has 0.08
    assert limits.cross == pytest.approx(0.10)
    assert limits.hold(np.array([0.09, -0.11, np.nan]), np.zeros(3)).tolist() == [
        True, False, False,
    ]  # fmt: skip
    steep = replace(case.item.machine, track_gauge_m=0.2)
    assert slope_limits(situation, replace(case.item, machine=steep)).cross < 0.05


def test_a_load_that_hangs_low_widens_no_slope_limit(soft_patch):
    # standard statics: 0.6 t / (2 h) with the height of the empty machine, 0.2 m of gauge
    situation, case, _ = soft_patch
    machine = replace(case.item.machine, track_gauge_m=0.2)
    low = replace(case.item.load, centre_height_m=0.5)
    found = slope_limits(situation, replace(case.item, machine=machine, load=low))
    assert found.cross == pytest.approx(0.6 * 0.2 / (2 * machine.cg_height_m), rel=1e-9)


def test_the_dem_edge_is_the_end(tmp_path):
    z, transform = plane(gx=0.08)
    z = z[40:70]  # the ground is known from y = -30 to 30 only
    transform = transform * transform.translation(0, 40)
    path = block_file(tmp_path, dem=(z, transform), soils=patch(half=100))
    _, case, reroutes = found_in(path)
    assert reroutes.row(case)[1] is None
