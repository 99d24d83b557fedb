"""Sentences and numbers for people. Degrees of a slope: arctangent, own arithmetic."""

from __future__ import annotations

import subprocess
import sys

import pytest

from terrain.outputs import wording
from terrain.outputs.shown_units import METRIC


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (0.18, "18 % (10°)"),
        (0.50, "50 % (27°)"),
        (-0.46, "−46 % (−25°)"),
        (0.0, "0 % (0°)"),
        (-0.003, "−0.3 % (−0.2°)"),
        (-0.0001, "just below 0 % (0°)"),
        (float("nan"), "not known"),
        (None, "not known"),
    ],
)
def test_a_slope_is_said_in_percent_and_degrees_together(ratio: float | None, words: str) -> None:
    assert wording.slope_words(ratio) == words


def test_an_unknown_figure_is_never_written_as_zero() -> None:
    for say in (METRIC.length, METRIC.pressure, METRIC.mass, METRIC.ratio):
        assert say(float("nan")) == wording.UNKNOWN
        assert "0" in say(0.0)


def test_a_short_length_does_not_vanish() -> None:
    assert METRIC.length(0.2) == "under 1 m"
    assert METRIC.length(0.0) == "0 m"
    assert METRIC.length(1234.4) == "1\u202f234 m"


def test_codes_are_read_from_text_and_from_lists() -> None:
    assert wording.code_list("USE81, FIT01;FIT02 X") == ("USE81", "FIT01", "FIT02", "X")
    assert wording.code_list(["A", "B"]) == ("A", "B")
    assert wording.code_list(None) == ()


def test_importing_the_words_loads_nothing_heavy() -> None:
    script = (
        "import sys, terrain.outputs.shown_units;"
        "print([m for m in ('pandas','geopandas','folium','matplotlib','rasterio') "
        "if m in sys.modules])"
    )
    out = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    ).stdout
    assert out.strip() == "[]"
