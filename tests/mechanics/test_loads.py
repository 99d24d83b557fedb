import numpy as np
import pytest

from terrain.mechanics.loads import (
    axle_loads_kn,
    bogie_wheel_loads_kn,
    combine,
    drag_pull_kn,
    normal_share,
    side_shares,
)


def test_combine_along_the_last_axis():
    mass, x, height = combine([[1.0, 1.0], [1.0, 3.0]], [0.0, 4.0], [1.0, 2.0])
    np.testing.assert_allclose(mass, [2, 4])
    np.testing.assert_allclose(x, [2, 3])
    np.testing.assert_allclose(height, [1.5, 1.75])


def test_nothing_has_no_centre():
    mass, x, _ = combine([0.0, 0.0], [1.0, 2.0], [1.0, 1.0])
    assert mass == 0
    assert np.isnan(x)


def test_slope_in_both_directions():
    front, rear = axle_loads_kn(100.0, 2.0, 1.0, 4.0, grade=0.3, cross_slope=0.4)
    assert front + rear == pytest.approx(100 / np.sqrt(1.25), rel=1e-9)
    assert normal_share(0.3, 0.4) == pytest.approx(np.cos(np.arctan(0.5)), rel=1e-9)


def test_lift_off_is_kept_as_a_negative_load():
    front, rear = axle_loads_kn(100.0, 0.5, 2.0, 4.0, grade=0.5)
    assert front < 0 < rear
    uphill, _ = side_shares(1.2, 1.0, 2.0)
    assert uphill < 0


def test_side_shares_ignore_the_sign():
    np.testing.assert_array_equal(side_shares(0.3, 1.5, 2.0), side_shares(-0.3, 1.5, 2.0))


def test_drag_by_hand():
    # own arithmetic: 10 kN, mu 0.5, level 5 kN; 3-4-5 slope of 0.75: 10 (0.5 x 0.8 + 0.6) = 10
    assert drag_pull_kn(10.0, 0.5, 0.0) == pytest.approx(5.0)
    assert drag_pull_kn(10.0, 0.5, 0.75) == pytest.approx(10.0)
    assert drag_pull_kn(10.0, 0.5, -0.75) == pytest.approx(-2.0)


def test_bogie_shares_and_its_moment():
    # own arithmetic: 20 kN thrust at 0.6 m over 1.5 m shifts 8 kN
    assert bogie_wheel_loads_kn(100.0, 0.0, 0.6, 1.5) == (50.0, 50.0)
    leading, trailing = bogie_wheel_loads_kn(100.0, 20.0, 0.6, 1.5)
    assert (leading, trailing) == (pytest.approx(42.0), pytest.approx(58.0))
