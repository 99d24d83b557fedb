"""Ranking: outcomes, dominance, words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.columns import columns_of
from terrain.decision.ranking import (
    MEASURES,
    carry_over,
    dominated_by,
    measure_setups,
    rank_setups,
)
from terrain.decision.results import Evaluation
from terrain.models.settings import DecisionSettings
from tests.builders import stations

USUAL, ASK = "usual practice", "ask the manufacturer first"
NO_EXCLUDED = pd.DataFrame(columns=list(columns_of("excluded")))


def evaluation(reserve, pressure_ratio=None, empty=None):
    reserve = np.atleast_2d(np.asarray(reserve, float))
    ratio = np.zeros_like(reserve) if pressure_ratio is None else np.asarray(pressure_ratio, float)
    return Evaluation(
        setups=tuple("abcdefgh"[: reserve.shape[1]]),
        reserve_loaded=reserve,
        reserve_empty=reserve + 1.0 if empty is None else np.asarray(empty, float),
        cause=np.ones(reserve.shape, np.int8),
        pressure_kpa=ratio * 100,
        pressure_ratio=ratio,
        extrapolated=np.zeros(reserve.shape, bool),
    )


def facts_of(masses, standings=None, lost=None, work=None, codes="X"):
    n = len(masses)
    return pd.DataFrame(
        {
            "description": [f"setup {c}" for c in "abcdefgh"[:n]],
            "standing": standings or [USUAL] * n,
            "standing_codes": codes,
            "added_mass_kg": np.asarray(masses, float),
            "payload_kg": 14000.0,
            "payload_lost_kg": np.zeros(n) if lost is None else lost,
            "ngp_front_empty_kpa": 50.0,
            "ngp_rear_empty_kpa": 50.0,
            "ngp_front_loaded_kpa": 60.0,
            "ngp_rear_loaded_kpa": 100.0,
            "effort_cap_kn": np.nan,
            "work_ratio": np.ones(n) if work is None else work,
        },
        index=pd.Index(list("abcdefgh"[:n]), name="setup"),
    )


def rank(result, masses, table=None, decision=None, **facts):
    table = stations(length_m=np.full(len(result.reserve_loaded), 5.0)) if table is None else table
    measures = measure_setups(result, table, decision or DecisionSettings())
    total = float(table["length_m"].sum())
    return rank_setups(facts_of(masses, **facts), measures, NO_EXCLUDED, total)


def test_metres_are_counted_by_length():
    table = stations(length_m=np.array([5.0, 4.0, 3.0, 2.0]))
    result = evaluation(
        [[-0.1, 0.1], [0.1, 0.1], [np.nan, 0.2], [-0.1, -0.2]],
        [[0.5, 2.0], [1.5, 0.9], [3.0, 3.0], [0.0, 0.0]],
    )
    measures = measure_setups(result, table, DecisionSettings(traction_weight=0.25))
    # the third station is unknown for one setup: in its scores it weighs as short and over
    assert measures["not_assessed_m"].tolist() == [3, 0]
    assert measures["short_m"].tolist() == [7, 2]
    assert measures["unsolved_m"].tolist() == [2, 2]
    assert measures["over_bearing_m"].tolist() == [7, 8]
    assert measures["score"].tolist() == pytest.approx(
        [0.25 * 10 / 14 + 0.75 * 7 / 14, 0.25 * 2 / 14 + 0.75 * 8 / 14]
    )
    assert measures.loc["b", "worst_reserve"] == -0.2


def test_the_lightest_usual_setup_that_meets_the_need_is_named():
    result = evaluation([[-0.1, 0.1, 0.2, 0.3]])
    ranking = rank(result, [0, 900, 500, 4000])
    assert ranking.candidate == "c"
    assert ranking.setups["setup"].tolist() == ["c", "b", "d", "a"]
    assert "Candidate for the manufacturer's approval" in ranking.headline
    assert "Bare wheels fall short on 5 m of 5 m" in ranking.headline


def test_ask_first_is_computed_but_never_named_first():
    ranking = rank(evaluation([[-0.1, 0.1, 0.2]]), [0, 100, 4000], standings=[USUAL, ASK, USUAL])
    assert ranking.candidate == "c"
    assert ranking.setups["setup"].iloc[-1] == "b"
    only_ask = rank(evaluation([[-0.1, 0.1]]), [0, 100], standings=[USUAL, ASK])
    assert only_ask.candidate is None
    # who asks the manufacturer is told what to ask about, and why it is not usual practice
    asked = "To ask the manufacturer about first: setup b would meet it."
    assert asked in only_ask.headline
    assert "no rating for an axle" not in only_ask.headline
    unrated = rank(evaluation([[-0.1, 0.1]]), [0, 100], standings=[USUAL, ASK], codes="FIT02")
    assert f"{asked} The machine file has no rating for an axle that carries it" in unrated.headline
    nothing = rank(evaluation([[-0.1, -0.2]]), [0, 100], standings=[USUAL, ASK])
    assert "To ask the manufacturer about first" not in nothing.headline


def test_what_no_setup_passes_is_a_matter_for_other_measures():
    reserve = np.full((100, 2), 0.1)
    reserve[:3] = -0.1  # 15 of 500 m: nobody passes
    reserve[3:5, 0] = -0.1
    ranking = rank(evaluation(reserve), [0, 900])
    assert ranking.candidate == "b"
    row = ranking.setups.iloc[0]
    assert row["outcome"] == "suits with measures"
    assert row["unsolved_m"] == 15
    assert "15 m" in ranking.headline
    reserve[:10] = -0.1  # 50 of 500 m is more than the twentieth part
    assert rank(evaluation(reserve), [0, 900]).candidate is None


def test_nothing_assessed_is_said_and_nothing_is_named():
    ranking = rank(evaluation([[np.nan, np.nan]]), [0, 900])
    assert ranking.candidate is None
    assert "No trail metre could be assessed" in ranking.headline
    assert ranking.setups["score"].isna().all()


def test_a_little_unknown_ground_is_said_and_much_leaves_no_answer():
    reserve = np.full((20, 2), 0.1)
    reserve[4:6, 0] = -0.1
    reserve[8] = np.nan  # the twentieth part
    little = rank(evaluation(reserve), [0, 900])
    assert little.candidate == "b"
    assert little.setups["outcome"].tolist() == ["suits with measures", "does not suit"]
    assert "5 m are not assessed" in little.headline
    reserve[9] = np.nan
    much = rank(evaluation(reserve), [0, 900])
    assert much.candidate is None
    assert much.setups["outcome"].tolist() == ["cannot tell", "does not suit"]
    assert much.headline.startswith("Cannot tell: 10 m of 100 m are not assessed")
    assert "Where it could be assessed setup b would do" in much.headline
    assert much.shown == "b"


def test_what_one_setup_is_not_known_to_fail_is_hopeless_for_nobody():
    reserve = np.full((100, 2), 0.1)
    reserve[:3, 0], reserve[:3, 1] = -0.1, np.nan
    ranking = rank(evaluation(reserve), [0, 900])
    rows = ranking.setups.set_index("setup")
    assert rows["unsolved_m"].tolist() == [0, 0]
    assert rows.loc["a", "outcome"] == "does not suit"
    assert rows.loc["b", "outcome"] == "suits with measures"


def test_what_was_assessed_nowhere_has_no_short_metres_and_dominates_nothing():
    """Aids on ice without a figure for their grip: the pressure is known, the traction is not."""
    reserve = np.full((20, 3), np.nan)
    reserve[:, 0] = -0.1
    ranking = rank(evaluation(reserve, np.full((20, 3), 2.0)), [0, 900, 4000])
    rows = ranking.setups.set_index("setup")
    assert rows["outcome"].to_dict() == {
        "a": "does not suit",
        "b": "cannot tell",
        "c": "cannot tell",
    }
    assert rows.loc[["b", "c"], ["short_m", "work_ratio"]].isna().all(axis=None)
    assert rows["over_bearing_m"].tolist() == [100.0] * 3
    assert rows["dominated_by"].to_dict() == dict.fromkeys("abc")
    assert "its traction was assessed nowhere" in rows.loc["b", "verdict"]
    assert ranking.candidate is None
    assert "Bare wheels fall short on 100 m" in ranking.headline


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.lists(st.sampled_from([-0.1, 0.1]), min_size=3, max_size=3), min_size=1),
    st.floats(0, 1),
    st.floats(0, 0.5),
    st.data(),
)
def test_unknown_ground_never_improves_a_score(rows, weight, share, data):
    reserve = np.array(rows)
    ratio = np.where(reserve > 0, 0.5, 2.0)
    choice = DecisionSettings(traction_weight=weight, measures_share_max=share)
    table = stations(length_m=np.arange(1.0, len(rows) + 1))
    known = measure_setups(evaluation(reserve, ratio), table, choice)
    lost = data.draw(st.lists(st.booleans(), min_size=len(rows), max_size=len(rows)))
    reserve[lost], ratio[lost] = np.nan, np.nan
    unknown = measure_setups(evaluation(reserve, ratio), table, choice)
    if any(lost):
        assert not (unknown["outcome"] == "suits").any()
    if not all(lost):
        assert (unknown["score"] >= known["score"] - 1e-12).all()


def test_what_falls_short_in_drier_ground_falls_short_in_wetter():
    reserve = np.full((100, 2), 0.1)
    reserve[:3, 0] = -0.1  # dry: only b passes
    moist = reserve.copy()
    moist[:3, 1] = -0.1  # moist: nobody passes
    table = stations(length_m=np.ones(100))
    choice = DecisionSettings()
    made = {
        name: measure_setups(evaluation(answer), table, choice)
        for name, answer in (("dry", reserve), ("moist", moist), ("frozen", moist))
    }
    assert made["moist"].loc["a", "outcome"] == "suits with measures"
    kept = carry_over(made)
    assert kept["dry"]["outcome"].tolist() == ["does not suit", "suits"]
    assert kept["moist"]["outcome"].tolist() == ["does not suit", "suits with measures"]
    assert kept["moist"]["drier_state"].tolist() == ["dry", None]
    assert kept["frozen"].loc["a", "outcome"] == "suits with measures"
    ranking = rank_setups(facts_of([0, 900]), kept["moist"], NO_EXCLUDED, 100.0, "moist")
    assert ranking.candidate == "b"
    assert "Lighter setup a would do in moist ground" in ranking.headline
    assert "but not when it is dry" in ranking.headline
    alone = rank_setups(facts_of([0, 900]), made["moist"], NO_EXCLUDED, 100.0, "moist")
    assert alone.candidate == "a"


numbers = st.integers(0, 3)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(numbers, numbers, numbers, numbers, numbers), min_size=2, max_size=7),
    st.floats(0, 1),
    st.data(),
)
def test_a_dominated_setup_never_leads(rows, weight, data):
    n = len(rows)
    short, over, mass, lost, work = (np.array(c) for c in zip(*rows, strict=True))
    standings = data.draw(st.lists(st.sampled_from([USUAL, ASK]), min_size=n, max_size=n))
    # one station a metre: a setup with k short metres is short on the first k of four
    reserve = np.where(np.arange(4)[:, None] < short, -0.1, 0.1)
    ratio = np.where(np.arange(4)[:, None] < over, 2.0, 0.5)
    table = stations(length_m=np.ones(4))
    ranking = rank(
        evaluation(reserve, ratio),
        mass * 100,
        table=table,
        decision=DecisionSettings(traction_weight=weight, measures_share_max=1.0),
        standings=standings,
        lost=lost.astype(float),
        work=0.9 + work / 10,
    )
    order = ranking.setups.reset_index(drop=True)
    credited = order.assign(work_ratio=order["work_ratio"].clip(lower=1.0))
    values = credited[list(MEASURES)].to_numpy(float)
    for i in range(n):
        for j in range(i):  # j stands before i
            if order["standing"][i] == order["standing"][j]:
                better = (values[i] <= values[j]).all() and (values[i] < values[j]).any()
                assert not better, "a dominated setup stands before the one that dominates it"
    for _, row in order.iterrows():
        if isinstance(row["dominated_by"], str):
            other = order[order["setup"] == row["dominated_by"]].iloc[0]
            measures = list(MEASURES[:-1])
            assert (other[measures] <= row[measures]).all()
            assert other["work_ratio"] <= max(row["work_ratio"], 1.0)


def test_less_work_than_bare_wheels_earns_nothing():
    table = facts_of([0, 100], work=[1.0, 0.8]).reset_index()
    table["short_m"], table["over_bearing_m"], table["not_assessed_m"] = [0, 0], [0, 0], 0
    # the lighter one dominates although the other asks for less work by motion resistance
    assert dominated_by(table).tolist() == [None, "a"]
    table["work_ratio"] = [1.3, 1.1]
    assert dominated_by(table).tolist() == [None, None]
    ranking = rank(evaluation([[0.1, 0.1]]), [100, 100], work=[0.9, 0.7])
    assert ranking.setups["setup"].tolist() == ["a", "b"]  # alike, so by name
    assert ranking.setups["work_ratio"].tolist() == [0.9, 0.7]  # the table keeps the figure


def test_dominance_compares_within_a_standing_only():
    table = facts_of([0, 100], standings=[ASK, USUAL]).reset_index()
    table["short_m"], table["over_bearing_m"], table["not_assessed_m"] = [0, 5], [0, 5], 0
    assert dominated_by(table).tolist() == [None, None]
    table["standing"] = USUAL
    assert dominated_by(table).tolist() == [None, "a"]
