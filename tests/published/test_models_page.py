"""The tables of ``docs/explanation/models.md`` that compare models: each figure worked out anew.

Own arithmetic throughout, written out from the equations that the page names (Brixius 1987 as taken
up in ASABE D497; Turnage 1972 with Maclaurin 1990, from memory; Wismer & Luth 1973; Janosi &
Hanamoto 1961), without the functions of the package.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "models.md"
WIDTH, HEIGHT = 0.71, 0.3195  # 710/45-26.5
DIAMETER = 26.5 * 0.0254 + 2 * HEIGHT
FRONT_T, REAR_T = 0.4 * 34, 0.6 * 34


def table(first_header: str) -> dict[str, list[str]]:
    """Rows of the page's table whose header starts so: first cell to the other cells."""
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    starts = [i for i, line in enumerate(lines) if line.startswith(f"| {first_header}")]
    assert starts, first_header
    rows = {}
    for line in lines[starts[0] + 2 :]:
        if not line.startswith("|"):
            break
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        rows[cells[0]] = cells[1:]
    return rows


def deflection(load_kn, inflation):
    return (0.0008 + 0.001 * (0.365 + 170 / inflation) * load_kn) / HEIGHT


def number(cone, load_kn, inflation):
    shape = (1 + 5 * deflection(load_kn, inflation)) / (1 + 3 * WIDTH / DIAMETER)
    return cone * WIDTH * DIAMETER / load_kn * shape


def brixius(bn, slip, factor=1.0, built_up=None):
    built_up = 1 - np.exp(-7.5 * slip) if built_up is None else built_up
    resistance = 1 / bn + 0.5 * slip / np.sqrt(bn)
    return 0.88 * factor * (1 - np.exp(-0.1 * bn)) * built_up - resistance


def build_up(length_m, slip, modulus_m):
    x = slip * length_m / modulus_m
    return 1 - (1 - np.exp(-x)) / x


def machine(cone, added_t, inflation, gain=1.0, *, slip, **how):
    """Load-weighted net pull of the page's forwarder: 40 % of 34 t in front, aids half and half."""
    groups = np.array([FRONT_T, REAR_T]) + added_t / 2
    bn = number(cone, groups * 9.81 / 4, inflation) * gain
    return float((groups * brixius(bn, slip, **how)).sum() / groups.sum())


def band_gain(width_m, length_m):
    return 2 * width_m * length_m / (4 * WIDTH * DIAMETER / 2)


BAND = band_gain(0.887, 1.67)
FASTER = 1 - np.exp(-7.5 * 0.25)
FASTER = min(FASTER * build_up(1.67, 0.25, 0.025) / build_up(DIAMETER / 2, 0.25, 0.025), 1.0)


@pytest.mark.parametrize(
    ("row", "made_with"),
    [
        ("bare, 400 kPa", {"added_t": 0.0, "inflation": 400}),
        ("chains, 1.6 t, on bare soil (no factor)", {"added_t": 1.6, "inflation": 400}),
        (
            "chains, 1.6 t, factor 1.05 (litter or sod, bitten through)",
            {"added_t": 1.6, "inflation": 400, "factor": 1.05},
        ),
        (
            "band tracks 4.4 t, 0.887 x 1.67 m, 450 kPa, no gain",
            {"added_t": 4.4, "inflation": 450, "gain": BAND},
        ),
        (
            "same with the gain of the slip term",
            {"added_t": 4.4, "inflation": 450, "gain": BAND, "built_up": FASTER},
        ),
    ],
)
def test_one_scale_for_all_gear(row, made_with):
    printed = [float(cell) for cell in table("34 t forwarder")[row]]
    found = [100 * machine(cone, slip=0.25, **made_with) for cone in (250, 400, 600, 900, 1200)]
    np.testing.assert_allclose(found, printed, atol=0.5)


def test_models_against_each_other():
    rows = table("cone index kPa | Brixius")
    assert list(rows) == ["300", "400", "600", "1000", "1500"]
    for cone, cells in rows.items():
        plain = float(cone) * WIDTH * DIAMETER / 50
        turnage = plain * np.sqrt(deflection(50, 400)) / (1 + WIDTH / DIAMETER / 2)
        found = (
            brixius(number(float(cone), 50, 400), 0.2),
            0.80 - 3.2 / (turnage + 1.91),
            0.75 * (1 - np.exp(-0.3 * plain * 0.2)) - 1.2 / plain - 0.04,
        )
        assert [f"{value:.3f}" for value in found] == cells


def test_pull_by_contact_length():
    rows = table("cone index kPa | primary")
    assert list(rows) == ["300", "600", "1000"]
    for cone, cells in rows.items():
        gain = band_gain(0.887, 1.73)
        ways = [None, build_up(1.73, 0.2, 0.025), build_up(1.73, 0.2, 0.006)]
        made = (machine(float(cone), 4.8, 450, gain, slip=0.2, built_up=way) for way in ways)
        primary, low, high = (f"{value:.3f}" for value in made)
        assert cells == [primary, f"{low} to {high}"]


def test_wheels_that_carry_unequal_loads_pull_less_than_their_mean():
    # standard statics: the sides of a group carry 1 -/+ 2 (h / t) c of their mean; here h / t = 0.8
    rows = table("cross slope")
    assert list(rows) == ["10 %", "20 %", "30 %"]
    for slope, cells in rows.items():
        shift = 2 * 0.8 * float(slope.split()[0]) / 100
        for cone, printed in zip((250.0, 400.0, 1000.0), cells, strict=True):
            even = brixius(number(cone, 42, 400), 0.25)
            sides = np.array([1 - shift, 1 + shift])
            uneven = (sides / 2 * brixius(number(cone, 42 * sides, 400), 0.25)).sum()
            assert f"{100 * (even - uneven):.1f}" == printed
