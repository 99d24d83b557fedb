"""Crane work: rigid statics (Liljedahl et al. 1989) and a part that is an assumption."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.crane_checks import (
    CHECKS,
    STANDING,
    TIPPING,
    crane_checks,
    crane_ratings,
    tip_shares,
)
from terrain.decision.crane_places import (
    crane_at,
    crane_places,
    crane_sentences,
    crane_used,
    crane_warning,
)
from terrain.decision.ratings import Ground
from terrain.decision.stability_checks import tip_places
from terrain.models.aids import Mount, Setup
from terrain.models.machine import Crane
from tests.builders import CHAINS, CLOSED_BAND, DUALS, TYRE, bogie, forwarder, stations
from tests.decision.test_evaluation import BARE_SETUP, both
from tests.mechanics.test_crane import CRANE

HARVESTER = forwarder(kind="harvester", load=None, crane=CRANE)


def ground(grade, cross=0.0):
    grade, cross = np.broadcast_arrays(np.atleast_1d(grade).astype(float), float(cross))
    return Ground(grade, cross.copy(), np.full(len(grade), np.nan))


def test_columns_rows_and_machines_without_a_crane():
    item = carried(BARE_SETUP, forwarder(crane=CRANE))
    made = crane_checks(stations(), [item])
    assert tuple(made.columns) == columns_of("crane_checks")
    groups = ["front bogie", "rear bogie", "tyres of the front bogie", "tyres of the rear bogie"]
    assert made["check"].tolist() == 2 * [*CHECKS, *groups]
    assert made["state"].tolist() == ["loaded"] * 7 + ["empty"] * 7
    assert set(crane_checks(stations(), [carried(BARE_SETUP, HARVESTER)])["state"]) == {"empty"}
    plain = carried(BARE_SETUP, forwarder())
    assert len(crane_checks(stations(), [plain])) == 0
    assert crane_places(stations(), plain) is None
    assert crane_at(plain, stations()) == ""
    assert crane_warning(None) == ""


def test_tipping_sideways_by_hand():
    # own arithmetic: empty 12600 kgm on 20600 kg; loaded the lift is taken from the 14000 kg
    item = carried(BARE_SETUP, forwarder(crane=CRANE))
    made = crane_checks(stations(cross_slope=np.array([0.0, -0.2])), [item])
    side = made[made["check"] == CHECKS[0]].set_index("state")
    for state, load in (("empty", 0.0), ("loaded", 13400.0)):
        total = 20600 + load
        height = (20000 * 1.4 + 1800 * 0.8 + 600 * 4.5 + load * 2.1) / total
        y = 12600 / total
        row = side.loc[state]
        assert row["level_share"] == pytest.approx(y / 1.1, rel=1e-9)
        assert row["largest_share"] == pytest.approx((y + 0.2 * height) / 1.1, rel=1e-9)
        assert row["tip_slope"] == pytest.approx((1.1 - y) / height, rel=1e-9)
        assert row["check_slope"] == pytest.approx((0.66 - y) / height, rel=1e-9)
        assert (row["trail"], row["chainage_m"]) == ("T1", 7.5)
    assert side["answer"].tolist() == [TIPPING["check"], TIPPING["check"]]
    assert side["near_m"].tolist() == [5.0, 5.0]
    gentle = crane_checks(stations(), [item])
    assert set(gentle[gentle["check"] == CHECKS[0]]["answer"]) == {TIPPING["less"]}


def test_axle_and_tyre_loads_by_hand():
    # own arithmetic, level ground: crane straight back for the rear, at an angle for its tyres
    rated = replace(TYRE, rated_load_kg=8000.0, inflation_kpa=450.0)
    rear = bogie("rear", tyre=rated, rated_mass_kg=30000.0)
    item = carried(BARE_SETUP, forwarder(crane=CRANE, groups=(bogie("front"), rear)))
    shares = {r.name: r for r in crane_ratings(item, False, ground(0.0))}
    moment = 11000 * 5.5 - 1800 * 0.6 + 2400 * 2.2
    back = 20600 - (moment - 12600) / 5.5
    assert shares["rear bogie"].balanced[0] == pytest.approx(back / 30000, rel=1e-9)
    assert not shares["front bogie"].rated
    assert np.isnan(shares["tyres of the front bogie"].balanced[0])
    fine = np.linspace(0, np.pi, 20001)
    rear_kg = 20600 - (moment + 12600 * np.cos(fine)) / 5.5
    side = rear_kg * (0.5 + 12600 * np.sin(fine) / 20600 / 2.2)
    found = shares["tyres of the rear bogie"].balanced[0]
    # tolerance: directions are looked at 1 degree apart
    assert found == pytest.approx(side.max() / 16000, rel=5e-5)
    assert found <= side.max() / 16000 + 1e-12
    loads_on = crane_ratings(item, True, ground(0.0))[1].balanced[0]
    assert loads_on == pytest.approx((back + 13400 * (1 - 0.3 / 5.5)) / 30000, rel=1e-9)


def test_over_a_rating_asks_what_holds_standing_still():
    rear = bogie("rear", rated_mass_kg=11000.0)
    machine = forwarder(crane=CRANE, load=None, kind="harvester", groups=(bogie("front"), rear))
    row = (
        crane_checks(stations(), [carried(BARE_SETUP, machine)])
        .set_index("check")
        .loc["rear bogie"]
    )
    assert row["answer"] == STANDING["level"]
    assert row["over_m"] == 5.0
    assert np.isnan([row["near_m"], row["check_slope"], row["tip_slope"]]).all()


@settings(max_examples=40)
@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5))
def test_a_crane_left_stowed_is_the_driving_machine(grade, cross):
    # the same parts as the slopes over the tipping slopes of the machine that drives
    stowed = replace(
        CRANE, lifted_mass_kg=0.0, column_ahead_of_rear_m=0.6, boom_reach_m=0.0, boom_height_m=2.6
    )
    item = carried(BARE_SETUP, forwarder(crane=stowed))
    table = stations(grade=np.array([grade]), cross_slope=np.array([cross]))
    reaching, driving = crane_places(table, item), tip_places(table, item)
    assert reaching is not None
    # both headings count here, the driving machine has two directions of travel and two loads
    turned = tip_places(stations(grade=np.array([-grade]), cross_slope=np.array([cross])), item)
    parts = [p.slope / p.tip_slope for p in (driving, turned) if p.slope > 0]
    assert reaching.used == pytest.approx(max(parts, default=0.0), abs=1e-9)


@pytest.mark.parametrize("aid", [CHAINS, CLOSED_BAND, DUALS], ids=lambda aid: aid.kind)
def test_no_aid_lets_a_machine_stand_safer(aid):
    places = ground(np.linspace(-0.4, 0.4, 9), 0.25)
    machine = forwarder(crane=CRANE)
    bare = carried(BARE_SETUP, machine)
    for setup in (both(aid), Setup("rear", (BARE_SETUP.front, Mount.both_sides(aid)))):
        item = carried(setup, machine)
        for laden in (True, False):
            for mine, plain in zip(
                tip_shares(item, laden, places), tip_shares(bare, laden, places), strict=True
            ):
                assert mine.level >= plain.level - 1e-12
                assert (mine.used >= plain.used - 1e-12).all()
                assert mine.tip_slope <= plain.tip_slope + 1e-12
                assert mine.check_slope <= plain.check_slope + 1e-12


@settings(max_examples=60)
@given(st.floats(0, 14000), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4), st.sampled_from(range(3)))
def test_part_loads_are_hardly_ever_worse_than_empty_or_full(mass, grade, cross, check):
    machine = forwarder(crane=CRANE)
    places = ground(grade, cross)
    ends = [tip_shares(carried(BARE_SETUP, machine), laden, places) for laden in (True, False)]
    part = replace(machine, load=replace(machine.load, mass_kg=mass))
    between = tip_shares(carried(BARE_SETUP, part), True, places)[check]
    most = max(float(shares[check].used[0]) for shares in ends)
    # to the side the part is a ratio of straight lines in the load; over an end the room changes
    # with the load too, and a search over many machines found at most 0.0074 more in between
    assert float(between.used[0]) <= most + (1e-9 if check == 0 else 0.01)


def test_unknown_slopes_stay_unknown():
    item = carried(BARE_SETUP, forwarder(crane=CRANE))
    table = stations(grade=np.array([0.0, np.nan, 0.1]), cross_slope=np.array([np.nan, 0.1, 0.0]))
    made = crane_checks(table, [item]).set_index(["state", "check"]).loc["empty"]
    # the side needs no grade, the ends need both
    assert made.loc[list(CHECKS), "unknown_m"].tolist() == [5.0, 10.0, 10.0]
    blind = stations(grade=np.array([np.nan]), cross_slope=np.array([np.nan]))
    assert set(crane_checks(blind, [item])["answer"].iloc[:3]) == {TIPPING["unknown"]}
    places = crane_places(blind, item)
    assert places is not None
    assert np.isnan(places.used)
    assert crane_sentences(places) == ("On 5 m the slope is not known, so neither is this.",)
    assert crane_at(item, blind).endswith("not known, the slope is not.")


def test_what_tips_on_the_level_tips_where_the_slope_is_not_known():
    # own arithmetic: 1800 x 4 + 3000 x 9 = 34200 kgm on 23000 kg, over 1.1 m: 1.35
    item = carried(BARE_SETUP, forwarder(crane=replace(CRANE, lifted_mass_kg=3000.0)))
    blind = stations(grade=np.array([np.nan]), cross_slope=np.array([np.nan]))
    row = crane_checks(blind, [item]).set_index(["state", "check"]).loc[("empty", CHECKS[0])]
    assert row["answer"] == TIPPING["level"]
    assert row["largest_share"] == pytest.approx(34200 / 23000 / 1.1)
    places = crane_places(blind, item)
    assert places is not None
    assert (places.tip_m, places.unknown_m) == (5.0, 0.0)
    assert crane_sentences(places)[0].startswith("Stop and ask")
    # 0.70 of the way on the level: at least to be asked about, how far is not known
    middle = carried(BARE_SETUP, forwarder(crane=replace(CRANE, lifted_mass_kg=1000.0)))
    near = crane_places(blind, middle)
    assert near is not None
    assert (near.check_m, near.tip_m, near.unknown_m) == (5.0, 0.0, 5.0)
    assert crane_sentences(near)[1].startswith("On 5 m the slope is not known")
    assert ": at least 70 % of the way" in crane_at(middle, blind)


def test_places_and_sentences():
    heavy = replace(CRANE, lifted_mass_kg=1000.0)
    item = carried(BARE_SETUP, forwarder(crane=heavy))
    table = stations(
        cross_slope=np.array([0.0, 0.1, 0.4, 0.3]), trail=np.array(["T1", "T1", "T2", "T3"])
    )
    # own arithmetic: 16200 kgm on 21000 kg are 0.70 of half the gauge
    places = crane_places(table, item)
    assert places is not None
    assert places.level == pytest.approx(16200 / 21000 / 1.1)
    assert (places.check_m, places.tip_m) == (20.0, 10.0)
    assert places.tip_trails == ("T2", "T3")
    assert (places.trail, places.state, places.check) == ("T2", "empty", CHECKS[0])
    stop, ask = crane_sentences(places)
    assert stop.startswith("Stop and ask: with 1000 kg at 9 m")
    assert "10 m (T2, T3; worst T2 at 12 m, empty, over the downhill side)" in stop
    assert "on level ground already" in ask
    assert crane_warning(places).startswith("Crane out to 9 m with 1000 kg: stop and ask on 10 m")
    assert crane_at(item, table.iloc[[2]]).endswith("Stop and ask.")
    assert "never this figure" in crane_at(item, table.iloc[[0]])
    light = carried(BARE_SETUP, forwarder(crane=replace(CRANE, lifted_mass_kg=0, boom_mass_kg=200)))
    near = crane_places(stations(), light)
    assert near is not None
    assert crane_sentences(near) == ()
    assert crane_warning(near) == ""


def test_the_column_of_the_stations_is_the_worst_of_all_checks():
    # own arithmetic: empty, 12600 kgm on 20600 kg, 1.56 m high, across 20 %
    item = carried(BARE_SETUP, forwarder(crane=CRANE))
    height = (20000 * 1.4 + 1800 * 0.8 + 600 * 4.5) / 20600
    table = stations(cross_slope=np.array([0.2, np.nan]), grade=np.array([0.0, np.nan]))
    used = crane_used(table, item)
    assert used.iloc[0] == pytest.approx((12600 / 20600 + 0.2 * height) / 1.1, rel=1e-9)
    assert np.isnan(used.iloc[1])
    assert used.index.equals(table.index)
    assert crane_used(table, carried(BARE_SETUP, forwarder())).isna().all()


def test_tipping_on_level_ground_is_said():
    huge = Crane(2.2, 12.0, 2500.0, 4.0, 2500.0, 5.0, 3.0, 0.6, 2.6)
    item = carried(BARE_SETUP, replace(HARVESTER, crane=huge))
    row = crane_checks(stations(), [item]).iloc[0]
    assert row["answer"] == TIPPING["level"]
    assert (row["check_slope"], row["tip_slope"]) == (0.0, 0.0)
    places = crane_places(stations(), item)
    assert places is not None
    assert ", on level ground too" in crane_sentences(places)[0]
