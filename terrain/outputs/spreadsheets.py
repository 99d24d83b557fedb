"""Text that a spreadsheet must not take for a formula; loads nothing heavy."""

from __future__ import annotations

from typing import Any

__all__ = ["guarded"]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def guarded(value: Any) -> Any:
    """Return ``value`` with an apostrophe before a text that a spreadsheet would compute.

    That is text beginning, after blanks, with ``=``, ``+``, ``-``, ``@``, a tab or a carriage
    return. Numbers are left alone, also negative ones.
    """
    if not isinstance(value, str):
        return value
    risky = value.startswith(_FORMULA_STARTS) or value.lstrip().startswith(_FORMULA_STARTS)
    return "'" + value if risky else value
