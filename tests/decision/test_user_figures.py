"""A figure in the user's catalogue changes the evaluation as its effect says, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.second_opinions import second_opinions
from terrain.decision.statuses import status_rows
from terrain.mechanics.traction import motion_resistance_ratio
from terrain.models.settings import GroundSettings, Settings
from tests.builders import CHAINS, OPEN_BAND, forwarder, stations
from tests.decision.test_evaluation import both

LITTER = GroundSettings(film="litter or sod over firm ground", film_grip_cap=0.35)


def reserve(table, aid, ground=None):
    settings = Settings(ground=ground or GroundSettings())
    result, work = evaluate(table, [carried(both(aid), forwarder())], settings)
    return result, float(work.iloc[0])


def test_more_resistance_costs_reserve_by_just_its_share_and_work_in_proportion():
    table = stations(grade=np.array([0.05, 0.15]), cone_index_kpa=700.0)
    plain, work = reserve(table, OPEN_BAND)
    dear, dear_work = reserve(table, replace(OPEN_BAND, resistance_factor=1.2))
    item = carried(both(OPEN_BAND), forwarder())
    # own arithmetic on the climbing loaded machine: the reserve falls by a fifth of its resistance
    from terrain.decision.carried import group_loads

    grade, cross = np.array([0.05, 0.15]), np.zeros(2)
    load, _, _ = group_loads(item, True, grade, cross)
    resistance = sum(
        load[:, i] * motion_resistance_ratio(g.mobility_number(700.0, load[:, i]), 0.25)
        for i, g in enumerate(item.groups)
    ) / load.sum(axis=1)
    lost = plain.reserve_loaded[:, 0] - dear.reserve_loaded[:, 0]
    np.testing.assert_allclose(lost, 0.2 * resistance, rtol=1e-9)
    assert dear_work == pytest.approx(1.2 * work, rel=1e-9)
    np.testing.assert_array_equal(plain.pressure_kpa, dear.pressure_kpa)


def test_more_resistance_is_no_help_for_holding_back():
    table = stations(grade=np.array([-0.45, -0.60]), cone_index_kpa=900.0)
    plain, _ = reserve(table, OPEN_BAND)
    dear, _ = reserve(table, replace(OPEN_BAND, resistance_factor=2.0))
    assert (dear.reserve_loaded <= plain.reserve_loaded + 1e-12).all()


def test_resistance_reaches_work_and_fuel_of_the_second_opinions():
    table = stations(grade=np.array([0.05]))
    rows = []
    for aid in (OPEN_BAND, replace(OPEN_BAND, resistance_factor=1.3)):
        items = [carried(both(aid), forwarder())]
        result, _ = evaluate(table, items, Settings())
        rows.append(second_opinions(table, items, result, Settings()).iloc[0])
    assert rows[1]["round_trip_mj"] > rows[0]["round_trip_mj"]
    assert rows[1]["fuel_high_l"] > rows[0]["fuel_high_l"]


def test_a_grip_figure_counts_under_litter_and_never_on_bare_soil():
    table = stations(grade=0.1, cone_index_kpa=900.0)
    better = replace(CHAINS, grip_factor=1.12)
    for ground, changes in ((LITTER, True), (GroundSettings(), False)):
        one, _ = reserve(table, CHAINS, ground)
        other, _ = reserve(table, better, ground)
        assert (other.reserve_loaded > one.reserve_loaded).all() == changes
        if not changes:
            np.testing.assert_array_equal(one.reserve_loaded, other.reserve_loaded)


def test_the_status_table_names_the_users_source():
    from types import MappingProxyType

    from terrain.models.aids import SUPPLIERS_FIGURE, AidEffect

    own = AidEffect("motion resistance and fuel", "invented sheet", likely=1.2)
    aid = replace(
        OPEN_BAND,
        resistance_factor=1.2,
        effects=(own,),
        status=MappingProxyType({"resistance_factor": SUPPLIERS_FIGURE}),
    )
    table = stations().assign(ground_class=1)
    rows = status_rows(table, [carried(both(aid), forwarder())], Settings())
    row = next(r for r in rows if r.name.endswith("resistance_factor"))
    assert (row.value, row.status) == ("1.2", SUPPLIERS_FIGURE)
    assert "invented sheet" in row.where
