"""Growth of ruts with passes: the exponents of the soil classes, and the band that they make."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.mechanics import rutting


def test_exponents_of_every_class():
    # from memory (Abebe et al. 1989): 4 to 5 on firm, 3 to 4 on medium, 2 to 3 on weak ground; that
    # class 1 is firm, 2 medium, 3 and 4 weak is a planning assumption
    weak_end, firm_end = rutting.pass_exponents([0, 1, 2, 3, 4])
    np.testing.assert_array_equal(weak_end, [np.nan, 4.0, 3.0, 2.0, 2.0])
    np.testing.assert_array_equal(firm_end, [np.nan, 5.0, 4.0, 3.0, 3.0])


@pytest.mark.parametrize(
    ("soil_class", "low_m", "likely_m", "high_m"),
    [
        (1, 0.104466, 0.136075, 0.180000),
        (2, 0.120000, 0.162267, 0.226786),
        (3, 0.151191, 0.222764, 0.360000),
        (4, 0.151191, 0.222764, 0.360000),
    ],
)
def test_band_after_sixteen_passes(soil_class, low_m, likely_m, high_m):
    # own arithmetic with those exponents: 0.06 and 0.09 m at the first pass. Class 1:
    # 0.06 x 16^(1/5), sqrt(0.0054) x 16^(1/4.5), 0.09 x 16^(1/4); six digits printed
    band = rutting.rut_band_m(0.09, 0.06, 16, soil_class, 400.0)
    assert tuple(band) == pytest.approx((low_m, likely_m, high_m), abs=6e-7)


def test_softer_classes_grow_no_less():
    # own arithmetic: a smaller exponent is a faster growth
    high = rutting.rut_band_m(0.05, 0.05, 40, [1, 2, 3, 4], 400.0).high
    assert (np.diff(high) >= 0).all()
    assert high[0] < high[1] < high[2]
