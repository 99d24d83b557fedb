"""Generic figures of what aids change, as they were read or assumed."""

from __future__ import annotations

import pytest

from terrain.mechanics.effects import effects, effects_of

# low, likely, high, standing
FIGURES = {
    # planning assumption around the direction told by Vechinski et al. 2000 (abstract)
    ("chains", "grip on soil"): (1.0, 1.05, 1.15, "planning assumption"),
    ("wheel track", "grip on soil"): (1.0, 1.05, 1.15, "planning assumption"),
    # published: University of Ljubljana, skidder trials of 2010 (abstract): about five points less
    ("chains", "wheel slip"): (None, -0.05, None, "published"),
    # published: Labelle & Jaeger 2019 (abstract): about 30 percent lower, one machine, one layer
    ("band track", "peak dynamic load"): (None, 0.70, None, "published"),
    # published: Gerasimov & Katarov 2010 as summarised: 0.22 / 0.40 and 0.48 / 0.71
    ("band track", "rut depth after ten passes"): (0.55, None, 0.68, "published"),
    # published: Labelle & Jaeger 2012 (machine description): 1,100 kg for one track
    ("band track", "mass"): (None, 1100.0, None, "published"),
    # common practice, no source
    ("band track", "speed cap"): (None, 12.0, None, "common practice, no source"),
    # planning assumption, own arithmetic: two equal tyres have twice the contact of one
    ("dual tyres", "contact area"): (None, 2.0, None, "planning assumption"),
}


@pytest.mark.parametrize(("aid", "quantity"), FIGURES)
def test_figure_and_standing(aid, quantity):
    (row,) = (effect for effect in effects_of(aid) if effect.quantity == quantity)
    assert (row.low, row.likely, row.high, row.status) == FIGURES[aid, quantity]


def test_no_other_effect_has_a_figure():
    # a figure that is new needs its source and its line above
    with_figures = {
        (effect.aid, effect.quantity)
        for effect in effects()
        if (effect.low, effect.likely, effect.high) != (None, None, None)
    }
    assert with_figures == set(FIGURES)
