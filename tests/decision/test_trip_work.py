"""Work of a loaded and of an empty trip, and against bare wheels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried, group_loads
from terrain.decision.trip_work import trip_work
from terrain.models.machine import Load
from terrain.units import GRAVITY_M_S2
from tests.builders import CHAINS, CLOSED_BAND, forwarder, skidder, stations
from tests.decision.test_evaluation import BARE_SETUP, both

FIRM = 1e7  # so firm that only the constant rolling of 0.04 is left (Brixius 1987)


def work_of(table, *setups, machine=None):
    items = [carried(setup, machine or forwarder()) for setup in setups]
    return trip_work(table, items, 0.25)


def test_resistance_and_grade_of_each_trip_by_hand():
    # own arithmetic, standard mechanics, 5 m of horizontal way, 34 t loaded and 20 t empty: up
    # W (0.04 + 0.2) 5, down nothing at all (gravity gives 0.2 and the rolling asks for 0.04)
    (up,) = work_of(stations(grade=0.2, cone_index_kpa=FIRM), BARE_SETUP)
    loaded, empty = 34 * GRAVITY_M_S2, 20 * GRAVITY_M_S2
    assert up["loaded_trip_mj"] == pytest.approx(loaded * 0.24 * 5 / 1000, rel=1e-3)
    assert up["loaded_grade_mj"] == pytest.approx(loaded * 0.20 * 5 / 1000, rel=1e-9)
    assert up["empty_trip_mj"] == up["empty_grade_mj"] == 0.0
    (down,) = work_of(stations(grade=-0.2, cone_index_kpa=FIRM), BARE_SETUP)
    assert down["loaded_trip_mj"] == 0.0
    assert down["empty_trip_mj"] == pytest.approx(empty * 0.24 * 5 / 1000, rel=1e-3)
    (gentle,) = work_of(stations(grade=-0.01, cone_index_kpa=FIRM), BARE_SETUP)
    assert gentle["loaded_trip_mj"] == pytest.approx(loaded * 0.03 * 5 / 1000, rel=1e-3)
    for row in (up, down, gentle):
        both_ways = row["loaded_trip_mj"] + row["empty_trip_mj"]
        assert row["round_trip_mj"] == pytest.approx(both_ways, rel=1e-12)


def test_a_cross_slope_makes_no_way_longer():
    # own arithmetic, standard statics: on 20 % along and 30 % across the ground presses with
    # W / sqrt(1 + 0.04 + 0.09), the rolling is 0.04 of it, 5 m on the map are 5 sqrt(1.04) m of way
    (row,) = work_of(stations(grade=0.2, cross_slope=0.3, cone_index_kpa=FIRM), BARE_SETUP)
    weight = 34 * GRAVITY_M_S2
    rolling = 0.04 * weight / np.sqrt(1.13) * 5 * np.sqrt(1.04)
    assert row["loaded_grade_mj"] == pytest.approx(weight * 0.2 * 5 / 1000, rel=1e-9)
    asked = row["loaded_trip_mj"] - row["loaded_grade_mj"]
    assert asked == pytest.approx(rolling / 1000, rel=1e-3)
    # the pull of a dragged load works over the same way: no more
    machine = skidder()
    (dragging,) = work_of(
        stations(grade=0.2, cross_slope=0.3, cone_index_kpa=FIRM), BARE_SETUP, machine=machine
    )
    item = carried(BARE_SETUP, machine)
    grade, cross = np.array([0.2]), np.array([0.3])
    group_kn, pull, _ = group_loads(item, True, grade, cross)
    weight = (item.empty_mass_kg + item.resting_load_kg) * GRAVITY_M_S2 / 1000
    force = 0.04 * group_kn.sum() + pull[0] + weight * 0.2 / np.sqrt(1.04)
    asked = force * 5 * np.sqrt(1.04) / 1000
    assert dragging["loaded_trip_mj"] == pytest.approx(asked, rel=1e-3)


def test_against_bare_wheels_by_trip():
    table = stations(grade=np.array([0.15, -0.1, 0.0]), cone_index_kpa=FIRM)
    # light enough that no rating cuts its load: on ground this firm work goes by mass alone
    bare, chained = work_of(table, BARE_SETUP, both(CHAINS))
    assert (bare["loaded_trip_ratio"], bare["empty_trip_ratio"]) == (1.0, 1.0)
    assert chained["loaded_trip_ratio"] == pytest.approx((34 + 1.6) / 34, rel=1e-3)
    assert chained["empty_trip_ratio"] == pytest.approx((20 + 1.6) / 20, rel=1e-3)
    (alone,) = work_of(table, both(CHAINS))
    assert np.isnan([alone["loaded_trip_ratio"], alone["empty_trip_ratio"]]).all()
    heavy = replace(CHAINS, key="heavy", resistance_factor=1.5)
    plain, dragging = work_of(stations(cone_index_kpa=FIRM), both(CHAINS), both(heavy))
    assert dragging["loaded_trip_mj"] == pytest.approx(1.5 * plain["loaded_trip_mj"], rel=1e-3)


def test_unknown_ground_is_left_out_of_both_sides_and_never_nought():
    table = stations(grade=np.array([0.1, 0.1]), cone_index_kpa=np.array([800.0, np.nan]))
    known = stations(grade=0.1, cone_index_kpa=800.0)
    assert work_of(table, BARE_SETUP)[0] == work_of(known, BARE_SETUP)[0]
    (nothing,) = work_of(stations(cone_index_kpa=np.nan), BARE_SETUP)
    assert np.isnan([*nothing.values()]).all()


def test_where_an_axle_lifts_the_other_carries_the_work():
    machine = forwarder(wheelbase_m=3.2, cg_height_m=2.2, load=Load(14000, -0.5, 3.2))
    bare, banded = work_of(
        stations(grade=np.array([0.0, 0.5])), BARE_SETUP, both(CLOSED_BAND), machine=machine
    )
    assert np.isfinite([bare["loaded_trip_mj"], banded["loaded_trip_ratio"]]).all()
    assert bare["loaded_trip_mj"] > bare["loaded_grade_mj"] > 0
