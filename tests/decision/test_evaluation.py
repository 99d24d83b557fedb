"""The dense evaluation: what must hold for any block and machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.decision.carried import carried, group_loads
from terrain.decision.evaluation import evaluate, setup_facts
from terrain.decision.results import CAUSES
from terrain.decision.travel import travel_over
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.machine import Load
from terrain.models.settings import GroundSettings, Settings
from tests.builders import (
    AIDS,
    CHAINS,
    CLOSED_BAND,
    DUALS,
    OPEN_BAND,
    TYRE,
    WHEEL_TRACK,
    bogie,
    forwarder,
    skidder,
    stations,
)

BARE_SETUP = Setup("bare", (BARE, BARE))


def both(aid):
    mount = Mount.both_sides(aid)
    return Setup(f"{aid.key} both", (mount, mount))


def run(table, *setups, machine=None, ground=None):
    machine = machine or forwarder()
    items = [carried(s, machine) for s in setups]
    result, _ = evaluate(table, items, Settings(ground=ground or GroundSettings()))
    return result


def brixius_net(cone_index, load_kn, width, diameter, height, inflation, slip):
    """Net traction ratio and parts, written out anew from Brixius 1987 (see models.md)."""
    deflection = 0.0008 + 0.001 * (0.365 + 170 / inflation) * load_kn
    bn = cone_index * width * diameter / load_kn
    bn *= (1 + 5 * deflection / height) / (1 + 3 * width / diameter)
    gross = 0.88 * (1 - np.exp(-0.1 * bn)) * (1 - np.exp(-7.5 * slip)) + 0.04
    return gross, 1 / bn + 0.04 + 0.5 * slip / np.sqrt(bn)


def test_level_reserve_is_the_load_weighted_net_traction():
    # statics and Brixius 1987 recomputed here by hand for the bare forwarder, loaded, level
    load_front = 11000 + 14000 * 0.3 / 5.5
    load_rear = 34000 - load_front
    expected = 0.0
    for mass in (load_front, load_rear):
        weight = mass * 9.81 / 1000
        gross, resistance = brixius_net(600, weight / 4, 0.71, 1.3124, 0.3195, 400, 0.25)
        expected += weight * (gross - resistance)
    expected /= 34000 * 9.81 / 1000
    result = run(stations(cone_index_kpa=600.0), BARE_SETUP)
    assert result.reserve_loaded[0, 0] == pytest.approx(expected, rel=1e-9)


def test_level_pressure_is_the_nominal_pressure_of_the_heavier_group():
    rear = (34000 - 11000 - 14000 * 0.3 / 5.5) * 9.81 / 1000
    expected = rear / (4 * 0.71 * 1.3124 / 2)
    result = run(stations(bearing_kpa=70.0), BARE_SETUP)
    assert result.pressure_kpa[0, 0] == pytest.approx(expected, rel=1e-9)
    assert result.pressure_ratio[0, 0] == pytest.approx(expected / 70, rel=1e-9)


def test_unknown_slope_or_soil_stays_unknown():
    table = stations(
        grade=np.array([0.1, np.nan, 0.1]),
        cone_index_kpa=np.array([1000.0, 1000.0, np.nan]),
        bearing_kpa=np.array([160.0, 160.0, np.nan]),
    )
    result = run(table, BARE_SETUP, both(CHAINS))
    assert np.isfinite(result.reserve[0]).all()
    assert np.isnan(result.reserve[1:]).all()
    assert (result.cause[1:] == 0).all()


@settings(max_examples=40, deadline=None)
@given(
    st.floats(120, 2500),
    st.floats(0, 0.3),
    st.sampled_from([BARE_SETUP, both(CHAINS), both(OPEN_BAND), both(CLOSED_BAND)]),
)
def test_steeper_never_helps_where_driving_binds(cone_index, cross, setup):
    grade = np.linspace(0.0, 0.6, 25)
    result = run(stations(grade=grade, cross_slope=cross, cone_index_kpa=cone_index), setup)
    assert (np.diff(result.reserve_loaded[:, 0]) < 1e-12).all()


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.4, 0.4), st.floats(-0.3, 0.3))
def test_stronger_ground_never_makes_a_setup_fail(grade, cross):
    cone_index = np.linspace(80, 2500, 30)
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=cone_index)
    result = run(table, BARE_SETUP, both(CHAINS), both(CLOSED_BAND))
    short = result.reserve < 0
    # once a setup passes it passes on all stronger ground
    assert (np.diff(short.astype(int), axis=0) <= 0).all()


def test_chains_raise_pressure_and_bands_lower_it():
    result = run(stations(), BARE_SETUP, both(CHAINS), both(OPEN_BAND), both(CLOSED_BAND))
    bare, chained, open_band, closed_band = result.pressure_kpa[0]
    assert chained > bare > open_band > closed_band


def test_film_caps_plain_tyres_only():
    table = stations(grade=0.30, cone_index_kpa=1500.0)
    film = GroundSettings(film="wet clay film", film_grip_cap=0.30)
    dry = run(table, BARE_SETUP, both(CHAINS))
    wet = run(table, BARE_SETUP, both(CHAINS), ground=film)
    assert dry.reserve_loaded[0, 0] > 0 > wet.reserve_loaded[0, 0]
    assert wet.reserve_loaded[0, 1] == pytest.approx(dry.reserve_loaded[0, 1])


def test_each_trail_has_its_own_film():
    table = stations(grade=np.full(3, 0.30), cone_index_kpa=1500.0)
    table["film"] = ["bare mineral", "ice", "wet clay film"]
    table["film_grip_cap"] = [np.nan, 0.04, 0.30]
    # what the block says is not asked for where the stations know better
    found = run(table, BARE_SETUP, ground=GroundSettings(film="ice", film_grip_cap=0.04))
    for row, ground in enumerate(
        (
            GroundSettings(),
            GroundSettings(film="ice", film_grip_cap=0.04),
            GroundSettings(film="wet clay film", film_grip_cap=0.30),
        )
    ):
        alone = run(stations(grade=0.30, cone_index_kpa=1500.0), BARE_SETUP, ground=ground)
        assert found.reserve_loaded[row, 0] == alone.reserve_loaded[0, 0]


def test_chains_earn_no_credit_on_bare_soil_nor_under_films_without_a_trial():
    # published: Vechinski et al. 2000 (abstract): little benefit on good bare soil, benefit on firm
    # clay with sod or pine straw
    table = stations(grade=0.15, cone_index_kpa=np.array([300.0, 600.0, 1200.0]))
    plain = replace(CHAINS, key="plain", grip_factor=1.0)
    litter = "litter or sod over firm ground"
    for ground, credited in (
        (GroundSettings(), False),
        (GroundSettings(film="wet clay film", film_grip_cap=0.40), False),
        (GroundSettings("moist", "packed snow", 0.15, film_grip_cap_with_aids=0.30), False),
        (GroundSettings(film=litter, film_grip_cap=0.40), True),
    ):
        bare, chained, mass_only = run(
            table, BARE_SETUP, both(CHAINS), both(plain), ground=ground
        ).reserve_loaded.T
        assert (chained > mass_only).all() == credited
        assert (chained == mass_only).all() != credited
        if ground.film_grip_cap is None:  # more mass on the same contact costs grip
            assert (chained < bare).all()


def test_a_film_without_a_figure_leaves_plain_tyres_unknown_and_never_the_best():
    table = stations(grade=0.15, cone_index_kpa=1200.0)
    table["film"] = "litter or sod over firm ground"
    table["film_grip_cap"] = np.nan
    named = GroundSettings(film="litter or sod over firm ground")
    for rows, ground in ((table, GroundSettings()), (stations(grade=0.15), named)):
        found = run(rows, BARE_SETUP, both(CHAINS), ground=ground)
        assert np.isnan(found.reserve[0, 0])
        assert np.isfinite(found.reserve[0, 1])  # chains bite through
        assert CAUSES[found.cause[0, 0]] == "not assessed"


def test_a_factor_on_resistance_costs_climb_and_helps_no_descent():
    table = stations(grade=np.array([0.2, -0.45]), cone_index_kpa=900.0)
    heavy = replace(CHAINS, key="heavy", resistance_factor=1.5)
    light, dragging = run(table, both(CHAINS), both(heavy)).reserve_loaded.T
    assert dragging[0] < light[0]
    assert dragging[1] == light[1]


def test_the_ground_holds_back_once_on_a_descent():
    # own arithmetic, standard statics: what reaches the ground is the gross grip, so a wheel holds
    # on a grade of that ratio and no steeper; its rolling is transmitted by the same contact
    steep = stations(grade=-0.60, cone_index_kpa=1000.0)
    for film, cap in (("ice", 0.04), ("packed snow", 0.15)):
        ground = GroundSettings(film=film, film_grip_cap=cap)
        table = stations(grade=np.array([-0.8, -0.9, -1.1]) * cap, cone_index_kpa=1e6)
        found = run(table, BARE_SETUP, ground=ground).reserve_loaded[:, 0]
        np.testing.assert_allclose(found, cap + table["grade"], atol=1e-12)
        assert (found < 0).tolist() == [False, False, True]
    way = travel_over(steep, carried(BARE_SETUP, forwarder()), True, Settings())
    grip = (way.load_kn * way.gross).sum() / way.load_kn.sum()
    assert way.balance.reserve_ratio[0] == pytest.approx(grip - 0.60, rel=1e-9)


def test_a_group_that_is_not_driven_rolls_but_not_beyond_the_film():
    machine = forwarder(groups=(bogie("front", driven=False), bogie("rear")))
    item = carried(BARE_SETUP, machine)
    for film, cap, rolling in (
        ("bare mineral", np.nan, 0.04),
        ("ice", 0.15, 0.04),
        ("ice", 0.02, 0.02),
    ):
        table = stations(grade=-0.3, cone_index_kpa=1000.0, film=film, film_grip_cap=cap)
        way = travel_over(table, item, True, Settings())
        front, rear = way.load_kn[0] / way.load_kn.sum()
        expected = rear * way.gross[0, 1] + front * rolling - 0.3
        assert way.balance.reserve_ratio[0] == pytest.approx(expected, rel=1e-9)


def test_driveline_binds_when_the_effort_is_small():
    weak = forwarder(max_tractive_effort_kn=40.0)
    result = run(stations(grade=0.2, cone_index_kpa=2000.0), BARE_SETUP, machine=weak)
    assert CAUSES[result.cause[0, 0]] == "driveline effort, loaded"
    assert result.reserve_loaded[0, 0] < 0
    unknown = forwarder(max_tractive_effort_kn=None)
    free = run(stations(grade=0.2, cone_index_kpa=2000.0), BARE_SETUP, machine=unknown)
    assert free.reserve_loaded[0, 0] > 0


def test_a_dragged_load_costs_grip_uphill_and_never_helps_downhill():
    table = stations(grade=np.array([0.1, -0.35]))
    dragging = run(table, BARE_SETUP, machine=skidder())
    carrying = skidder(load=replace(skidder().load, drag_coefficient=0.0))
    rolling = run(table, BARE_SETUP, machine=carrying)
    assert dragging.reserve_loaded[0, 0] < rolling.reserve_loaded[0, 0]
    # downhill the drag lightens the front and helps no braking: it leaves the grip's weighted mean
    way = travel_over(table, carried(BARE_SETUP, skidder()), True, Settings())
    assert way.drag_kn[1] > 0
    grip = (way.load_kn * way.gross).sum(axis=-1) / way.load_kn.sum(axis=-1)
    assert dragging.reserve_loaded[1, 0] == pytest.approx(grip[1] - 0.35, rel=1e-9)


def test_loaded_climb_and_empty_climb_are_named():
    table = stations(grade=np.array([0.45, -0.75]), cone_index_kpa=900.0)
    result = run(table, BARE_SETUP)
    assert CAUSES[result.cause[0, 0]] == "climbing loaded"
    # 75 % down toward the landing is 75 % up for the empty machine, and a descent loaded
    assert CAUSES[result.cause[1, 0]] in ("climbing empty", "descending loaded")
    # the wheels stay on the ground to 0.65
    side = run(stations(cross_slope=0.6, cone_index_kpa=300.0), BARE_SETUP)
    assert CAUSES[side.cause[0, 0]].startswith("cross slope")


def test_rated_masses_cost_payload_kilogram_for_kilogram():
    rated = forwarder(rated_gross_mass_kg=34000)
    bare = carried(BARE_SETUP, rated)
    chained = carried(both(CHAINS), rated)
    assert bare.payload_kg == 14000
    assert chained.payload_kg == pytest.approx(14000 - 1600)
    light = carried(both(CHAINS), forwarder())
    assert light.payload_kg == 14000


def test_rated_tyres_cost_payload_like_a_rated_axle():
    # 5,400 kg a tyre carry 21,600 kg on the rear bogie; unladen 9,000 kg; the load bears 0.3 of
    # 5.5 m ahead of it, so the rear takes 5.2 / 5.5 of each kilogram
    weak = replace(TYRE, rated_load_kg=5400.0)
    machine = forwarder(groups=(bogie("front"), bogie("rear", tyre=weak)))
    assert carried(BARE_SETUP, machine).payload_kg == pytest.approx(12600 * 5.5 / 5.2)


def test_dual_tyres_do_not_double_the_rating():
    # the outer tyre's rating is not known: two inner tyres of 3,600 kg carry 7,200 kg on the rear;
    # unladen 4,400 kg and 900 kg of outer tyres; half of the load bears 0.8 m behind it on 3.2 m
    # wheelbase, the other half drags with 0.6 of its weight 1.5 m above ground
    weak = replace(TYRE, rated_load_kg=3600.0)
    machine = skidder()
    machine = replace(machine, groups=(machine.front, replace(machine.rear, tyre=weak)))
    room = (7200 - 4400 - 900) / (0.5 * 4.0 / 3.2 + 0.5 * 0.6 * 1.5 / 3.2)
    item = carried(both(DUALS), machine)
    assert item.payload_kg == pytest.approx(room)
    # and the rear stands at its rating exactly, with the level pull on it
    level = np.zeros(1)
    assert group_loads(item, True, level, level)[0][0, 1] == pytest.approx(7.2 * 9.81)


def test_a_soft_tyre_earns_nothing_under_a_band_track():
    table = stations(grade=0.1, cone_index_kpa=400.0)
    soft = replace(TYRE, inflation_kpa=250.0)
    machine = forwarder(groups=(bogie("front", tyre=soft), bogie("rear", tyre=soft)))
    hard = replace(TYRE, inflation_kpa=450.0)
    charted = forwarder(groups=(bogie("front", tyre=hard), bogie("rear", tyre=hard)))
    for setup, alike in ((both(CLOSED_BAND), True), (BARE_SETUP, False)):
        one = run(table, setup, machine=machine).reserve[0, 0]
        other = run(table, setup, machine=charted).reserve[0, 0]
        assert (one == pytest.approx(other)) == alike


def test_facts_of_bare_are_the_baseline():
    items = [carried(s, forwarder()) for s in (BARE_SETUP, both(CHAINS), both(CLOSED_BAND))]
    _, work = evaluate(stations(cone_index_kpa=500.0), items, Settings())
    facts = setup_facts(items, work)
    assert facts.loc["bare", "work_ratio"] == 1
    assert facts.loc["chains both", "work_ratio"] > 1  # more mass on the same contact
    assert facts.loc["bare", "added_mass_kg"] == 0
    assert facts.loc["chains both", "effort_cap_kn"] == pytest.approx(
        250
    )  # chains leave the rolling radius
    assert facts.loc["closed-band both", "effort_cap_kn"] == pytest.approx(
        250 * 0.6562 / (0.6562 + 0.03)
    )


def test_an_undriven_group_gives_no_grip():
    table = stations(grade=0.05, cone_index_kpa=1200.0)
    half = forwarder(groups=(bogie("front", driven=False), bogie("rear")))
    assert run(table, BARE_SETUP, machine=half).reserve[0, 0] < run(table, BARE_SETUP).reserve[0, 0]


def test_duals_and_wheel_tracks_spread_the_load():
    machine = skidder()
    bare, duals, tracks = run(
        stations(cone_index_kpa=500.0), BARE_SETUP, both(DUALS), both(WHEEL_TRACK), machine=machine
    ).pressure_kpa[0]
    assert duals < bare
    assert tracks < bare


@pytest.mark.parametrize(
    "mount",
    [Mount((CHAINS, DUALS), (CHAINS, DUALS)), Mount((CHAINS,), ()), Mount((CHAINS,), (DUALS,))],
)
def test_mounts_that_the_rules_exclude_are_not_worked_out(mount):
    with pytest.raises(ValueError, match="same single aid"):
        carried(Setup("odd", (mount, BARE)), forwarder())


def test_order_of_setups_changes_nothing():
    table = stations(grade=np.linspace(-0.3, 0.3, 7), cone_index_kpa=450.0)
    setups = [BARE_SETUP, *(both(aid) for aid in AIDS[:3])]
    one = run(table, *setups)
    other = run(table, *reversed(setups))
    for name in one.setups:
        assert np.array_equal(
            one.reserve[:, one.column(name)], other.reserve[:, other.column(name)]
        )


def test_the_cause_is_the_largest_part_of_what_is_asked():
    """Soft and level: rolling resistance; firm and steep: the climb; a heavy drag: its pull."""
    places = stations(grade=[0.02, 0.30, 0.02], cone_index_kpa=[300.0, 1000.0, 2000.0])
    bare = carried(Setup("bare", (BARE, BARE)), forwarder())
    result, _ = evaluate(places, [bare], Settings())
    words = [CAUSES[int(code)] for code in result.cause[:, 0]]
    assert words[:2] == ["rolling resistance, loaded", "climbing loaded"]
    dragging = replace(skidder().load, mass_kg=9000.0, carried_share=0.2, drag_coefficient=0.8)
    item = carried(Setup("bare", (BARE, BARE)), skidder(load=dragging))
    result, _ = evaluate(places, [item], Settings())
    assert CAUSES[int(result.cause[2, 0])] == "pull of the dragged load"


TIPPY = {"wheelbase_m": 3.2, "cg_height_m": 2.2, "load": Load(14000, -0.5, 3.2)}


def test_an_axle_that_lifts_fails_the_setup_and_says_by_how_much():
    # own arithmetic, standard statics: bare, x = (11 x 3.2 - 14 x 0.5) / 34 and
    # h = (20 x 2.2 + 14 x 3.2) / 34, so the front lifts at x / h = 0.3176
    machine = forwarder(**TIPPY)
    lifts = (11 * 3.2 - 14 * 0.5) / (20 * 2.2 + 14 * 3.2)
    grade = np.array([0.25, lifts + 0.01, 0.45])
    firm = stations(grade=grade, cone_index_kpa=2500.0)
    result = run(firm, BARE_SETUP, both(CLOSED_BAND), machine=machine)
    assert np.isfinite(result.reserve).all()
    np.testing.assert_allclose(result.reserve_loaded[:, 0], lifts - grade, atol=1e-12)
    assert CAUSES[int(result.cause[1, 0])] == "an axle lifting off, loaded"
    # the mass of the bands would hold the front down in the statics: it is not credited
    np.testing.assert_allclose(result.reserve_loaded[1:, 1], lifts - grade[1:], atol=1e-12)
    # soft ground: the grip leaves less than the lifting does, and that counts; beyond the limit
    # the lifting is the cause all the same
    soft = run(firm.assign(cone_index_kpa=200.0), BARE_SETUP, machine=machine)
    assert (soft.reserve_loaded[:, 0] < lifts - grade).all()
    words = [CAUSES[int(code)] for code in soft.cause[:, 0]]
    assert words[0] != "an axle lifting off, loaded"
    assert set(words[1:]) == {"an axle lifting off, loaded"}
    # what nobody knows stays unknown
    blind = run(firm.assign(cone_index_kpa=np.nan), BARE_SETUP, machine=machine)
    assert np.isnan(blind.reserve).all()


def test_a_load_that_an_aid_has_cut_is_not_credited_either():
    # the load sits high and behind: with less of it the statics would stand steeper; the limit
    # stays that of the full load without aids, x / h as above
    lifts = (11 * 3.2 - 14 * 0.5) / (20 * 2.2 + 14 * 3.2)
    machine = forwarder(**TIPPY, rated_gross_mass_kg=30000)
    items = [carried(s, machine) for s in (BARE_SETUP, both(CLOSED_BAND))]
    assert all(item.payload_kg < 14000 for item in items)
    firm = stations(grade=lifts + np.array([-0.001, 0.001]), cone_index_kpa=5000.0)
    firm = firm.assign(bearing_kpa=1e4)
    result = run(firm, BARE_SETUP, both(CLOSED_BAND), machine=machine)
    assert (result.reserve_loaded < 0).tolist() == [[False, False], [True, True]]
    # sideways the same: t / (2 h) of the full load
    tips = 2.2 * 34 / (2 * (20 * 2.2 + 14 * 3.2))
    side = stations(cross_slope=tips + np.array([-0.001, 0.001]), cone_index_kpa=5000.0)
    result = run(side, BARE_SETUP, both(CLOSED_BAND), machine=machine)
    assert (result.reserve_loaded < 0).tolist() == [[False, False], [True, True]]
    # a smaller load of the same setup stands no steeper
    way = travel_over(firm, items[0].carrying(1000.0), True, Settings())
    assert (way.balance.reserve_ratio < 0).tolist() == [False, True]


def test_the_trip_that_lifts_is_the_cause_though_the_other_grips_less():
    # loaded the driven rear climbs, the front lifts a little; empty the front that is not driven
    # leads downhill and leaves the rear too little weight to hold
    machine = forwarder(**TIPPY, groups=(bogie("front", driven=False), bogie("rear")))
    result = run(stations(grade=0.33, cone_index_kpa=5000.0), BARE_SETUP, machine=machine)
    assert result.reserve_empty[0, 0] < result.reserve_loaded[0, 0] < 0
    assert CAUSES[int(result.cause[0, 0])] == "an axle lifting off, loaded"


def test_the_empty_machine_lifts_its_rear_on_its_way_down():
    # own arithmetic: (L - x) / h of the empty machine, x = 11 x 5.5 / 20; steeper than any grip
    # holds on soil, so only a machine with its weight far ahead shows it
    machine = forwarder(unladen_front_kg=18500, cg_height_m=2.4, load=None)
    lifts = (5.5 - 18.5 * 5.5 / 20) / 2.4
    result = run(stations(grade=lifts + 0.05, cone_index_kpa=5000.0), BARE_SETUP, machine=machine)
    assert result.reserve_empty[0, 0] == pytest.approx(-0.05)
    assert CAUSES[int(result.cause[0, 0])] == "an axle lifting off, empty"


def test_uphill_wheels_that_lift_fail_every_setup_alike():
    # standard statics: t / (2 h); h of the loaded machine without aids, whose low mass counts not
    machine = forwarder(cg_height_m=1.9, track_gauge_m=1.7)
    tips = 1.7 / 2 / ((20 * 1.9 + 14 * 2.1) / 34)
    cross = np.array([0.1, tips + 0.02])
    table = stations(cross_slope=cross, cone_index_kpa=5000.0)
    result = run(table, BARE_SETUP, both(CLOSED_BAND), machine=machine)
    np.testing.assert_allclose(result.reserve_loaded[1], -0.02, atol=1e-12)
    assert {CAUSES[int(code)] for code in result.cause[1]} == {"uphill wheels lifting off, loaded"}
    # and no side presses with more than the whole weight
    assert result.pressure_kpa[1, 0] <= 2 * result.pressure_kpa[0, 0]


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.8, 0.8), st.floats(-0.7, 0.7), st.floats(50, 4000))
def test_a_reserve_is_known_wherever_the_ground_is(grade, cross, cone_index):
    machine = forwarder(**TIPPY)
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=cone_index)
    item = carried(BARE_SETUP, machine)
    for laden in (True, False):
        way = travel_over(table, item, laden, Settings())
        reserve = way.balance.reserve_ratio[0]
        assert np.isfinite(reserve)
        assert reserve <= way.grip.reserve_ratio[0]
        lifted = (group_loads(item, laden, way.grade, table["cross_slope"].to_numpy())[0] < 0).any()
        assert reserve < 0 or not lifted


def test_on_snow_and_ice_chains_hold_what_the_planner_says_and_never_the_soil():
    # what chains hold there was not read; that they do not reach the soil: common practice, no
    # source
    table = stations(grade=0.10, cone_index_kpa=1500.0)
    for film, plain in (("packed snow", 0.15), ("ice", 0.04)):
        blind = GroundSettings(film=film, film_grip_cap=plain)
        bare, chained, banded = run(
            table, BARE_SETUP, both(CHAINS), both(OPEN_BAND), ground=blind
        ).reserve[0]
        assert np.isfinite(bare)
        assert np.isnan([chained, banded]).all()
        told = replace(blind, film_grip_cap_with_aids=0.22)
        result = run(table, BARE_SETUP, both(CHAINS), ground=told)
        way = travel_over(table, carried(both(CHAINS), forwarder()), True, Settings(ground=told))
        np.testing.assert_allclose(way.gross, 0.22)
        assert result.reserve[0, 0] == bare
    mud = GroundSettings(film="wet clay film", film_grip_cap=0.20)
    assert np.isfinite(run(table, both(CHAINS), ground=mud).reserve).all()
