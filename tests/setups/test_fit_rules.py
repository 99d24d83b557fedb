"""Fit of aid, tyre and axle from the files. Source: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.models.aids import BARE, Mount, Setup
from terrain.setups.combinations import split_catalogue, tyre_named
from terrain.setups.rulebook import Standing, judge, rule
from tests.setups._machines import CHAINS, DUALS, EIGHT, FOUR, OPEN_BAND, group, machine

ON = Mount.both_sides


def both(aid):
    return Setup("x", (ON(aid), ON(aid)))


@pytest.mark.parametrize(
    ("listed", "tyre", "named"),
    [
        (("710/45-26.5",), "710/45-26.5", True),
        (("710/45R26.5",), " 710/45 r 26.5 ", True),
        (("710/45-26.50",), "710/45-26.5", True),
        (("710/45-26.5",), "710/45-26.5 20PR TL", True),
        (("66x43-25",), "66×43-25", True),
        (("28L-26",), "28l-26", True),
        (("28L-26",), "28-26", False),
        (("30.5L-32", "28L-26"), "28L-26", True),
        (("600/50-22.5",), "710/45-26.5", False),
        (("28L-26",), "28L-20", False),
        (("30.5L-30",), "30.5L-3", False),
        ((), "710/45-26.5", None),
    ],
)
def test_size_comparison(listed, tyre, named):
    assert tyre_named(replace(CHAINS, fits_tyres=listed), tyre) is named


def test_an_aid_that_names_no_tyre_is_never_usual():
    judgement = judge(both(replace(CHAINS, fits_tyres=())), FOUR)
    assert judgement.standing is Standing.ASK
    assert judgement.codes == ("FIT01",)
    assert judgement.cannot_tell[0].code == "FIT01"
    assert judgement.cannot_tell[0].words == "cannot tell"


def test_an_aid_for_another_tyre_is_asked_about():
    judgement = judge(both(replace(CHAINS, fits_tyres=("600/50-22.5",))), FOUR)
    assert judgement.standing is Standing.ASK
    assert "600/50-22.5" in judgement.reasons[0]
    assert "front single axle" in judgement.reasons[0]
    assert "rear single axle" in judgement.reasons[0]


@pytest.mark.parametrize(
    ("rated_kg", "standing"),
    # 10 000 kg unladen front + 800 kg chains
    [(10_800.0, Standing.USUAL), (10_799.0, Standing.EXCLUDED), (None, None)],
)
def test_axle_rating(rated_kg, standing):
    tight = machine(group("front", "single", rated_mass_kg=rated_kg), "single")
    verdict = rule("FIT02").check(both(CHAINS), tight)
    assert verdict.standing is standing
    assert "front single axle" in verdict.reason


def test_rear_axle_is_rated_with_its_own_share():
    # 8 000 kg unladen rear + 2 200 kg band tracks
    tight = machine("bogie", group("rear", "bogie", rated_mass_kg=10_199.0))
    verdict = rule("FIT02").check(both(OPEN_BAND), tight)
    assert verdict.standing is Standing.EXCLUDED
    assert "rear bogie" in verdict.reason
    assert "front" not in verdict.reason


def test_unknown_rating_does_not_touch_bare_but_asks_with_an_aid():
    unrated = machine(
        group("front", "single", rated_mass_kg=None), group("rear", "single", rated_mass_kg=None)
    )
    assert judge(Setup("bare", (BARE, BARE)), unrated).standing is Standing.USUAL
    judgement = judge(both(CHAINS), unrated)
    assert judgement.standing is Standing.ASK
    assert judgement.codes == ("FIT02",)


def test_unknown_aid_mass_is_not_taken_as_none():
    verdict = rule("FIT02").check(both(replace(CHAINS, mass_kg=float("nan"))), FOUR)
    assert verdict.standing is None


@pytest.mark.parametrize(
    ("inner_m", "standing"),
    # tyre 0.71 m, 10 mm on each side asked for
    [
        (0.73, Standing.USUAL),
        (0.80, Standing.USUAL),
        (0.729, Standing.ASK),
        (0.71, Standing.ASK),
        (0.709, Standing.EXCLUDED),
    ],
)
def test_shoe_width(inner_m, standing):
    verdict = rule("FIT03").check(both(replace(OPEN_BAND, shoe_inner_width_m=inner_m)), EIGHT)
    assert verdict.standing is standing


@pytest.mark.parametrize("unknown", [None, float("nan")])
def test_unknown_shoe_width_leaves_the_tyre_size_to_decide(unknown):
    band = replace(OPEN_BAND, shoe_inner_width_m=unknown)
    assert rule("FIT03").check(both(band), EIGHT) is None
    assert judge(both(band), EIGHT).standing is Standing.USUAL
    assert judge(both(replace(band, fits_tyres=())), EIGHT).standing is Standing.ASK


def test_duals_are_not_judged_by_tyre_size():
    assert rule("FIT01").check(both(DUALS), FOUR) is None
    assert rule("FIT01").check(both(replace(DUALS, fits_tyres=())), FOUR) is None


def test_duals_for_another_tyre_are_asked_about():
    verdict = rule("FIT01").check(both(replace(DUALS, fits_tyres=("30.5L-32",))), FOUR)
    assert verdict is not None
    assert verdict.standing is Standing.ASK
    assert "made for 30.5L-32" in verdict.reason


def test_catalogue_is_split_by_tyre():
    other = replace(CHAINS, key="chains-for-another", fits_tyres=("28L-26",))
    silent = replace(CHAINS, key="chains-silent", fits_tyres=())
    split = split_catalogue(FOUR, (other, silent, CHAINS))
    assert split.left_out == (other,)
    assert split.kept == (CHAINS, silent)
