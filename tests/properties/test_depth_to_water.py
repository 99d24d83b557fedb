"""Properties of depth-to-water that hold for any terrain."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from terrain.surfaces.wetness import depth_to_water_m, slope_m

ROW_STEP = (0, 1, 1, 1, 0, -1, -1, -1)
COLUMN_STEP = (1, 1, 0, -1, -1, -1, 0, 1)
FORMS = ("target cell", "mean of both cells")
NO_CHANNELS_HA = 1e6

seeds = st.integers(0, 2**32 - 1)
forms = st.sampled_from(FORMS)
# float32 sums of up to some thirty steps against float64 sums
TOLERANCE = 1e-5


def ground(seed: int, voids: bool = True) -> tuple[np.ndarray, np.ndarray]:
    """Random rough ground, and water on a few of its cells."""
    draws = np.random.default_rng(seed)
    rows, columns = draws.integers(3, 16, size=2)
    elevation = draws.normal(scale=0.5, size=(rows, columns)).cumsum(axis=1).astype(np.float32)
    if voids and draws.random() < 0.4:
        elevation[draws.integers(rows), draws.integers(columns)] = np.nan
    water = draws.random((rows, columns)) < 0.05
    water[draws.integers(rows), draws.integers(columns)] = True
    water &= ~np.isnan(elevation)
    return elevation, water


def depth(elevation, water, form="target cell", cap_m=50.0, cell_m=2.0):
    return depth_to_water_m(elevation, cell_m, NO_CHANNELS_HA, cap_m, open_water=water, form=form)[
        NO_CHANNELS_HA
    ].depth_to_water_m


def graph_depth(elevation, water, form, cap_m, cell_m=2.0):
    """The same from a general graph library, every step an edge."""
    slope = slope_m(elevation, cell_m).astype(float)
    rows, columns = slope.shape
    start, end, cost = [], [], []
    for row, column in np.ndindex(rows, columns):
        for k in range(8):
            to = row + ROW_STEP[k], column + COLUMN_STEP[k]
            if not (0 <= to[0] < rows and 0 <= to[1] < columns) or np.isnan(slope[to]):
                continue
            per_metre = slope[to]
            if form != "target cell" and not np.isnan(slope[row, column]):
                per_metre = (per_metre + slope[row, column]) / 2
            elif np.isnan(slope[row, column]) and not water[row, column]:
                continue
            start.append(row * columns + column)
            end.append(to[0] * columns + to[1])
            cost.append(max(per_metre * cell_m * (np.sqrt(2) if k % 2 else 1), 1e-12))
    graph = coo_array((cost, (start, end)), shape=(slope.size, slope.size)).tocsr()
    far = dijkstra(graph, indices=np.flatnonzero(water), min_only=True).reshape(slope.shape)
    far = np.minimum(far, cap_m)
    return np.where(water, 0, np.where(np.isnan(slope), np.nan, far))


@given(seeds, forms, st.sampled_from([0.3, 2.0, 50.0]))
@settings(max_examples=80, deadline=None)
def test_equals_the_shortest_path_of_a_graph_library(seed, form, cap_m):
    elevation, water = ground(seed)
    expected = graph_depth(elevation, water, form, cap_m)
    np.testing.assert_allclose(
        depth(elevation, water, form, cap_m), expected, rtol=TOLERANCE, atol=1e-6
    )


@given(seeds, forms)
@settings(max_examples=80, deadline=None)
def test_no_path_is_cheaper(seed, form):
    elevation, water = ground(seed, voids=False)
    slope = slope_m(elevation, 2.0)
    found = depth(elevation, water, form)
    draws = np.random.default_rng(seed)
    row, column = np.argwhere(water)[0]
    spent = 0.0
    for _ in range(30):
        k = draws.integers(8)
        to = row + ROW_STEP[k], column + COLUMN_STEP[k]
        if not (0 <= to[0] < slope.shape[0] and 0 <= to[1] < slope.shape[1]):
            continue
        if np.isnan(slope[to]):
            continue
        per_metre = float(slope[to])
        if form != "target cell" and not np.isnan(slope[row, column]):
            per_metre = (per_metre + float(slope[row, column])) / 2
        spent += per_metre * 2.0 * (np.sqrt(2) if k % 2 else 1)
        row, column = to
        assert found[row, column] <= spent * (1 + TOLERANCE) + 1e-6


@given(seeds, forms, st.floats(0.05, 3.0))
@settings(max_examples=60, deadline=None)
def test_the_cap_changes_nothing_below_it(seed, form, cap_m):
    elevation, water = ground(seed)
    cap_m = float(np.float32(cap_m))
    capped, full = depth(elevation, water, form, cap_m), depth(elevation, water, form)
    np.testing.assert_array_equal(capped, np.minimum(full, np.float32(cap_m)))


@given(seeds, forms, st.integers(-1000, 3000))
@settings(max_examples=60, deadline=None)
def test_raising_the_ground_changes_nothing(seed, form, lift_m):
    elevation, water = ground(seed)
    elevation = (np.round(elevation * 4) / 4).astype(np.float32)  # quarters stay exact
    np.testing.assert_array_equal(
        depth(elevation + np.float32(lift_m), water, form), depth(elevation, water, form)
    )


@given(seeds, forms)
@settings(max_examples=60, deadline=None)
def test_turning_the_ground_turns_the_result(seed, form):
    elevation, water = ground(seed)
    turned = depth(np.rot90(elevation), np.rot90(water), form)
    np.testing.assert_allclose(
        turned, np.rot90(depth(elevation, water, form)), rtol=TOLERANCE, atol=1e-6
    )


@given(seeds, forms)
@settings(max_examples=60, deadline=None)
def test_more_water_is_never_drier(seed, form):
    elevation, water = ground(seed)
    more = water.copy()
    more.flat[np.random.default_rng(seed).integers(water.size)] = True
    known = ~np.isnan(depth(elevation, water, form))
    assert (depth(elevation, more, form)[known] <= depth(elevation, water, form)[known]).all()


@given(seeds, forms, st.permutations([0.01, 0.002, 0.0005]))
@settings(max_examples=60, deadline=None)
def test_one_run_for_all_areas_equals_single_runs(seed, form, areas):
    elevation, water = ground(seed)
    together = depth_to_water_m(elevation, 2.0, areas, open_water=water, form=form)
    assert list(together) == list(areas)
    for area in areas:
        alone = depth_to_water_m(elevation, 2.0, area, open_water=water, form=form)[area]
        np.testing.assert_array_equal(together[area].depth_to_water_m, alone.depth_to_water_m)
        np.testing.assert_array_equal(together[area].channels.mask, alone.channels.mask)
    dry, wet = together[max(areas)], together[min(areas)]
    assert (wet.channels.mask >= dry.channels.mask).all()
    known = ~np.isnan(dry.depth_to_water_m)
    assert (wet.depth_to_water_m[known] <= dry.depth_to_water_m[known]).all()


@pytest.mark.parametrize("form", FORMS)
def test_ground_without_any_water_is_at_the_cap(form):
    elevation, water = ground(7)
    found = depth(elevation, np.zeros_like(water), form, cap_m=2.0)
    assert (found[~np.isnan(found)] == 2).all()
