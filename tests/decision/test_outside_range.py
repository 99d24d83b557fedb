"""Where relations leave their range: by reason, and in step with the flag of the evaluation."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.outside_range import outside_range
from terrain.mechanics.relations import relation
from terrain.models.machine import Load
from terrain.models.settings import DecisionSettings, Settings
from tests.builders import CHAINS, CLOSED_BAND, forwarder, stations
from tests.decision.test_evaluation import BARE_SETUP, both

TABLE = stations(
    grade=np.array([0.0, 0.3, -0.3, 0.0, np.nan]),
    cone_index_kpa=np.array([1000.0, 1000.0, 1000.0, 250.0, 1000.0]),
    length_m=np.array([5.0, 4.0, 3.0, 2.0, 1.0]),
)


def reasons(*setups, table=TABLE, settings=None):
    items = [carried(setup, forwarder()) for setup in setups]
    return outside_range(table, items, settings or Settings())


def test_columns_are_the_registered_ones_even_without_rows():
    assert tuple(reasons(BARE_SETUP).columns) == columns_of("outside_range")
    empty = outside_range(TABLE, [], Settings())
    assert tuple(empty.columns) == columns_of("outside_range")
    assert empty.empty


def test_the_loaded_rear_is_too_heavy_and_the_front_hardly_flattened():
    # own arithmetic, level, bare: rear (34000 - 11000 - 14000 * 0.3 / 5.5) * 9.81 / 4 is 54.5 kN a
    # wheel; over 0.71 m x 1.3124 m 58.5 kPa, above the 55 of the range. Front empty 27.0 kN:
    # deflection 0.0008 + 0.000790 * 27.0 = 0.0221 m over 0.3195 m is 0.069, below 0.1
    level = reasons(BARE_SETUP, table=TABLE.iloc[[0]]).set_index("side")
    load = level.loc["above: load too large"]
    assert load["found_high"] == pytest.approx(58.5, abs=0.05)
    assert (load["range_low"], load["range_high"]) == (15.0, 55.0)
    assert load["gear"] == "rear loaded"
    flat = level.loc["below: tyre hardly flattened"]
    assert "front empty" in flat["gear"]
    assert flat["found_high"] < 0.1
    assert load["status"] == relation("brixius_number").valid_status


def test_soft_ground_counts_its_own_metres_only():
    found = reasons(BARE_SETUP).set_index("side")
    soft = found.loc["below: ground so soft that it may get stuck"]
    assert soft["metres"] == 2.0
    assert soft["found_high"] < 6.0


def test_metres_cover_those_of_the_flag_and_leave_out_what_is_not_assessed():
    items = [carried(setup, forwarder()) for setup in (BARE_SETUP, both(CHAINS), both(CLOSED_BAND))]
    evaluation, _ = evaluate(TABLE, items, Settings())
    found = outside_range(TABLE, items, Settings())
    number = found[found["relation"] == relation("brixius_number").title]
    assessed = np.isfinite(evaluation.reserve).all(axis=1)
    length = TABLE["length_m"].to_numpy()
    for k, setup in enumerate(evaluation.setups):
        flagged = length[evaluation.extrapolated[:, k] & assessed].sum()
        metres = number.loc[number["setup"] == setup, "metres"]
        assert metres.max() <= flagged <= metres.sum()
    assert found["metres"].max() <= 14.0  # the fifth station has no slope


def test_a_slip_limit_beyond_the_curves_is_told():
    wild = Settings(decision=DecisionSettings(slip_limit=0.5))
    found = reasons(BARE_SETUP, settings=wild).set_index("side")
    assert found.loc["above: too much slip", "metres"] == 14.0
    assert "above: too much slip" not in set(reasons(BARE_SETUP)["side"])


def test_metres_on_which_an_axle_lifts_are_assessed_and_the_lifted_axle_has_no_number():
    machine = forwarder(wheelbase_m=3.2, cg_height_m=2.2, load=Load(14000, -0.5, 3.2))
    table = stations(grade=np.array([0.5, 0.5]))
    item = carried(BARE_SETUP, machine)
    found = outside_range(table, [item], Settings()).set_index(["quantity", "side"])
    evaluation, _ = evaluate(table, [item], Settings())
    assert evaluation.extrapolated.all()
    assert np.isfinite(evaluation.reserve).all()
    heavy = found.loc["wheel load over tyre width and diameter", "above: load too large"]
    assert heavy["metres"] == 10.0
    # standard statics: the rear carries the whole normal load on four wheels
    wheel_kn = 34000 * 9.81 / 1000 / np.sqrt(1 + 0.5**2) / 4
    assert heavy["found_high"] == pytest.approx(wheel_kn / (0.71 * 1.3124), rel=1e-9)
    assert np.isfinite(found["found_high"]).all()
