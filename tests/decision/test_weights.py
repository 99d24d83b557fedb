"""Weights: where a score is lowest, against a scan over all weights."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.decision.weights import leading_ranges, weights

SCORES = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 20)).map(lambda p: (p[0] / 20, p[1] / 20)),
    min_size=1,
    max_size=6,
)


@given(SCORES)
@settings(max_examples=150, deadline=None)
def test_the_leader_at_every_weight_is_that_of_a_scan(scores):
    traction, pressure = np.array(scores).T
    low, high = leading_ranges(traction, pressure)
    for w in np.linspace(0, 1, 41):
        score = w * traction + (1 - w) * pressure
        leaders = np.flatnonzero(score <= score.min() + 1e-9)
        claimed = np.flatnonzero((low <= w) & (w <= high))
        assert set(claimed) <= set(leaders) or w in set(low[claimed]) | set(high[claimed])
        assert set(claimed) & set(leaders)
    known = np.isfinite(low)
    order = np.argsort(low[known])
    assert np.isclose(low[known].min(), 0.0)
    assert np.isclose(high[known].max(), 1.0)
    # the ranges follow on each other without gap or overlap
    assert np.allclose(low[known][order][1:], high[known][order][:-1])


def test_unknown_scores_lead_nowhere():
    low, high = leading_ranges(np.array([np.nan, 0.5]), np.array([0.1, 0.5]))
    assert np.isnan(low[0])
    assert (low[1], high[1]) == (0.0, 1.0)
    assert np.isnan(leading_ranges(np.array([np.nan]), np.array([np.nan]))[0]).all()


def test_front_and_ranges_by_hand():
    usual = "usual practice"
    made = pd.DataFrame(
        {
            "setup": ["heavy", "light", "worse", "asked"],
            "standing": [usual, usual, usual, "ask the manufacturer first"],
            "short_m": [0.0, 30.0, 30.0, 0.0],
            "over_bearing_m": [20.0, 10.0, 12.0, 0.0],
            "traction_score": [0.0, 0.3, 0.3, 0.0],
            "pressure_score": [0.2, 0.1, 0.12, 0.0],
        }
    )
    got = weights(made).set_index("setup")
    assert got["on_front"].tolist() == [True, True, False, True]
    # w 0 + (1 - w) 0.2 = w 0.3 + (1 - w) 0.1 at w = 0.25
    assert np.allclose(got.loc["light", ["first_from", "first_to"]].astype(float), [0.0, 0.25])
    assert np.allclose(got.loc["heavy", ["first_from", "first_to"]].astype(float), [0.25, 1.0])
    assert got.loc[["worse", "asked"], "first_from"].isna().all()
