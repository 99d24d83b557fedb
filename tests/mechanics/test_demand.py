import numpy as np
import pytest

from terrain.mechanics.demand import Binding, effort_at_radius_kn, grip_balance, held_to

LOADS = [100.0, 150.0]
GROSS = [0.5, 0.4]
SLIP_RESISTANCE = [0.12, 0.15]
TOWED = [0.08, 0.10]


def balance(grade, cross=0.0, driven=(True, True), **extra):
    return grip_balance(LOADS, GROSS, SLIP_RESISTANCE, TOWED, driven, grade, cross, **extra)


def test_climb_by_hand():
    # own arithmetic: G = (50 + 60) / 250 = 0.44, f = (12 + 22.5) / 250 = 0.138
    found = balance(0.20)
    assert found.capacity_ratio == pytest.approx(0.44, rel=1e-9)
    assert found.demand_ratio == pytest.approx(0.338, rel=1e-9)
    assert found.reserve_ratio == pytest.approx(0.102, rel=1e-9)
    assert found.binding == Binding.GRIP_DRIVING


def test_descent_by_hand():
    # own arithmetic: firm-ground f = (4 + 4.5) / 250 = 0.034; 0.30 down asks for 0.266 of 0.44
    found = balance(-0.30, braking_ratio=[0.04, 0.03])
    assert found.demand_ratio == pytest.approx(0.266, rel=1e-9)
    assert found.reserve_ratio == pytest.approx(0.174, rel=1e-9)
    assert found.binding == Binding.GRIP_HOLDING


def test_sinkage_is_no_brake():
    plain = balance(-0.30)
    assert plain.demand_ratio == pytest.approx(0.30, rel=1e-9)
    deep = grip_balance(LOADS, GROSS, [0.6, 0.7], [0.5, 0.6], (True, True), -0.30)
    assert deep.reserve_ratio <= plain.reserve_ratio


def test_cross_slope_takes_its_share_of_the_circle():
    assert balance(0.0, 0.264).capacity_ratio == pytest.approx(0.352, rel=1e-9)  # 3-4-5 of 0.44
    beyond = balance(0.0, 0.55)  # 0.44 and 0.55: sqrt of the difference is 0.33
    assert beyond.capacity_ratio == pytest.approx(-0.33, rel=1e-9)
    assert beyond.binding == Binding.CROSS_SLOPE
    np.testing.assert_array_equal(balance(0.1, 0.2), balance(0.1, -0.2))


def test_driveline_caps_driving_but_not_holding():
    capped = balance(0.20, effort_cap_kn=75.0)
    assert capped.capacity_ratio == pytest.approx(0.30, rel=1e-9)
    assert capped.binding == Binding.DRIVELINE
    downhill = balance(-0.30, effort_cap_kn=75.0)
    assert downhill.reserve_ratio == balance(-0.30).reserve_ratio


def test_undriven_group_gives_no_gross_and_rolls_free():
    found = balance(0.0, driven=(False, True))
    assert found.capacity_ratio == pytest.approx(60 / 250, rel=1e-9)
    assert found.demand_ratio == pytest.approx((8 + 22.5) / 250, rel=1e-9)


def test_dragged_load_adds_to_the_climb_and_never_helps_to_hold():
    assert balance(0.2, drag_kn=25.0).demand_ratio == pytest.approx(0.438, rel=1e-9)
    assert balance(-0.4, drag_kn=25.0).reserve_ratio == balance(-0.4).reserve_ratio
    pushing = balance(-0.4, drag_kn=-25.0)
    assert pushing.demand_ratio == pytest.approx(balance(-0.4).demand_ratio + 0.1, rel=1e-9)


def test_lift_off_and_unknown_ratio_stay_unknown():
    lifted = grip_balance([-1.0, 250.0], GROSS, SLIP_RESISTANCE, TOWED, (True, True), 0.1)
    assert np.isnan(lifted.reserve_ratio)
    assert lifted.binding == Binding.UNKNOWN
    unknown = grip_balance(LOADS, [np.nan, 0.4], SLIP_RESISTANCE, TOWED, (True, True), 0.1)
    assert np.isnan(unknown.reserve_ratio)
    assert unknown.binding == Binding.UNKNOWN
    assert np.isnan(balance(np.nan).reserve_ratio)


def test_no_strength_is_no_reserve_without_a_warning():
    none = grip_balance(LOADS, [0.04, 0.04], [np.inf] * 2, [np.inf] * 2, (True, True), 0.0)
    assert none.reserve_ratio == -np.inf


def test_group_without_load_counts_for_nothing():
    one = grip_balance([0.0, 250.0], [0.92, 0.4], [0.04, 0.15], [0.04, 0.1], (True, True), 0.1)
    assert one.capacity_ratio == pytest.approx(0.4)


def test_stations_by_setups():
    grade = np.array([-0.2, 0.0, 0.3])[:, None]
    gross = np.broadcast_to([[0.4, 0.4], [0.6, 0.6]], (3, 2, 2))
    found = grip_balance(LOADS, gross, SLIP_RESISTANCE, TOWED, (True, True), grade)
    assert found.reserve_ratio.shape == (3, 2)
    assert found.reserve_ratio[2, 1] == pytest.approx(0.6 - 0.438)


def test_thicker_wheels_pull_less():
    # own arithmetic: 200 kN at 0.60 m, 0.05 m thicker
    assert effort_at_radius_kn(200.0, 0.60, 0.05) == pytest.approx(200 * 12 / 13, rel=1e-9)


def test_a_nearer_limit_than_the_grip_holds_the_reserve():
    grip = balance(np.array([0.20, 0.20, 0.20, np.nan]))  # 0.102 left by the grip
    held = held_to(grip, [0.25, 0.50, 0.15, 0.1], 0.20, Binding.AXLE_LIFTS)
    np.testing.assert_allclose(held.reserve_ratio[:3], [0.05, 0.102, -0.05], atol=1e-12)
    assert np.isnan(held.reserve_ratio[3])
    assert held.binding.tolist() == [
        Binding.AXLE_LIFTS,
        Binding.GRIP_DRIVING,
        Binding.AXLE_LIFTS,
        Binding.UNKNOWN,
    ]
    np.testing.assert_allclose(
        held.capacity_ratio - held.demand_ratio, held.reserve_ratio, equal_nan=True
    )
