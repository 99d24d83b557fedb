"""Report: setups by their number in the comparison and in plain words, never by id alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from terrain.decision.results import Plan
from terrain.outputs.document import named
from terrain.outputs.page_parts import rows_of

__all__ = ["numbered", "setup_key", "setup_names", "setup_numbers", "without_ids"]


def numbered(plan: Plan) -> list[dict[str, Any]]:
    """Return the ranked setups as dicts with their ``number`` from 1."""
    return [{**line, "number": k} for k, line in enumerate(rows_of(plan.ranking.setups), start=1)]


def setup_numbers(plan: Plan) -> dict[str, int]:
    """Return the number of each ranked setup, by id."""
    return {str(name): k for k, name in enumerate(plan.ranking.setups["setup"], start=1)}


def setup_names(plan: Plan) -> dict[str, str]:
    """Return the plain words of each ranked setup, by id, fit to stand in a sentence."""
    table = plan.ranking.setups
    pairs = zip(table["setup"], table["description"], strict=True)
    return {str(name): named(str(words)) for name, words in pairs}


def setup_key(plan: Plan, setups: Iterable[str]) -> str:
    """Return ``No. 1: ...; No. 2: ...`` for the ids ``setups``, in order of their numbers."""
    names, numbers = setup_names(plan), setup_numbers(plan)
    known = sorted({name for name in setups if name in numbers}, key=numbers.__getitem__)
    return "; ".join(f"No. {numbers[name]}: {names[name]}" for name in known)


def without_ids(plan: Plan, text: str) -> str:
    """Return ``text`` with every id of a ranked setup that joins two parts written as its number.

    An id of one word, such as that of bare wheels, may be a word of the sentence and stays.
    """
    numbers = setup_numbers(plan)
    joined = sorted((name for name in numbers if " + " in name), key=len, reverse=True)
    if not joined:
        return text
    either = "|".join(map(re.escape, joined))
    return re.sub(
        rf"(?<![\w+-])(?<!\+ )(?:{either})(?![\w-])(?! \+)",
        lambda match: f"No. {numbers[match.group()]}",
        text,
    )
