"""Slopes to check: rigid statics (Liljedahl et al. 1989) and a part that is an assumption."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.stability_checks import (
    DIRECTIONS,
    lift_off_m,
    lift_sentence,
    stability_checks,
    tip_places,
    tip_sentences,
    tip_warning,
)
from terrain.mechanics.loads import axle_loads_kn, drag_pull_kn
from terrain.mechanics.stability import longitudinal_tip_slopes
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.machine import Load
from terrain.models.settings import Settings
from tests.builders import (
    AIDS,
    CHAINS,
    CLOSED_BAND,
    DUALS,
    WHEEL_TRACK,
    forwarder,
    skidder,
    stations,
)
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


def test_metres_over_check_and_tipping_slopes_with_the_worst_place():
    # own arithmetic: loaded, across t / (2 h) = 0.6516 and 0.6 of it 0.3909; up x / h = 1.1272 and
    # 0.6763; h = 57400 / 34000, x = 64700 / 34000
    table = stations(
        trail=np.array(["A", "A", "B", "B", "C", "D"], dtype=object),
        grade=np.array([0.1, 0.70, 0.0, 0.70, 0.0, np.nan]),
        cross_slope=np.array([0.0, 0.0, 0.68, 0.40, -0.38, 0.0]),
    )
    item = carried(BARE_SETUP, forwarder())
    found = tip_places(table, item)
    assert (found.check_m, found.tip_m, found.unknown_m) == (15.0, 5.0, 5.0)  # B's second once
    assert found.check_trails == ("B", "A")
    assert found.tip_trails == ("B",)
    assert (found.trail, found.chainage_m) == ("B", 12.5)
    assert (found.state, found.direction) == ("loaded", "across the slope")
    assert found.slope == 0.68
    assert found.tip_slope == pytest.approx(2.2 * 34 / (2 * 57.4), rel=1e-9)
    made = stability_checks(table, [item])
    assert found.check_m >= made["reached_m"].max()
    stop, ask = tip_sentences(found)
    assert tip_warning(found).startswith(f"Stop and ask: on {found.tip_m:.0f} m (")
    assert stop.startswith("Stop and ask: on 5 m (B) the slope reaches")
    assert "worst B at 12 m, loaded, across the slope: 68 % against 65 %" in stop
    assert "competent person" in stop
    assert ask.startswith("Ask before driving: on 10 m more (B, A)")
    assert "manufacturer's data" in ask


def test_no_sentence_where_no_check_slope_is_reached_and_none_gives_leave():
    gentle = tip_places(stations(grade=0.2, cross_slope=0.1), carried(BARE_SETUP, forwarder()))
    assert (gentle.check_m, gentle.tip_m) == (0.0, 0.0)
    assert gentle.trail == "T1"
    assert tip_sentences(gentle) == ()
    assert tip_warning(gentle) == ""
    blind = tip_places(stations(grade=np.array([np.nan])), carried(BARE_SETUP, forwarder()))
    assert blind.unknown_m == 5.0
    assert tip_sentences(blind) == ()
    near = tip_places(stations(cross_slope=0.5), carried(BARE_SETUP, forwarder()))
    (ask,) = tip_sentences(near)
    assert "nearest T1 at 2 m, loaded, across the slope: 50 % against 65 %" in ask
    many = stations(trail=[f"T{k}" for k in range(9)], cross_slope=0.5)
    assert "and 3 more)" in tip_sentences(tip_places(many, carried(BARE_SETUP, forwarder())))[0]


def test_a_pull_that_tips_the_machine_on_the_level_is_told_on_the_level():
    machine = skidder(load=Load(13000, -0.8, 1.5, 0.5, 0.9, 3.0))
    found = tip_places(stations(), carried(BARE_SETUP, machine))
    assert found.tip_slope == 0.0
    assert found.tip_m == 5.0


LOW = {"wheelbase_m": 3.2, "cg_height_m": 2.2, "load": Load(14000, -0.5, 3.2)}


@pytest.mark.parametrize(
    "machine",
    [
        forwarder(**LOW),
        forwarder(**LOW, rated_gross_mass_kg=30000),
        forwarder(wheelbase_m=3.2, cg_height_m=2.2, load=None),
        skidder(load=Load(13000, -0.8, 1.5, 0.5, 0.9, 3.0)),
    ],
)
def test_metres_beyond_tipping_are_those_that_fail_every_setup(machine):
    grade, cross = (m.ravel() for m in np.meshgrid(np.linspace(-1, 1, 41), np.linspace(0, 0.7, 15)))
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=5000.0)
    bare = carried(BARE_SETUP, machine)
    beyond = tip_places(table, bare).tip_m
    assert beyond > 0
    bogies = (*(both(aid) for aid in AIDS[:4]), REAR_BAND)
    singles = tuple(both(aid) for aid in (CHAINS, WHEEL_TRACK, DUALS))
    for setup in (BARE_SETUP, *(singles if machine.kind == "skidder" else bogies)):
        item = carried(setup, machine)
        metres = tip_places(table, item).tip_m
        assert metres == lift_off_m(table, item) >= beyond
        result, _ = evaluate(table, [item], Settings())
        lifts = np.isin(result.cause[:, 0], [12, 13, 14, 15]) & (result.reserve[:, 0] < 0)
        assert 5.0 * lifts.sum() == metres
    told = lift_sentence(bare, stations(grade=0.9, cross_slope=0.0))
    assert told.startswith("Wheels lift off in the computation (")
    assert (
        lift_sentence(bare, stations(grade=-0.3, cross_slope=0.0)) == "" or machine.load is not None
    )


def test_a_place_where_wheels_lift_is_told_with_slope_and_limit():
    # own arithmetic: loaded the front lifts at 28.2 / 88.8 = 0.3176, across it tips at
    # 2.2 x 34 / (2 x 88.8) = 0.421
    item = carried(both(CLOSED_BAND), forwarder(**LOW))
    told = lift_sentence(item, stations(grade=0.33, cross_slope=0.0))
    assert "(loaded, front end uphill: 33.0 % over 31.8 %): the setup fails" in told
    assert "loaded, across the slope: 45.0 % over 42.1 %" in lift_sentence(
        item, stations(grade=0.0, cross_slope=-0.45)
    )
    assert lift_sentence(item, stations(grade=0.3, cross_slope=0.2)) == ""


def test_the_trails_of_the_shown_setup_are_those_of_its_own_mass():
    # a heavy rear lowers the climb: the same station is reached with the rear bands alone
    table = stations(grade=np.array([0.655]))
    assert tip_places(table, carried(BARE_SETUP, forwarder())).check_m == 0.0
    assert tip_places(table, carried(REAR_BAND, forwarder())).check_m == 5.0
