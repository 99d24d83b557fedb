import numpy as np
import pytest

from terrain.mechanics import contact, rutting, traction_checks

LOAD, WIDTH, DIAMETER, HEIGHT, SLIP = 50.0, 0.71, 1.312, 0.3195, 0.2


@pytest.mark.parametrize(
    ("cone_index_kpa", "first_m", "second_m"),
    [(300, 0.168, 0.156), (500, 0.089, 0.066), (1000, 0.037, 0.021)],
)
def test_first_pass_of_the_forest_wheel(cone_index_kpa, first_m, second_m):
    # from memory (Maclaurin 1990; Willoughby & Turnage), own arithmetic
    ratio = contact.deflection_ratio(LOAD, 400, HEIGHT)
    turnage = traction_checks.turnage_number(cone_index_kpa, WIDTH, DIAMETER, LOAD, ratio)
    number = rutting.willoughby_turnage_number(cone_index_kpa, WIDTH, DIAMETER, LOAD, ratio, SLIP)
    first = rutting.first_pass_maclaurin_m(turnage, DIAMETER)
    second = rutting.first_pass_willoughby_turnage_m(number, DIAMETER)
    assert first == pytest.approx(first_m, abs=0.0006)
    assert second == pytest.approx(second_m, abs=0.0006)
    assert 1.05 < first / second < 1.8


@pytest.mark.parametrize(("exponent", "growth"), [(2, 3.16), (3, 2.15), (4, 1.78), (5, 1.58)])
def test_ten_passes(exponent, growth):
    # from memory (Abebe et al. 1989), own arithmetic
    assert rutting.multi_pass_m(0.1, 10, exponent) == pytest.approx(0.1 * growth, abs=0.0006)
    assert rutting.multi_pass_m(0.1, 1, exponent) == pytest.approx(0.1, rel=1e-9)
    assert rutting.multi_pass_m(0.1, 0, exponent) == 0.0


def test_band_tracks_and_the_trial_of_ten_passes():
    # published: Gerasimov & Katarov 2010 as summarised: 0.40 to 0.22 m moist, 0.71 to 0.48 m wet.
    # The model's ruts go with pressure^1.25: with the published 59 kPa against 97 kPa bare it
    # says -46 %, between -45 % (moist) and beyond -32 % (wet); Mellgren's 44 kPa would say -63 %
    assert pytest.approx(-0.45, abs=0.005) == 0.22 / 0.40 - 1
    assert pytest.approx(-0.32, abs=0.005) == 0.48 / 0.71 - 1
    turnage = 2.0 / np.array([97.1, 59.0, 44.0]) * 97.1
    bare, band, mellgren = rutting.first_pass_maclaurin_m(turnage, DIAMETER)
    assert band / bare - 1 == pytest.approx(-0.46, abs=0.005)
    assert mellgren / bare - 1 == pytest.approx(-0.63, abs=0.005)


def test_band_is_ordered_and_hidden_above_the_limit():
    band = rutting.rut_band_m(0.09, 0.06, 20, [1, 2, 3, 4, 0], 400.0)
    assert (band.low[:4] < band.likely[:4]).all()
    assert (band.likely[:4] < band.high[:4]).all()
    assert np.isnan(band.likely[4])
    hidden = rutting.rut_band_m(0.01, 0.01, 20, 1, [1500.0, 1501.0])
    assert np.isnan(hidden.high).tolist() == [False, True]
