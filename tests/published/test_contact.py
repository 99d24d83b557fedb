"""Nominal ground pressure against a published table, footprints against our own arithmetic."""

import numpy as np
import pytest
from scipy.integrate import quad

from terrain.mechanics import contact, peak_pressure
from terrain.models.tyre_size import parse_tyre_designation

G = 9.81


def radius_of(designation: str) -> float:
    return parse_tyre_designation(designation).diameter_m / 2


# published: Uusitalo & Ala-Ilomäki 2013, Silva Fennica 47(3) article 993, table 2 (masses with
# tracks and chains)


def test_wheeled_axle_with_chains():
    # published 74 kPa for 7240 kg on two wheels 650/60-26.5. The nominal radius of the size gives
    # 75: the authors' radius was some 1.5 % larger, hence 2 % and not half a digit
    ngp = contact.ngp_wheel_kpa(7.240 * G / 2, 0.65, radius_of("650/60-26.5"))
    assert ngp == pytest.approx(74, rel=0.02)


def test_rigid_track():
    # published 25 kPa for 9140 kg, track 0.81 m wide and 2.20 m long
    assert contact.ngp_track_kpa(9.140 * G / 2, 0.81, 2.20) == pytest.approx(25, abs=0.5)


@pytest.mark.parametrize(
    ("mass_t", "width_m", "published_kpa", "length_m"),
    [
        (12.28, 0.78, 52, 1.485),
        (9.94, 0.887, 32, 1.72),
        (18.44, 0.887, 59, 1.73),
        (10.16, 0.73, 50, 1.365),
    ],
)
def test_band_tracks_imply_about_the_bogie_spacing(mass_t, width_m, published_kpa, length_m):
    # published pressures; the contact length they imply is our arithmetic
    assert contact.ngp_track_kpa(mass_t * G / 2, width_m, length_m) == pytest.approx(
        published_kpa, abs=0.5
    )
    # the default length for a bogie of 1.5 m lies in that neighbourhood, Mellgren's does not
    assert 1.3 < contact.bogie_contact_length_m(1.5, 1.312) < 1.8
    optimistic = contact.ngp_track_mellgren_kpa(mass_t * G / 2, width_m, 0.656, 1.5)
    assert optimistic < 0.8 * published_kpa


def test_default_contact_length():
    # planning assumption: the spacing plus a fifth of the diameter, 0.25 m at most
    assert contact.bogie_contact_length_m(1.5, 1.312) == pytest.approx(1.75, rel=1e-9)
    assert contact.bogie_contact_length_m(1.5, 1.0) == pytest.approx(1.70, rel=1e-9)


def test_band_tracks_lower_the_pressure_of_a_loaded_rear_bogie_by_two_fifths():
    # published 59 kPa with bands; bare wheels of the same mass are our arithmetic: 97.1 kPa
    bare = contact.ngp_wheel_kpa(18.44 * G / 4, 0.71, radius_of("710/45-26.5"))
    assert bare == pytest.approx(97.1, abs=0.1)
    assert 59 / bare - 1 == pytest.approx(-0.39, abs=0.005)
    empty = contact.ngp_wheel_kpa(9.94 * G / 4, 0.71, radius_of("710/45-26.5"))
    assert empty == pytest.approx(52.3, abs=0.05)


@pytest.mark.parametrize(
    ("designation", "diameter_m"),
    [
        ("710/45-26.5", 1.312),
        ("710/40-22.5", 1.1395),
        ("650/60-26.5", 1.453),
        ("600/55-26.5", 1.333),
        ("750/55-26.5", 1.498),
    ],
)
def test_tyre_diameter_from_the_designation(designation, diameter_m):
    # own arithmetic from the standard designation: rim + 2 x aspect x width
    size = parse_tyre_designation(designation)
    assert size.diameter_m == pytest.approx(diameter_m, abs=0.0006)
    height = (size.diameter_m - size.rim_diameter_m) / 2
    assert size.section_height_m == pytest.approx(height, rel=1e-9)


@pytest.mark.parametrize(
    ("load_kn", "inflation_kpa", "deflection_m"),
    [(45, 350, 0.0391), (45, 250, 0.0478), (30, 350, 0.0263), (55, 450, 0.0417)],
)
def test_deflection_with_the_small_constant(load_kn, inflation_kpa, deflection_m):
    # own arithmetic with Saarilahti 2002, equation 2.22, as quoted by others (constant 0.0008).
    # The constant 0.008 that also circulates would miss every row by 7 mm
    assert contact.static_deflection_m(load_kn, inflation_kpa) == pytest.approx(
        deflection_m, abs=0.00005
    )
    assert contact.static_deflection_m(0.0, inflation_kpa) < 0.001
    assert np.isnan(contact.static_deflection_m(-1.0, inflation_kpa))  # the wheel has lifted
    assert np.isnan(contact.static_deflection_m(load_kn, [0.0, -100.0])).all()  # no pressure


def test_keller_footprint_vectors():
    # own arithmetic with the published equations of Keller 2005
    foot = contact.keller_footprint(4.0 * G, 200, 200, 0.4, 1.8)
    assert foot.length_m == pytest.approx(0.826, abs=0.0005)
    assert foot.exponent == pytest.approx(3.089, abs=0.0005)
    assert foot.area_m2 == pytest.approx(0.294, abs=0.0005)
    assert foot.mean_kpa == pytest.approx(133.6, abs=0.05)
    assert foot.peak_kpa == pytest.approx(288.7, abs=0.05)
    forest = contact.keller_footprint(45.0, 350, 350, 0.71, 1.312)
    assert forest.area_m2 == pytest.approx(0.431, abs=0.0005)
    assert forest.mean_kpa == pytest.approx(104, abs=0.5)
    assert forest.peak_kpa == pytest.approx(462, abs=0.5)


def test_keller_area_equals_the_integral():
    # published form is an integral; the closed form must equal it
    foot = contact.keller_footprint(45.0, 300, 350, 0.71, 1.312)
    length, n = float(foot.length_m), float(foot.exponent)
    half, _ = quad(lambda x: 0.355 * (1 - (2 * x / length) ** n) ** (1 / n), 0, length / 2)
    assert foot.area_m2 == pytest.approx(4 * half, rel=1e-6)


def test_hard_ground_area():
    # own arithmetic (form from memory, Grečenko 1995)
    area = contact.grecenko_area_m2(contact.static_deflection_m(45, 350), 0.71, 1.312)
    assert area == pytest.approx(0.119, abs=0.0005)


@pytest.mark.parametrize(("factor", "share"), [(3, 0.646), (4, 0.75), (5, 0.823)])
def test_a_larger_concentration_factor_carries_more_stress_down(factor, share):
    # from memory (Froehlich): copies that call the small factor "wet" turn the order round
    found = contact.stress_share_below_patch(0.3, 0.3, factor)
    assert found == pytest.approx(share, abs=0.0005)
    assert contact.stress_share_below_patch(0.0, 0.3, factor) == pytest.approx(1.0)


def test_mean_maximum_pressure_uses_the_section_height():
    # from memory (Larminie 1988), own arithmetic. With deflection over diameter the number would
    # be about twice as large
    light = peak_pressure.mean_maximum_pressure_wheel_kpa(59.8, 2, 2, 0.3175, 0.94, 0.15)
    assert light == pytest.approx(401, abs=0.5)
    ratio = contact.deflection_ratio(50, 400, 0.3195)
    eight = peak_pressure.mean_maximum_pressure_wheel_kpa(400, 4, 4, 0.71, 1.312, ratio)
    assert eight == pytest.approx(565, abs=0.5)


def test_mean_maximum_pressure_of_tracks():
    # from memory (Rowland 1972), own arithmetic
    band = peak_pressure.mean_maximum_pressure_band_track_kpa
    assert band(38 * G, 4, 0.85, 1.312, 0.04) == pytest.approx(120, abs=0.5)
    assert band(24 * G, 4, 0.85, 1.312, 0.03) == pytest.approx(87, abs=0.5)
    link = peak_pressure.mean_maximum_pressure_link_track_kpa(24 * G, 4, 0.85, 0.15, 1.312)
    assert link == pytest.approx(98, abs=0.5)


def test_unknown_number_of_axles_is_refused():
    with pytest.raises(ValueError, match="no factor for 1 of 5 axles"):
        peak_pressure.mean_maximum_pressure_wheel_kpa(100, 5, 1, 0.5, 1.2, 0.2)


def test_peak_pressure_is_far_above_nominal():
    # the two scales must never be mixed: about five times for wheels
    ratio = contact.deflection_ratio(50, 400, 0.3195)
    peak = peak_pressure.mean_maximum_pressure_wheel_kpa(400, 4, 4, 0.71, 1.312, ratio)
    assert 4 < peak / contact.ngp_wheel_kpa(50, 0.71, 0.656) < 6.5


def test_limiting_cone_index_routes_agree():
    limits = np.array(
        [
            peak_pressure.limiting_cone_index_from_pressure_kpa(565.0),
            peak_pressure.limiting_cone_index_wheel_kpa(
                50.0, 0.71, 1.312, contact.static_deflection_m(50, 400)
            ),
        ]
    )
    # own arithmetic (both from memory)
    np.testing.assert_allclose(limits, [467, 354], atol=0.5)
