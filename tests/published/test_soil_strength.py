"""Soil strength: the published class card, and strength from moisture."""

import numpy as np
import pytest

from terrain.mechanics import soil_moisture
from terrain.mechanics.soil_strength import bearing_kpa, cone_index_kpa, soil_classes
from terrain.sources import STATUSES
from terrain.units import PSI_KPA


def published(figures, statuses):
    return [
        figure if status == "published" else None
        for figure, status in zip(figures, statuses, strict=True)
    ]


def test_class_card():
    # published: Owende et al. 2002, quick reference card: cone index above 500, 300-500, below
    # 300, far below 300; bearing above 80, 60-80, 40-60, below 40 kPa; class 4 carries no machine
    classes = soil_classes()
    cone = {n: published(c.cone_index_kpa, c.statuses[:3]) for n, c in classes.items()}
    bearing = {n: published(c.bearing_kpa, c.statuses[3:]) for n, c in classes.items()}
    assert cone == {
        1: [500.0, None, None],
        2: [300.0, None, 500.0],
        3: [None, None, 300.0],
        4: [None, None, None],
    }
    assert bearing == {
        1: [80.0, None, None],
        2: [60.0, None, 80.0],
        3: [40.0, None, 60.0],
        4: [None, None, 40.0],
    }
    assert [c.traffic for c in classes.values()] == [True, True, True, False]


def test_open_ends_follow_their_stated_rules():
    # planning assumptions: the card's own ratios carried outward, midpoints as likely values
    assert cone_index_kpa(3, "low") / bearing_kpa(3, "low") == 300 / 60
    assert bearing_kpa(1, "high") == pytest.approx(1500 * 80 / 500)
    for number, row in soil_classes().items():
        assert set(row.statuses) <= set(STATUSES)
        for figures in (row.cone_index_kpa, row.bearing_kpa):
            low, likely, high = figures
            assert low < likely < high
            assert likely == (low + high) / 2, number


def test_slope_words_of_the_card():
    # published: the card's terrain classes, 8 and 14 degrees are 14 and 25 %
    np.testing.assert_allclose(100 * np.tan(np.radians([8, 14])), [14, 25], atol=0.5)


@pytest.mark.parametrize(
    ("soil_type", "moisture", "rating_kpa"),
    [
        ("SM", [20, 25, 30], [276, 143, 83]),
        ("ML", [20, 25, 30], [777, 454, 293]),
        ("CL", [20, 25, 30], [955, 434, 228]),
        ("CL", [40], [83]),
    ],
)
def test_rating_cone_index_from_moisture(soil_type, moisture, rating_kpa):
    # own arithmetic with the printed coefficients of Frankenstein & Koenig 2004, table 5.2.1
    # (form and unit from memory)
    found = soil_moisture.rating_cone_index_from_moisture_kpa(soil_type, moisture)
    np.testing.assert_allclose(found, rating_kpa, atol=0.5)


def test_clay_uses_the_corrected_coefficient():
    # trap: the page prints 5.583, which gives 0.001 psi at 40 %; 2.583 is from memory
    psi = soil_moisture.cone_index_from_moisture_kpa("CH", 40.0) / PSI_KPA
    assert psi == pytest.approx(73, abs=0.5)
    misprinted = np.exp(13.816 - 5.583 * np.log(40.0))
    assert misprinted < 0.002


@pytest.mark.parametrize("soil_type", soil_moisture.soil_types())
def test_remoulding_never_strengthens(soil_type):
    # trap: at low moisture the printed pairs cross for several soils
    moisture = np.linspace(2, 80, 200)
    rating = soil_moisture.rating_cone_index_from_moisture_kpa(soil_type, moisture)
    cone = soil_moisture.cone_index_from_moisture_kpa(soil_type, moisture)
    assert (rating <= cone).all()


def test_unknown_soil_type_is_refused_with_the_known_ones():
    with pytest.raises(KeyError, match="known: CH, CL"):
        soil_moisture.cone_index_from_moisture_kpa("SW", 10.0)
