"""Pressures that no forest tyre has are refused wherever they are typed."""

from __future__ import annotations

from collections.abc import Mapping

from terrain.errors import Issue
from terrain.inputs.measured_text import Measured
from terrain.inputs.pressure_log import PLAUSIBLE_KPA
from terrain.units import pressure_words

__all__ = ["beyond_issues"]


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
        option = "--" + name.removesuffix("_kpa").replace("_", "-")
        fix = "Read gauge or chart again, and write the number with its unit."
        what += ": unit mixed up or a typing slip."
        issues.append(Issue("PRS09", "error", what, f"option {option}", fix))
    return issues
