"""Pressures by several routes: each row against the relation worked out here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.footprints import ROUTES, footprints_table
from terrain.mechanics import contact, peak_pressure
from terrain.sources import STATUSES
from tests.builders import CHAINS, CLOSED_BAND, DUALS, TYRE, bogie, forwarder, skidder
from tests.decision.test_evaluation import BARE_SETUP, both


def table(*setups, machine=None):
    made = footprints_table([carried(s, machine or forwarder()) for s in setups])
    assert tuple(made.columns) == columns_of("footprints")
    assert set(made["status"]) <= set(STATUSES)
    return made.set_index(["setup", "state", "group", "route"]).sort_index()


REAR_KN = (34000 - 11000 - 14000 * 0.3 / 5.5) * 9.81 / 1000


def test_bare_wheels_by_four_routes():
    made = table(BARE_SETUP).loc["bare", "loaded"]
    rear = made.loc["rear bogie"]
    wheel = REAR_KN / 4
    assert rear.loc[ROUTES["nominal"], "mean_kpa"] == pytest.approx(
        wheel / (0.71 * 1.3124 / 2), rel=1e-9
    )
    # published equations of Keller 2005 written out anew; 400 kPa against 450 charted
    from scipy.integrate import quad

    length = 0.47 + 0.11 * 1.3124**2 - 0.16 * np.log(400 / 450)
    n = 2.1 * (0.71 * 1.3124) ** 2 + 2
    half, _ = quad(lambda x: 0.355 * (1 - (2 * x / length) ** n) ** (1 / n), 0, length / 2)
    keller = rear.loc[ROUTES["keller"]]
    assert keller["area_m2"] == pytest.approx(4 * 4 * half, rel=1e-6)
    assert keller["mean_kpa"] == pytest.approx(wheel / (4 * half), rel=1e-6)
    peak = 34.4 + 1.13 * 400 + 0.72 * wheel - 33.4 * np.log(400 / 450)
    assert keller["peak_kpa"] == pytest.approx(peak, rel=1e-9)
    assert "farm tyres" in keller["holds_for"]
    # hard ground presses on less ground than the nominal area
    assert rear.loc[ROUTES["deflection"], "mean_kpa"] > 2 * rear.loc[ROUTES["nominal"], "mean_kpa"]
    assert np.isfinite(made.loc[("whole machine", ROUTES["peaks"]), "peak_kpa"])


def test_chains_keep_the_footprint_and_add_their_mass():
    made = table(BARE_SETUP, both(CHAINS))
    place = ("loaded", "rear bogie", ROUTES["keller"])
    bare, chained = made.loc[("bare", *place)], made.loc[("chains both", *place)]
    assert chained["area_m2"] == bare["area_m2"]
    ratio = (REAR_KN + 0.8 * 9.81) / REAR_KN
    assert chained["mean_kpa"] / bare["mean_kpa"] == pytest.approx(ratio, rel=1e-9)
    # the chart's pressure is that of the full load, so the empty footprint is not known
    empty = made.loc[("bare", "empty", "rear bogie", ROUTES["keller"])]
    assert np.isnan(empty["mean_kpa"])
    assert empty["holds_for"].startswith("loaded only")


def test_the_mean_of_the_peaks_is_that_of_the_heavier_axle():
    # Rowland's form from memory, the loaded rear wheel eight times
    made = table(BARE_SETUP).loc["bare", "loaded", "whole machine", ROUTES["peaks"]]
    wheel = REAR_KN / 4
    ratio = contact.deflection_ratio(wheel, 400.0, TYRE.section_height_m)
    wanted = peak_pressure.mean_maximum_pressure_wheel_kpa(
        8 * wheel, 4, 4, TYRE.width_m, TYRE.diameter_m, ratio
    )
    assert made["peak_kpa"] == pytest.approx(float(wanted), rel=1e-9)
    even = contact.deflection_ratio(34 * 9.81 / 8, 400.0, TYRE.section_height_m)
    spread = peak_pressure.mean_maximum_pressure_wheel_kpa(
        34 * 9.81, 4, 4, TYRE.width_m, TYRE.diameter_m, even
    )
    assert made["peak_kpa"] > 1.1 * spread


def test_each_group_has_the_peaks_of_its_own_inflation():
    # the lighter rear presses harder on its hard tyres: 9 t at 450 kPa against 11 t at 200 kPa
    hard, soft = (replace(TYRE, inflation_kpa=kpa) for kpa in (450.0, 200.0))
    machine = forwarder(groups=(bogie("front", tyre=soft), bogie("rear", tyre=hard)))
    made = table(BARE_SETUP, machine=machine).loc["bare", "empty", "whole machine", ROUTES["peaks"]]
    wanted = []
    for kilograms, kpa in ((11000, 200.0), (9000, 450.0)):
        wheel = kilograms * 9.81 / 4000
        ratio = contact.deflection_ratio(wheel, kpa, TYRE.section_height_m)
        wanted.append(
            float(
                peak_pressure.mean_maximum_pressure_wheel_kpa(
                    8 * wheel, 4, 4, TYRE.width_m, TYRE.diameter_m, ratio
                )
            )
        )
    assert wanted[1] > wanted[0]
    assert made["peak_kpa"] == pytest.approx(wanted[1], rel=1e-9)


def test_band_tracks_have_no_tyre_footprint_but_an_optimistic_end():
    made = table(both(CLOSED_BAND)).loc["closed-band both", "loaded", "rear bogie"]
    assert set(made.index) == {ROUTES["nominal track"], ROUTES["long"]}
    nominal, long = (made.loc[ROUTES[name], "mean_kpa"] for name in ("nominal track", "long"))
    assert nominal == pytest.approx((REAR_KN + 2.4 * 9.81) / (2 * 0.887 * 1.73), rel=1e-9)
    assert long < nominal
    assert made.loc[ROUTES["long"], "status"] == "from memory"


def test_without_a_charted_pressure_the_footprint_is_unknown_and_says_why():
    plain = replace(TYRE, charted_inflation_kpa=None)
    machine = forwarder(groups=(bogie("front", tyre=plain), bogie("rear", tyre=plain)))
    made = table(BARE_SETUP, machine=machine).loc["bare", "loaded", "rear bogie"]
    row = made.loc[ROUTES["keller"]]
    assert np.isnan(row["mean_kpa"])
    assert np.isnan(row["peak_kpa"])
    assert "charted pressure" in row["holds_for"]


def test_duals_share_the_load_of_the_wheel():
    made = table(both(DUALS), machine=skidder())
    row = made.loc["duals both", "loaded", "front single axle", ROUTES["keller"]]
    assert "half" in row["holds_for"]
    place = ("loaded", "front single axle", ROUTES["keller"])
    bare = table(BARE_SETUP, machine=skidder()).loc[("bare", *place)]
    # half the tyres' load each, and the 900 kg of the aid on the front
    kilograms = bare["mean_kpa"] * bare["area_m2"] / 9.81 * 1000
    ratio = (kilograms + 900) / kilograms / 2
    assert row["mean_kpa"] / bare["mean_kpa"] == pytest.approx(ratio, rel=1e-9)


def test_a_soft_tyre_lowers_no_peak_under_a_band():
    place = ("closed-band both", "loaded", "whole machine", ROUTES["peaks"])
    peaks = []
    for inflation in (450, 300):
        tyre = replace(TYRE, inflation_kpa=inflation)
        machine = forwarder(groups=(bogie("front", tyre=tyre), bogie("rear", tyre=tyre)))
        peaks.append(table(both(CLOSED_BAND), machine=machine).loc[place, "peak_kpa"])
    assert peaks[0] == peaks[1]
