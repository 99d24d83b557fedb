"""Own readings against the class figure. The rule is this project's own: arithmetic by hand."""

import numpy as np
import pytest

from terrain.mechanics.readings import (
    Summary,
    bearing_from_cone_index_kpa,
    carried_over,
    class_from_shear,
    shrunk,
    summarise,
)
from terrain.mechanics.soil_strength import soil_classes

PRIOR = (300.0, 400.0, 500.0)
NOTHING = Summary(0, np.nan, np.nan)


def test_without_readings_the_prior_stands():
    assert shrunk(PRIOR, NOTHING) == PRIOR


def test_with_very_many_places_the_readings_stand():
    low, likely, high = shrunk(PRIOR, Summary(10**9, 620.0, 50.0))
    assert (low, likely, high) == pytest.approx((570, 620, 670), rel=1e-6)


def test_three_places_weigh_as_much_as_the_class():
    assert shrunk(PRIOR, Summary(3, 200.0, 40.0)) == pytest.approx((230, 300, 370))


def test_one_place_borrows_the_spread_of_the_class():
    # weight 1/4: median 200 with the prior's -100 and +100
    assert shrunk(PRIOR, summarise([200.0])) == pytest.approx((250, 350, 450))


def test_an_unknown_class_needs_three_places():
    unknown = (np.nan, np.nan, np.nan)
    assert np.isnan(shrunk(unknown, summarise([250.0, 260.0]))).all()
    assert shrunk(unknown, summarise([250.0, 260.0, 300.0]))[1] == 260


def test_a_weak_reading_never_goes_below_zero():
    assert min(shrunk((0.0, 100.0, 200.0), Summary(50, 20.0, 90.0))) >= 0


def test_median_spread_and_places():
    # values 1, 2, 3, 4, 100: median 3, absolute deviations 2 1 0 1 97, their median 1
    found = summarise([1.0, 2.0, 3.0, 4.0, 100.0])
    assert (found.n, found.median_kpa) == (5, 3)
    assert found.spread_kpa == pytest.approx(1.4826)
    # five readings at two places count as two: medians 2 and 52
    found = summarise([1.0, 2.0, 3.0, 4.0, 100.0], [0, 0, 0, 1, 1])
    assert (found.n, found.median_kpa) == (2, 27)
    assert np.isnan(found.spread_kpa)
    assert summarise([]).n == 0


def test_readings_of_another_state_help_one_way_only():
    firm, soft = (500.0, 600.0, 700.0), (100.0, 200.0, 300.0)
    assert carried_over(PRIOR, firm, "moist", "moist") == firm
    assert carried_over(PRIOR, firm, "dry", "wet") == PRIOR  # firm when dry says nothing of wet
    assert carried_over(PRIOR, soft, "dry", "wet") == soft  # soft when dry is soft when wet
    assert carried_over(PRIOR, firm, "wet", "dry") == firm
    assert carried_over(PRIOR, soft, "wet", "dry") == PRIOR


@pytest.mark.parametrize(
    ("shear_kpa", "number"), [(75, 1), (60.1, 1), (60, 2), (20, 2), (19.9, 3), (2, 3)]
)
def test_class_from_shear(shear_kpa, number):
    # published: Owende et al. 2002, quick reference card: shear above 60, 20-60, below 20 kPa
    assert class_from_shear(shear_kpa) == number


def test_bearing_of_a_class_is_that_of_its_cone_index():
    # published pairs: Owende et al. 2002, quick reference card: 300 kPa with 60, 500 with 80
    assert bearing_from_cone_index_kpa([300, 500]).tolist() == [60, 80]
    for row in soil_classes().values():
        assert bearing_from_cone_index_kpa(row.cone_index_kpa).tolist() == list(row.bearing_kpa)
    assert np.isnan(bearing_from_cone_index_kpa(np.nan))
    assert (np.diff(bearing_from_cone_index_kpa(np.linspace(0, 3000, 301))) > 0).all()
