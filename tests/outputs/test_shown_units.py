"""Units for people. Factors: NIST Special Publication 811 (2008), appendix B.8, from memory."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.outputs.shown_units import METRIC, US, shown_in

PRINTED = [
    ("m", 1 / 3.048e-1),  # foot, exact
    ("m2", 1 / 9.290304e-2),  # square foot, exact
    ("m3", 1 / 2.831685e-2),
    ("ha", 1e4 / 4046.8564224),  # acre of 43 560 square feet of the international foot
    ("kPa", 1 / 6.894757),
    ("kg", 1 / 4.5359237e-1),  # exact
    ("t", 1000 / 9.071847e2),
    ("kN", 1000 / 4.448222),
    ("kg/m2", 1 / 4.882428),
    ("MJ", 1e6 / (7.456999e2 * 3600)),
    ("L", 1e-3 / 3.785412e-3),
]


@pytest.mark.parametrize(("unit", "factor"), PRINTED)
def test_factors_are_those_that_are_printed(unit: str, factor: float) -> None:
    # seven figures are printed, so half a unit of the last one
    assert US.value(1.0, unit) == pytest.approx(factor, rel=5e-7)
    assert METRIC.value(1.0, unit) == 1.0


@given(st.floats(-1e6, 1e6), st.sampled_from([unit for unit, _ in PRINTED]))
def test_a_figure_converted_and_back_is_the_same(amount: float, unit: str) -> None:
    factor = dict(PRINTED)[unit]
    assert US.value(amount, unit) / factor == pytest.approx(amount, rel=1e-6, abs=1e-9)


def test_figures_read_as_people_write_them() -> None:
    assert METRIC.length(1234.4) == "1\u202f234 m"
    assert US.length(1234.4) == "4,050 ft"
    assert METRIC.pressure(400) == "400 kPa"
    assert US.pressure(400) == "58.0 psi"
    assert US.mass(14_000) == "30,865 lb"
    assert US.tonnes(100) == "110 short tons"
    assert METRIC.volume(12.5, 1) == "12.5 m³"
    assert US.volume(12.5, 1) == "441 ft³ (12.5 m³)"
    assert US.force(190) == "42,714 lbf"
    assert US.area(4, 1) == "9.9 acres"
    assert METRIC.fine_length(0.75) == "0.75 m"


def test_slopes_are_percent_and_degrees_in_both() -> None:
    assert METRIC.slope(0.18) == US.slope(0.18) == "18 % (10°)"


@pytest.mark.parametrize("shown", [METRIC, US])
def test_an_unknown_figure_is_words_and_never_zero(shown) -> None:
    for write in (shown.length, shown.pressure, shown.mass, shown.volume, shown.slope, shown.ratio):
        assert write(float("nan")) == "not known"
        assert write(None) == "not known"
    assert shown.percent(math.inf) == "no upper end"


def test_a_small_length_does_not_vanish() -> None:
    assert METRIC.length(0.2) == "under 1 m"
    assert US.length(0.1) == "under 1 ft"
    assert US.length(0.0) == "0 ft"


def test_a_sentence_keeps_its_words_and_gains_brackets() -> None:
    text = "Short on 20 m and 580 m of 6521 m; 40 to 60 kPa; 1.8 t lost."
    assert METRIC.sentence(text) == text
    assert US.sentence(text) == (
        "Short on 20 m (about 66 ft) and 580 m (about 1,900 ft) of 6521 m (about 21,400 ft); 40 to "
        "60 kPa (about 5.8 to 8.7 psi); 1.8 t (about 2.0 short tons) lost."
    )


@pytest.mark.parametrize(
    "text", ["trail T5 m", "5 % of 2 mm", "100 draws", "2.5 kg/m2", "EPSG 25833"]
)
def test_what_is_no_quantity_is_left_alone(text: str) -> None:
    assert US.sentence(text) == text


def test_only_two_systems_are_known() -> None:
    assert shown_in("us") is US
    with pytest.raises(ValueError, match="metric or us"):
        shown_in("imperial")


def test_importing_the_units_loads_nothing_heavy() -> None:
    script = (
        "import sys, terrain.outputs.shown_units;"
        "print([m for m in ('pandas','geopandas','matplotlib') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
