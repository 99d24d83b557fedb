"""Slopes to check: rigid statics (Liljedahl et al. 1989) and a part that is an assumption."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.stability_checks import DIRECTIONS, stability_checks
from terrain.mechanics.loads import axle_loads_kn, drag_pull_kn
from terrain.mechanics.stability import longitudinal_tip_slopes
from terrain.models.aids import BARE, Mount, Setup
from tests.builders import AIDS, CLOSED_BAND, forwarder, skidder, stations
from tests.decision.test_evaluation import BARE_SETUP, both

REAR_BAND = Setup("bare + closed", (BARE, Mount.both_sides(CLOSED_BAND)))


def checks(table, *setups, machine=None):
    items = [carried(s, machine or forwarder()) for s in setups]
    return stability_checks(table, items).set_index(["setup", "state", "direction"]).sort_index()


def test_columns_and_rows():
    made = stability_checks(stations(), [carried(BARE_SETUP, forwarder())])
    assert tuple(made.columns) == columns_of("stability_checks")
    assert made["direction"].tolist() == [*DIRECTIONS, *DIRECTIONS]
    alone = stability_checks(stations(), [carried(BARE_SETUP, forwarder(load=None))])
    assert set(alone["state"]) == {"empty"}


def test_slopes_of_the_bare_forwarder_by_hand():
    made = checks(stations(), BARE_SETUP).loc["bare"]
    height = (20000 * 1.4 + 14000 * 2.1) / 34000
    x = (11000 * 5.5 + 14000 * 0.3) / 34000
    loaded = made.loc["loaded", "tip_slope"]
    assert loaded["across the slope"] == pytest.approx(2.2 / (2 * height), rel=1e-9)
    assert loaded["front end uphill"] == pytest.approx(x / height, rel=1e-9)
    assert loaded["front end downhill"] == pytest.approx((5.5 - x) / height, rel=1e-9)
    # planning assumption without a source: 0.6 of it
    np.testing.assert_allclose(made["check_slope"], 0.6 * made["tip_slope"], rtol=1e-9)


def test_no_aid_raises_a_check_slope_and_a_heavy_rear_lowers_the_climb():
    made = checks(stations(), BARE_SETUP, *(both(aid) for aid in AIDS[:4]), REAR_BAND)
    bare = made.loc["bare"]
    for setup in made.index.unique("setup"):
        assert (made.loc[setup, "check_slope"] <= bare["check_slope"] + 1e-12).all(), setup
    up = ("loaded", "front end uphill")
    assert made.loc[("bare + closed", *up), "tip_slope"] < bare.loc[up, "tip_slope"]


def test_metres_that_reach_a_check_slope_in_each_state():
    grade = np.array([0.75, -0.75, 0.1, np.nan])
    made = checks(stations(grade=grade), BARE_SETUP).loc["bare"]
    # loaded: check up 0.6 x / h = 0.676; the empty machine needs 1.296 and more
    row = made.loc["loaded", "front end uphill"]
    assert row["check_slope"] == pytest.approx(0.6 * 64700 / 57400, rel=1e-9)
    assert row["reached_m"] == 5.0
    assert row["steepest_slope"] == 0.75
    assert row["unknown_m"] == 5.0
    assert made.loc[("empty", "front end uphill"), "reached_m"] == 0.0
    # the empty machine travels against the drawn grade: its steepest climb is the -0.75
    assert made.loc[("empty", "front end uphill"), "chainage_m"] == 7.5


def test_a_trail_without_descents_has_none():
    made = checks(stations(grade=np.array([0.1, 0.2])), BARE_SETUP).loc["bare"]
    row = made.loc["loaded", "front end downhill"]
    assert np.isnan(row["steepest_slope"])
    assert row["reached_m"] == 0.0


def test_a_dragged_load_lifts_the_front_earlier():
    machine = skidder()
    made = checks(stations(), BARE_SETUP, machine=machine).loc["bare", "loaded"]
    tip = made.loc["front end uphill", "tip_slope"]
    # at that grade the front load of the statics with the pull is nil
    x = (6600 * 3.2 - 2000 * 0.8) / 13000
    height = (11000 * 1.3 + 2000 * 1.5) / 13000
    weight = 13000 * 9.81 / 1000
    pull = drag_pull_kn(2000 * 9.81 / 1000, 0.6, tip)
    front, _ = axle_loads_kn(weight, x, height, 3.2, tip, pull, 1.5)
    assert front == pytest.approx(0.0, abs=1e-9)
    without, _ = longitudinal_tip_slopes(x, height, 3.2)
    assert tip < without


def test_a_pull_that_lifts_the_front_on_the_level_gives_no_negative_slope():
    up, down = longitudinal_tip_slopes(0.2, 1.5, 3.0, 1.0, 0.6, 1.5)
    assert up == 0.0
    assert down > 0
