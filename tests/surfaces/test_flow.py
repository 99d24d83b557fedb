"""Culverts, burnt streams, lists of hollows, channels, refusals, and other packages as oracles."""

from __future__ import annotations

import numpy as np
import pyflwdir
import pytest
from matplotlib import cbook
from skimage.morphology import reconstruction

from terrain.surfaces.flow import (
    OUTLET,
    VOID,
    burn,
    carve,
    cells_along,
    channels,
    depressions,
    elevation_above_stream_m,
    fill,
    route,
)


def fractal(size: int, seed: int) -> np.ndarray:
    """Random rough ground with a void corner; a quarter of it lies in hollows."""
    draws = np.random.default_rng(seed)
    wave = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None])
    wave[0, 0] = 1
    spectrum = np.fft.rfft2(draws.normal(size=(size, size))) * wave**-1.9
    ground = np.fft.irfft2(spectrum, s=(size, size))
    ground *= 0.04 * size / ground.std()
    row, column = np.mgrid[:size, :size]
    ground += 0.03 * row + draws.normal(scale=0.02, size=(size, size))
    ground[row + column < size // 5] = np.nan
    return ground.astype(np.float32)


def open_dem() -> np.ndarray:
    """Real open terrain: the 344 x 403 cell elevation sample that matplotlib carries."""
    return cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"].astype(np.float32)


GROUNDS = {
    "fractal": fractal(220, 1),
    "rough fractal": fractal(151, 2),
    "open terrain": open_dem(),
}


@pytest.fixture(params=GROUNDS)
def ground(request):
    return GROUNDS[request.param]


def neighbour_is_void(elevation):
    padded = np.pad(np.isnan(elevation), 1, constant_values=True)
    rows, columns = elevation.shape
    return np.any(
        [padded[r : r + rows, c : c + columns] for r in range(3) for c in range(3)], axis=0
    )


@pytest.mark.terrain_real
def test_fill_is_that_of_two_other_packages(ground):
    filled = fill(ground)
    known = ~np.isnan(ground)
    theirs, _ = pyflwdir.dem.fill_depressions(np.where(known, ground, -9999), nodata=-9999.0)
    # theirs adds a depth to the ground in float32: some 0.00001 m of rounding; no rounding below
    np.testing.assert_allclose(filled[known], theirs[known], rtol=2e-7, atol=1e-5)
    # morphological reconstruction by erosion: seeds are the rim, a void lets water out
    mask = np.where(known, ground, -9999.0)
    seed = np.where(neighbour_is_void(ground), mask, np.nanmax(ground))
    by_erosion = reconstruction(seed, mask, method="erosion", footprint=np.ones((3, 3)))
    np.testing.assert_array_equal(filled[known], by_erosion[known].astype(np.float32))
    assert (filled[known] > ground[known]).mean() > 0.02


@pytest.mark.terrain_real
def test_catchments_and_heights_along_our_directions_are_those_of_another_package(ground):
    flow = route(ground, 1.0)
    codes = np.where(flow.direction < 8, 1 << np.minimum(flow.direction, 7).astype(int), 0)
    codes[flow.direction == VOID] = 247  # their code of a void
    theirs = pyflwdir.from_array(codes.astype(np.uint8), ftype="d8")
    assert theirs.isvalid  # no loops
    known = flow.direction != VOID
    cells = theirs.upstream_area("cell")
    np.testing.assert_array_equal(flow.catchment_cells[known], cells[known])
    stream = flow.catchment_cells >= 200
    above = elevation_above_stream_m(flow, stream)
    theirs_above = theirs.hand(drain=stream, elevtn=flow.filled_m)
    met = ~np.isnan(above)
    assert met.any()
    np.testing.assert_allclose(above[met], theirs_above[met], rtol=1e-5, atol=1e-4)


@pytest.mark.terrain_real
def test_another_routing_makes_much_the_same_streams():
    """The other package sends water to the cell that flooded it; ours goes steepest down.

    A third of the directions or more differ, so catchments cannot be equal. The largest one must
    agree within 2 %, and the streams within one cell for at least 90 % of their length.
    """
    elevation = open_dem()
    stream_cells = 1500
    ours = route(elevation, 1.0).catchment_cells
    _, codes = pyflwdir.dem.fill_depressions(elevation, nodata=-9999.0)
    theirs = pyflwdir.from_array(codes, ftype="d8").upstream_area("cell")
    assert ours.max() == pytest.approx(theirs.max(), rel=0.02)
    wide = np.pad(theirs >= stream_cells, 1)
    rows, columns = ours.shape
    near = np.any([wide[r : r + rows, c : c + columns] for r in range(3) for c in range(3)], axis=0)
    assert near[ours >= stream_cells].mean() > 0.9


def bank_across_a_valley() -> np.ndarray:
    """Valley falling 5 % to the south, sides of 20 %, and a bank 0.8 m high across row 20."""
    row, column = np.mgrid[:40, :31]
    valley = 50 - 0.05 * row + 0.2 * np.abs(column - 15)
    valley[19:22] = np.maximum(valley[19:22], valley[20, 15] + 0.8)
    return valley.astype(np.float32)


@pytest.mark.parametrize(
    "culvert", [[(20, 15)], [(17, 15), (23, 15)], [(18, 15), (20, 16), (23, 15)]]
)
def test_a_culvert_drains_what_the_bank_held_up(culvert):
    valley = bank_across_a_valley()
    held = depressions(valley, fill(valley), 1.0)
    assert len(held.row) == 1
    # the pond stands at 49.8 m over its deepest cell, two rows above the bank's middle, at 49.1 m
    assert held.depth_m[0] == pytest.approx(0.7, abs=1e-5)
    carved = carve(valley, [culvert])
    assert len(depressions(carved, fill(carved), 1.0).row) == 0
    assert (carved <= valley).all()
    assert (valley - carved > 0.01).sum() <= 4  # a passage, not a breach
    mask = channels(route(carved, 1.0), 0.03).mask
    assert mask[20, 14:17].any()  # the stream goes through
    assert len(depressions(valley, fill(valley), 1.0).row) == 1  # the input is untouched


def test_a_culvert_in_the_open_changes_nothing():
    row, _ = np.mgrid[:20, :20]
    slope = (50 - 0.1 * row).astype(np.float32)
    np.testing.assert_array_equal(carve(slope, [[(10, 10)]]), slope)
    np.testing.assert_allclose(carve(slope, [[(5, 5), (12, 5)]]), slope, rtol=1e-6)


def test_culverts_that_cannot_be_are_refused_by_number():
    valley = bank_across_a_valley()
    with pytest.raises(ValueError, match=r"culvert 1: cell \(60, 3\)"):
        carve(valley, [[(20, 15)], [(60, 3), (10, 3)]])
    valley[17, 15] = np.nan
    with pytest.raises(ValueError, match="culvert 0: one end"):
        carve(valley, [[(17, 15), (23, 15)]])


def test_lines_are_unbroken_chains_of_cells():
    rows, columns = cells_along([(0, 0), (3, 10), (3, 10), (9, 8)])
    assert (rows[0], columns[0], rows[-1], columns[-1]) == (0, 0, 9, 8)
    steps = np.maximum(np.abs(np.diff(rows)), np.abs(np.diff(columns)))
    np.testing.assert_array_equal(steps, 1)
    assert (3, 10) in set(zip(rows.tolist(), columns.tolist(), strict=True))


def test_burnt_streams_draw_the_water():
    plane = np.tile(np.linspace(10, 9, 21)[:, None], (1, 21)).astype(np.float32)
    stream = np.zeros(plane.shape, dtype=bool)
    stream[np.arange(21), np.clip(np.arange(21), 3, 17)] = True
    flow = route(burn(plane, stream, 2.0), 1.0)
    assert flow.catchment_cells[stream].max() > 100
    assert route(plane, 1.0).catchment_cells.max() == 21
    with pytest.raises(ValueError, match="negative"):
        burn(plane, stream, -1.0)


def test_small_hollows_are_not_listed_but_deep_or_wide_ones_are():
    plane = np.full((30, 30), 10.0)
    plane[5, 5] = 9.9  # small and shallow
    plane[10, 10] = 9.5  # deep
    plane[15:24, 15:24] = 9.95  # wide
    found = depressions(plane, fill(plane), 1.0)
    np.testing.assert_allclose(found.depth_m, [0.5, 0.05], rtol=1e-5)  # float32 heights
    np.testing.assert_array_equal(found.area_m2, [1, 81])
    assert found.grid[5, 5] == 0
    assert found.grid[10, 10] == 1
    assert found.grid[20, 20] == 2


def test_channels_tell_how_many_of_them_the_edge_may_have_cut():
    row, column = np.mgrid[:60, :41]
    open_end = 0.2 * np.abs(column - 20) + 0.05 * (60 - row)  # fed by the northern border
    cut = channels(route(open_end, 10.0), 1.0)
    assert cut.edge_share == 1.0
    head = np.abs(row - 25) * 0.3  # divide inside the grid: both streams start there
    whole = channels(route(head * -1 + 0.2 * np.abs(column - 20), 10.0), 1.0)
    assert 0 < whole.edge_share < 1
    none = channels(route(open_end, 10.0), 1e6)
    assert not none.mask.any()
    assert np.isnan(none.edge_share)
    with pytest.raises(ValueError, match="positive"):
        channels(route(open_end, 10.0), 0.0)


def test_a_single_cell_and_a_void_grid():
    alone = route(np.array([[5.0]]), 1.0)
    assert alone.direction[0, 0] == OUTLET
    assert alone.catchment_cells[0, 0] == 1
    nothing = route(np.full((4, 5), np.nan), 1.0)
    assert (nothing.direction == VOID).all()
    assert nothing.catchment_cells.sum() == 0


@pytest.mark.parametrize(
    ("elevation", "words"),
    [
        (np.zeros(4), "rows and columns"),
        (np.zeros((0, 4)), "rows and columns"),
        (np.array([[1.0, np.inf], [1.0, 1.0]]), "infinite"),
        (np.array([[1.0, -np.inf], [np.nan, 1.0]]), "infinite"),
    ],
)
def test_grids_that_cannot_be_routed_are_refused(elevation, words):
    with pytest.raises(ValueError, match=words):
        fill(elevation)


def test_sizes_and_shapes_are_checked():
    with pytest.raises(ValueError, match="cell size"):
        route(np.zeros((3, 3)), 0.0)
    with pytest.raises(ValueError, match="shapes differ"):
        depressions(np.zeros((3, 3)), np.zeros((3, 4), dtype=np.float32), 1.0)
    with pytest.raises(ValueError, match="stream has shape"):
        elevation_above_stream_m(route(np.zeros((3, 3)), 1.0), np.zeros((2, 2), dtype=bool))
