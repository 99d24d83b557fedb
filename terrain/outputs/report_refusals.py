"""Report: excluded setups with their reasons, findings about the inputs, what nobody looked at."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.document import Block, Bullets, Heading, Paragraph, Table, named, row, texts
from terrain.outputs.wording import code_list

__all__ = ["grouped_exclusions", "in_one_line", "refusal_blocks"]

_MOST_REASONS = 4
_MOST_SETUPS = 3
_LINE = 120
"""Letters in a printed line of the list."""


def refusal_blocks(plan: Plan) -> list[Block]:
    """Return excluded setups with reasons, findings about the inputs, what was not assessed."""
    blocks: list[Block] = [Heading("Excluded setups", anchor="excluded")]
    groups = grouped_exclusions(plan.ranking.excluded)
    if groups:
        rows = tuple(
            row(
                ", ".join(group["codes"]),
                _first(group["reasons"], _MOST_REASONS, "more of the kind", " "),
                _first(
                    [named(words) for _, words in group["setups"]],
                    _MOST_SETUPS,
                    "more, see excluded.csv",
                    " \N{MIDDLE DOT} ",
                ),
            )
            for group in groups
        )
        blocks.append(Table(texts("Codes", "Reason", "Setups"), rows))
    else:
        blocks.append(Paragraph("None."))
    blocks.append(Heading("Findings about the inputs"))
    if plan.issues:
        rows = tuple(
            row(issue.code, issue.severity, *map(named, (issue.what, issue.where, issue.fix)))
            for issue in plan.issues
        )
        blocks.append(Table(texts("Code", "Weight", "What", "Where", "What to do"), rows))
    else:
        blocks.append(Paragraph("None."))
    blocks += [
        Heading("What was not assessed", anchor="not-assessed"),
        *_not_assessed(plan.not_assessed),
    ]
    return blocks


def in_one_line(text: str, most: int = _LINE) -> str:
    """Return the first clause of ``text`` that says what was left out, at most ``most`` letters.

    Cut, in this order, after the first sentence, before what follows from it, after a colon, and at
    last between words.
    """
    line = re.split(r"(?<=[a-z)]\.) ", text, maxsplit=1)[0]
    if len(line) > most:
        line = line.split(", so ", 1)[0]
    head, _, _ = line.rpartition(": ")
    if len(line) > most and head:
        line = head
    if len(line) > most:
        line = line[: line.rfind(" ", 0, most)] + " \N{HORIZONTAL ELLIPSIS}"
    return line if line.endswith((".", "\N{HORIZONTAL ELLIPSIS}")) else f"{line}."


def _not_assessed(sentences: Sequence[str]) -> list[Block]:
    """List what was left out, one line each; then in full what did not go into its line."""
    lines = [in_one_line(text) for text in sentences]
    full = [text for text, line in zip(sentences, lines, strict=True) if text != line]
    blocks: list[Block] = [Bullets(tuple(("", line) for line in lines))]
    if full:
        blocks += [Heading("In full", 3), Bullets(tuple(("", text) for text in full))]
    return blocks


def grouped_exclusions(excluded: pd.DataFrame) -> list[dict[str, Any]]:
    """Return excluded setups grouped by their codes: ``codes``, ``reasons``, ``setups``.

    ``setups`` is a list of (id, description); groups with more setups come first.
    """
    groups: dict[tuple[str, ...], dict[str, Any]] = {}
    for _, line in excluded.iterrows():
        codes = code_list(line["codes"])
        group = groups.setdefault(codes, {"codes": codes, "reasons": [], "setups": []})
        reason = line["reasons"]
        reason = reason if isinstance(reason, str) else "; ".join(str(text) for text in reason)
        if reason not in group["reasons"]:
            group["reasons"].append(reason)
        group["setups"].append((str(line["setup"]), str(line["description"])))
    return sorted(groups.values(), key=lambda group: -len(group["setups"]))


def _first(parts: list[str], most: int, more: str, joint: str) -> str:
    rest = len(parts) - most
    return joint.join(parts[:most]) + (f" and {rest} {more}" if rest > 0 else "")
