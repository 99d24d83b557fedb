import numpy as np
import pytest

from terrain.mechanics.films import film_limited_gross_ratio, films
from terrain.models.soil import SURFACE_FILMS
from terrain.sources import STATUSES, source


def test_only_snow_and_ice_have_a_published_cap():
    # published: vehicle traction experiments on snow and ice, 1993-94 (abstract): truck 0.15 on
    # packed snow, 0.04 on ice
    assert tuple(films()) == SURFACE_FILMS
    caps = {name: film.grip_cap for name, film in films().items() if film.grip_cap is not None}
    assert caps == {"packed snow": 0.15, "ice": 0.04}
    for film in films().values():
        if film.grip_cap is not None:
            assert film.status in STATUSES
            assert source(film.source)


def test_film_caps_plain_tyres_and_spares_what_bites_through():
    gross = np.array([0.10, 0.60, np.nan])
    np.testing.assert_array_equal(film_limited_gross_ratio(gross, 0.15), [0.10, 0.15, np.nan])
    np.testing.assert_array_equal(film_limited_gross_ratio(gross, 0.15, True), gross)
    both = film_limited_gross_ratio(0.6, 0.15, [False, True])
    assert both.tolist() == [0.15, 0.6]


@pytest.mark.parametrize("cap", [None, np.nan])
def test_unknown_cap_caps_nothing(cap):
    assert film_limited_gross_ratio(0.6, cap) == pytest.approx(0.6)
