import numpy as np
import pytest

from terrain.mechanics.work import driving_fuel_l, resistance_work_mj, specific_fuel_l_per_kwh


def test_work_against_the_force_triangle():
    # own arithmetic: on a 3-4-5 slope a horizontal 80 m is a way of 100 m:
    # 100 kN (0.1 x 0.8 + 0.6) x 100 m = 6.8 MJ
    assert resistance_work_mj(100.0, 0.1, 0.75, 80.0) == pytest.approx(6.8, rel=1e-9)
    # down the same slope gravity gives 60 kN and the rolling asks for 8: the engine pays nothing
    assert resistance_work_mj(100.0, 0.1, -0.75, 80.0) == 0.0


def test_a_gentle_descent_pays_for_part_of_the_rolling():
    # own arithmetic: 100 kN (0.10 - 0.04) x 100 m horizontal = 0.6 MJ, not 1.0 MJ
    assert resistance_work_mj(100.0, 0.10, -0.04, 100.0) == pytest.approx(0.6, rel=1e-9)
    assert resistance_work_mj(100.0, 0.0, [0.2, -0.2], 100.0).tolist() == pytest.approx([2.0, 0.0])
    assert np.isnan(resistance_work_mj(100.0, np.nan, 0.1, 100.0))


@pytest.mark.parametrize(
    ("resistance", "mass_t", "litres_per_100_m"),
    [(0.10, 20.5, 0.25), (0.10, 34, 0.42), (0.05, 34, 0.21), (0.15, 34, 0.63)],
)
def test_driving_fuel(resistance, mass_t, litres_per_100_m):
    # own arithmetic with efficiency 0.6 and 0.27 litres per kWh
    work = resistance_work_mj(mass_t * 9.81, resistance, 0.0, 100.0)
    fuel = driving_fuel_l(work)
    assert fuel.likely == pytest.approx(litres_per_100_m, abs=0.006)
    assert fuel.low < fuel.likely < fuel.high


def test_published_driving_fuel_lies_in_the_range():
    # published: Nordfjell, Athanassiadis & Talbot 2003 (abstract): 0.23 to 0.38 litres per 100 m
    work = resistance_work_mj(27 * 9.81, np.array([0.06, 0.15]), 0.0, 100.0)
    likely = driving_fuel_l(work).likely
    assert likely[0] < 0.23
    assert likely[1] > 0.38


def test_specific_fuel():
    # own arithmetic with the published ASABE 2001 form
    found = specific_fuel_l_per_kwh([0.25, 0.5, 0.75, 1.0])
    np.testing.assert_allclose(found, [0.732, 0.504, 0.418, 0.423], atol=0.0006)


def test_slip_costs_fuel():
    assert driving_fuel_l(10.0, slip=0.2).likely == pytest.approx(
        driving_fuel_l(10.0).likely / 0.8, rel=1e-9
    )
