"""Spread of few readings, and the floor at no strength. Own rule, arithmetic by hand."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.mechanics.readings import Summary, shrunk, summarise

UNKNOWN = (np.nan, np.nan, np.nan)


def test_three_places_have_a_spread_and_two_have_none():
    # median 250, absolute deviations 50, 0, 70: their median 50; 1.4826 x 50 = 74.13 (textbook
    # statistics: that is the standard deviation of a normal distribution)
    assert summarise([200.0, 250.0, 320.0]).spread_kpa == pytest.approx(74.13, rel=1e-9)
    assert np.isnan(summarise([200.0, 250.0]).spread_kpa)


def test_the_low_end_stops_at_no_strength():
    # an unknown class: 20 - 90 is below nothing; 20 + 90 stands
    assert shrunk(UNKNOWN, Summary(3, 20.0, 90.0)) == (0.0, 20.0, 110.0)
    # a class that is worth three places, against three: half of each, the readings' low end being 0
    low, likely, high = shrunk((60.0, 100.0, 140.0), Summary(3, 20.0, 90.0))
    assert (low, likely, high) == pytest.approx((30.0, 60.0, 125.0), rel=1e-12)
