"""Lengths and pressures that no fitted aid and no forest tyre has are refused wherever typed."""

from __future__ import annotations

import math
from collections.abc import Mapping

from terrain.errors import Issue
from terrain.inputs.measured_text import Measured
from terrain.inputs.pressure_log import PLAUSIBLE_KPA
from terrain.units import BAR_KPA, INCH_M, PSI_KPA, pressure_words

__all__ = ["PLAUSIBLE_M", "beyond_issues", "beyond_length_issues", "chart_slip_issues"]

_AROUND = (0.5, 9.5)
PLAUSIBLE_M: dict[str, tuple[float, float]] = {
    "clearance_left_m": (0.0, 0.2),
    "clearance_right_m": (0.0, 0.2),
    "sag_left_m": (0.0, 0.35),
    "sag_right_m": (0.0, 0.35),
    "track_inside_m": _AROUND,
    "tyre_outside_m": _AROUND,
    "inner_diameter_m": _AROUND,
    "outer_diameter_m": _AROUND,
}
"""Low and high end of a length that can be measured on a fitted aid, in metres.

Wide planning assumptions whose only purpose is to catch a wrong unit or a lost digit: the usual
sag of 40 to 70 mm typed in cm is beyond 0.35 m. Diameters and circumferences of tyres have one
span, 0.5 m across to 3.0 m times pi, since one typed for the other is asked about, not refused.
"""

_NOUNS = {"clearance": "a gap beside a shoe", "sag": "the sag of a band track"}


def beyond_length_issues(typed: Mapping[str, Measured | None]) -> list[Issue]:
    """Return an error for each typed length outside :data:`PLAUSIBLE_M`.

    Parameters
    ----------
    typed : mapping of field name to Measured or None
        Named as in :data:`PLAUSIBLE_M`.
    """
    issues = []
    for name, one in typed.items():
        low, high = PLAUSIBLE_M[name]
        # the slack is for 350 mm, which make 0.35000000000000003 m
        if one is None or low - 1e-9 <= one.value <= high + 1e-9:
            continue
        noun = _NOUNS.get(name.split("_")[0], "any measure of a forest tyre")
        end, word = (high, "beyond") if one.value > high else (low, "below")
        what = (
            f"{one.as_written} is {word} the {_length_words(end, one)} that {noun} can have "
            "(planning assumption): unit mixed up or a typing slip."
        )
        fix = (
            f"Read the tape again, and write the number with its unit; "
            f"{_length_words(low, one)} to {_length_words(high, one)} is read."
        )
        issues.append(Issue("MEA04", "error", what, f"option {_option(name)}", fix))
    return issues


def beyond_issues(typed: Mapping[str, Measured | None]) -> list[Issue]:
    """Return an error for each typed pressure that no forest tyre has.

    Parameters
    ----------
    typed : mapping of field name to Measured or None
        Named ``pressure_kpa`` for a reading, which may be as low as 0 because a flat tyre has to be
        read, or otherwise (``charted_kpa``) for a figure of a chart.
    """
    least, most = PLAUSIBLE_KPA
    issues = []
    for name, one in typed.items():
        if one is None:
            continue
        low = 0.0 if name == "pressure_kpa" else least
        if low <= one.value <= most:
            continue
        said = pressure_words(one.value, one.system)
        if one.value > most:
            what = f"{said} is beyond the {most:.0f} kPa that a forest tyre can hold"
        else:
            what = f"{said} is below the {least:.0f} kPa that is charted for any forest tyre"
        fix = "Read gauge or chart again, and write the number with its unit."
        what += ": unit mixed up or a typing slip."
        issues.append(Issue("PRS09", "error", what, f"option {_option(name)}", fix))
    return issues


def _option(name: str) -> str:
    """``--sag-left`` for ``sag_left_m``."""
    return "--" + name.removesuffix("_m").removesuffix("_kpa").replace("_", "-")


def _length_words(length_m: float, like: Measured) -> str:
    """A bound in the system of what was typed."""
    if like.system == "us":
        return f"{round(length_m / INCH_M, 2):g} in"
    return f"{1000 * length_m:.0f} mm" if length_m < 1 else f"{length_m:g} m"


def chart_slip_issues(
    readings_kpa: Mapping[str, float], charts_kpa: Mapping[str, float]
) -> list[Issue]:
    """Return an error for each reading that lies above its chart as far as two units do.

    Parameters
    ----------
    readings_kpa, charts_kpa : mapping of place to float
        By the same places (a tyre, an option); NaN or absent where nothing is known. A reading of
        6.9 or 100 times its chart, give or take a fifth, is a chart in psi or bar that was entered
        as kPa (or the reading the other way round): no tyre holds as much more than its chart.
    """
    issues = []
    for place, reading in readings_kpa.items():
        chart = charts_kpa.get(place, math.nan)
        if not (reading > 0 and chart > 0):
            continue
        apart = reading / chart
        if not any(0.8 <= apart / factor <= 1.2 for factor in (PSI_KPA, BAR_KPA)):
            continue
        what = f"{pressure_words(reading, 'metric')} are read and {pressure_words(chart, 'metric')}"
        what += f" charted, {apart:.1f} times as much: one of them is in another unit."
        fix = "Correct the figure; 1 bar is 100 kPa, 1 psi is 6.9 kPa. Let no air out before."
        issues.append(Issue("PRS11", "error", what, place, fix))
    return issues
