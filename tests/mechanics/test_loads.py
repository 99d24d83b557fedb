import numpy as np
import pytest

from terrain.mechanics.loads import (
    axle_loads_kn,
    bogie_wheel_loads_kn,
    combine,
    downhill_side_kn,
    drag_pull_kn,
    group_thrust_kn,
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


def test_the_downhill_side_agrees_with_the_side_shares():
    cross = np.array([0.0, 0.1, -0.3])
    _, downhill = side_shares(cross, 1.6, 2.1)
    found = downhill_side_kn(100.0, cross, 1.6, 2.1)
    np.testing.assert_allclose(found, 100.0 * downhill / normal_share(0.0, cross), rtol=1e-12)


def test_thrust_by_hand_up_and_down():
    # own arithmetic on a 3-4-5 slope: normal 80 kN is a weight of 100 kN, 60 kN along
    load, drive = np.array([[30.0, 50.0]]), (True, True)
    up = group_thrust_kn(load, 0.1, drive, [0.75], drag_kn=[4.0])
    np.testing.assert_allclose(up, [[72.0 * 30 / 80, 72.0 * 50 / 80]])
    # downhill neither the resistance nor a drag that holds helps: the brakes take 60 kN
    down = group_thrust_kn(load, 0.1, drive, [-0.75], drag_kn=[4.0])
    np.testing.assert_allclose(down, [[60.0 * 30 / 80, 60.0 * 50 / 80]])
    pushed = group_thrust_kn(load, 0.1, drive, [-0.75], drag_kn=[-4.0])
    assert pushed.sum() == pytest.approx(64.0)


def test_thrust_goes_to_driven_groups_up_to_their_grip():
    load = np.array([[40.0, 60.0], [-5.0, 100.0], [np.nan, 50.0]])
    one = group_thrust_kn(load, 0.1, (True, False), np.zeros(3))
    np.testing.assert_allclose(one[0], [10.0, 0.0])
    assert one[1].tolist() == [0.0, 0.0]  # the driven group lifts
    assert np.isnan(one[2]).any()
    held = group_thrust_kn(load[:1], 0.1, (True, False), [0.0], gross_limit=0.2)
    np.testing.assert_allclose(held, [[8.0, 0.0]])
