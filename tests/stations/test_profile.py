"""Grade and cross slope."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from terrain.grid import Grid
from terrain.stations.profile import along_and_across, grade_between_ends
from tests.stations.test_along import stations_of
from tests.stations.test_network import landings_of, trails_of


@pytest.mark.parametrize(
    ("heading", "grade", "cross"),
    [
        (0, 40, 0),
        (30, 34.64, 20.00),
        (45, 28.28, 28.28),
        (60, 20.00, 34.64),
        (90, 0, 40),
        (180, -40, 0),
        (270, 0, -40),
    ],
)
def test_forty_percent_slope_facing_south(heading, grade, cross):
    # own arithmetic from the apparent-dip relation tan(psi) = tan(alpha) cos(theta) (structural
    # geology, Dennis 1972), printed to 0.01 %
    g, c = along_and_across(0.0, 0.40, heading)
    assert 100 * g == pytest.approx(grade, abs=0.005)
    assert 100 * c == pytest.approx(cross, abs=0.005)


def test_one_in_five_seen_at_45_degrees_is_one_in_seven():
    # apparent-dip relation in its civil-engineering form, worked example: full dip 1 in 5,
    # 45 degrees off gives 1 in 7.0711
    g, _ = along_and_across(0.0, 1 / 5, 45)
    assert 1 / g == pytest.approx(7.0711, abs=5e-5)


def test_one_in_five_seen_as_one_in_ten_is_60_degrees_off():
    # same source: full 1 in 5 and apparent 1 in 10 are 60.0000 degrees apart
    g, _ = along_and_across(0.0, 1 / 5, 60.0)
    assert 1 / g == pytest.approx(10, abs=1e-9)


@given(st.floats(-2, 2), st.floats(-2, 2), st.floats(0, 360))
def test_grade_and_cross_make_up_the_slope(east, north, heading):
    g, c = along_and_across(east, north, heading)
    assert g**2 + c**2 == pytest.approx(east**2 + north**2, abs=1e-12)
    back, back_cross = along_and_across(east, north, heading + 180)
    assert back == pytest.approx(-g, abs=1e-9)
    assert back_cross == pytest.approx(-c, abs=1e-9)


def tilted(gx, gy, rows=60, columns=60, cell=2.0):
    y, x = np.mgrid[0:rows, 0:columns]
    z = 100 + gx * (x + 0.5) * cell + gy * (rows - y - 0.5) * cell
    return Grid(z.astype(np.float64), 0.0, rows * cell, cell, "EPSG:32633")


def test_profile_grade_on_a_plane_equals_the_decomposition():
    dem = tilted(0.10, 0.20)
    line = trails_of(t=LineString([(20, 20), (80, 90)]))
    stations = stations_of(line, landings_of(L=(20, 20)))
    expected, _ = along_and_across(0.10, 0.20, stations["heading_deg"])
    assert grade_between_ends(stations, line, dem, 5.5).to_numpy() == pytest.approx(expected)
    assert (expected < 0).all()  # the landing lies below


def test_profile_grade_is_unknown_over_a_void():
    dem = tilted(0.1, 0.0)
    dem.values[20:40, :] = np.nan
    line = trails_of(t=LineString([(50, 10), (50, 110)]))
    stations = stations_of(line, landings_of(L=(50, 10)))
    grade = grade_between_ends(stations, line, dem, 5.0)
    over = stations["y_m"].between(45, 75).to_numpy()
    assert np.isnan(grade[over]).all()
    assert not np.isnan(grade[~over & ~stations["y_m"].between(35, 85).to_numpy()]).any()
