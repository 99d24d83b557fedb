"""Hand-worked cases of depth-to-water (definition of Murphy, Ogilvie and Arp 2009).

The numbers are own arithmetic from the published definition: the sum, over the least path from
water, of slope times step, a diagonal step counting 1.414214.
"""

from __future__ import annotations

import numpy as np
import pytest

from terrain.surfaces.flow import channels, route
from terrain.surfaces.wetness import depth_to_water_m

NO_CHANNELS_HA = 1e6


def depth(elevation, cell_m, water, form="target cell", cap_m=10.0):
    result = depth_to_water_m(elevation, cell_m, NO_CHANNELS_HA, cap_m, open_water=water, form=form)
    return result[NO_CHANNELS_HA].depth_to_water_m


@pytest.mark.parametrize("cell_m", [1.0, 5.0])
@pytest.mark.parametrize(("form", "cells"), [("target cell", 5.0), ("mean of both cells", 4.5)])
def test_valley_of_ten_percent(cell_m, form, cells):
    """V-valley, sides of 10 %, five cells away: 0.50 m (target) or 0.45 m (mean) on 1 m cells.

    The floor has slope 0 by symmetry, so the mean form loses half of the first step.
    """
    column = np.arange(21)
    valley = np.tile(0.1 * cell_m * np.abs(column - 10), (9, 1))
    water = np.zeros(valley.shape, dtype=bool)
    water[:, 10] = True
    found = depth(valley, cell_m, water, form)
    assert found[4, 15] == pytest.approx(0.1 * cells * cell_m, rel=1e-5)  # float32 sums
    assert found[4, 10] == 0


@pytest.mark.parametrize(
    ("row", "column", "expected"), [(0, 5, 0.5), (5, 5, 0.7071), (5, 2, 0.5828)]
)
def test_uniform_slope_and_one_spring(row, column, expected):
    """Slope 0.1 everywhere: 5 straight steps, 5 diagonal ones, and 3 straight + 2 diagonal."""
    plane = np.tile(0.1 * np.arange(17), (17, 1))
    water = np.zeros(plane.shape, dtype=bool)
    water[8, 8] = True
    found = depth(plane, 1.0, water)
    assert found[8 + row, 8 + column] == pytest.approx(expected, abs=5e-5)
    # both forms agree where the slope does not change
    same = depth(plane, 1.0, water, form="mean of both cells")
    np.testing.assert_allclose(same, found, rtol=1e-5)


def test_a_cell_on_the_same_contour_as_the_water_is_not_at_its_level():
    """A stated weakness: the path adds the size of the slope, so 5 m on a contour count 0.5 m."""
    plane = np.tile(0.1 * np.arange(17), (17, 1))
    water = np.zeros(plane.shape, dtype=bool)
    water[8, 8] = True
    assert depth(plane, 1.0, water)[13, 8] == pytest.approx(0.5, rel=1e-5)
    assert plane[13, 8] == plane[8, 8]


def test_a_tilted_valley_through_its_own_channel():
    """Sides of 20 %, floor falling 5 % to the south, cells of 2 m.

    Own arithmetic: on the side the slope is sqrt(0.2^2 + 0.05^2) = 0.20616, three cells away
    3 x 2 m x 0.20616 = 1.2369 m.
    """
    row, column = np.mgrid[:200, :61]
    valley = 2.0 * (0.2 * np.abs(column - 30) - 0.05 * row) + 100
    hectares = 0.25
    wet = depth_to_water_m(valley, 2.0, hectares)[hectares]
    assert wet.channels.mask[150, 30]
    assert not wet.channels.mask[150, 29]
    assert wet.depth_to_water_m[150, 33] == pytest.approx(1.2369, abs=5e-5)
    assert channels(route(valley, 2.0), hectares).mask.sum() == wet.channels.mask.sum()
