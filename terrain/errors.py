"""What can be wrong with an input, said so that a planner can mend it.

Checks never raise at the first fault. They collect :class:`Issue` records; whoever needs a clean
input calls :func:`refuse_errors`, which raises one :class:`InputRefused` holding all of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

__all__ = ["InputRefused", "Issue", "RutwiseError", "by_severity", "errors_in", "refuse_errors"]

Severity = Literal["error", "warning", "note"]
_MOST_SEVERE_FIRST = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Issue:
    """One finding about the inputs.

    Attributes
    ----------
    code : str
        Short stable code, for example ``SOIL03``; ``rutwise explain`` knows it.
    severity : {"error", "warning", "note"}
        An error stops ``plan``; a warning goes on into the report; a note is only said.
    what : str
        What is wrong, in one sentence, with the figure (metres, cells, kilograms).
    where : str
        File and row or key, for example ``trails.gpkg, trail T07 (row 6)``.
    fix : str
        What is allowed and what to do.
    """

    code: str
    severity: Severity
    what: str
    where: str
    fix: str

    def __str__(self) -> str:
        return f"{self.severity} {self.code}: {self.what} [{self.where}] {self.fix}"


class RutwiseError(Exception):
    """Base of every error that Rutwise raises on purpose."""


class InputRefused(RutwiseError):
    """The inputs hold errors; ``issues`` lists every one of them, and the warnings beside."""

    def __init__(self, issues: Iterable[Issue]):
        self.issues = tuple(issues)
        super().__init__("\n".join(str(issue) for issue in self.issues))


def by_severity(issues: Iterable[Issue]) -> list[Issue]:
    """Return the issues with errors first, then warnings, then notes; else in their order."""
    return sorted(issues, key=lambda issue: _MOST_SEVERE_FIRST.index(issue.severity))


def errors_in(issues: Iterable[Issue]) -> list[Issue]:
    """Return the issues whose severity is ``error``."""
    return [issue for issue in issues if issue.severity == "error"]


def refuse_errors(issues: Iterable[Issue]) -> None:
    """Raise :class:`InputRefused` with all ``issues`` when at least one of them is an error."""
    issues = list(issues)
    if errors_in(issues):
        raise InputRefused(issues)
