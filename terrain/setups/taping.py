"""Lengths as a tape shows them: in words, too close to tell, or far from what they belong to.

``system`` is the system of the tape: whole millimetres, or sixteenths of an inch. Lengths are in
metres; the figures stand in ``terrain/data/fit_checks.toml``.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Literal

from terrain.setups.layouts import is_known
from terrain.sources import data_table
from terrain.units import INCH_M

__all__ = [
    "NOT_MEASURED",
    "System",
    "as_read",
    "far_off",
    "length_in_words",
    "same_to_a_tape",
    "taping_error_m",
]

System = Literal["metric", "us"]
"""The system of a tape."""

NOT_MEASURED = "not measured"
"""What stands in the place of a length that nobody took."""


def length_in_words(length_m: float | None, system: System = "metric") -> str:
    """Write a length in its own system, the other one in brackets: ``10 mm (0.39 in)``.

    From a metre on in metres, to the millimetre that a tape shows.
    """
    if not is_known(length_m):
        return NOT_MEASURED
    millimetres = f"{1000 * length_m:.0f} mm" if abs(length_m) < 1 else f"{length_m:.3f} m"
    if system == "us":
        return f"{_sixteenths(length_m)} in ({millimetres})"
    return f"{millimetres} ({length_m / INCH_M:.2f} in)"


def as_read(length_m: float, system: System) -> int:
    """Return whole millimetres, or whole sixteenths of an inch."""
    step_m = 0.001 if system == "metric" else INCH_M / 16
    return math.floor(length_m / step_m + 0.5)


def taping_error_m(system: System) -> float:
    """Return the error of two tapings: less apart nobody can tell which one is the longer."""
    return float(data_table("fit_checks")["two_tapings"][system])


def same_to_a_tape(error_m: float, fear: str, system: System) -> str:
    """Say that two tapings are too close to each other to tell."""
    error = length_in_words(error_m, system)
    return f"Less apart than the error of two tapings, {error} (planning assumption): {fear}."


def far_off(
    what: str, taped_m: float | None, beside_m: float | None, beside: str, system: System
) -> str:
    """Ask about a length farther from the one it belongs to than tyres of one size differ.

    Parameters
    ----------
    what : str
        Name of the length: a circumference, unless the word diameter is in it.
    taped_m, beside_m : float or None
        The length, and the one it is held against, metres.
    beside : str
        What the latter is.
    system : {"metric", "us"}

    Returns
    -------
    str
        Question and reason; empty when there is nothing to ask. A diameter in the place of a
        circumference, and the other way round, is recognised.
    """
    if not is_known(taped_m) or not is_known(beside_m):
        return ""
    share = data_table("fit_checks")["off_the_file"]["share"]
    ratio = taped_m / beside_m
    if abs(ratio - 1) <= share + 1e-9:
        return ""
    other, slip = "diameter", ratio * math.pi
    if other in what:
        other, slip = "circumference", ratio / math.pi
    question = "Was it measured there, and in that unit?"
    if "machine file" in beside:
        question = "Was it measured there, and in that unit, and is the machine file right?"
    if abs(slip - 1) <= 2 * share:
        question = f"Is that a {other}?"
    much = f"{100 * abs(ratio - 1):.0f} % {'more' if ratio > 1 else 'less'}"
    return (
        f"{question} The {what}, {length_in_words(taped_m, system)}, is {much} than the "
        f"{length_in_words(beside_m, system)} of {beside}; more than {100 * share:.0f} % is "
        "asked about (planning assumption)."
    )


def _sixteenths(length_m: float) -> str:
    inches = Fraction(as_read(length_m, "us"), 16)
    whole, rest = divmod(inches, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)
