"""Contact of a bogie with each kind of aid: area, pressure, mobility number, by own arithmetic.

Tyre 0.71 x 1.3124 m, section height 0.3195 m, 400 kPa set and 450 charted, spacing 1.5 m. Nominal
areas are geometry; the number is Brixius 1987 on the deflection of Saarilahti 2002, equation 2.22
(both as quoted by others), times the gain in nominal contact under tracks (planning assumption).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.decision.carried import carried
from terrain.mechanics.mounted import mounted
from terrain.models.aids import BARE, Mount, Setup
from tests.builders import (
    CHAINS,
    CLOSED_BAND,
    DUALS,
    OPEN_BAND,
    WHEEL_TRACK,
    bogie,
    forwarder,
)


def on_bogie(aid):
    return mounted(bogie("rear"), BARE if aid is None else Mount.both_sides(aid))


@pytest.mark.parametrize(
    ("aid", "area_m2", "pressure_kpa", "number", "length_m"),
    [
        # four wheels of 0.6562 x 0.71 m; chains leave them as they are
        (None, 1.863608, 107.319, 9.2686, 0.6562),
        (CHAINS, 1.863608, 107.319, 9.2686, 0.6562),
        # two bands of 0.887 x 1.73 m, and of 0.80 x (1.5 + 0.25) m, on tyres at 450 kPa
        (CLOSED_BAND, 3.06902, 65.167, 14.9179, 1.73),
        (OPEN_BAND, 2.8, 71.429, 13.6102, 1.75),
        # four tracks of 0.75 x (0.6562 + 0.05) m
        (WHEEL_TRACK, 2.1186, 94.402, 10.5368, 0.7062),
        # four more tyres of 0.645 x 0.71 m; each of the eight carries 25 kN
        (DUALS, 3.695408, 54.121, 15.0237, 0.6562),
    ],
)
def test_two_hundred_kilonewtons_on_a_bogie(aid, area_m2, pressure_kpa, number, length_m):
    # cone index 800 kPa; half a unit of the last digit, rounded up
    group = on_bogie(aid)
    assert group.area_m2 == pytest.approx(area_m2, abs=6e-7)
    assert group.bare_area_m2 == pytest.approx(1.863608, abs=6e-7)
    assert group.contact_length_m == pytest.approx(length_m, abs=1e-9)
    assert group.nominal_pressure_kpa(200.0) == pytest.approx(pressure_kpa, abs=6e-4)
    assert group.mobility_number(800.0, 200.0) == pytest.approx(number, abs=6e-5)


def test_outer_dual_tyres_count_with_their_own_size():
    # own arithmetic: 1.10 m tall and 0.50 m wide: 4 x 0.55 x 0.50 = 1.1 m2 more
    small = replace(DUALS, width_m=0.50, outer_diameter_m=1.10)
    assert on_bogie(small).area_m2 == pytest.approx(1.863608 + 1.1, abs=6e-7)
    # without figures of its own it is taken as the inner tyre: twice the area
    unknown = replace(DUALS, width_m=None, outer_diameter_m=None)
    assert on_bogie(unknown).area_m2 == pytest.approx(2 * 1.863608, abs=1.2e-6)


def test_only_what_is_mounted_weighs_and_lifts():
    # own arithmetic: 250 kN at the rim of bare tyres stays 250 kN; under 0.05 m of track
    # 250 x 0.6562 / 0.7062 = 232.300 kN
    assert (on_bogie(None).aid_mass_kg, on_bogie(None).thickness_m) == (0.0, 0.0)
    assert (on_bogie(WHEEL_TRACK).aid_mass_kg, on_bogie(WHEEL_TRACK).thickness_m) == (1000.0, 0.05)
    bare = carried(Setup("bare", (BARE, BARE)), forwarder())
    tracked = carried(Setup("tracked", (BARE, Mount.both_sides(WHEEL_TRACK))), forwarder())
    assert bare.effort_cap_kn == pytest.approx(250.0, rel=1e-12)
    assert tracked.effort_cap_kn == pytest.approx(232.300, abs=6e-4)
