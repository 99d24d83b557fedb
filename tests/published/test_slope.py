"""Worked 3 x 3 windows for slope and aspect, as printed in public GIS help and test files."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.surfaces.gradient import aspect_degrees, horn, plane, slope, zevenbergen_thorne
from terrain.units import degrees_from_ratio, percent_from_ratio

# Worked example of a desktop GIS help page on slope (method after Burrough and McDonnell 1998):
# dz/dx 0.05, dz/dy -3.8, rise over run 3.80032, 75.25762 degrees, cell 5.
SLOPE_WINDOW = np.array([[50, 45, 50], [30, 30, 30], [8, 10, 10]])
# Worked example of the same help on aspect: dz/dx -8.125, dz/dy -0.375, aspect 92.64. The page
# gives no cell size; a public test file adds the slope 39.12369676 degrees for a cell of 10.
ASPECT_WINDOW = np.array([[101, 92, 85], [101, 92, 85], [101, 91, 84]])
# Public test file: a ramp of 10 % facing south, 5.710593 degrees, cell 10.
RAMP = np.array([[3, 3, 3], [2, 2, 2], [1, 1, 1]])


def centre(operator, window, cell_m):
    east, north = operator(window, cell_m)
    return east[1, 1], north[1, 1]


def degrees(operator, window, cell_m):
    return float(degrees_from_ratio(slope(*centre(operator, window, cell_m))))


def fitted(elevation_m, cell_m):
    return plane(elevation_m, cell_m, 3 * cell_m)


def test_slope_window():
    east, north = centre(horn, SLOPE_WINDOW, 5)
    assert east == pytest.approx(0.05, rel=1e-9)
    assert north == pytest.approx(3.8, rel=1e-9)  # printed dz/dy counts rows downward: -3.8
    assert slope(east, north) == pytest.approx(3.80032, abs=1.5e-5)
    # the printed 75.25762 comes from shortened constants; exact arithmetic gives 75.25766
    assert degrees(horn, SLOPE_WINDOW, 5) == pytest.approx(75.25762, abs=1e-4)
    assert round(degrees(horn, SLOPE_WINDOW, 5)) == 75


def test_aspect_window():
    # printed components are not divided by the cell: cell 1 gives them
    east, north = centre(horn, ASPECT_WINDOW, 1)
    assert east == pytest.approx(-8.125, rel=1e-9)
    assert north == pytest.approx(0.375, rel=1e-9)
    assert float(aspect_degrees(east, north)) == pytest.approx(92.64, abs=0.005)
    assert degrees(horn, ASPECT_WINDOW, 10) == pytest.approx(39.12369676, abs=5e-9)


@pytest.mark.parametrize("operator", [horn, zevenbergen_thorne, fitted])
def test_ramp(operator):
    east, north = centre(operator, RAMP, 10)
    assert float(percent_from_ratio(slope(east, north))) == pytest.approx(10.0, rel=1e-9)
    assert degrees(operator, RAMP, 10) == pytest.approx(5.710593, abs=5e-7)
    assert float(aspect_degrees(east, north)) == pytest.approx(180.0)


@pytest.mark.parametrize(
    ("operator", "window", "cell_m", "expected_degrees"),
    [
        # own arithmetic from the definitions on the published windows (no printed value)
        (zevenbergen_thorne, SLOPE_WINDOW, 5, 74.0546),
        (fitted, SLOPE_WINDOW, 5, 75.6206),
        (zevenbergen_thorne, ASPECT_WINDOW, 10, 38.7143),
        (fitted, ASPECT_WINDOW, 10, 39.2607),
    ],
)
def test_other_operators_on_the_same_windows(operator, window, cell_m, expected_degrees):
    assert degrees(operator, window, cell_m) == pytest.approx(expected_degrees, abs=5e-5)


def test_a_missing_row_filled_with_the_centre_would_halve_the_slope():
    """Why a void gives NaN: own arithmetic on a 20 % plane, 10 m cells, top row replaced."""
    true = np.array([[4.0, 4, 4], [2, 2, 2], [0, 0, 0]])
    filled = true.copy()
    filled[0] = true[1, 1]
    assert slope(*centre(horn, true, 10)) == pytest.approx(0.20)
    assert slope(*centre(horn, filled, 10)) == pytest.approx(0.10)
    true[0, 1] = np.nan
    assert np.isnan(slope(*centre(horn, true, 10)))
