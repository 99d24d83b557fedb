"""Hits and misses, intervals and sample sizes of a survey of ruts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.decision.rule_check import share_verdict
from terrain.decision.survey import hit_table, sample_size
from terrain.models.site_rules import rule_profiles


def test_hits_misses_and_false_alarms_by_hand():
    predicted = np.array([4, 4, 1, 1, 0, 2])
    measured = np.array([4, 1, 4, 1, 4, 3])
    length = np.array([5.0, 6.0, 7.0, 8.0, 9.0, 10.0])
    table = hit_table(predicted, measured, length).set_index("class")
    assert table.loc["over 20 cm", ["hit", "miss", "false_alarm", "not_predicted"]].tolist() == [
        1, 1, 1, 1,
    ]  # fmt: skip
    assert table.loc["over 20 cm", ["hit_m", "miss_m", "false_alarm_m"]].tolist() == [5, 7, 6]
    assert table.loc["under 5 cm", ["hit", "miss", "false_alarm"]].tolist() == [1, 1, 1]
    assert table.loc["5 to 10 cm", ["hit", "miss", "false_alarm"]].tolist() == [0, 0, 1]
    assert table.loc["10 to 20 cm", ["hit", "miss", "false_alarm"]].tolist() == [0, 1, 0]


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(1, 4)), min_size=1, max_size=40))
def test_every_record_is_a_hit_a_miss_or_not_predicted(pairs):
    predicted, measured = (np.array(part) for part in zip(*pairs, strict=True))
    table = hit_table(predicted, measured, np.ones(len(pairs)))
    assert table[["hit", "miss", "not_predicted"]].to_numpy().sum() == len(pairs)
    assert table["miss"].sum() == table["false_alarm"].sum()


@pytest.mark.parametrize(
    ("half_width", "confidence", "share", "n"),
    [
        (0.05, 0.95, 0.5, 385),
        (0.10, 0.95, 0.5, 97),
        (0.05, 0.95, 0.15, 196),
        (0.05, 0.80, 0.5, 165),
    ],
)
def test_sample_sizes(half_width, confidence, share, n):
    # own arithmetic on Cochran 1977, chapter 4 (from memory): z^2 p (1 - p) / e^2
    assert sample_size(half_width, confidence, share) == n


def test_a_small_block_needs_fewer_points():
    # 384.1 / (1 + 383.1 / 500) = 217.5, own arithmetic on the same formula
    assert sample_size(0.05, population=500) == 218
    with pytest.raises(ValueError, match="between 0 and 1"):
        sample_size(5.0)


def test_verdicts_only_firm_when_the_whole_band_is():
    rule = rule_profiles()["quebec_45"]
    assert share_verdict(rule, 0.0, 0.1, 0.2) == "the whole band stays within the rule"
    assert share_verdict(rule, 0.3, 0.4, 0.5) == "the whole band is beyond the rule"
    assert share_verdict(rule, 0.1, 0.2, 0.9).startswith("likely within")
    assert share_verdict(rule, 0.1, 0.3, 0.9).startswith("likely beyond")
    assert share_verdict(rule, np.nan, np.nan, np.nan) == "not assessed"
    assert share_verdict(None, 0, 0, 0) == "no rule named"
    graded = rule_profiles()["finland_1996"]
    assert share_verdict(graded, 0.0, 0.05, 0.3) == (
        "grade: likely under 10 % (band: no ruts to over 20 %)"
    )
