"""The table of effects: generic figures, and the user's in their place."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.aid_effects import effects_of_aids, effects_table
from terrain.decision.carried import carried
from terrain.mechanics.effects import TOLD, effects, effects_of, quantities
from terrain.models.aids import SUPPLIERS_FIGURE, Aid, AidEffect
from tests.builders import AIDS, CHAINS, OPEN_BAND, forwarder
from tests.decision.test_evaluation import BARE_SETUP, both


def rows(*aids):
    table = effects_of_aids(aids)
    assert tuple(table.columns) == columns_of("effects_used")
    return table.set_index(["aid_key", "effect"])


def test_every_effect_names_a_known_quantity_once_per_aid():
    assert {effect.quantity for effect in effects()} <= set(quantities())
    pairs = [(effect.aid, effect.quantity) for effect in effects()]
    assert len(pairs) == len(set(pairs))
    for quantity in quantities().values():
        assert not (quantity.field and quantity.entered_as)
        assert hasattr(CHAINS, quantity.field or quantity.entered_as or "key")
        assert (quantity.low is None) == (quantity.high is None)


def test_bare_and_repeated_aids_make_no_rows_of_their_own():
    assert len(effects_of_aids([None, None])) == 0
    assert len(effects_of_aids([CHAINS, None, CHAINS])) == len(effects_of_aids([CHAINS]))
    assert len(effects_of_aids(AIDS)) >= sum(len(effects_of(aid.kind)) for aid in AIDS)


def test_every_row_has_a_standing_and_says_what_it_is_used_for():
    table = effects_of_aids(AIDS)
    assert (table["status"] != "").all()
    assert (table["used_for"] != "").all()
    told = set(table.loc[table["used_for"] == TOLD, "effect"])
    assert {"road damage", "root damage", "wheel slip", "speed cap"} <= told
    assert not {"mass", "contact area", "grip through a film"} & told


def test_the_figure_of_the_catalogue_comes_before_the_generic_one():
    known = replace(OPEN_BAND, status=MappingProxyType({"mass_kg": SUPPLIERS_FIGURE}))
    row = rows(replace(known, source="sheet 4")).loc[("open-band", "mass")]
    assert row["value"] == 2200.0
    assert (row["status"], row["source"]) == (SUPPLIERS_FIGURE, "sheet 4")


def test_the_generic_rut_factor_is_told_and_the_users_is_used():
    # published: Gerasimov & Katarov 2010 as summarised, the range of the generic row
    name = ("open-band", "rut depth after ten passes")
    generic = rows(OPEN_BAND).loc[name]
    assert (generic["low"], generic["high"]) == (0.55, 0.68)
    assert generic["used_for"] == TOLD
    own = AidEffect("rut depth after ten passes", "own trial", likely=0.7, low=0.6, high=0.8)
    row = rows(replace(OPEN_BAND, rut_factor=0.7, effects=(own,))).loc[name]
    assert (row["value"], row["low"], row["high"]) == (0.7, 0.6, 0.8)
    assert (row["status"], row["source"]) == (SUPPLIERS_FIGURE, "own trial")
    assert row["used_for"] == quantities()["rut depth after ten passes"].used_for != TOLD


def test_a_users_effect_that_no_generic_row_has_is_listed_too():
    own = AidEffect("wheel slip", "own trial", likely=-0.02)
    row = rows(replace(OPEN_BAND, effects=(own,))).loc[("open-band", "wheel slip")]
    assert row["value"] == -0.02
    assert row["used_for"] == TOLD
    assert np.isnan(row["low"])


def test_words_alone_are_told():
    own = AidEffect("road damage", "sheet", note="keep off tar")
    row = rows(replace(CHAINS, effects=(own,))).loc[("chains", "road damage")]
    assert np.isnan(row["value"])
    assert (row["used_for"], row["note"]) == (TOLD, "keep off tar")


@pytest.mark.parametrize(("bites", "word"), [(True, "yes"), (False, "no")])
def test_yes_and_no(bites, word):
    aid: Aid = replace(CHAINS, grip_through_film=bites)
    assert rows(aid).loc[("chains", "grip through a film"), "direction"] == word


def test_the_aids_of_the_setups_are_listed_once():
    items = [carried(s, forwarder()) for s in (BARE_SETUP, both(CHAINS), both(OPEN_BAND))]
    table = effects_table(items)
    assert list(dict.fromkeys(table["aid_key"])) == ["chains", "open-band"]
    assert len(table) == len(effects_of_aids([CHAINS, OPEN_BAND]))
