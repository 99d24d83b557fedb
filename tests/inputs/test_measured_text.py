"""Lengths and pressures as typed. 1 in = 25.4 mm exactly; 1 psi = 6.894757 kPa (NIST SP 811)."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.inputs.measured_text import read_length, read_pressure


@pytest.mark.parametrize(
    ("text", "metres", "system"),
    [
        ("10 mm", 0.010, "metric"),
        ("1,5cm", 0.015, "metric"),
        (" 4.12 m ", 4.12, "metric"),
        ("3/8 in", 0.009525, "us"),
        ("1 1/2 in", 0.0381, "us"),
        ("11/2 IN", 0.1397, "us"),
        ("2.75in", 0.06985, "us"),
        ("3 ft", 0.9144, "us"),
    ],
)
def test_lengths(text, metres, system):
    read = read_length(text)
    assert read.value == pytest.approx(metres, rel=1e-9)
    assert read.system == system


@pytest.mark.parametrize(
    ("text", "kpa", "system"),
    [
        ("240 kPa", 240.0, "metric"),
        ("2.4 bar", 240.0, "metric"),
        ("35 psi", 241.316495, "us"),
    ],
)
def test_pressures(text, kpa, system):
    read = read_pressure(text)
    assert read.value == pytest.approx(kpa, rel=1e-9)
    assert read.system == system


@pytest.mark.parametrize(
    "text",
    ["12", "", "mm", "-3 mm", "nan mm", "1,200 mm", "1.5 1/2 in", "1/0 in", "12 kPa", "1e3 mm"],
)
def test_unclear_lengths_are_refused(text):
    with pytest.raises(ValueError, match=r"such as|two ways|mixes|zero"):
        read_length(text)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    with contextlib.suppress(ValueError):
        assert read_length(text).value >= 0
