"""Measurements typed on the command line: every one carries its unit, every fault is named."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from terrain.errors import Issue, refuse_errors
from terrain.inputs.measured_text import Measured, read_length, read_pressure

if TYPE_CHECKING:
    from terrain.models.aids import Aid

__all__ = ["ISSUE_CODES", "collect_measured", "needless_issues", "read_measured"]

ISSUE_CODES = {
    "MEA01": "a measurement on the command line has no clear number and unit",
    "MEA02": "the catalogue has no aid with that key",
    "MEA03": "a measurement on the command line belongs to another aid than the fitted one",
    "MEA04": "a length on the command line is one that no fitted aid has",
}
"""Issue codes of the measurements and what they stand for."""

_FLAGS = {
    ("sits_tight", True): "--sits-tight",
    ("sits_tight", False): "--creeps",
    ("plate_matches", True): "--make-named",
    ("plate_matches", False): "--make-not-named",
}
_KINDS = {"band track": "a band track", "wheel track": "a wheel track", "dual tyres": "dual tyres"}


def read_measured(
    lengths: Mapping[str, str | None], pressures: Mapping[str, str | None]
) -> dict[str, Measured | None]:
    """Read what was typed for each option, see :func:`collect_measured`.

    Raises
    ------
    InputRefused
        With every text that cannot be read.
    """
    read, issues = collect_measured(lengths, pressures)
    refuse_errors(issues)
    return read


def collect_measured(
    lengths: Mapping[str, str | None], pressures: Mapping[str, str | None]
) -> tuple[dict[str, Measured | None], list[Issue]]:
    """Read what was typed for each option, and list every text that cannot be read.

    Parameters
    ----------
    lengths, pressures : mapping of name to text or None
        Named as the option, with the unit of the result: ``sag_left_m`` for ``--sag-left``.

    Returns
    -------
    dict
        The measurement by name; None where nothing was typed, or nothing that can be read. Metres
        and kPa.
    list of Issue
    """
    read: dict[str, Measured | None] = {}
    issues: list[Issue] = []
    groups: tuple[tuple[Mapping[str, str | None], Callable[[str], Measured]], ...] = (
        (lengths, read_length),
        (pressures, read_pressure),
    )
    for texts, reader in groups:
        for name, text in texts.items():
            read[name] = None
            if text is None:
                continue
            try:
                read[name] = reader(text)
            except ValueError as error:
                fix = "Write the number and its unit, in quotes."
                issues.append(Issue("MEA01", "error", f"{error}.", f"option {_option(name)}", fix))
    return read, issues


def needless_issues(
    given: Mapping[str, str | bool | None], aid: Aid | None, catalogue: Sequence[Aid]
) -> list[Issue]:
    """Return an error for each typed measurement that no check of the fitted aid uses.

    Parameters
    ----------
    given : mapping of field name to what was typed
        Named as the fields of ``FitMeasurements``; None where nothing was typed.
    aid : Aid or None
        The fitted aid; None for bare tyres.
    catalogue : sequence of Aid
        To name the aids that need the measurement.
    """
    from terrain.setups.fit_sheet import NEEDED_FOR, not_asked_for

    typed = {name: what for name, what in given.items() if what is not None}
    fitted = "No --aid is given, so the tyres count as bare"
    if aid is not None:
        fitted = f"The aid {aid.key} is of the kind {aid.kind}"
    issues = []
    for name in not_asked_for(aid, typed):
        kinds = NEEDED_FOR[name]
        option = _FLAGS.get((name, typed[name] is True), _option(name))
        needs = _KINDS[kinds[0]] if len(kinds) == 1 else "an aid"
        what = f"{fitted}: {option} belongs to {needs} and would not be checked."
        known = _keys(catalogue, kinds)
        fix = f"Name the fitted aid with --aid ({known}), or leave the option out."
        issues.append(Issue("MEA03", "error", what, f"option {option}", fix))
    return issues


def _keys(catalogue: Sequence[Aid], kinds: Iterable[str]) -> str:
    """Keys of the aids of these kinds, or that there is none."""
    keys = [one.key for one in catalogue if one.kind in kinds]
    return ", ".join(keys) or f"the catalogue has no {' or '.join(kinds)}"


def _option(name: str) -> str:
    """``--sag-left`` for ``sag_left_m``."""
    return "--" + name.removesuffix("_m").removesuffix("_kpa").replace("_", "-")
