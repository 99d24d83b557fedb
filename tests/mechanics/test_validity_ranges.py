"""Ends of the ranges in which relations hold: a value on the end is inside, one beyond is told.

The ends are data; what is tested is the flag that they make, by :func:`outside_validity` and over a
whole axle group. Standing: Brixius number and Wismer-Luth number from memory, all others planning
assumptions.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.mechanics import contact
from terrain.mechanics.mounted import mounted
from terrain.mechanics.relations import outside_validity, relations
from terrain.models.aids import BARE
from tests.builders import TYRE, bogie

TRACTION = (
    "brixius_gross",
    "brixius_gross_radial",
    "brixius_resistance",
    "brixius_resistance_radial",
    "brixius_net",
)
ENDS = {
    ("brixius_number", "width_over_diameter"): (0.1, 0.7),
    ("brixius_number", "deflection_ratio"): (0.1, 0.3),  # recalled, less surely, as 0.4 as well
    ("brixius_number", "load_over_size_kpa"): (15.0, 55.0),
    **{(name, "slip"): (0.0, 0.3) for name in TRACTION},
    **{(name, "bn"): (6.0, 80.0) for name in (*TRACTION, "brixius_towed", "brixius_towed_radial")},
    ("wismer_luth_number", "width_over_diameter"): (0.25, 0.35),
    ("wismer_luth_number", "deflection_ratio"): (0.15, 0.25),
    ("specific_fuel", "load_fraction"): (0.2, 1.0),
    ("rut_maclaurin", "cone_index_kpa"): (-np.inf, 1500.0),
    ("rut_willoughby_turnage", "cone_index_kpa"): (-np.inf, 1500.0),
    ("rut_band", "cone_index_kpa"): (-np.inf, 1500.0),
    ("rut_multi_pass", "passes"): (1.0, np.inf),
}


def test_these_are_all_ranges_that_there_are():
    assert set(ENDS) == {(row.id, name) for row in relations().values() for name in row.valid}


@pytest.mark.parametrize(("name", "quantity"), ENDS)
def test_flag_beside_both_ends(name, quantity):
    low, high = ENDS[name, quantity]
    for end, outward in ((low, -1), (high, 1)):
        if np.isfinite(end):
            values = np.array([end - outward * 1e-6, end, end + outward * 1e-6])
            flags = outside_validity(name, **{quantity: values})
            assert flags.tolist() == [False, False, True], end
        else:
            assert not outside_validity(name, **{quantity: outward * 1e9})


def test_statuses_of_the_ranges():
    # the two ranges that were recalled say so, the others are our own planning assumptions
    said = {name: relations()[name].valid_status for name, _ in ENDS}
    recalled = {name for name, status in said.items() if status == "from memory"}
    assert recalled == {"brixius_number", "wismer_luth_number"}
    assert set(said.values()) == {"from memory", "planning assumption"}


@pytest.mark.parametrize(
    ("changes", "group_load_kn", "outside"),
    [
        # own arithmetic, four wheels. Load over size: 55 kPa x 0.71 m x 1.3124 m = 51.249 kN
        ({}, 4 * 51.24, False),
        ({}, 4 * 51.26, True),
        # 15 kPa: 13.976 kN, on a section so low that the deflection ratio stays within its range
        ({"section_height_m": 0.10}, 4 * 13.98, False),
        ({"section_height_m": 0.10}, 4 * 13.97, True),
        # deflection 0.0008 + 0.001 x (0.365 + 170 / 400) x 40 = 0.0324 m: over h its ratio is 0.1
        # with h 0.324 m and 0.3 with h 0.108 m
        ({"section_height_m": 0.3239}, 4 * 40.0, False),
        ({"section_height_m": 0.3241}, 4 * 40.0, True),
        ({"section_height_m": 0.1081}, 4 * 40.0, False),
        ({"section_height_m": 0.1079}, 4 * 40.0, True),
        # width over diameter 0.7 at 0.91868 m: 40 kN are 33 kPa there
        ({"width_m": 0.9186}, 4 * 40.0, False),
        ({"width_m": 0.9188}, 4 * 40.0, True),
    ],
)
def test_an_axle_group_tells_when_it_leaves_the_range(changes, group_load_kn, outside):
    tyre = replace(TYRE, **{"inflation_kpa": 400, **changes})
    assert bool(mounted(bogie("rear", tyre=tyre), BARE).outside_brixius(group_load_kn)) is outside


def test_deflection_of_those_cases():
    # own arithmetic with Saarilahti 2002, equation 2.22, as quoted by others
    assert contact.static_deflection_m(40.0, 400.0) == pytest.approx(0.0324, rel=1e-9)
