"""Depth-to-water: water on voids, culverts, other packages as oracles; the wetness index."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import cbook
from skimage.graph import MCP_Geometric

from terrain.surfaces.flow import carve, route
from terrain.surfaces.gradient import horn, slope
from terrain.surfaces.wetness import (
    coarsen,
    depth_to_water_m,
    slope_m,
    topographic_wetness_index,
)


def open_dem() -> np.ndarray:
    """Real open terrain: the 344 x 403 cell elevation sample that matplotlib carries."""
    return cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"].astype(np.float32)


@pytest.mark.terrain_real
@pytest.mark.parametrize("cap_m", [5.0, 40.0])
def test_mean_form_is_that_of_an_image_library_below_the_cap(cap_m):
    """Oracle: least geometric cost in scikit-image; its cost of a step is the mean of both cells.

    Cells of about 90 m are taken as 90 m squares. The tolerance covers float32 sums.
    """
    elevation, cell_m = open_dem(), 90.0
    found = depth_to_water_m(elevation, cell_m, 200.0, cap_m, form="mean of both cells")[200.0]
    steep = slope_m(elevation, cell_m).astype(float)
    inner = ~np.isnan(steep)
    sources = found.channels.mask & inner
    costs = np.where(inner, steep * cell_m, np.inf)
    full, _ = MCP_Geometric(costs, fully_connected=True).find_costs(np.argwhere(sources))
    # the oracle cannot start on border cells of unknown slope: leave out what they could reach
    away = np.zeros(steep.shape, dtype=bool)
    away[40:-40, 40:-40] = True
    compared = away & inner
    assert (full[compared] < cap_m).mean() > 0.02
    np.testing.assert_allclose(
        found.depth_to_water_m[compared],
        np.minimum(full, cap_m)[compared],
        rtol=2e-5,
        atol=1e-5,
    )


def test_slope_in_strips_is_horns_slope():
    elevation = np.random.default_rng(3).normal(size=(150, 40)).astype(np.float32)
    elevation[70, 20] = np.nan
    np.testing.assert_array_equal(slope_m(elevation, 2.0), slope(*horn(elevation, 2.0)))
    assert slope_m(elevation, 2.0).dtype == np.float32


def test_slope_comes_from_the_unfilled_ground():
    """A closed hollow is level once filled; its sides must not count as level ground."""
    row, column = np.mgrid[:41, :41]
    bowl = np.minimum(np.hypot(row - 20, column - 20) * 0.2, 3.0)
    water = np.zeros(bowl.shape, dtype=bool)
    water[20, 20] = True
    found = depth_to_water_m(bowl, 1.0, 1e6, open_water=water)[1e6].depth_to_water_m
    assert found[20, 27] == pytest.approx(0.2 * 7, rel=0.05)


def test_water_on_a_void_wets_its_shore():
    """A lake without elevation: its shore counts as water, and depth grows from there."""
    column = np.tile(np.arange(30.0), (20, 1)) * 0.1
    column[5:15, :10] = np.nan
    lake = np.isnan(column)
    found = depth_to_water_m(column, 1.0, 1e6, open_water=lake)[1e6].depth_to_water_m
    assert (found[lake] == 0).all()
    assert (found[5:15, 10] == 0).all()
    np.testing.assert_allclose(found[10, 11:15], [0.1, 0.2, 0.3, 0.4], rtol=1e-5)
    in_means = depth_to_water_m(column, 1.0, 1e6, open_water=lake, form="mean of both cells")[
        1e6
    ].depth_to_water_m
    np.testing.assert_allclose(in_means[10, 11:15], [0.1, 0.2, 0.3, 0.4], rtol=1e-5)


def test_a_void_without_water_stays_unknown():
    plane = np.tile(np.arange(20.0), (20, 1)) * 0.1
    plane[10, 10] = np.nan
    found = depth_to_water_m(plane, 1.0, 1e6)[1e6].depth_to_water_m
    assert np.isnan(found[9:12, 9:12]).all()
    assert np.isnan(found).sum() == 9 + 4 * 19


def test_culverts_change_where_it_is_wet_but_not_the_slope():
    row, column = np.mgrid[:60, :31]
    valley = 50 - 0.05 * row + 0.2 * np.abs(column - 15)
    valley[29:32] = np.maximum(valley[29:32], valley[30, 15] + 3)
    carved = carve(valley, [[(30, 15)]])
    area = 0.08
    before = depth_to_water_m(valley, 1.0, area)[area]
    after = depth_to_water_m(valley, 1.0, area, routed_m=carved)[area]
    assert not before.channels.mask[30, 15]
    assert after.channels.mask[30, 15]
    given = depth_to_water_m(valley, 1.0, area, flow=route(carved, 1.0))[area]
    np.testing.assert_array_equal(given.depth_to_water_m, after.depth_to_water_m)


def test_the_elevation_is_not_changed():
    elevation = np.random.default_rng(5).normal(size=(30, 30)).astype(np.float32)
    before = elevation.copy()
    water = np.zeros(elevation.shape, dtype=bool)
    water[3, 3] = True
    depth_to_water_m(elevation, 1.0, [0.01, 0.001], open_water=water)
    np.testing.assert_array_equal(elevation, before)
    assert water.sum() == 1
    assert set(np.unique(water.view(np.uint8))) == {0, 1}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"cap_m": 0.0}, "cap"),
        ({"cell_m": -1.0}, "cell"),
        ({"flow_initiation_ha": 0.0}, "flow-initiation"),
        ({"flow_initiation_ha": []}, "positive"),
        ({"form": "sum"}, "form"),
        ({"open_water": np.zeros((2, 2))}, "open water has shape"),
        ({"flow": route(np.zeros((5, 5)), 1.0)}, "other cells"),
        ({"flow": route(np.zeros((6, 6)), 2.0)}, "other cells"),
    ],
)
def test_impossible_settings_are_refused(arguments, words):
    settings = {"elevation_m": np.zeros((6, 6)), "cell_m": 1.0, "flow_initiation_ha": 1.0}
    with pytest.raises(ValueError, match=words):
        depth_to_water_m(**(settings | arguments))


def test_coarse_cells_are_means_and_keep_voids():
    fine = np.arange(42.0).reshape(6, 7)
    fine[0, 6] = np.nan  # in the column that is dropped
    fine[5, 5] = np.nan
    coarse = coarsen(fine, 3)
    assert coarse.shape == (2, 2)
    assert coarse[0, 0] == np.mean([0, 1, 2, 7, 8, 9, 14, 15, 16])
    np.testing.assert_array_equal(np.isnan(coarse), [[False, False], [False, True]])
    with pytest.raises(ValueError, match="do not fit"):
        coarsen(fine, 9)


def test_wetness_index_is_high_in_the_hollow_and_low_on_the_crest():
    row, column = np.mgrid[:160, :320]
    valley = 0.05 * np.abs(column - 160) + 0.02 * (160 - row)
    index, cell_m = topographic_wetness_index(valley, 2.0)
    assert cell_m == 16.0
    assert index.shape == (20, 40)
    hollow, crest = index[10:-1, 19:21], index[10:-1, 1:4]
    assert np.nanmin(hollow) > np.nanmax(crest) + 1
    assert np.isnan(index[0]).all()
