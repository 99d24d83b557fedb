"""Traction relations against printed examples and our own arithmetic (regression vectors)."""

import numpy as np
import pytest

from terrain.mechanics import contact, traction, traction_checks
from terrain.mechanics.demand import friction_demand
from terrain.mechanics.mounted import mounted
from terrain.models.aids import BARE
from terrain.units import PSI_KPA
from tests.builders import TYRE, bogie

WIDTH, DIAMETER, HEIGHT = 0.71, 1.312, 0.3195  # 710/45-26.5


def forest_numbers(cone_index_kpa, load_kn=50.0, inflation_kpa=400.0):
    ratio = contact.deflection_ratio(load_kn, inflation_kpa, HEIGHT)
    return (
        traction.brixius_number(cone_index_kpa, WIDTH, DIAMETER, load_kn, ratio),
        traction_checks.turnage_number(cone_index_kpa, WIDTH, DIAMETER, load_kn, ratio),
        traction_checks.wismer_luth_number(cone_index_kpa, WIDTH, DIAMETER, load_kn),
        traction_checks.maclaurin_number(cone_index_kpa, WIDTH, DIAMETER, load_kn, ratio * HEIGHT),
    )


def test_wismer_luth_worked_example():
    # published: question bank quoting Liljedahl et al.: CI 800, b 0.45, d 1.40, W 12.0 gives 42
    assert traction_checks.wismer_luth_number(800, 0.45, 1.40, 12.0) == pytest.approx(42, abs=0.5)
    # published, same source: Cn 20 and 15 kN give a resistance ratio of 0.10 and 1.5 kN
    ratio = traction_checks.wismer_luth_resistance_ratio(20)
    assert ratio == pytest.approx(0.10, abs=0.005)
    assert ratio * 15 == pytest.approx(1.5, abs=0.05)


def test_brixius_number_in_the_special_case_of_a_fifth():
    # published special case: deflection of a fifth gives the factor 2 / (1 + 3 b / d)
    special = 900 * 0.37 * 1.45 / 15 * 2 / (1 + 3 * 0.37 / 1.45)
    assert special == pytest.approx(36.465, abs=0.0005)
    assert traction.brixius_number(900, 0.37, 1.45, 15, 0.2) == pytest.approx(special, rel=1e-9)


def test_turnage_number_of_a_textbook_question():
    # published inputs of a teaching question (9.5-24 tyre); the value is our arithmetic
    assert traction_checks.wismer_luth_number(200, 0.24, 1.04, 7) == pytest.approx(7.131, abs=5e-4)
    assert traction_checks.turnage_number(200, 0.24, 1.04, 7, 0.2) == pytest.approx(2.859, abs=5e-4)


@pytest.mark.parametrize(
    ("cone_index_kpa", "turnage", "brixius", "maclaurin"),
    [
        (300, 1.562, 3.474, 1.569),
        (500, 2.604, 5.791, 2.615),
        (700, 3.646, 8.107, 3.661),
        (1000, 5.208, 11.582, 5.230),
    ],
)
def test_numerics_of_the_forest_wheel(cone_index_kpa, turnage, brixius, maclaurin):
    # own arithmetic, printed with the deflection rounded to 0.0403 m: hence 1 in 4 digits
    found = forest_numbers(cone_index_kpa)
    np.testing.assert_allclose(
        [found[1], found[0], found[3]], [turnage, brixius, maclaurin], rtol=6e-4
    )


def test_number_takes_the_load_of_one_wheel_and_strength_in_kilopascals():
    # traps of circulating copies: the load of the whole axle group gives about a quarter, a cone
    # index left in psi about a seventh. Own arithmetic: 50 kN a wheel, 1000 kPa: 11.58
    group = mounted(bogie("rear"), BARE)
    right = float(group.mobility_number(1000.0, 4 * 50.0))
    assert right == pytest.approx(11.58, abs=0.02)
    ratio = contact.deflection_ratio(50.0, TYRE.inflation_kpa, TYRE.section_height_m)
    size = (TYRE.width_m, TYRE.diameter_m)
    assert right == pytest.approx(traction.brixius_number(1000.0, *size, 50.0, ratio), rel=1e-12)
    whole_group = traction.brixius_number(1000.0, *size, 200.0, ratio)
    in_psi = traction.brixius_number(1000.0 / PSI_KPA, *size, 50.0, ratio)
    assert whole_group == pytest.approx(right / 4)
    assert in_psi == pytest.approx(right / 6.895, rel=1e-3)


VECTORS = [
    (55, 0.5024, 0.0649, 0.4375, 0.7209, 0.0717, 0.6492, 0.7070, 0.7456),
    (40, 0.4958, 0.0729, 0.4229, 0.7111, 0.0808, 0.6303, 0.6866, 0.7241),
    (20, 0.4415, 0.1012, 0.3403, 0.6311, 0.1124, 0.5188, 0.5663, 0.5972),
    (10, 0.3335, 0.1558, 0.1777, 0.4721, 0.1716, 0.3005, 0.3314, 0.3502),
    (6, 0.2495, 0.2271, 0.0224, 0.3485, 0.2475, 0.1010, 0.1185, 0.1273),
    (4, 0.1931, 0.3150, -0.1219, 0.2654, 0.3400, -0.0746, -0.0669, -0.0655),
]


@pytest.mark.parametrize("row", VECTORS, ids=lambda row: f"Bn {row[0]}")
def test_brixius_curves(row):
    # own arithmetic with the published constants of Brixius 1987 (as quoted by others)
    bn = row[0]
    found = [
        traction.gross_traction_ratio(bn, 0.1),
        traction.motion_resistance_ratio(bn, 0.1),
        traction.net_traction_ratio(bn, 0.1),
        traction.gross_traction_ratio(bn, 0.2),
        traction.motion_resistance_ratio(bn, 0.2),
        *traction.net_traction_ratio(bn, [0.2, 0.25, 0.3]),
    ]
    np.testing.assert_allclose(found, row[1:], atol=0.000051)


def test_brixius_constants_one_by_one():
    # published constants of Brixius 1987, taken apart: each limit shows one of them
    assert traction.gross_traction_ratio(np.inf, 100.0) == pytest.approx(0.92, rel=1e-9)
    assert traction.gross_traction_ratio(10.0, 0.0) == pytest.approx(0.04, rel=1e-9)
    assert traction.gross_traction_ratio(10.0, 100.0) == pytest.approx(
        0.88 * (1 - np.exp(-1)) + 0.04, rel=1e-9
    )
    assert traction.towed_resistance_ratio(25.0) == pytest.approx(0.08, rel=1e-9)
    assert traction.motion_resistance_ratio(25.0, 0.2) == pytest.approx(0.10, rel=1e-9)


def test_radial_constants():
    # from memory (Al-Hamed et al. 1994; Zoz & Grisso 2003)
    assert traction.gross_traction_ratio(np.inf, 0.1, "radial") == pytest.approx(
        0.88 * (1 - np.exp(-0.95)) + 0.0325, rel=1e-9
    )
    assert traction.towed_resistance_ratio(30.0, "radial") == pytest.approx(0.0625, rel=1e-9)


def test_efficiency_divides_by_the_gross_ratio_at_that_slip():
    # trap of circulating copies: dividing by the envelope gives 0.42 here in place of 0.51
    assert traction.tractive_efficiency(10.0, 0.2) == pytest.approx(
        0.8 * 0.3005 / 0.4721, abs=0.0002
    )


@pytest.mark.parametrize(
    ("turnage", "resistance", "net"),
    [(3, 0.1680, 0.1483), (5, 0.1076, 0.3369), (10, 0.0623, 0.5313)],
)
def test_maclaurin(turnage, resistance, net):
    # from memory (Maclaurin 1990), own arithmetic
    assert traction_checks.maclaurin_resistance_ratio(turnage) == pytest.approx(
        resistance, abs=5e-5
    )
    assert traction_checks.maclaurin_net_ratio(turnage) == pytest.approx(net, abs=5e-5)
    gross = 0.817 - 3.2 / (turnage + 1.91) + 0.453 / turnage
    assert traction_checks.maclaurin_gross_ratio(turnage) == pytest.approx(gross, rel=1e-9)


def test_maclaurin_zero_pull():
    assert traction_checks.maclaurin_net_ratio(2.09) == pytest.approx(0.0, abs=0.001)


def test_wismer_luth_curve():
    # gross coefficients from memory (Wismer & Luth 1973), own arithmetic
    number = np.array([10.0, 20.0, 42.0])
    gross = traction_checks.wismer_luth_gross_ratio(number, 0.2)
    np.testing.assert_allclose(gross, [0.3384, 0.5241, 0.6897], atol=5e-5)
    net = traction_checks.wismer_luth_net_ratio(number, 0.2)
    np.testing.assert_allclose(net, [0.1784, 0.4241, 0.6211], atol=5e-5)


@pytest.mark.parametrize(
    ("cone_index_kpa", "brixius", "maclaurin", "wismer_luth"),
    [
        (500, 0.086, 0.091, 0.152),
        (700, 0.221, 0.224, 0.275),
        (1000, 0.353, 0.350, 0.400),
        (1500, 0.482, 0.471, 0.527),
    ],
)
def test_models_beside_each_other_on_the_forest_wheel(
    cone_index_kpa, brixius, maclaurin, wismer_luth
):
    # own arithmetic at 20 % slip and 50 kN
    bn, turnage, number, _ = forest_numbers(cone_index_kpa)
    assert traction.net_traction_ratio(bn, 0.2) == pytest.approx(brixius, abs=0.0006)
    assert traction_checks.maclaurin_net_ratio(turnage) == pytest.approx(maclaurin, abs=0.0006)
    found = traction_checks.wismer_luth_net_ratio(number, 0.2)
    assert found == pytest.approx(wismer_luth, abs=0.0006)


def test_slip_needed_and_the_grade_that_goes_with_it():
    # own arithmetic: Bn 11.58 pulls 0.30 at 15.06 % slip, 0.353 at 20 %
    def reserve(slip, _rows):
        return traction.net_traction_ratio([11.58], slip) - 0.30

    assert traction.slip_needed(reserve, 1, 0.25) == pytest.approx(0.1506, abs=5e-5)
    assert traction.net_traction_ratio(11.58, 0.20) == pytest.approx(0.353, abs=0.0005)
    assert np.degrees(np.arctan(0.353)) == pytest.approx(19.4, abs=0.05)


def test_dual_tyres_halve_the_load():
    # own arithmetic: same tyre, half the load, CI 500: 5.79 to 9.39, net 0.086 to 0.277 at 20 %
    single, _, _, _ = forest_numbers(500)
    dual, _, _, _ = forest_numbers(500, load_kn=25.0)
    assert (single, dual) == (pytest.approx(5.79, abs=0.005), pytest.approx(9.39, abs=0.01))
    assert traction.net_traction_ratio(dual, 0.2) == pytest.approx(0.277, abs=0.001)


def test_contact_length_gain():
    # own arithmetic with the published form (Janosi & Hanamoto 1961, Wong), K 0.025 m
    gain = traction.contact_length_gain([0.66, 1.73], 0.1)
    np.testing.assert_allclose(gain, [0.648, 0.856], atol=0.0006)
    np.testing.assert_allclose(
        traction.contact_length_gain([0.66, 1.73], 0.25), [0.849, 0.942], atol=0.0006
    )
    assert traction.slip_term_gain(1.73, 0.66, 0.1) == pytest.approx(1.32, abs=0.005)
    assert traction.slip_term_gain(1.73, 0.66, 0.25) == pytest.approx(1.11, abs=0.005)


def test_wong_track_thrust():
    # own arithmetic; clayey soil at 38 % water: c 4.14 kPa, 13 degrees, K 0.010 m (quoted by
    # others after Wong)
    thrust = traction_checks.wong_track_thrust_ratio(
        60.0, 0.8, 2.0, [0.05, 0.1, 0.2, 0.3], 4.14, 13.0, 0.010
    )
    np.testing.assert_allclose(thrust, [0.3071, 0.3242, 0.3327, 0.3356], atol=0.0006)


def test_contact_length_net_ratio():
    # own arithmetic: Bn 10 and 1.73 m at 20 % slip. Envelope 0.88 (1 - exp(-1)) = 0.55627; share
    # built up (Janosi & Hanamoto 1961, Wong; K quoted by others) 0.92775 at K 0.025 m and 0.98266
    # at 0.006 m; resistance 0.1716 as in the table above, constant term 0.04
    for modulus, share in ((0.025, 0.92775), (0.006, 0.98266)):
        found = traction_checks.contact_length_net_ratio(10.0, 1.73, 0.2, shear_modulus_m=modulus)
        assert found == pytest.approx(0.55627 * share + 0.04 - 0.17162, abs=2e-5)


def test_friction_demand():
    # own arithmetic: slope 0.30, f 0.10 at 0, 45 and 90 degrees to the fall line
    angle = np.radians([0, 45, 90])
    demand = friction_demand(0.30 * np.cos(angle), 0.10, 0.30 * np.sin(angle))
    np.testing.assert_allclose(demand, [0.400, 0.3774, 0.3162], atol=5e-4)
    assert friction_demand(0.45, 0.12) == pytest.approx(0.570, abs=5e-4)
