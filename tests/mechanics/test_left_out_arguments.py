"""What is left out counts as not there: no pull, no cross slope, no drag; and small figures count.

Own arithmetic: a call without an argument must equal the call with its neutral value, whatever the
other arguments are. The shear modulus has no neutral value: left out it is 0.025 m, that of dry
sand and sandy loam (quoted by others after Wong).
"""

from __future__ import annotations

import numpy as np
import pytest

from terrain.mechanics import crane, demand, loads, stability, traction, traction_checks, work

AXLES = {
    "weight_kn": 200.0,
    "cg_ahead_of_rear_m": 2.4,
    "cg_height_m": 1.3,
    "wheelbase_m": 5.0,
    "grade": 0.2,
    "pull_kn": 12.0,
    "pull_height_m": 0.9,
    "cross_slope": 0.15,
}
THRUST = {
    "load_kn": [60.0, 90.0],
    "resistance_ratio": [0.1, 0.2],
    "driven": [True, True],
    "grade": 0.1,
    "cross_slope": 0.2,
    "drag_kn": 8.0,
    "gross_limit": [0.25, 0.22],
}
PAYLOAD = {
    "empty_front_kg": 9e3,
    "empty_rear_kg": 7e3,
    "load_ahead_of_rear_m": 0.6,
    "wheelbase_m": 4.0,
    "rated_front_kg": 11e3,
    "rated_rear_kg": 15e3,
    "rated_gross_kg": 30e3,
    "carried_share": 0.5,
    "drag_coefficient": 0.6,
    "pull_height_m": 1.2,
}
TIPPING = {
    "cg_ahead_of_rear_m": 1.5,
    "cg_height_m": 1.2,
    "wheelbase_m": 3.2,
    "ground_share": 0.2,
    "drag_coefficient": 0.5,
    "pull_height_m": 1.1,
}
BALANCE = {
    "load_kn": [60.0, 90.0],
    "gross_ratio": [0.5, 0.6],
    "resistance_ratio": [0.1, 0.12],
    "towed_ratio": [0.06, 0.07],
    "driven": [True, True],
    "grade": 0.2,
    "cross_slope": 0.2,
    "effort_cap_kn": 40.0,
    "drag_kn": 9.0,
}
END = {
    "x_m": 2.0,
    "height_m": 1.4,
    "level_x_m": 2.2,
    "wheelbase_m": 5.0,
    "grade": 0.1,
    "cross_slope": 0.2,
}
LEFT_OUT = [
    (loads.normal_share, {"grade": 0.2, "cross_slope": 0.3}, {"cross_slope": 0.0}),
    *(
        (loads.axle_loads_kn, AXLES, {name: 0.0})
        for name in ("pull_kn", "pull_height_m", "cross_slope")
    ),
    (loads.group_thrust_kn, {**THRUST, "gross_limit": [0.9, 0.9]}, {"cross_slope": 0.0}),
    (loads.group_thrust_kn, {**THRUST, "gross_limit": [0.9, 0.9]}, {"drag_kn": 0.0}),
    (loads.group_thrust_kn, THRUST, {"gross_limit": np.inf}),
    (
        loads.payload_within_ratings_kg,
        {**PAYLOAD, "rated_front_kg": 9.5e3, "drag_coefficient": 0.0},
        {"rated_front_kg": np.inf},
    ),
    (
        loads.payload_within_ratings_kg,
        {**PAYLOAD, "rated_gross_kg": 18e3},
        {"rated_gross_kg": np.inf},
    ),
    *(
        (loads.payload_within_ratings_kg, PAYLOAD, {name: value})
        for name, value in (
            ("rated_rear_kg", np.inf),
            ("carried_share", 1.0),
            ("drag_coefficient", 0.0),
            ("pull_height_m", 0.0),
        )
    ),
    *(
        (form, {**TIPPING, **more}, {name: 0.0})
        for form, more in (
            (stability.longitudinal_tip_slopes, {}),
            (stability.lift_off_grades, {"grade": 0.3, "cross_slope": 0.4}),
        )
        for name in ("ground_share", "drag_coefficient", "pull_height_m", *more)
    ),
    (demand.grip_balance, {**BALANCE, "effort_cap_kn": np.inf}, {"cross_slope": 0.0}),
    (demand.grip_balance, BALANCE, {"effort_cap_kn": np.inf}),
    (demand.grip_balance, {**BALANCE, "effort_cap_kn": np.inf}, {"drag_kn": 0.0}),
    (
        demand.grip_balance,
        {**BALANCE, "grade": -0.3, "braking_ratio": [0.03, 0.03]},
        {"braking_ratio": 0.0},
    ),
    (
        demand.friction_demand,
        {"grade": 0.2, "resistance_ratio": 0.1, "cross_slope": 0.3},
        {"cross_slope": 0.0},
    ),
    (crane.end_parts, END, {"cross_slope": 0.0}),
    *(
        (form, {**given, "shear_modulus_m": 0.006}, {"shear_modulus_m": 0.025})
        for form, given in (
            (traction.contact_length_gain, {"length_m": 1.7, "slip": 0.1}),
            (
                traction.slip_term_gain,
                {"track_length_m": 1.7, "wheel_length_m": 0.6, "slip": 0.1},
            ),
            (
                traction_checks.contact_length_net_ratio,
                {"bn": 12.0, "length_m": 1.7, "slip": 0.1},
            ),
        )
    ),
    (work.driving_fuel_l, {"work_mj": 10.0, "slip": 0.2}, {"slip": 0.0}),
]


@pytest.mark.parametrize(
    ("form", "given", "neutral"),
    LEFT_OUT,
    ids=[f"{form.__name__}-{next(iter(neutral))}" for form, _, neutral in LEFT_OUT],
)
def test_left_out_is_neutral(form, given, neutral):
    (name,) = neutral
    without = {key: value for key, value in given.items() if key != name}
    found, explicit, whole = form(**without), form(**without, **neutral), form(**given)
    np.testing.assert_array_equal(np.array(found), np.array(explicit))
    assert not np.array_equal(np.array(found), np.array(whole))  # the argument does count


def test_loads_under_a_kilonewton_are_loads():
    # own arithmetic: half a kilonewton grips and resists as its share of the weight
    found = demand.grip_balance([0.5, 0.5], [0.6, 0.4], [0.1, 0.1], [0.05, 0.05], [True, True], 0.1)
    assert found.reserve_ratio == pytest.approx(0.5 - 0.2, rel=1e-12)
    thrust = loads.group_thrust_kn([0.4, 0.6], [0.0, 0.0], [True, True], 0.75)
    assert thrust == pytest.approx([0.4 * 0.75, 0.6 * 0.75], rel=1e-12)


def test_masses_and_rooms_under_one_are_what_they_are():
    # own arithmetic: 0.3 kg at 1 m and 0.1 kg at 3 m balance at 1.5 m
    mass, x, height = loads.combine([0.3, 0.1], [1.0, 3.0], [0.2, 0.6])
    assert (mass, x, height) == pytest.approx((0.4, 1.5, 0.3), rel=1e-12)
    # a load that bears 0.1 m ahead of the rear of a 5 m wheelbase: 2 % of it rest on the front,
    # whose room of 100 kg is full with 5000 kg
    front = loads.payload_within_ratings_kg(10e3, 8e3, 0.1, 5.0, rated_front_kg=10.1e3)
    assert front == pytest.approx(5000.0, rel=1e-9)


def test_low_machines_tip_as_tall_ones_do():
    # own arithmetic, standard statics: gauge 0.9 m and height 0.5 m: 0.9; 0.8 m from the rear and
    # 0.7 m from the front of a 1.5 m wheelbase over 0.5 m of height: 1.6 and 1.4
    assert stability.lateral_tip_slope(0.5, 0.9) == pytest.approx(0.9, rel=1e-12)
    assert stability.lift_off_grades(0.8, 0.5, 1.5) == pytest.approx((1.6, -1.4), rel=1e-12)
    # a centre of gravity outside the wheels stands on no grade at all: never a negative one
    assert stability.longitudinal_tip_slopes(3.5, 1.0, 3.2) == (3.5, 0.0)
    assert stability.longitudinal_tip_slopes(-0.1, 1.0, 3.2) == (0.0, pytest.approx(3.3))
    # crane stowed 0.8 m ahead of the rear, out 0.6 m: a quarter of the room is used up; to the
    # front 0.9 m of 0.7 m are left, more than stowed
    over_rear, over_front = crane.end_parts(0.6, 0.5, 0.8, 1.5, 0.0)
    assert over_rear == pytest.approx(0.25, rel=1e-12)
    assert over_front == pytest.approx(1 - 0.9 / 0.7, rel=1e-12)
    # at all of the room (part 1): side (0.45 - 0.2) / 0.5, uphill 0.6 / 0.5, down (1.5 - 1.0) / 0.5
    slopes = crane.slopes_at_part(1.0, (0.6, 1.0), 0.2, 0.5, 0.8, 1.5, 0.9)
    assert slopes == pytest.approx((0.5, 1.2, 1.0), rel=1e-12)


def test_a_group_without_load_neither_grips_nor_resists():
    # own arithmetic: only the other group counts, even where the ratio of the first has no end
    inf = np.inf
    found = demand.grip_balance([0.0, 100.0], [0.9, 0.5], [inf, 0.1], [inf, 0.1], [True, True], 0.2)
    assert found.reserve_ratio == pytest.approx(0.5 - 0.3, rel=1e-12)
