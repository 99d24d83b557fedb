"""Trials beside the model's own answer: every figure of the page is worked out again here.

The page is ``docs/explanation/models.md``, its table "Trials beside the model's own answer".
Measured values are published, as the page cites them; the model's answers are our own arithmetic.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.mechanics import contact, rutting, traction, traction_checks
from terrain.models.settings import DecisionSettings
from terrain.models.tyre_size import parse_tyre_designation
from terrain.sources import data_table
from tests.mechanics.test_skidder_envelope import PUBLISHED, limits_percent
from tests.published.test_cone_index import forwarder

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "models.md"
G = 9.81
WIDTH, HEIGHT = 0.71, 0.3195
DIAMETER = parse_tyre_designation("710/45-26.5").diameter_m
REAR_T, BANDS_T = 18.44, 2.2


def answer(trial: str) -> str:
    """Last cell of the table row whose first cell starts with ``trial``."""
    rows = [r for r in PAGE.read_text(encoding="utf-8").splitlines() if r.startswith(f"| {trial}")]
    assert len(rows) == 1, trial
    return rows[0].split("|")[-2]


def percent(ratio: float, digits: int = 0) -> str:
    return f"{100 * ratio:.{digits}f} %"


def bare_kpa(mass_t: float) -> float:
    return float(contact.ngp_wheel_kpa(mass_t * G / 4, WIDTH, DIAMETER / 2))


def test_pressure_under_band_tracks_of_a_loaded_rear_bogie():
    # published: Uusitalo & Ala-Ilomäki 2013, table 2: 59 kPa at 18.44 t, bands 0.887 m wide
    length = float(contact.bogie_contact_length_m(1.5, DIAMETER))
    band = float(contact.ngp_track_kpa(REAR_T * G / 2, 0.887, length))
    said = answer("band tracks on a loaded rear bogie")
    assert f"{band:.0f} kPa with the default contact length of {length:.2f} m" in said
    assert f"same mass {bare_kpa(REAR_T):.0f} kPa: {percent(band / bare_kpa(REAR_T) - 1)}" in said
    assert f"(with the published 59 kPa {percent(59 / bare_kpa(REAR_T) - 1)})" in said
    light = bare_kpa(REAR_T - BANDS_T)
    assert f"assumed) {percent(band / light - 1)} (with 59 kPa {percent(59 / light - 1)})" in said
    assert 59 / bare_kpa(REAR_T) - 1 == pytest.approx(-0.39, abs=0.005)


def test_pressure_of_a_chained_axle():
    # published: same table, 74 kPa at 7.24 t on two wheels 650/60-26.5
    radius = parse_tyre_designation("650/60-26.5").diameter_m / 2
    found = float(contact.ngp_wheel_kpa(7.24 * G / 2, 0.65, radius))
    assert answer("wheeled axle with chains").strip() == f"{found:.0f} kPa"


def test_ruts_under_band_tracks():
    # published: Gerasimov & Katarov 2010 as summarised: -45 % moist, -32 % wet after ten passes
    said = answer("band tracks, rut after ten passes")
    turnage = np.array([1.0, bare_kpa(REAR_T) / 59, bare_kpa(REAR_T) / bare_kpa(REAR_T - BANDS_T)])
    bare, band, light = rutting.first_pass_maclaurin_m(2 * turnage, DIAMETER)
    assert f"{percent(band / bare - 1)} at equal mass" in said
    assert f"{percent(band / light - 1)} against wheels without the bands" in said
    moist, wet = 0.22 / 0.40 - 1, 0.48 / 0.71 - 1
    assert (moist, wet) == (pytest.approx(-0.45, abs=0.005), pytest.approx(-0.32, abs=0.005))
    assert band / bare - 1 == pytest.approx(moist, abs=0.02)


def test_ruts_of_bare_wheels_in_the_same_trial():
    # published: 0.40 m moist and 0.71 m wet; 45 kN a wheel, four wheels a side, ten passes
    said = answer("the same trial without bands")
    for cone in (250.0, 300.0):
        ratio = contact.deflection_ratio(45.0, 400.0, HEIGHT)
        number = traction_checks.turnage_number(cone, WIDTH, DIAMETER, 45.0, ratio)
        other = rutting.willoughby_turnage_number(cone, WIDTH, DIAMETER, 45.0, ratio, 0.25)
        band = rutting.rut_band_m(
            rutting.first_pass_maclaurin_m(number, DIAMETER),
            rutting.first_pass_willoughby_turnage_m(other, DIAMETER),
            40,
            3,
            cone,
        )
        low, high = float(band.low), float(band.high)
        assert f"{low:.1f} to {high:.1f} m at {cone:.0f} kPa" in said


def slip(added_share: float = 0.0, factor: float = 1.0) -> float:
    load = 50.0 * (1 + added_share)
    ratio = contact.deflection_ratio(load, 400.0, HEIGHT)
    number = traction.brixius_number(1000.0, WIDTH, 1.312, load, ratio)

    def reserve(slip_tried, _rows):
        return np.atleast_1d(
            traction.net_traction_ratio(number, slip_tried, grip_factor=factor) - 0.20
        )

    return traction.slip_needed(reserve, 1, 0.25)


def test_slip_with_and_without_chains():
    # published: University of Ljubljana, trials of 2010: slip about 5 points lower with chains,
    # against reduced inflation. 1.6 t of chains on 34 t
    said = answer("chains on a skidder")
    added = 1.6 / 34
    assert f"{percent(slip(), 1)} bare" in said
    assert f"{percent(slip(added), 1)} chained as computed on bare soil" in said
    assert f"{percent(slip(added, 1.05), 1)} with factor 1.05" in said
    assert f"{percent(slip(added, 1.15), 1)} with 1.15" in said
    assert f"{percent(slip(added), 1)} in the case above" in answer("chains on good bare soil")
    # the model gives less than the trial, with every factor that may be tried
    assert slip() - slip(added, 1.15) < 0.05


def test_vehicle_cone_index_of_chains_and_bands():
    from terrain.mechanics import cone_index

    changes = [
        float(cone_index.vci1_wheels_kpa(forwarder(t, True))) / c - 1
        for t in (20, 34)
        for c in [float(cone_index.vci1_wheels_kpa(forwarder(t)))]
    ]
    low, high = (f"{100 * change:.0f}" for change in changes)
    assert f"{low} to {high} %" in answer("chains and the vehicle cone index")
    power_kw = 250 * 0.7457
    tracks = cone_index.mobility_index_tracks(
        38e3, 0.887, 4 * 0.887 * 1.73, 0.887 * 0.15, 8, 0.65, power_kw, tall_grousers=False
    )
    halved = float(cone_index.vci1_tracks_kpa(tracks) / cone_index.vci1_wheels_kpa(forwarder(34)))
    assert f"about {round(100 * (halved - 1), -1):.0f} %" in answer(
        "band tracks and the vehicle cone index"
    )


def test_skidder_limits():
    # published: Đuka et al. 2018 (abstract)
    found = [limits_percent(load_t) for load_t in PUBLISHED]
    climbs = ", ".join(f"{up:.0f}" for _, up in found)
    assert f"{climbs} % on 1000 kPa" in answer("cable skidder, climbing limit")
    assert f"{-found[0][0]:.0f} to {-found[-1][0]:.0f} %" in answer("same, descent")


def test_slip_limit_is_the_default():
    # published: Hittenbeck 2013 (abstract)
    limit = DecisionSettings().slip_limit
    assert f"{percent(limit)} is the default limit" in answer("slip limit for forwarders")


def test_rut_range_of_the_effects_table_is_that_of_the_trial():
    rows = data_table("effects")["effect"]
    row = next(r for r in rows if r["quantity"].startswith("rut depth"))
    assert f"range of {row['low']} to {row['high']}" in PAGE.read_text(encoding="utf-8")
