"""Strength from moisture: every soil type of the printed table, cone index and rating cone index.

Coefficients as printed in Frankenstein & Koenig 2004, table 5.2.1, after Sullivan et al. 1997 (for
CH the 2.583 of memory); the form ``exp(a - b ln w)`` and the unit psi are from memory. Values in
psi, own arithmetic, four digits: half a unit of the last one.
"""

from __future__ import annotations

import pytest

from terrain.mechanics.soil_moisture import (
    cone_index_from_moisture_kpa,
    rating_cone_index_from_moisture_kpa,
    soil_types,
)
from terrain.units import PSI_KPA

# soil type: cone index at 30 %, moisture at which the rating is the smaller one, that rating
PRINTED = {
    "SM": (108.3, 30, 12.08),
    "SC": (84.94, 30, 12.08),
    "SM-SC": (84.94, 30, 12.08),
    "ML": (134.6, 30, 42.49),
    "CL": (111.3, 30, 33.11),
    "CL-ML": (114.8, 30, 35.39),
    "OL": (150.1, 60, 15.25),
    "OH": (286.7, 30, 266.1),
    "MH": (214.6, 60, 10.88),
    "CH": (153.0, 30, 88.74),
}


def test_the_table_has_these_soil_types_and_no_other():
    assert set(soil_types()) == set(PRINTED)


@pytest.mark.parametrize("soil_type", PRINTED)
def test_strength_of_every_soil_type(soil_type):
    cone, moisture, rating = PRINTED[soil_type]
    found = cone_index_from_moisture_kpa(soil_type, 30.0) / PSI_KPA
    assert found == pytest.approx(cone, rel=6e-4)
    found = rating_cone_index_from_moisture_kpa(soil_type, moisture) / PSI_KPA
    assert found == pytest.approx(rating, rel=6e-4)
