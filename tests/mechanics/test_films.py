import numpy as np
import pytest

from terrain.mechanics.films import (
    bite_words,
    credited_grip_factor,
    film_limited_gross_ratio,
    films,
    gear_grip_cap,
)
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
def test_under_an_unknown_cap_only_what_bites_is_known(cap):
    found = film_limited_gross_ratio([0.6, 0.6], cap, [False, True])
    np.testing.assert_array_equal(found, [np.nan, 0.6])


def test_gear_bites_into_snow_and_ice_and_through_what_is_thin():
    # common practice, no source: grousers and chains reach through litter and clay; through packed
    # snow and ice they do not reach the soil, whose grip is therefore not theirs
    through = {name for name, film in films().items() if film.bites_through}
    assert set(SURFACE_FILMS) - through == {"packed snow", "ice"}
    for name in through:
        assert gear_grip_cap(name, None) == np.inf
    for name in ("packed snow", "ice"):
        assert np.isnan(gear_grip_cap(name, None))  # no figure was read: never the soil's grip
        assert gear_grip_cap(name, 0.25) == 0.25
    assert bite_words(False, np.nan) == "it caps plain tyres."
    assert bite_words(True, np.inf) == "the aid bites through it."
    assert bite_words(True, 0.25) == "the aid bites into it, not through it to the soil."
    assert "not known" in bite_words(True, np.nan)


def test_the_cap_of_gear_counts_for_gear_alone():
    gross, bites = [0.6, 0.6, 0.1], [False, True, True]
    found = film_limited_gross_ratio(gross, 0.04, bites, 0.25)
    assert found.tolist() == [0.04, 0.25, 0.1]
    np.testing.assert_array_equal(
        film_limited_gross_ratio(gross, 0.04, bites, np.nan), [0.04, np.nan, np.nan]
    )


def test_without_a_film_nothing_is_capped():
    assert film_limited_gross_ratio(0.6, np.inf) == 0.6


def test_only_litter_or_sod_credits_a_grip_factor():
    # published: Vechinski et al. 2000 (abstract): chains brought little on good bare soil and
    # helped on firm clay under sod or pine straw
    credited = [film for film in films().values() if film.credits_grip_factor]
    assert [film.name for film in credited] == ["litter or sod over firm ground"]
    assert credited[0].credit_source == "vechinski_2000"
    assert source(credited[0].credit_source)
    assert credited[0].credit_where


def test_a_grip_factor_counts_only_through_such_a_film():
    assert credited_grip_factor(1.05, True, True) == 1.05
    assert credited_grip_factor(1.05, False, True) == 1.0
    assert credited_grip_factor(1.05, True, False) == 1.0
    # a factor that costs grip counts everywhere
    assert credited_grip_factor(0.9, [True, False], [True, False]).tolist() == [0.9, 0.9]
