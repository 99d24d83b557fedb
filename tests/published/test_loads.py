"""Loads against worked examples of tractor statics, and our own arithmetic where none was read."""

import numpy as np
import pytest

from terrain.mechanics.loads import axle_loads_kn, combine, payload_within_ratings_kg, side_shares
from terrain.mechanics.stability import lateral_tip_slope, longitudinal_tip_slopes


def test_centre_of_gravity_from_axle_loads():
    # published: Liljedahl et al. 1989, worked example as quoted in teaching material:
    # W 25.0 kN, wheelbase 2.00 m, front axle 8.75 kN gives 0.70 m ahead of the rear axle
    _, x, _ = combine([8.75, 16.25], [2.0, 0.0], [0.5, 0.5])
    assert x == pytest.approx(0.70, abs=0.005)
    front, rear = axle_loads_kn(25.0, 0.70, 0.8, 2.0, grade=0.0)
    assert front == pytest.approx(8.75, abs=0.005)
    assert rear == pytest.approx(16.25, abs=0.005)


def test_side_share_on_thirty_degrees():
    # published: Liljedahl et al. 1989, worked example as quoted in teaching material:
    # gauge 1.60 m, height 0.80 m, 30 degrees gives 0.68 of the weight on the lower wheels
    uphill, downhill = side_shares(np.tan(np.radians(30)), 0.80, 1.60)
    assert downhill == pytest.approx(0.68, abs=0.005)
    assert uphill + downhill == pytest.approx(np.cos(np.radians(30)), rel=1e-9)


def test_axle_loads_of_a_loaded_forwarder():
    # own arithmetic (regression): 34 t, wheelbase 5 m, 2.0 m ahead of the rear, 1.9 m high
    front, rear = axle_loads_kn(34 * 9.81, 2.0, 1.9, 5.0, grade=[0.0, 0.30, -0.30])
    np.testing.assert_allclose(front[:2], [133.4, 91.4], atol=0.05)
    np.testing.assert_allclose(rear[:2], [200.1, 228.1], atol=0.05)
    # downhill the front takes what the rear takes uphill beyond the cosine share
    assert front[2] > front[0] * np.cos(np.arctan(0.3))


def test_axle_loads_with_a_pull_at_the_back():
    # own arithmetic: P h_p / L moves from front to rear: 20 kN at 1 m over 4 m is 5 kN
    front, rear = axle_loads_kn(100.0, 2.0, 1.0, 4.0, 0.0, pull_kn=20.0, pull_height_m=1.0)
    assert (front, rear) == (pytest.approx(45.0), pytest.approx(55.0))


def test_tipping_slopes():
    # own arithmetic, standard statics: gauge 2.1 m
    slopes = lateral_tip_slope([1.6, 1.9, 2.1], 2.1)
    np.testing.assert_allclose(slopes * 100, [65.6, 55.3, 50.0], atol=0.05)
    np.testing.assert_allclose(np.degrees(np.arctan(slopes)), [33.3, 28.9, 26.6], atol=0.05)
    up, down = longitudinal_tip_slopes(2.0, 1.9, 5.0)
    assert axle_loads_kn(1.0, 2.0, 1.9, 5.0, up)[0] == pytest.approx(0.0, abs=1e-12)
    assert axle_loads_kn(1.0, 2.0, 1.9, 5.0, -down)[1] == pytest.approx(0.0, abs=1e-12)


def test_payload_within_ratings():
    # own arithmetic: front 11 t, rear 9 t, load 1 m ahead of the rear of a 5 m wheelbase:
    # rear room 12 t / 0.8 = 15 t; front room 5 t / 0.2 = 25 t; gross room 14 t
    args = {
        "empty_front_kg": 11e3,
        "empty_rear_kg": 9e3,
        "load_ahead_of_rear_m": 1.0,
        "wheelbase_m": 5.0,
    }
    assert payload_within_ratings_kg(**args, rated_rear_kg=21e3) == pytest.approx(15e3)
    assert payload_within_ratings_kg(**args, rated_front_kg=16e3) == pytest.approx(25e3)
    limited = payload_within_ratings_kg(**args, rated_rear_kg=21e3, rated_gross_kg=34e3)
    assert limited == pytest.approx(14e3)
    assert payload_within_ratings_kg(**args) == np.inf
    assert payload_within_ratings_kg(**args, rated_rear_kg=8e3) == 0.0


def test_load_behind_the_rear_group_is_not_limited_by_the_front():
    args = {"empty_front_kg": 11e3, "empty_rear_kg": 9e3, "wheelbase_m": 5.0}
    behind = payload_within_ratings_kg(
        **args, load_ahead_of_rear_m=-0.5, rated_front_kg=11.5e3, rated_rear_kg=20e3
    )
    assert behind == pytest.approx(10e3)
    over = payload_within_ratings_kg(**args, load_ahead_of_rear_m=-0.5, rated_front_kg=10e3)
    assert over == 0.0
