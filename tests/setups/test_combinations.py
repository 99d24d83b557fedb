"""Enumeration: complete, ordered, with readable ids."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.models.aids import BARE, Mount, Setup
from terrain.setups.combinations import describe, enumerate_setups, options_for
from terrain.setups.rulebook import NO_RULE_COVERS_IT, Standing, judge, judge_all
from tests.setups._machines import AIDS, CHAINS, EIGHT, FOUR, OPEN_BAND, SIX_BOGIE_REAR


def test_options_hold_bare_first_and_every_aid():
    options = options_for(FOUR.front, AIDS)
    assert options[0] is BARE
    assert {mount.aid.key for mount in options[1:]} == {aid.key for aid in AIDS}


def test_ids():
    ids = [setup.id for setup in enumerate_setups(EIGHT, (OPEN_BAND, CHAINS))]
    assert ids == [
        "bare",
        "bare + chains",
        "bare + band-open",
        "chains + bare",
        "chains + chains",
        "chains + band-open",
        "band-open + bare",
        "band-open + chains",
        "band-open + band-open",
    ]


def test_words():
    setup = Setup("x", (Mount.both_sides(CHAINS), Mount.both_sides(OPEN_BAND)))
    assert describe(setup, SIX_BOGIE_REAR) == (
        "ring chains on the front single axle; open band tracks on the rear bogie"
    )
    assert describe(Setup("bare", (BARE, BARE)), FOUR) == "no traction aid on any wheel"
    alike = Setup("x", (Mount.both_sides(CHAINS), Mount.both_sides(CHAINS)))
    assert describe(alike, EIGHT) == "ring chains on both bogies"
    lopsided = Setup("x", (Mount((CHAINS,), ()), BARE))
    assert "ring chains left and nothing right on the front single axle" in describe(lopsided, FOUR)


def test_no_catalogue_leaves_bare_alone():
    assert [(s.id, j.standing) for s, j in judge_all(FOUR, ())] == [("bare", Standing.USUAL)]


@pytest.mark.parametrize("key", ["bare", "", "a + b"])
def test_keys_that_would_blur_ids_are_refused(key):
    with pytest.raises(ValueError, match="key"):
        enumerate_setups(FOUR, (replace(CHAINS, key=key),))


def test_repeated_keys_are_refused():
    with pytest.raises(ValueError, match="chains"):
        enumerate_setups(FOUR, (CHAINS, replace(CHAINS, mass_kg=1.0)))


def test_a_setup_that_no_rule_names_is_asked_about():
    mixed = Setup("x", (Mount.both_sides(CHAINS), Mount.both_sides(OPEN_BAND)))
    judgement = judge(mixed, EIGHT)
    assert judgement.standing is Standing.ASK
    assert judgement.codes == (NO_RULE_COVERS_IT.code,)


def test_worst_verdict_comes_first_and_decides():
    mixed = Setup("x", (Mount.both_sides(OPEN_BAND), Mount.both_sides(CHAINS)))
    judgement = judge(mixed, FOUR)
    assert judgement.standing is Standing.EXCLUDED
    weights = [verdict.counts_as for verdict in judgement.verdicts]
    assert weights == sorted(weights, reverse=True)
    assert len(judgement.verdicts) > len(judgement.deciding)
    assert judgement.codes == ("MNT01",)
