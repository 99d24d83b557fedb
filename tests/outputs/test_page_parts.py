from __future__ import annotations

import numpy as np

from terrain.decision.results import Plan
from terrain.outputs.page_parts import (
    PRESSURE_CLASSES,
    RESERVE_CLASSES,
    classify,
    leading_setups,
    lighter_setups,
    short_by_trail,
)


def test_only_a_reserve_below_zero_is_drawn_as_short() -> None:
    values = np.array([np.nan, -1.0, -1e-12, 0.0, 0.049, 0.05, 0.1, 3.0])
    assert classify(values, RESERVE_CLASSES).tolist() == [0, 1, 1, 2, 2, 3, 4, 4]


def test_a_pressure_ratio_of_one_is_drawn_as_over() -> None:
    assert classify(np.array([0.79, 0.8, 1.0, 1.25]), PRESSURE_CLASSES).tolist() == [1, 2, 3, 4]


def test_short_metres_by_trail_add_up_to_the_setup_table(small_plan: Plan) -> None:
    table = short_by_trail(small_plan)
    expected = small_plan.ranking.setups.set_index("setup")["short_m"]
    for setup in small_plan.evaluation.setups:
        np.testing.assert_allclose(table[setup].sum(), expected[setup])


def test_lighter_setups_are_usual_and_in_order_of_mass(small_plan: Plan) -> None:
    assert lighter_setups(small_plan) == ["bare", "ring + ring"]


def test_every_usual_setup_has_its_own_line(small_plan: Plan) -> None:
    setups = small_plan.ranking.setups
    assert leading_setups(setups, most=0) == [0, 2, 3]
    assert leading_setups(setups, most=5) == [0, 1, 2, 3]
