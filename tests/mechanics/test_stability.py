import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.mechanics.loads import axle_loads_kn, drag_pull_kn, side_shares
from terrain.mechanics.stability import (
    lateral_check_slope,
    lateral_tip_slope,
    lift_off_grades,
    longitudinal_tip_slopes,
)


def test_uphill_wheels_carry_nothing_at_the_tipping_slope():
    slope = lateral_tip_slope(1.7, 2.1)
    uphill, downhill = side_shares(slope, 1.7, 2.1)
    assert uphill == pytest.approx(0.0, abs=1e-12)
    assert downhill == pytest.approx(np.cos(np.arctan(slope)), rel=1e-9)


def test_check_slope_is_a_stated_part_of_it():
    # planning assumption without a source: 0.6
    assert lateral_check_slope(1.9, 2.1) == pytest.approx(0.6 * 2.1 / 3.8, rel=1e-9)
    assert lateral_check_slope(1.9, 2.1, 1.0) == lateral_tip_slope(1.9, 2.1)


def test_centre_over_the_rear_lifts_the_front_at_once():
    up, down = longitudinal_tip_slopes(0.0, 1.5, 3.0)
    assert (up, down) == (0.0, 2.0)


def test_lengths_that_are_no_lengths_give_no_slope():
    assert np.isnan(lateral_tip_slope([0.0, -1.0, 1.7], [2.1, 2.1, 0.0])).all()
    assert np.isnan(lateral_check_slope(0.0, 2.1))
    assert np.isnan(lift_off_grades(1.0, 0.0, 3.0)).all()


def test_lift_off_on_the_line_of_travel_by_hand():
    # own arithmetic: x / h and (L - x) / h; with a drag (x - w mu h_p) / (h + w h_p)
    front, rear = lift_off_grades(1.2, 2.0, 5.0)
    assert (front, rear) == (pytest.approx(0.6), pytest.approx(-1.9))
    front, rear = lift_off_grades(
        1.2, 2.0, 5.0, ground_share=0.2, drag_coefficient=0.5, pull_height_m=1
    )
    assert front == pytest.approx((1.2 - 0.2 * 0.5) / 2.2)
    assert rear == pytest.approx(-1.9)  # the load has ceased to pull long before


@given(
    st.floats(-1.5, 1.5),
    st.floats(-0.6, 0.6),
    st.floats(-0.5, 4.5),
    st.floats(0.5, 3.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 0.9),
)
def test_a_group_lifts_exactly_beyond_its_grade(grade, cross, x, height, dragging, mu):
    # beside the axle loads themselves (Liljedahl et al. 1989)
    pull = np.maximum(drag_pull_kn(100.0 * dragging, mu, grade), 0.0)
    front, rear = axle_loads_kn(100.0, x, height, 4.0, grade, pull, 1.1, cross)
    front_lifts, rear_lifts = lift_off_grades(x, height, 4.0, grade, cross, dragging, mu, 1.1)
    if abs(front) > 1e-9:
        assert (front < 0) == (grade > front_lifts)
    if abs(rear) > 1e-9:
        assert (rear < 0) == (grade < rear_lifts)
