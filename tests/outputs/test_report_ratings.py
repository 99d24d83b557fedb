"""Words of the report on loads that hold a rating, and two of its figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from terrain.decision.ratings import ANSWERS
from terrain.outputs import report_plots
from terrain.outputs.report_opinions import second_opinion_blocks
from terrain.outputs.report_ratings import held_mass, with_holding_words
from terrain.outputs.report_when import season_blocks
from terrain.outputs.shown_units import METRIC, US
from tests.outputs.synthetic import decided, make_plan, rating_table

NARROW = "\N{NARROW NO-BREAK SPACE}"


def test_a_load_that_holds_is_rounded_down() -> None:
    """3 919 kg are 8 639.9 lb (NIST Special Publication 811: 1 lb = 0.45359237 kg exactly)."""
    assert held_mass(3918.98, METRIC).replace(NARROW, " ") == "3 910 kg"
    assert held_mass(3919.0, US) == "8,630 lb"
    assert held_mass(12_200.0, METRIC).replace(NARROW, " ") == "12 200 kg"


def test_no_reduction_is_the_full_load_and_not_none() -> None:
    table = rating_table("open + open")
    table.loc[0, "holding_payload_balanced_kg"] = 9446.0
    table = pd.concat([table, table.iloc[[2]].assign(state="empty")], ignore_index=True)
    made = with_holding_words(table, METRIC)
    told = made[["holding_payload_balanced_kg", "holding_payload_free_kg"]].to_numpy().tolist()
    assert [[text.replace(NARROW, " ") for text in pair] for pair in told] == [
        ["9 440 kg", "no load"],  # over in both cases; with free bogies none holds
        ["full load", "no load"],  # over only if the bogie pivots freely
        ["full load", "full load"],
        ["no rating", "no rating"],
        ["holds empty", "holds empty"],
    ]
    unknown = table.iloc[[0]].assign(over_m=np.nan, answer=ANSWERS["unknown"])
    assert with_holding_words(unknown, METRIC)["holding_payload_free_kg"].item() == "not known"
    assert table["holding_payload_balanced_kg"].iloc[0] == 9446.0  # the plan's own is not touched


def test_the_report_says_full_load() -> None:
    plan = make_plan()
    plan = replace(plan, ratings=rating_table(plan.ranking.shown), second_opinions=None)
    cells = [
        text
        for block in second_opinion_blocks(plan, METRIC)
        if block.kind == "table"
        for row in block.rows
        for text in row.cells
    ]
    assert cells.count("full load") == 3


def test_each_of_the_four_outcomes_has_its_look_and_word() -> None:
    plan = decided(make_plan())
    names = ["suits", "suits with measures", "cannot tell", "does not suit"]
    setups = list(plan.evaluation.setups)
    rows = pd.DataFrame(
        {"setup": setups, "state": "moist", "outcome": names, "short_m": 0.0, "unsolved_m": 0.0}
    )
    plan = replace(plan, seasons=rows.assign(over_bearing_m=0.0, not_assessed_m=0.0, decides=None))
    svg = report_plots.season_grid(plan, setups, METRIC)
    for word in ("suits", "with measures", "cannot tell", "does not suit"):
        assert word in svg
    assert "not known" not in svg
    assert len({look[:2] for look in report_plots._LOOKS.values()}) == len(names)
    assert set(report_plots._LOOKS) == set(names)
    caption = next(block.caption for block in season_blocks(plan, METRIC) if block.kind == "figure")
    assert "cannot tell" in caption


@pytest.mark.parametrize("candidate", [0, 3])
def test_candidate_and_front_have_labels_of_their_own(candidate: int) -> None:
    plan = make_plan()
    table = plan.ranking.setups.assign(
        short_m=[0.0, 2.0, 5.0, 5.0], over_bearing_m=[100.0, 90.0, 95.0, 100.0]
    )
    name = str(table["setup"].iloc[candidate])
    plan = replace(plan, ranking=replace(plan.ranking, setups=table, candidate=name))
    groups = report_plots._marks(plan, METRIC)
    front = report_plots.front_of(plan, METRIC)
    assert front == [(0, 100), (2, 90)]
    own = report_plots._own_labels(plan, groups, front, {0, 1, 2, 3})
    wanted = {(0, 100): [0], (2, 90): [1]}
    assert own == wanted | ({(5, 100): [3]} if candidate == 3 else {})
    svg = report_plots.trade_off(plan, METRIC)
    rest = "3" if candidate == 3 else "3-4"  # close marks of the others share a label
    assert f">{rest}<" in svg
    assert ("3-4" in svg) == (candidate == 0)  # a mark with its own label is in no other
