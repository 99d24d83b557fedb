"""Ratings on slopes: own arithmetic of plain statics (Liljedahl et al. 1989) beside the table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.ratings import (
    ANSWERS,
    over_rating,
    rating_checks,
    rating_shares,
    set_too_soft,
)
from terrain.models.machine import Load
from terrain.models.settings import Settings
from tests.builders import CHAINS, CLOSED_BAND, DUALS, TYRE, bogie, forwarder, skidder, stations
from tests.decision.test_evaluation import BARE_SETUP, both

RATED_TYRE = replace(TYRE, inflation_kpa=450, rated_load_kg=7500.0)


def rated(**changes):
    """Forwarder with ratings that hold on the level: rear 22.24 t loaded, front 11.76 t."""
    return forwarder(
        groups=(
            bogie("front", tyre=RATED_TYRE, rated_mass_kg=15000.0),
            bogie("rear", tyre=RATED_TYRE, rated_mass_kg=24000.0),
        ),
        rated_gross_mass_kg=38000.0,
        **changes,
    )


def checks(table, *setups, machine=None):
    items = [carried(s, machine or rated()) for s in setups]
    return (
        rating_checks(table, items, Settings()).set_index(["setup", "state", "rating"]).sort_index()
    )


def test_columns_and_rows_are_the_registered_ones():
    made = rating_checks(stations(), [carried(BARE_SETUP, rated())], Settings())
    assert tuple(made.columns) == columns_of("ratings")
    assert made["rating"].tolist()[:5] == [
        "whole machine",
        "front bogie",
        "rear bogie",
        "tyres of the front bogie",
        "tyres of the rear bogie",
    ]
    assert made["state"].tolist() == ["loaded"] * 5 + ["empty"] * 5
    unladen = rating_checks(stations(), [carried(BARE_SETUP, rated(load=None))], Settings())
    assert set(unladen["state"]) == {"empty"}


def test_a_climb_loads_the_rear_bogie_as_statics_says():
    grade = 0.30
    made = checks(stations(grade=np.array([0.0, grade])), BARE_SETUP).loc["bare", "loaded"]
    # own arithmetic: moments about the rear of 34 t, x and h of machine and load together
    moment_x = 11000 * 5.5 + 14000 * 0.3
    moment_h = 20000 * 1.4 + 14000 * 2.1
    cosine = 1 / np.sqrt(1 + grade**2)
    front = (moment_x * cosine - moment_h * grade * cosine) / 5.5
    rear = 34000 * cosine - front
    row = made.loc["rear bogie"]
    assert row["level_share"] == pytest.approx((34000 - moment_x / 5.5) / 24000, rel=1e-9)
    assert row["largest_share"] == pytest.approx(rear / 24000, rel=1e-9)
    assert row["grade"] == grade
    assert row["over_m"] == 5.0
    assert row["answer"] == ANSWERS["slope"]
    assert made.loc["front bogie", "largest_share"] == pytest.approx(moment_x / 5.5 / 15000)
    assert made.loc["whole machine", "largest_share"] == pytest.approx(34 / 38)


def test_the_empty_machine_travels_the_other_way():
    made = checks(stations(grade=0.30), BARE_SETUP).loc["bare", "empty"]
    # it descends with its front end downhill: own arithmetic of the moments about the rear
    cosine = 1 / np.sqrt(1 + 0.30**2)
    front = (11000 * 5.5 + 20000 * 1.4 * 0.30) * cosine / 5.5
    assert made.loc["front bogie", "largest_share"] == pytest.approx(front / 15000, rel=1e-9)
    assert made.loc["front bogie", "grade"] == 0.30
    assert made[["holding_payload_balanced_kg", "holding_payload_free_kg"]].isna().all(axis=None)


def test_the_payload_that_holds_on_the_steepest_station_holds_there():
    table = stations(grade=np.array([0.0, 0.2, 0.35, 0.1]), cross_slope=np.array([0, 0.1, 0.05, 0]))
    row = checks(table, BARE_SETUP).loc["bare", "loaded", "rear bogie"]
    holding = row["holding_payload_balanced_kg"]
    assert holding == row["holding_payload_free_kg"]  # how wheels share it is nothing to the bogie
    assert 0 < holding < 14000
    lighter = rated(load=Load(holding, 0.3, 2.1))
    again = checks(table, BARE_SETUP, machine=lighter).loc["bare", "loaded", "rear bogie"]
    assert again["largest_share"] == pytest.approx(1.0, abs=2e-4)  # bisected to a kilogram
    assert again["answer"] == ANSWERS["within"]
    heavier = rated(load=Load(holding + 20, 0.3, 2.1))
    again = checks(table, BARE_SETUP, machine=heavier).loc["bare", "loaded", "rear bogie"]
    assert again["answer"] == ANSWERS["slope"]


def test_the_downhill_wheels_carry_more_and_a_free_bogie_more_still():
    cross = 0.2
    table = stations(grade=0.15, cross_slope=cross, cone_index_kpa=np.array([900.0]))
    made = checks(table, BARE_SETUP).loc["bare", "loaded"]
    group = made.loc["rear bogie", "largest_share"] * 24000 / 4
    height = (20000 * 1.4 + 14000 * 2.1) / 34000
    # own arithmetic: downhill share of the side over the half, 1 + 2 h cross / gauge
    wheel = group * (1 + 2 * height * cross / 2.2)
    row = made.loc["tyres of the rear bogie"]
    assert row["balanced_share"] == pytest.approx(wheel / 7500, rel=1e-9)
    assert row["largest_share"] > row["balanced_share"]
    assert row["case"] == "bogie pivots freely"
    assert row["level_share"] < row["balanced_share"]


def test_thrust_within_a_free_bogie_by_hand():
    # level, firm ground: gross thrust equals the motion resistance, shared by load; the bogie's
    # moment T r is held by the two wheels over the spacing (own arithmetic)
    from terrain.mechanics.traction import motion_resistance_ratio

    item = carried(BARE_SETUP, rated())
    made = checks(stations(cone_index_kpa=np.array([900.0])), BARE_SETUP).loc["bare", "loaded"]
    moment_x = 11000 * 5.5 + 14000 * 0.3
    masses = np.array([moment_x / 5.5, 34000 - moment_x / 5.5])
    kn = masses * 9.81 / 1000
    resistance = [
        float(motion_resistance_ratio(g.mobility_number(900.0, load), 0.25)) * load
        for g, load in zip(item.groups, kn, strict=True)
    ]
    thrust = sum(resistance) * masses[1] / 34000 / 2
    wheel = kn[1] / 4 + thrust * TYRE.diameter_m / 2 / 1.5
    share = made.loc["tyres of the rear bogie", "largest_share"]
    assert share == pytest.approx(wheel / (7.5 * 9.81), rel=1e-9)


def test_unknown_strength_leaves_only_the_balanced_case():
    table = stations(grade=0.3, cone_index_kpa=np.array([np.nan]))
    row = checks(table, BARE_SETUP).loc["bare", "loaded", "tyres of the rear bogie"]
    assert row["case"] == "bogie balanced"
    assert row["unknown_m"] == 5.0
    assert np.isfinite(row["largest_share"])


def test_unknown_slope_and_missing_ratings_stay_unknown():
    table = stations(grade=np.array([np.nan, 0.1]))
    made = checks(table, BARE_SETUP).loc["bare", "loaded"]
    assert (made["unknown_m"] == 5.0).all()
    bare = checks(table, BARE_SETUP, machine=forwarder())
    assert (bare["answer"] == ANSWERS["none"]).all()
    assert bare[["largest_share", "level_share", "over_m"]].isna().all(axis=None)
    blind = checks(stations(grade=np.array([np.nan])), BARE_SETUP)
    assert (blind["answer"] == ANSWERS["unknown"]).all()


def test_over_on_the_level_is_said_first():
    heavy = rated()
    heavy = replace(heavy, groups=(replace(heavy.front, rated_mass_kg=10000.0), heavy.rear))
    made = checks(stations(), BARE_SETUP, machine=heavy)
    # the empty machine stands on 11 t in front
    assert made.loc[("bare", "empty", "front bogie"), "answer"] == ANSWERS["level"]


def test_only_the_free_bogie_is_over():
    tight = replace(
        RATED_TYRE, rated_load_kg=5600.0
    )  # rear wheel on the level: 22.24 t / 4 = 5.56 t
    machine = forwarder(groups=(bogie("front", tyre=tight), bogie("rear", tyre=tight)))
    row = checks(stations(cone_index_kpa=np.array([800.0])), BARE_SETUP, machine=machine)
    row = row.loc["bare", "loaded", "tyres of the rear bogie"]
    assert row["answer"] == ANSWERS["bogie"]
    assert row["over_balanced_m"] == 0.0
    assert row["over_m"] == 5.0
    assert np.isnan(row["holding_payload_balanced_kg"])
    assert 0 < row["holding_payload_free_kg"] < 14000


def test_less_load_holds_the_tyres_of_a_free_bogie_than_of_a_balanced_one():
    tight = replace(RATED_TYRE, rated_load_kg=5600.0)
    machine = forwarder(groups=(bogie("front", tyre=tight), bogie("rear", tyre=tight)))
    table = stations(grade=0.25, cone_index_kpa=np.array([800.0]))
    tyres = "tyres of the rear bogie"
    row = checks(table, BARE_SETUP, machine=machine).loc["bare", "loaded", tyres]
    free, balanced = row["holding_payload_free_kg"], row["holding_payload_balanced_kg"]
    assert 0 < free < balanced < 14000
    for load, share in ((balanced, "balanced_share"), (free, "largest_share")):
        lighter = replace(machine, load=Load(load, 0.3, 2.1))
        again = checks(table, BARE_SETUP, machine=lighter).loc["bare", "loaded", tyres]
        assert again[share] == pytest.approx(1.0, abs=2e-4)  # bisected to a kilogram


def test_the_outer_of_dual_tyres_carries_no_rating():
    # the catalogue has no rating of the outer tyre, so the inner ones stand for the whole load
    tyre = replace(RATED_TYRE, rated_load_kg=7000.0)
    machine = skidder()
    machine = replace(machine, groups=tuple(replace(g, tyre=tyre) for g in machine.groups))
    made = checks(stations(), BARE_SETUP, both(DUALS), machine=machine)["level_share"]
    tyres = "tyres of the front single axle"
    bare, dual = made["bare", "empty", tyres], made["duals both", "empty", tyres]
    assert bare == pytest.approx(6600 / 2 / 7000, rel=1e-9)
    assert dual == pytest.approx((6600 + 900) / 2 / 7000, rel=1e-9)  # 900 kg of outer tyres


def test_the_array_for_the_map_agrees_with_the_table():
    table = stations(grade=np.array([0.0, 0.1, 0.3, np.nan]))
    item = carried(BARE_SETUP, rated())
    shares = rating_shares(table, item)
    made = rating_checks(table, [item], Settings())
    assert np.nanmax(shares) == pytest.approx(made["balanced_share"].max())
    assert np.isnan(shares[3])
    assert over_rating(table, item).tolist() == (np.nan_to_num(shares) > 1.000001).tolist()
    assert over_rating(table, item).tolist() == [False, False, True, False]
    assert np.isnan(rating_shares(table, carried(BARE_SETUP, forwarder()))).all()


def test_a_single_axle_has_no_bogie_case_and_the_drag_presses_on_the_rear():
    tyre = replace(RATED_TYRE, rated_load_kg=7000.0)
    machine = skidder()
    machine = replace(machine, groups=tuple(replace(g, tyre=tyre) for g in machine.groups))
    made = checks(stations(), BARE_SETUP, machine=machine).loc["bare", "loaded"]
    row = made.loc["tyres of the rear single axle"]
    assert row["case"] == ""
    # own arithmetic: 2 t carried 0.8 m behind the rear, 2 t dragged with 0.6 at 1.5 m
    front = (6600 * 3.2 - 2000 * 0.8 - 2000 * 0.6 * 1.5) / 3.2
    assert row["largest_share"] == pytest.approx((13000 - front) / 2 / 7000, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.0, 0.45), st.floats(-0.3, 0.3), st.floats(300, 2000))
def test_heavier_gear_never_lowers_a_share_and_the_free_bogie_is_never_lighter(grade, cross, cone):
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=np.array([cone]))
    made = checks(table, BARE_SETUP, both(CHAINS), both(CLOSED_BAND), machine=rated(load=None))
    groups = made[made.index.get_level_values("rating").isin(["front bogie", "rear bogie"])]
    bare, chained = groups.loc["bare"], groups.loc["chains both"]
    assert (chained["largest_share"] > bare["largest_share"]).all()
    tyres = made[made["case"] != ""]
    assert (tyres["largest_share"] >= tyres["balanced_share"] - 1e-12).all()


def soft(set_kpa, rated_kg=7500.0, **changes):
    tyre = replace(TYRE, inflation_kpa=set_kpa, rated_load_kg=rated_kg)
    return forwarder(groups=(bogie("front", tyre=tyre), bogie("rear", tyre=tyre)), **changes)


def test_a_tyre_set_below_its_charted_pressure_has_no_known_share():
    # a load table gives a tyre's load beside a cold pressure (`from memory`; every such table does)
    table = stations(grade=np.array([0.0, 0.1]))
    tyres = "tyres of the rear bogie"
    row = checks(table, BARE_SETUP, machine=soft(449)).loc["bare", "loaded", tyres]
    assert row["answer"] == "not known: the rating holds at 450 kPa only, set are 449 kPa"
    assert set_too_soft(row["answer"])
    assert not any(set_too_soft(ANSWERS[case]) for case in ANSWERS if "soft" not in case)
    assert row[["level_share", "largest_share", "balanced_share", "over_m"]].isna().all()
    assert row["unknown_m"] == 10.0
    held = checks(table, BARE_SETUP, machine=soft(450)).loc["bare", "loaded", tyres]
    assert held["answer"] == ANSWERS["within"]
    # a band needs the charted pressure, so under it the rating holds
    band = checks(table, both(CLOSED_BAND), machine=soft(400)).loc["closed-band both", "loaded"]
    assert np.isfinite(band.loc[tyres, "largest_share"])
    item = carried(BARE_SETUP, soft(400))
    assert np.isnan(rating_shares(table, item)).all()
    assert not over_rating(table, item).any()


def test_a_soft_tyre_over_even_its_charted_rating_is_told_as_over():
    table = stations(grade=np.array([0.0, 0.05, 0.30, 0.35]))
    name = "tyres of the rear bogie"
    hard, slack = (
        checks(table, BARE_SETUP, machine=soft(set_kpa, 5900.0)).loc["bare", "loaded", name]
        for set_kpa in (450, 400)
    )
    assert slack["balanced_share"] == hard["balanced_share"] > 1  # at least so much
    assert slack["over_balanced_m"] == hard["over_balanced_m"] == 10.0
    assert set_too_soft(slack["answer"])
    assert slack["answer"].startswith("over even the rating at 450 kPa, and only 400 kPa are set")
    assert slack["over_m"] + slack["unknown_m"] == 20.0
    assert np.isnan(slack["holding_payload_balanced_kg"])  # none is known to hold it
    assert np.isfinite(hard["holding_payload_balanced_kg"])
    assert over_rating(table, carried(BARE_SETUP, soft(400, 5900.0))).sum() == 2


def test_the_load_within_ratings_is_an_upper_bound_on_soft_tyres():
    # it is cut as if the charted rating held: never to more than that, and the table says so
    tight = 5400.0
    assert carried(BARE_SETUP, soft(400, tight)).payload_kg == pytest.approx(12600 * 5.5 / 5.2)
    assert carried(BARE_SETUP, soft(450, tight)).payload_kg == pytest.approx(12600 * 5.5 / 5.2)
    made = checks(stations(), BARE_SETUP, machine=soft(400, tight)).loc["bare", "loaded"]
    assert "400 kPa" in made.loc["tyres of the rear bogie", "answer"]


def test_where_the_front_lifts_the_rear_carries_all_and_no_more():
    # standard statics: the normal load of 34 t on a grade of 1.5, beyond x / h = 1.127
    made = checks(stations(grade=np.array([1.5])), BARE_SETUP).loc["bare", "loaded"]
    normal = 34000 / np.sqrt(1 + 1.5**2)
    assert made.loc["rear bogie", "largest_share"] == pytest.approx(normal / 24000, rel=1e-9)
    assert made.loc["front bogie", "largest_share"] == 0.0
    aside = checks(stations(cross_slope=np.array([0.9])), BARE_SETUP).loc["bare", "loaded"]
    # and the downhill side all of its group: four wheels' load on two
    group = aside.loc["rear bogie", "largest_share"] * 24000
    share = aside.loc["tyres of the rear bogie", "balanced_share"]
    assert share == pytest.approx(group / 2 / 7500, rel=1e-9)
