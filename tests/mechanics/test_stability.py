import numpy as np
import pytest

from terrain.mechanics.loads import side_shares
from terrain.mechanics.stability import (
    lateral_check_slope,
    lateral_tip_slope,
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
