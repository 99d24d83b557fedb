"""Metres weaker than the vehicle cone index: a second opinion on soft ground, never the verdict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.second_opinions import second_opinions
from terrain.decision.vehicle_cone_index import FLATTERS, weaker_than_vehicle
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.settings import GroundSettings, Settings
from tests.builders import (
    CHAINS,
    CLOSED_BAND,
    DUALS,
    TYRE,
    WHEEL_TRACK,
    bogie,
    forwarder,
    skidder,
    stations,
)
from tests.decision.test_evaluation import BARE_SETUP, both

MACHINE = forwarder(engine_power_kw=186.4, ground_clearance_m=0.65)
# the machine needs about 200 kPa once and 447 kPa fifty times (own arithmetic with the published
# factors, Priddy & Willoughby 2006, the regression vector of test_second_opinions)
GROUND = stations(cone_index_kpa=np.array([150.0, 180.0, 300.0, 440.0, 460.0, 900.0, np.nan]))


def opinion(setup, machine=MACHINE, table=GROUND, **ground):
    chosen = Settings(ground=GroundSettings(**ground))
    items = [carried(setup, machine)]
    evaluation, _ = evaluate(table, items, chosen)
    return second_opinions(table, items, evaluation, chosen).iloc[0]


def test_metres_below_are_counted_against_the_ground():
    made = opinion(BARE_SETUP)
    assert 180 < made["vci1_kpa"] < 300
    assert 440 < made["vci50_kpa"] < 460
    assert (made["below_vci1_m"], made["below_vci50_m"]) == (10.0, 20.0)
    assert made["vci_word"] == f"{FLATTERS}; 5 m more are not known"
    assert "flatters" in made["vci_word"]


def test_a_remoulding_index_turns_it_into_a_rating_cone_index():
    # published: rating cone index = cone index times remoulding index (Army manual, lesson: 49 x
    # 0.87 and 56 x 0.85); kneading never strengthens, so the metres only grow
    plain = opinion(BARE_SETUP)
    kneaded = opinion(BARE_SETUP, remoulding_index=0.5, remoulding_source="cylinder test 3 May")
    needed = kneaded["vci50_kpa"]
    rating = 0.5 * GROUND["cone_index_kpa"].to_numpy()
    assert kneaded["below_vci50_m"] == 5.0 * (rating < needed).sum() == 25.0
    assert kneaded["below_vci1_m"] == 15.0 > plain["below_vci1_m"]
    assert "remoulding index 0.5 (cylinder test 3 May)" in kneaded["vci_word"]
    assert "flatters" not in kneaded["vci_word"]


def test_chains_and_bands_with_known_shoes_are_compared_too():
    chained = opinion(both(CHAINS))
    assert chained["below_vci1_m"] == 10.0
    band = replace(CLOSED_BAND, shoe_area_m2=0.09, grouser_height_m=0.05)
    banded = opinion(both(band))
    assert (banded["below_vci1_m"], banded["below_vci50_m"]) == (0.0, 10.0)


@pytest.mark.parametrize(
    ("setup", "machine", "word"),
    [
        (both(WHEEL_TRACK), MACHINE, "not comparable: the form knows no wheel tracks"),
        (both(DUALS), skidder(engine_power_kw=120.0, ground_clearance_m=0.5),
         "not comparable: the form knows no dual tyres"),
        (Setup("mixed", (BARE, Mount.both_sides(CLOSED_BAND))), MACHINE,
         "not comparable: the axles carry different gear"),
        (BARE_SETUP, replace(MACHINE, groups=(bogie("front", driven=False), bogie("rear"))),
         "not comparable: made for machines with all axles driven"),
        (BARE_SETUP, replace(MACHINE, groups=(
            bogie("front", tyre=replace(TYRE, designation="650/60-26.5")), bogie("rear"))),
         "not comparable: front and rear tyres differ"),
        (BARE_SETUP, forwarder(), "not computed: engine power or ground clearance is not given"),
        (both(CLOSED_BAND), MACHINE,
         "not computed: the catalogue gives no shoe area or grouser height"),
        (BARE_SETUP, replace(MACHINE, unladen_mass_kg=900, unladen_front_kg=500, load=None),
         "not computed: so light a machine lies outside the form"),
    ],
)  # fmt: skip
def test_where_the_form_does_not_apply_it_says_so(setup, machine, word):
    made = opinion(setup, machine)
    assert np.isnan([made["below_vci1_m"], made["below_vci50_m"]]).all()
    assert made["vci_word"] == word


def test_unknown_ground_is_not_called_strong():
    found = weaker_than_vehicle(
        stations(cone_index_kpa=np.nan),
        carried(BARE_SETUP, MACHINE),
        GroundSettings(),
        200.0,
        450.0,
    )
    assert np.isnan([found["below_vci1_m"], found["below_vci50_m"]]).all()


def test_metres_of_unknown_ground_are_told_beside_the_weak_ones():
    table = stations(cone_index_kpa=np.array([100.0, np.nan, 900.0]), length_m=[5.0, 4.0, 3.0])
    item = carried(BARE_SETUP, MACHINE)
    found = weaker_than_vehicle(table, item, GroundSettings(), 200.0, 450.0)
    assert (found["below_vci1_m"], found["below_vci50_m"]) == (5.0, 5.0)
    assert found["vci_word"] == f"{FLATTERS}; 4 m more are not known"


def test_it_never_enters_the_verdict():
    items = [carried(BARE_SETUP, MACHINE)]
    answers = [
        evaluate(GROUND, items, Settings(ground=GroundSettings(remoulding_index=index)))[0].reserve
        for index in (None, 0.3)
    ]
    np.testing.assert_array_equal(*answers)
