"""Vehicle cone index: one vector in every branch of the weight factors, and beside every edge.

Published: US Army FM 5-430-00-1 (1994), its factors and weight ranges as quoted in a course
exercise and in program code; the manual itself was not read. Own arithmetic in pounds and inches;
the inputs make every factor but the weight factor a round number.
"""

from __future__ import annotations

import pytest

from terrain.mechanics import cone_index
from terrain.units import INCH_M, POUND_KG, PSI_KPA

PLENTY_KW = 2000.0  # far above 10 hp per short ton: engine factor 1


def wheels(axle_lb: float, **changes) -> float:
    """Two axles, four tyres 20 in wide and 50 in tall, 20 in of clearance, automatic.

    So contact pressure = axle_lb / 1000 psi, tyre factor 0.30, wheel load factor axle_lb / 2000,
    clearance factor 2.
    """
    given = {"power_kw": PLENTY_KW, **changes}
    return float(
        cone_index.mobility_index_wheels(
            2 * axle_lb * POUND_KG, 2, 4, 20 * INCH_M, 50 * INCH_M, 20 * INCH_M, **given
        )
    )


def tracks(gross_lb: float, **changes) -> float:
    """Tracks 30 in wide with 6000 square inches, ten wheels on shoes of 120, 20 in of clearance.

    So contact pressure = gross_lb / 6000 psi, track factor 0.30, bogie factor gross_lb / 12,000,
    clearance factor 2, and with tall grousers 0.33 below the fraction.
    """
    given = {"power_kw": PLENTY_KW, **changes}
    area_m2 = INCH_M**2
    return float(
        cone_index.mobility_index_tracks(
            gross_lb * POUND_KG,
            30 * INCH_M,
            6000 * area_m2,
            120 * area_m2,
            10,
            20 * INCH_M,
            **given,
        )
    )


@pytest.mark.parametrize(
    ("axle_lb", "weight_factor", "mobility_index"),
    [
        (1_500, 0.8295, 2.8975),  # 0.553 x 1.5
        (10_000, 1.38, 49.0),  # 0.033 x 10 + 1.050
        (13_499, 1.495467, 72.0405),
        (13_501, 1.497142, 72.1269),
        (16_000, 1.852, 104.7733),  # 0.142 x 16 - 0.420
        (19_999, 2.419858, 169.3153),
        (20_001, 2.445278, 171.0272),
        (24_000, 3.557, 294.56),  # 0.278 x 24 - 3.115
    ],
)
def test_weight_factor_of_wheels_in_every_branch(axle_lb, weight_factor, mobility_index):
    kips = axle_lb / 1000
    # the printed index and factor belong together: half a unit of the last digit
    assert kips * weight_factor / 0.30 + kips / 2 - 2 == pytest.approx(mobility_index, abs=6e-5)
    # half a unit of the last digit, and as much again for the units to and fro
    assert wheels(axle_lb) == pytest.approx(mobility_index, abs=1e-4)


@pytest.mark.parametrize(
    ("gross_lb", "weight_factor", "mobility_index"),
    [
        (40_000, 1.0, 21.5354),
        (49_999, 1.0, 27.4186),
        (50_001, 1.2, 32.4704),
        (60_000, 1.2, 39.3636),
        (69_999, 1.2, 46.2569),
        (70_001, 1.4, 53.3291),
        (80_000, 1.4, 61.2323),
        (99_999, 1.4, 77.0396),
        (100_001, 1.8, 97.2434),
        (120_000, 1.8, 117.0909),
    ],
)
def test_weight_factor_of_tracks_in_every_branch(gross_lb, weight_factor, mobility_index):
    by_hand = gross_lb / 6000 * weight_factor / 0.33 + gross_lb / 12_000 - 2
    assert by_hand == pytest.approx(mobility_index, abs=6e-5)
    assert tracks(gross_lb) == pytest.approx(mobility_index, abs=1e-4)


def test_grousers_and_gearbox_of_tracks():
    # published factors: tall grousers 1.1 below the fraction, a manual gearbox 1.05 on the whole.
    # Own arithmetic at 60,000 lb: 10 x 1.2 / 0.30 + 5 - 2 = 43
    assert tracks(60_000, tall_grousers=False) == pytest.approx(43.0, rel=1e-9)
    assert tracks(60_000, tall_grousers=False, automatic=False) == pytest.approx(45.15, rel=1e-9)


@pytest.mark.parametrize(
    ("form", "gross_lb", "mobility_index"), [(wheels, 10_000, 49.0), (tracks, 60_000, 39.3636)]
)
def test_ten_horsepower_a_short_ton_is_the_limit_of_the_engine_factor(
    form, gross_lb, mobility_index
):
    # published limit; 1 hp = 550 ft lbf/s = 0.745700 kW by definition. Short tons of 2000 lb:
    # 2 axles x 10,000 lb ask for 100 hp = 74.570 kW, 60,000 lb of tracks for 300 hp = 223.710 kW
    limit_kw = 0.745700 * 10 * (2 * gross_lb if form is wheels else gross_lb) / 2000
    enough, short = (
        form(gross_lb, power_kw=limit_kw * 1.001),
        form(gross_lb, power_kw=limit_kw * 0.999),
    )
    assert enough == pytest.approx(mobility_index, abs=1e-4)
    assert short == pytest.approx(1.05 * mobility_index, abs=1e-4)


def test_horsepower_from_its_definition():
    # definition: 550 foot-pounds-force a second, 9.80665 m/s2
    watts = 550 * 0.3048 * 0.45359237 * 9.80665
    assert pytest.approx(watts / 1000, rel=1e-8) == cone_index.HORSEPOWER_KW


@pytest.mark.parametrize(
    ("mobility_index", "wheels_1", "wheels_50", "tracks_1", "tracks_50"),
    [
        (10, 10.6270, 25.7509, 6.4872, 16.2052),
        (60, 22.8650, 52.5745, 18.4024, 43.1948),
        (114, 33.9471, 76.4625, 29.4722, 67.2511),
        (116, 34.1611, 74.9878, 29.8776, 68.1280),
        (200, 43.5555, 95.6097, 46.8093, 104.6626),
    ],
)
def test_vehicle_cone_index_on_both_sides_of_a_mobility_index_of_115(
    mobility_index, wheels_1, wheels_50, tracks_1, tracks_50
):
    # psi, own arithmetic. One pass of wheels: published, Priddy & Willoughby 2006. Fifty passes of
    # wheels: published, Priddy 1999 as quoted by others. One pass of tracks: published, as quoted
    # in program code that cites FM 5-430-00-1. Fifty passes of tracks: from memory. Half a unit of
    # the last digit
    found = (
        cone_index.vci1_wheels_kpa(mobility_index),
        cone_index.vci50_wheels_kpa(mobility_index),
        cone_index.vci1_tracks_kpa(mobility_index),
        cone_index.vci50_tracks_kpa(mobility_index),
    )
    printed = (wheels_1, wheels_50, tracks_1, tracks_50)
    for value, psi in zip(found, printed, strict=True):
        assert float(value) / PSI_KPA == pytest.approx(psi, abs=6e-5)
