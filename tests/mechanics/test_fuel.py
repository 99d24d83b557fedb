"""Fuel for driving: each end of the range by itself."""

from __future__ import annotations

import pytest

from terrain.mechanics.work import driving_fuel_l


def test_each_end_of_the_range():
    # planning assumption: 0.24, 0.27 and 0.42 litres per kWh (part load by ASABE 2001 and modern
    # engines, from memory), efficiency 0.75, 0.60 and 0.50 (from memory). Own arithmetic for
    # 3.6 MJ, which is 1 kWh by definition: 0.24 / 0.75, 0.27 / 0.60, 0.42 / 0.50
    assert tuple(driving_fuel_l(3.6)) == pytest.approx((0.32, 0.45, 0.84), rel=1e-9)


def test_slip_costs_the_same_share_at_every_end():
    # own arithmetic: 20 % slip leaves 0.8 of the way
    assert tuple(driving_fuel_l(3.6, slip=0.2)) == pytest.approx((0.40, 0.5625, 1.05), rel=1e-9)
