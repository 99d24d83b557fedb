"""Mean maximum pressure: every factor, every power, and the bounds that stand beside them."""

from __future__ import annotations

import pytest

from terrain.mechanics import contact, peak_pressure

# from memory: Larminie 1988, factor by axles and driven axles
FACTORS = {
    (2, 2): 3.65,
    (3, 3): 3.90,
    (4, 4): 4.10,
    (2, 1): 4.40,
    (3, 2): 4.35,
    (3, 1): 5.25,
    (4, 3): 4.44,
    (4, 2): 4.95,
    (4, 1): 6.05,
}


@pytest.mark.parametrize(("axles", "driven"), FACTORS)
def test_factor_of_every_drive(axles, driven):
    # own arithmetic: 100 kN a wheel on a tyre 1 m wide and 1 m tall, deflection ratio 0.25:
    # K x 100 / (1 x 1 x 0.5) = 200 K
    found = peak_pressure.mean_maximum_pressure_wheel_kpa(
        2 * axles * 100.0, axles, driven, 1.0, 1.0, 0.25
    )
    assert found == pytest.approx(200 * FACTORS[axles, driven], rel=1e-9)


def test_no_other_number_of_axles_has_a_factor():
    for axles in range(1, 6):
        for driven in range(axles + 1):
            if (axles, driven) not in FACTORS:
                with pytest.raises(ValueError, match=f"no factor for {driven} of {axles} axles"):
                    peak_pressure.mean_maximum_pressure_wheel_kpa(
                        100.0, axles, driven, 0.5, 1.2, 0.2
                    )


def test_powers_of_width_and_diameter_one_by_one():
    # from memory (Larminie 1988), own arithmetic: 0.5^0.85 = 0.554785, 1.25^1.15 = 1.292548;
    # six digits printed, hence 1e-6
    def pressure(width_m, diameter_m):
        return float(
            peak_pressure.mean_maximum_pressure_wheel_kpa(400.0, 2, 2, width_m, diameter_m, 0.16)
        )

    assert pressure(0.5, 1.0) / pressure(1.0, 1.0) == pytest.approx(1 / 0.554785, rel=2e-6)
    assert pressure(1.0, 1.25) / pressure(1.0, 1.0) == pytest.approx(1 / 1.292548, rel=2e-6)


def test_link_track_with_plates_that_cover_less():
    # Rowland 1972, form published as quoted by others; the plate area ratio is from memory. Own
    # arithmetic: 240 kN on eight road wheels is 30 kN; 1.26 x 30 / (0.6 x 0.5 sqrt(0.16 x 0.64))
    found = peak_pressure.mean_maximum_pressure_link_track_kpa(240.0, 4, 0.5, 0.16, 0.64, 0.6)
    assert found == pytest.approx(37.8 / (0.3 * 0.32), rel=1e-9)


def test_optimistic_bound_of_a_band_track():
    # from memory (form of Mellgren 1980), own arithmetic: 1.25 x 0.656 + 1.5 = 2.32 m of contact,
    # 90.4 / (0.887 x 2.32) = 43.93 kPa; half a unit of the last digit
    found = contact.ngp_track_mellgren_kpa(90.4, 0.887, 0.656, 1.5)
    assert found == pytest.approx(43.93, abs=0.005)


def test_footprint_of_a_tyre_below_its_charted_pressure():
    # published equations of Keller 2005, own arithmetic: 280 of 350 kPa, ln(0.8) = -0.223144:
    # 0.47 + 0.11 x 1.312^2 + 0.16 x 0.223144 = 0.69505 m;
    # 34.4 + 1.13 x 280 + 0.72 x 45 + 33.4 x 0.223144 = 390.653 kPa
    foot = contact.keller_footprint(45.0, 280.0, 350.0, 0.71, 1.312)
    assert foot.length_m == pytest.approx(0.69505, abs=5e-6)
    assert foot.peak_kpa == pytest.approx(390.653, abs=5e-4)


def test_ground_counts_as_normal_where_nobody_says_otherwise():
    # from memory (Froehlich 1934): 5 is normal ground; own arithmetic at a depth of one radius:
    # 1 - cos(45 degrees)^5 = 0.8232
    assert contact.stress_share_below_patch(0.4, 0.4) == pytest.approx(0.8232, abs=5e-5)
