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
    payload_within_ratings_kg,
    resting_loads_kn,
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
    rests = resting_loads_kn([[front, rear], [rear, front], [30.0, 50.0], [np.nan, 1.0]])
    np.testing.assert_allclose(rests[0], [0.0, front + rear])
    np.testing.assert_allclose(rests[1], [front + rear, 0.0])
    assert rests[2].tolist() == [30.0, 50.0]
    assert np.isnan(rests[3]).all()


def test_a_side_never_carries_more_than_all():
    # standard statics: from t / (2 h) on, here 1.0, the uphill wheels carry nothing; at the slope
    # of 1.2 the unheld form would give the downhill side 1.1 of the group, 2.2 of an even half
    uphill, downhill = side_shares([0.99, 1.0, 1.2], 1.0, 2.0)
    assert uphill[0] > 0
    np.testing.assert_allclose(uphill[1:], 0.0, atol=1e-12)
    np.testing.assert_allclose(downhill[1:], normal_share(0.0, [1.0, 1.2]))
    assert downhill_side_kn(100.0, 1.2, 1.0, 2.0) == 100.0


def test_payload_of_a_load_that_drags_holds_the_rear_with_its_pull():
    # own arithmetic, standard statics (Liljedahl et al. 1989): 55 % of the load rests 0.8 m behind
    # the rear axle on a wheelbase of 3.5 m, 45 % drags with 0.6 of its weight at 0.9 m above ground
    best = payload_within_ratings_kg(
        8700, 6300, -0.8, 3.5, 11500, 13000, carried_share=0.55, drag_coefficient=0.6,
        pull_height_m=0.9,
    )  # fmt: skip
    share = 0.55 * (3.5 + 0.8) / 3.5 + 0.45 * 0.6 * 0.9 / 3.5
    assert best == pytest.approx((13000 - 6300) / share, rel=1e-12)
    weight = (15000 + 0.55 * best) * 9.81 / 1000
    x = (8700 * 3.5 - 0.55 * best * 0.8) / (15000 + 0.55 * best)
    pull = drag_pull_kn(0.45 * best * 9.81 / 1000, 0.6, 0.0)
    _, rear = axle_loads_kn(weight, x, 1.3, 3.5, 0.0, pull, 0.9)
    assert rear == pytest.approx(13000 * 9.81 / 1000, rel=1e-12)
    # a gross rating bounds what rests on the machine alone
    gross = payload_within_ratings_kg(
        8700, 6300, -0.8, 3.5, rated_gross_kg=17750, carried_share=0.55
    )
    assert gross == pytest.approx(5000.0)


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
