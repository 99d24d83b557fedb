"""A crane that is out, against moments of forces in space and against the driving machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.mechanics.crane import end_parts, side_part, slopes_at_part, swung_out
from terrain.mechanics.stability import lateral_tip_slope, lift_off_grades
from terrain.models.machine import Crane

CRANE = Crane(
    column_ahead_of_rear_m=2.2,
    reach_m=9.0,
    lifted_mass_kg=600,
    tip_height_m=4.5,
    boom_mass_kg=1800,
    boom_reach_m=4.0,
    boom_height_m=3.4,
    boom_stowed_ahead_of_rear_m=0.6,
    boom_stowed_height_m=2.6,
)
MASS, X, HEIGHT, BASE, GAUGE = 20000.0, 3.1, 1.4, 5.5, 2.2

slopes = st.floats(-0.6, 0.6)


def wheel_forces(points, masses, grade, cross):
    """Forces normal to the ground at the corners of a rectangle from the weights of points.

    An own route for the test: the weights are turned into the machine's axes, their moments taken
    about the origin, and three equations of equilibrium solved for front, rear and side.
    """
    normal = np.array([-grade, -cross, 1.0]) / np.sqrt(1 + grade**2 + cross**2)
    ahead = np.array([1.0, 0.0, grade]) / np.sqrt(1 + grade**2)
    axes = np.stack([ahead, np.cross(normal, ahead), normal])
    pull = axes @ np.array([0.0, 0.0, -1.0])
    moments = sum(m * np.cross(p, pull) for p, m in zip(points, masses, strict=True))
    force = sum(masses) * pull
    # forces act at height 0: their moment about y is -N x, about x is N y
    total = -force[2]
    x = moments[1] / total
    y = -moments[0] / total
    return total, x, y


def points_of(crane, angle):
    """The machine without its booms, the booms and what hangs, as points in space."""
    stowed = np.array([crane.boom_stowed_ahead_of_rear_m, 0.0, crane.boom_stowed_height_m])
    rest = MASS - crane.boom_mass_kg
    body = (MASS * np.array([X, 0.0, HEIGHT]) - crane.boom_mass_kg * stowed) / rest
    out = np.array([np.cos(angle), np.sin(angle), 0.0])
    foot = np.array([crane.column_ahead_of_rear_m, 0.0, 0.0])
    booms = foot + crane.boom_reach_m * out + np.array([0, 0, crane.boom_height_m])
    tip = foot + crane.reach_m * out + np.array([0, 0, crane.tip_height_m])
    return (body, booms, tip), (rest, crane.boom_mass_kg, crane.lifted_mass_kg)


@given(slopes, slopes, st.floats(0, np.pi))
def test_parts_are_those_of_forces_in_space(grade, cross, angle):
    # own arithmetic by another route: equilibrium of moments in three dimensions
    mass, x, y, height = swung_out(MASS, X, HEIGHT, CRANE, angle)
    total, acts_x, _ = wheel_forces(*points_of(CRANE, angle), grade, cross)
    assert total == pytest.approx(mass / np.sqrt(1 + grade**2 + cross**2), rel=1e-9)
    rear, front = end_parts(x, height, X, BASE, grade, cross)
    assert rear == pytest.approx(1 - acts_x / X, abs=1e-9)
    assert front == pytest.approx(1 - (BASE - acts_x) / (BASE - X), abs=1e-9)
    # without a grade the side is that of space; a grade makes it at most more, never less
    side = side_part(y, height, GAUGE, cross)
    for steep, close in ((0.0, 1e-9), (grade, None)):
        # the ground rises to the left, so the crane on the right (y < 0) is downhill
        _, _, acts_y = wheel_forces(*points_of(CRANE, -angle), steep, abs(cross))
        downhill = -acts_y / (GAUGE / 2)
        if close is not None:
            assert side == pytest.approx(downhill, abs=close)
        else:
            assert side >= downhill - 1e-9


def test_by_hand_on_the_level():
    # own arithmetic: 1800 kg at 4.0 m and 600 kg at 9.0 m make 12600 kgm on 20600 kg
    mass, x, y, height = swung_out(MASS, X, HEIGHT, CRANE, [0.0, np.pi / 2, np.pi])
    np.testing.assert_allclose(mass, 20600.0)
    np.testing.assert_allclose(y, [0.0, 12600 / 20600, 0.0], atol=1e-12)
    middle = (20000 * 3.1 - 1800 * 0.6 + 2400 * 2.2) / 20600
    np.testing.assert_allclose(x, middle + np.array([1, 0, -1]) * 12600 / 20600)
    np.testing.assert_allclose(height, (20000 * 1.4 + 1800 * 0.8 + 600 * 4.5) / 20600)
    assert side_part(y[1], height[1], GAUGE) == pytest.approx(12600 / 20600 / 1.1)


@given(slopes, slopes)
def test_a_stowed_crane_changes_nothing(grade, cross):
    stowed = replace(
        CRANE,
        lifted_mass_kg=0.0,
        column_ahead_of_rear_m=CRANE.boom_stowed_ahead_of_rear_m,
        boom_reach_m=0.0,
        boom_height_m=CRANE.boom_stowed_height_m,
    )
    mass, x, y, height = swung_out(MASS, X, HEIGHT, stowed, 1.0)
    assert (float(mass), float(x), float(y), float(height)) == pytest.approx((MASS, X, 0, HEIGHT))
    front_lifts, rear_lifts = lift_off_grades(X, HEIGHT, BASE, grade, cross)
    over_rear, over_front = end_parts(x, height, X, BASE, grade, cross)
    assert over_rear == pytest.approx(grade / front_lifts, abs=1e-9)
    assert over_front == pytest.approx(grade / rear_lifts, abs=1e-9)
    side = side_part(y, height, GAUGE, cross)
    assert side == pytest.approx(abs(cross) / lateral_tip_slope(HEIGHT, GAUGE), abs=1e-9)


@pytest.mark.parametrize("part", [0.6, 1.0])
def test_slopes_at_a_part_are_the_inverse(part):
    _, x, y, height = swung_out(MASS, X, HEIGHT, CRANE, [np.pi, 0.0, np.pi / 2])
    side, up, down = slopes_at_part(part, (x[0], x[1]), y[2], height[0], X, BASE, GAUGE)
    assert side_part(y[2], height[0], GAUGE, side) == pytest.approx(part)
    assert end_parts(x[0], height[0], X, BASE, up)[0] == pytest.approx(part)
    assert end_parts(x[1], height[0], X, BASE, -down)[1] == pytest.approx(part)
    assert np.isnan(slopes_at_part(part, (1.0, 1.0), 0.0, 0.0, X, BASE, GAUGE)).all()


@given(st.floats(0, 2000), st.floats(0, 2000))
def test_more_on_the_hook_never_stands_safer_to_the_side(one, other):
    # between reach and height over the half gauge the load always pulls over the downhill wheels
    little, much = sorted((one, other))
    parts = []
    for lifted in (little, much):
        _, _, y, height = swung_out(
            MASS, X, HEIGHT, replace(CRANE, lifted_mass_kg=lifted), np.pi / 2
        )
        parts.append(float(side_part(y, height, GAUGE, 0.1)))
    assert parts[1] >= parts[0] - 1e-12


def test_no_room_is_infinite_and_unknown_stays_unknown():
    assert np.isinf(end_parts(1.0, 1.0, 0.0, BASE, 0.0)[0])
    assert np.isinf(end_parts(1.0, 1.0, BASE, BASE, 0.0)[1])
    assert np.isnan(end_parts(1.0, 1.0, X, BASE, np.nan)).all()
    assert np.isnan(side_part(0.1, 1.0, GAUGE, np.nan))
