"""Published and hand-worked grids for filling, flow direction and catchments."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.surfaces.flow import OUTLET, channels, depressions, fill, route
from terrain.surfaces.wetness import topographic_wetness_index

# The 6 x 6 teaching grid for D8 flow, in the style of Jenson and Domingue 1988, repeated in
# several public GIS test files with these directions and catchments (power-of-two codes, E 1,
# SE 2, S 4, SW 8, W 16, NW 32, N 64, NE 128). The outlet is coded 0 in one copy and 4, off the
# grid, in others.
ELEVATION = np.array(
    [
        [78, 72, 69, 71, 58, 49],
        [74, 67, 56, 49, 46, 50],
        [69, 53, 44, 37, 38, 48],
        [64, 58, 55, 22, 31, 24],
        [68, 61, 47, 21, 16, 19],
        [74, 53, 34, 12, 11, 12],
    ]
)
DIRECTION = np.array(
    [
        [2, 2, 2, 4, 4, 8],
        [2, 2, 2, 4, 4, 8],
        [1, 1, 2, 4, 8, 4],
        [128, 128, 1, 2, 4, 8],
        [2, 2, 1, 4, 4, 4],
        [1, 1, 1, 1, 0, 16],
    ]
)
CATCHMENT = np.array(
    [
        [1, 1, 1, 1, 1, 1],
        [1, 2, 2, 3, 3, 1],
        [1, 4, 8, 6, 5, 1],
        [1, 1, 1, 21, 1, 2],
        [1, 1, 1, 2, 25, 1],
        [1, 3, 5, 8, 36, 2],
    ]
)

# Hand-worked closed basin that spills at 7: the inside fills to 7, 30 cell units of volume.
BASIN = np.array(
    [
        [9, 9, 9, 9, 9],
        [9, 3, 4, 5, 9],
        [9, 2, 1, 6, 7],
        [9, 4, 3, 5, 9],
        [9, 9, 9, 9, 9],
    ]
)


def power_codes(direction: np.ndarray) -> np.ndarray:
    return np.where(direction == OUTLET, 0, 1 << np.minimum(direction, 7).astype(int))


def test_directions_of_the_teaching_grid():
    np.testing.assert_array_equal(power_codes(route(ELEVATION, 1.0).direction), DIRECTION)


def test_catchments_of_the_teaching_grid_count_the_cell_itself():
    flow = route(ELEVATION, 1.0)
    np.testing.assert_array_equal(flow.catchment_cells, CATCHMENT)
    # other copies print the catchment without the cell itself: 20, 24 and 35 at the same places
    assert [int(flow.catchment_cells[at]) - 1 for at in ((3, 3), (4, 4), (5, 4))] == [20, 24, 35]


def test_copies_of_the_grid_that_differ_in_two_heights_flow_alike():
    other = ELEVATION.copy()
    other[1, 2], other[3, 0] = 58, 69
    np.testing.assert_array_equal(power_codes(route(other, 1.0).direction), DIRECTION)


def test_diagonal_falls_are_longer():
    # own arithmetic: 10 down over 1 beats 12 down over the square root of 2 (8.49)
    grid = np.array([[50, 50, 50, 50], [50, 40, 30, 50], [50, 50, 28, 50], [50, 50, 10, 50]])
    assert power_codes(route(grid, 1.0).direction)[1, 1] == 1


def test_closed_basin_fills_to_its_spill():
    filled = fill(BASIN)
    np.testing.assert_array_equal(filled[1:-1, 1:-1], 7)
    assert float((filled - BASIN).sum()) == 30
    found = depressions(BASIN, filled, cell_m=1.0)
    assert (found.row[0], found.column[0]) == (2, 2)
    assert found.depth_m[0] == 6
    assert found.volume_m3[0] == 30
    assert found.area_m2[0] == 9
    assert depressions(BASIN, filled, cell_m=10.0).volume_m3[0] == 3000


@pytest.mark.parametrize(
    ("hectares", "cells"),
    # flow-initiation area in cells of 1, 2, 5 and 10 m: area x 10,000 / cell^2
    [
        (0.25, (2500, 625, 100, 25)),
        (1, (10000, 2500, 400, 100)),
        (4, (40000, 10000, 1600, 400)),
        (16, (160000, 40000, 6400, 1600)),
    ],
)
def test_channels_start_at_the_flow_initiation_area(hectares, cells):
    # a one-cell-wide gully: the catchment grows by one cell per row
    for cell_m, least in zip((1, 2, 5, 10), cells, strict=True):
        gully = np.full((3, least + 5), np.nan)
        gully[1] = np.linspace(1000, 0, least + 5)
        mask = channels(route(gully, cell_m), hectares).mask
        assert int(np.argmax(mask[1])) == least - 1
        assert mask.sum() == 6


def test_wetness_index_of_known_catchment_and_slope():
    """ln(a / tan b), Beven and Kirkby 1979; a = 10 m for a catchment of one 10 m cell.

    Own arithmetic: catchment 100 m2, cell 10 m, slope 0.2 gives ln(50) = 3.9120.
    """
    ramp = np.tile(2.0 * np.arange(7)[::-1], (5, 1))  # falls to the east, 0.2 over 10 m
    index, cell_m = topographic_wetness_index(ramp, 10.0, coarse_m=10.0)
    assert cell_m == 10
    # catchments on a ramp grow by one cell a column: a = 10 m x (column + 1)
    assert index[2, 1] == pytest.approx(np.log(20 / 0.2), rel=1e-6)
    assert index[2, 1] - np.log(2) == pytest.approx(3.9120, abs=5e-5)
