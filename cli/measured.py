"""Measurements typed on the command line: every one carries its unit, every fault is named."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from terrain.errors import Issue, refuse_errors
from terrain.inputs.measured_text import Measured, read_length, read_pressure

__all__ = ["ISSUE_CODES", "read_measured"]

ISSUE_CODES = {
    "MEA01": "a measurement on the command line has no clear number and unit",
    "MEA02": "the catalogue has no aid with that key",
}
"""Issue codes of the measurements and what they stand for."""


def read_measured(
    lengths: Mapping[str, str | None], pressures: Mapping[str, str | None]
) -> dict[str, Measured | None]:
    """Read what was typed for each option.

    Parameters
    ----------
    lengths, pressures : mapping of name to text or None
        Named as the option, with the unit of the result: ``sag_left_m`` for ``--sag-left``.

    Returns
    -------
    dict
        The measurement by name; None where nothing was typed. Metres and kPa.

    Raises
    ------
    InputRefused
        With every text that cannot be read.
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
    refuse_errors(issues)
    return read


def _option(name: str) -> str:
    """``--sag-left`` for ``sag_left_m``."""
    return "--" + name.removesuffix("_m").removesuffix("_kpa").replace("_", "-")
