"""Properties of filling, flow directions and catchments that hold for any terrain."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from terrain.surfaces.flow import (
    OUTLET,
    VOID,
    channels,
    depressions,
    elevation_above_stream_m,
    fill,
    route,
)

ROW_STEP = (0, 1, 1, 1, 0, -1, -1, -1)
COLUMN_STEP = (1, 1, 0, -1, -1, -1, 0, 1)

# whole metres from a short list: many ties, flats and hollows; some voids
heights_m = st.one_of(st.integers(0, 12).map(float), st.just(np.nan))
shapes = array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=11)
terrains = arrays(np.float32, shapes, elements=heights_m)
seeds = st.integers(0, 2**32 - 1)


def neighbours(grid: np.ndarray, outside: float) -> np.ndarray:
    """Eight shifted copies of the grid, in the order of the directions."""
    rows, columns = grid.shape
    padded = np.pad(grid, 1, constant_values=outside)
    return np.stack(
        [
            padded[1 + r : 1 + r + rows, 1 + c : 1 + c + columns]
            for r, c in zip(ROW_STEP, COLUMN_STEP, strict=True)
        ]
    )


def rim(elevation: np.ndarray) -> np.ndarray:
    return np.isnan(neighbours(elevation, np.nan)).any(axis=0) & ~np.isnan(elevation)


def slow_fill(elevation: np.ndarray) -> np.ndarray:
    """Lower a flooded surface until it stands still (the idea of Planchon and Darboux 2002)."""
    water = np.where(rim(elevation), elevation, np.inf)
    water[np.isnan(elevation)] = np.inf
    while True:
        lowest = neighbours(water, np.inf).min(axis=0)
        lower = np.where(rim(elevation), elevation, np.maximum(elevation, lowest))
        lower[np.isnan(elevation)] = np.inf
        if np.array_equal(lower, water):
            return np.where(np.isnan(elevation), np.nan, water)
        water = np.minimum(lower, water)


def hollow_free(seed: int) -> np.ndarray:
    """Random ground that falls to the south everywhere and has no two equal falls."""
    draws = np.random.default_rng(seed)
    rows, columns = draws.integers(2, 14, size=2)
    return (10.0 * np.arange(rows)[::-1, None] + draws.random((rows, columns))).astype(np.float32)


@given(terrains)
@settings(max_examples=200, deadline=None)
def test_fill_equals_a_slow_iteration(elevation):
    np.testing.assert_array_equal(fill(elevation), slow_fill(elevation))


@given(terrains)
@settings(max_examples=60, deadline=None)
def test_filling_twice_changes_nothing_and_never_digs(elevation):
    filled = fill(elevation)
    np.testing.assert_array_equal(fill(filled), filled)
    known = ~np.isnan(elevation)
    assert (filled[known] >= elevation[known]).all()


@given(terrains, st.integers(-2000, 4000))
@settings(max_examples=60, deadline=None)
def test_raising_the_ground_changes_nothing(elevation, lift_m):
    # whole metres: exact in float32, below zero too
    before, after = route(elevation, 2.0), route(elevation + np.float32(lift_m), 2.0)
    np.testing.assert_array_equal(after.filled_m - np.float32(lift_m), before.filled_m)
    np.testing.assert_array_equal(after.direction, before.direction)
    np.testing.assert_array_equal(after.catchment_cells, before.catchment_cells)


@given(terrains)
@settings(max_examples=60, deadline=None)
def test_turning_and_mirroring_the_ground_turns_the_fill(elevation):
    filled = fill(elevation)
    np.testing.assert_array_equal(fill(np.rot90(elevation)), np.rot90(filled))
    np.testing.assert_array_equal(fill(elevation[:, ::-1]), filled[:, ::-1])


@given(seeds)
@settings(max_examples=60, deadline=None)
def test_turning_the_ground_turns_the_flow(seed):
    elevation = hollow_free(seed)
    flow, turned = route(elevation, 1.0), route(np.rot90(elevation), 1.0)
    np.testing.assert_array_equal(turned.catchment_cells, np.rot90(flow.catchment_cells))
    # directions count clockwise, numpy.rot90 turns the other way: two less
    inner = np.rot90(flow.direction)
    expected = np.where(inner == OUTLET, OUTLET, (inner - 2) % 8)
    np.testing.assert_array_equal(turned.direction, expected)


@given(terrains)
@settings(max_examples=100, deadline=None)
def test_directions_are_the_steepest_way_down_the_filled_surface(elevation):
    flow = route(elevation, 1.0)
    root2 = np.float32(np.sqrt(2.0))
    length = np.array([1, root2] * 4, dtype=np.float32)[:, None, None]
    fall = (flow.filled_m - neighbours(flow.filled_m, np.nan)) / length
    fall = np.where(np.isnan(fall), -np.inf, fall)
    downhill = (fall.max(axis=0) > 0) & ~np.isnan(elevation)
    np.testing.assert_array_equal(flow.direction[downhill], fall.argmax(axis=0)[downhill])
    np.testing.assert_array_equal(flow.direction == VOID, np.isnan(elevation))
    assert rim(elevation)[flow.direction == OUTLET].all()


@given(terrains)
@settings(max_examples=100, deadline=None)
def test_every_cell_reaches_the_rim_and_catchments_are_what_arrives(elevation):
    flow = route(elevation, 1.0)
    visits = np.zeros(elevation.shape, dtype=int)
    from_rim = np.zeros(elevation.shape, dtype=bool)
    on_rim = rim(elevation)
    for row, column in np.argwhere(~np.isnan(elevation)):
        start = (row, column)
        for _ in range(elevation.size):
            visits[row, column] += 1
            from_rim[row, column] |= on_rim[start]
            k = flow.direction[row, column]
            if k == OUTLET:
                break
            next_row, next_column = row + ROW_STEP[k], column + COLUMN_STEP[k]
            assert flow.filled_m[next_row, next_column] <= flow.filled_m[row, column]
            row, column = next_row, next_column
        else:
            raise AssertionError("water goes round in a circle")
        assert on_rim[row, column]
    np.testing.assert_array_equal(flow.catchment_cells, visits)
    np.testing.assert_array_equal(flow.touches_edge, from_rim)


@given(terrains, st.sampled_from([0.5, 1.0, 5.0]))
@settings(max_examples=60, deadline=None)
def test_outlets_drain_all_the_ground_there_is(elevation, cell_m):
    flow = route(elevation, cell_m)
    known = ~np.isnan(elevation)
    assert flow.catchment_cells[flow.direction == OUTLET].sum() == known.sum()
    np.testing.assert_allclose(
        flow.catchment_m2[flow.direction == OUTLET].sum(), known.sum() * cell_m**2
    )
    np.testing.assert_array_equal(np.isnan(flow.catchment_m2), ~known)


@given(terrains)
@settings(max_examples=60, deadline=None)
def test_depressions_hold_all_the_water(elevation):
    filled = fill(elevation)
    known = ~np.isnan(elevation)
    depth = np.where(known, filled - elevation, 0)
    found = depressions(elevation, filled, 2.0, min_depth_m=0.0, min_area_m2=0.0)
    np.testing.assert_array_equal(found.grid > 0, depth > 0)
    np.testing.assert_allclose(found.volume_m3.sum(), depth.sum() * 4)
    for number in range(1, len(found.row) + 1):
        inside = found.grid == number
        assert (filled[inside] == found.level_m[number - 1]).all()
        assert depth[inside].max() == found.depth_m[number - 1]
        assert inside.sum() * 4 == found.area_m2[number - 1]
        at = found.row[number - 1], found.column[number - 1]
        assert found.grid[at] == number
        assert depth[at] == found.depth_m[number - 1]


@given(terrains, st.integers(1, 6))
@settings(max_examples=60, deadline=None)
def test_height_above_the_stream_is_never_negative_and_zero_on_it(elevation, least_cells):
    flow = route(elevation, 100.0)  # one cell is one hectare
    stream = channels(flow, least_cells).mask
    above = elevation_above_stream_m(flow, stream)
    assert (above[stream] == 0).all()
    assert (above[~np.isnan(above)] >= 0).all()
    # unknown exactly where the way down meets no stream
    for row, column in np.argwhere(~np.isnan(elevation)):
        start = (row, column)
        while not stream[row, column] and flow.direction[row, column] != OUTLET:
            k = flow.direction[row, column]
            row, column = row + ROW_STEP[k], column + COLUMN_STEP[k]
        if stream[row, column]:
            assert above[start] == flow.filled_m[start] - flow.filled_m[row, column]
        else:
            assert np.isnan(above[start])
