"""Coded columns of the map: what the page reads is the class and the figure that the plan holds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.outputs.map_classes import views
from terrain.outputs.map_codes import (
    ALPHABET,
    PASSES,
    PRESSURE_US,
    RATIO,
    SLOPE,
    Pack,
    Scale,
    elevation_scale,
)
from terrain.outputs.page_parts import classify
from terrain.stations.traffic import pass_class
from tests.outputs.synthetic import make_plan

VIEWS = {view.key: view for view in views(make_plan())}


def read(text: str, k: int) -> int:
    return 64 * ALPHABET.index(text[2 * k]) + ALPHABET.index(text[2 * k + 1])


def shown(scale: Scale, code: int) -> float:
    """What the page shows for a code; own arithmetic from the words of the module."""
    return math.nan if code == 0 else scale.low + (code - 1 + scale.shift) * scale.step


def class_from_code(key: str, code: int) -> int:
    view = VIEWS[key]
    edges = [int(view.scale.codes(item.upper)) for item in view.classes[1:-1]]
    return 0 if code == 0 else 1 + sum(code >= edge for edge in edges)


@pytest.mark.parametrize("key", ["reserve", "ratio", "passes"])
@given(
    value=st.floats(-3, 6)
    | st.sampled_from([0.0, -0.0, -1e-15, 0.05, 0.1, 0.8, 1.0, 1.25, math.nan])
)
def test_a_code_never_changes_its_class(key: str, value: float) -> None:
    value = float(np.floor(value)) if key == "passes" and np.isfinite(value) else value
    value = abs(value) if key != "reserve" else value
    code = int(VIEWS[key].scale.codes(value))
    assert class_from_code(key, code) == int(classify(np.array([value]), VIEWS[key].classes)[0])


@given(value=st.floats(-1.02, 1.02))
def test_a_code_stands_for_its_step(value: float) -> None:
    assert abs(shown(SLOPE, int(SLOPE.codes(value))) - value) <= SLOPE.step


@given(value=st.floats(0, 4).filter(lambda v: abs(1000 * v % 10 - 5) > 1e-6))
def test_a_ratio_reads_the_same_to_its_second_decimal(value: float) -> None:
    assert round(shown(RATIO, int(RATIO.codes(value))), 2) == round(value, 2)


@given(
    percent=st.floats(1, 100).filter(lambda v: abs(v % 1 - 0.5) > 1e-6),
    sign=st.sampled_from([-1, 1]),
)
def test_whole_percent_survive_the_code(percent: float, sign: int) -> None:
    value = sign * percent / 100
    assert round(100 * shown(SLOPE, int(SLOPE.codes(value)))) == round(100 * value)


def test_unknown_is_nought_and_the_ends_hold_what_lies_beyond() -> None:
    assert SLOPE.codes([math.nan, math.inf, -math.inf]).tolist() == [0, 0, 0]
    assert SLOPE.codes([-9.0, 9.0]).tolist() == [1, 4095]


def test_elevations_fit_their_scale() -> None:
    heights = np.array([12.3, 2900.0, math.nan])
    scale = elevation_scale(heights)
    codes = scale.codes(heights)
    assert codes[2] == 0
    assert 1 <= codes[0] < codes[1] < 4095
    assert shown(scale, int(codes[1])) == pytest.approx(2900.0, abs=scale.step)
    assert elevation_scale([math.nan]).codes([math.nan]).tolist() == [0]


def test_a_pack_keeps_equal_columns_once() -> None:
    pack = Pack()
    assert pack.add(np.array([0, 1, 4095])) == 0
    assert pack.add(np.array([64, 63, 2])) == 1
    assert pack.add(np.array([0, 1, 4095])) == 0
    assert [read(pack.texts[0], k) for k in range(3)] == [0, 1, 4095]
    assert [read(pack.texts[1], k) for k in range(3)] == [64, 63, 2]


def test_letters_need_no_escape_in_a_page() -> None:
    assert len(set(ALPHABET)) == 64
    assert not set(ALPHABET) & set("<>&\"'\\")


def test_passes_are_classed_as_the_traffic_module_does() -> None:
    counts = np.array([1.0, 2, 3, 5, 6, 10, 11, 300])
    found = [class_from_code("passes", int(PASSES.codes(n))) - 1 for n in counts]
    assert found == pass_class(counts).tolist()


@given(psi=st.floats(0.1, 80).filter(lambda v: abs(v * 10 % 1 - 0.5) > 1e-6))
def test_tenths_of_a_psi_survive_the_code(psi: float) -> None:
    code = int(PRESSURE_US.codes(psi * 6.894757))
    assert round(shown(PRESSURE_US, code) / 6.894757, 1) == round(psi, 1)


@given(low=st.floats(0, 9000), rise=st.floats(0, 2000))
def test_whole_feet_survive_the_code(low: float, rise: float) -> None:
    feet = np.array([low, low + rise])
    scale = elevation_scale(feet * 0.3048, 0.3048)
    read_back = [shown(scale, int(code)) / 0.3048 for code in scale.codes(feet * 0.3048)]
    for found, true in zip(read_back, feet, strict=True):
        assert abs(round(found) - true) <= 0.5 + 1e-6
