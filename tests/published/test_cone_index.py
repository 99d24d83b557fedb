"""Vehicle cone index: the worked example, and traps of circulating copies."""

import numpy as np
import pytest

from terrain.mechanics import cone_index
from terrain.mechanics.cone_index import HORSEPOWER_KW
from terrain.units import INCH_M, POUND_KG, PSI_KPA


def light_four_by_four(**changes) -> float:
    values = {
        "gross_mass_kg": 13450 * POUND_KG,
        "axles": 2,
        "tyres": 4,
        "width_m": 12.5 * INCH_M,
        "diameter_m": 37 * INCH_M,
        "clearance_m": 17.4 * INCH_M,
        "power_kw": 190 * HORSEPOWER_KW,
    }
    return float(cone_index.mobility_index_wheels(**{**values, **changes}))


def test_light_four_by_four():
    # published: university exercise quoting Priddy & Willoughby 2006 and Ciobotaru 2009:
    # 191.6 and 435.8 kPa
    mi = light_four_by_four()
    assert mi == pytest.approx(83.820, abs=0.001)  # own arithmetic on the way
    # half a unit of the last digit, and a hundredth for the unit constants of the exercise
    assert cone_index.vci1_wheels_kpa(mi) == pytest.approx(191.6, abs=0.06)
    assert cone_index.vci50_wheels_kpa(mi) == pytest.approx(435.8, abs=0.06)


def test_chains_count_five_hundredths_not_a_half():
    # trap: one copy prints 1.5 for 1.05
    bare, chained = light_four_by_four(), light_four_by_four(chains=True)
    assert (bare - chained) / (14.5405 * 1.271925 / 0.225) == pytest.approx(1 - 1 / 1.05, rel=1e-4)


def test_engine_and_gearbox_only_ever_make_it_worse():
    # trap: one copy inverts the engine factor. 10 hp per short ton is the limit
    assert light_four_by_four(power_kw=60 * HORSEPOWER_KW) == pytest.approx(
        1.05 * light_four_by_four(), rel=1e-9
    )
    assert light_four_by_four(automatic=False) == pytest.approx(
        1.05 * light_four_by_four(), rel=1e-9
    )


def test_weight_factor_is_continuous_at_two_thousand_pounds():
    # trap: 0.533 in place of 0.553. Published branches meet within 1 % at 2000 lb with 0.553
    low, high = (
        light_four_by_four(gross_mass_kg=2 * lb * POUND_KG, power_kw=500) for lb in (1999.9, 2000.1)
    )
    pressure = 4000 / (12.5 * 37 / 2 * 4) / 0.225
    assert (high - low) / pressure == pytest.approx(1.116 - 1.106, abs=0.001)


def test_eight_by_eight():
    # inputs as in public code; that code's own 3.53 and 6.80 psi come from a multiplied weight
    # constant and an inverted tyre factor. The values here are our arithmetic
    mi = cone_index.mobility_index_wheels(
        36320 * POUND_KG, 4, 8, 22 * INCH_M, 45 * INCH_M, 21 * INCH_M, 350 * HORSEPOWER_KW
    )
    assert mi == pytest.approx(41.123, abs=0.001)
    assert cone_index.vci1_wheels_kpa(mi) / PSI_KPA == pytest.approx(18.83, abs=0.005)
    assert cone_index.vci50_wheels_kpa(mi) / PSI_KPA == pytest.approx(43.84, abs=0.005)


def test_branches_at_115():
    # published constant 3.74 (Priddy & Willoughby 2006), not 2.14: the branches then nearly meet
    below, above = cone_index.vci1_wheels_kpa([115.0, 115.000001]) / PSI_KPA
    assert (below, above) == (pytest.approx(34.15, abs=0.005), pytest.approx(34.03, abs=0.005))
    least = cone_index.vci1_wheels_kpa(1e-12) / PSI_KPA
    assert least == pytest.approx(11.48 - 39.2 / 3.74, rel=1e-9)
    below, above = cone_index.vci50_wheels_kpa([115.0, 115.000001]) / PSI_KPA
    assert (below, above) == (pytest.approx(76.9, abs=0.05), pytest.approx(74.7, abs=0.05))


def test_deflection_correction():
    # own arithmetic with the form of Priddy & Willoughby 2006
    assert cone_index.deflection_correction(0.37) == pytest.approx(0.7979, abs=5e-5)
    assert cone_index.deflection_correction(0.15) == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(("reading", "remould", "rating"), [(49, 0.87, 43), (56, 0.85, 48)])
def test_rating_cone_index_products(reading, remould, rating):
    # published: US Army engineer correspondence course, rounded to whole psi
    assert cone_index.rating_cone_index_kpa(reading, remould) == pytest.approx(rating, abs=0.5)
    assert cone_index.rating_cone_index_kpa(reading, 1.2) == reading


def forwarder(mass_t: float, chains: bool = False) -> float:
    return float(
        cone_index.mobility_index_wheels(
            mass_t * 1000, 4, 8, 0.71, 1.312, 0.65, 250 * HORSEPOWER_KW, chains=chains
        )
    )


def test_forwarder_vectors():
    # own arithmetic: 8 wheels 710/45-26.5, clearance 0.65 m, 250 hp, automatic. The deflection of
    # the published table is the 15 % of the method
    assert forwarder(20) == pytest.approx(31.4, abs=0.05)
    assert forwarder(34) == pytest.approx(87.6, abs=0.05)
    vci1 = cone_index.vci1_wheels_kpa([forwarder(20), forwarder(34)])
    np.testing.assert_allclose(vci1, [115, 197], atol=0.5)
    vci50 = cone_index.vci50_wheels_kpa([forwarder(20), forwarder(34)])
    np.testing.assert_allclose(vci50, [270, 447], atol=0.6)


def test_chains_hardly_move_the_vehicle_cone_index():
    # own arithmetic: -1.8 % empty, -2.7 % loaded at the same mass
    for mass_t, change in ((20, -0.018), (34, -0.027)):
        bare, chained = (
            cone_index.vci1_wheels_kpa(forwarder(mass_t, chains)) for chains in (False, True)
        )
        assert chained / bare - 1 == pytest.approx(change, abs=0.0015)


def test_band_tracks_halve_the_vehicle_cone_index():
    # own arithmetic: 38 t on four band tracks 0.887 x 1.73 m, shoes 0.887 x 0.15 m, eight wheels,
    # no grousers credited
    args = (38e3, 0.887, 4 * 0.887 * 1.73, 0.887 * 0.15, 8, 0.65, 250 * HORSEPOWER_KW)
    mi = cone_index.mobility_index_tracks(*args, tall_grousers=False)
    assert mi == pytest.approx(39.7, abs=0.05)
    assert cone_index.mobility_index_tracks(*args) < mi
    assert cone_index.vci1_tracks_kpa(mi) == pytest.approx(97, abs=0.5)
    assert cone_index.vci50_tracks_kpa(mi) == pytest.approx(232, abs=0.6)
    assert cone_index.vci1_tracks_kpa(mi) / 197 - 1 == pytest.approx(-0.51, abs=0.005)


def test_no_vehicle_cone_index_of_a_mobility_index_of_nothing_or_less():
    # light machines with much clearance come out below 0, where the forms (as quoted by others) run
    # into their poles: not known, never a low figure that anything would pass
    for form in (
        cone_index.vci1_wheels_kpa,
        cone_index.vci50_wheels_kpa,
        cone_index.vci1_tracks_kpa,
        cone_index.vci50_tracks_kpa,
    ):
        assert np.isnan(form([-20.0, -3.7, 0.0])).all()
        assert np.isfinite(form([0.1, 30.0, 140.0])).all()
