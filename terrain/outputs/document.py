"""The report as plain data: a list of blocks that a page and a printed document both draw.

Blocks hold text only, never markup, so that a hostile name can do no harm in either of them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from terrain.outputs.shown_units import METRIC, Shown

__all__ = [
    "LETTERS_ACROSS",
    "Block",
    "Bullets",
    "Column",
    "Facts",
    "Figure",
    "Heading",
    "Paragraph",
    "Row",
    "Table",
    "Terms",
    "as_records",
    "clipped",
    "named",
    "numbers",
    "row",
    "texts",
    "tidied",
]

_TURNING = {"R", "AL", "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``level`` 1 opens a chapter, ``anchor`` is the place that other pages point at."""

    text: str
    level: int = 2
    anchor: str = ""
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph with a bold ``lead``; ``style`` says how it is drawn."""

    text: str
    lead: str = ""
    style: Literal["plain", "note", "answer", "warning"] = "plain"
    kind: Literal["paragraph"] = "paragraph"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of (bold lead, text)."""

    items: tuple[tuple[str, str], ...]
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True, slots=True)
class Facts:
    """Large figures, each with what it means: (figure, meaning)."""

    items: tuple[tuple[str, str], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Terms:
    """Pairs of (term, meaning); ``strong`` draws them as questions and answers."""

    items: tuple[tuple[str, str], ...]
    strong: bool = False
    kind: Literal["terms"] = "terms"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: ``style`` text, number (right, unbroken), mono, or blank (to be filled in)."""

    head: str
    style: Literal["text", "number", "mono", "blank"] = "text"


@dataclass(frozen=True, slots=True)
class Row:
    """Cells as text; ``note`` is a line under the row; ``marked`` sets the row off."""

    cells: tuple[str, ...]
    note: str = ""
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first column names the row.

    ``folded`` is the line that stands for it until somebody opens it on a page; in print only that
    line is left.
    """

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    caption: str = ""
    foot: tuple[str, ...] = ()
    folded: str = ""
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing: ``svg`` is one element of our own making, ``alt`` says it in words."""

    svg: str
    caption: str
    alt: str
    kind: Literal["figure"] = "figure"


LETTERS_ACROSS = 118.0
"""A printed line of a table has about that many letters."""

_GAP = 1.9
_LONG_FIGURE = 24
_SHORT = 16
_EMPTY = 14.0
"""Letters between columns; the length from which figures wrap, and up to which words do not;
room for a short entry by hand."""

Block = Heading | Paragraph | Bullets | Facts | Terms | Table | Figure


def texts(*heads: str) -> tuple[Column, ...]:
    """Columns of words."""
    return tuple(Column(head) for head in heads)


def numbers(*heads: str) -> tuple[Column, ...]:
    """Columns of figures."""
    return tuple(Column(head, "number") for head in heads)


def row(*cells: str, note: str = "", marked: bool = False) -> Row:
    """Make a row of the cells given."""
    return Row(tuple(cells), note, marked)


def named(text: str) -> str:
    """Return a name that may stand in a sentence.

    A name that turns the direction of writing is set between isolates (Unicode standard annex 9),
    so that it cannot turn the words around it; any other comes back as it is.
    """
    if any(unicodedata.bidirectional(sign) in _TURNING for sign in text):
        return f"\N{FIRST STRONG ISOLATE}{text}\N{POP DIRECTIONAL ISOLATE}"
    return text


def clipped(text: str, most: int = 40) -> str:
    """Return ``text`` cut to ``most`` signs with an ellipsis."""
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def as_records(blocks: Iterable[Block]) -> list[dict[str, Any]]:
    """Return the blocks as plain dicts for a template.

    Tables get the ``widths`` of their columns in letters, which a printed line has
    ``LETTERS_ACROSS`` of, and whether a column is ``kept`` from wrapping on a page.
    """
    found = []
    for block in blocks:
        record = asdict(block)
        if isinstance(block, Table):
            record["widths"] = _widths(block)
            record["kept"] = [
                column.style == "text" and _longest(block, k) <= _SHORT
                for k, column in enumerate(block.columns)
            ]
        found.append(record)
    return found


_THOUSANDS = re.compile(
    r"(?<![\w.,:/\u202f-])(\d{4,})(?=(?:\.\d+)?[ \u00a0](?:m|m[23²³]|kg|kPa|kN|t|L|MJ|ha|ft|lb|psi)"
    r"(?![\w/²³]))"
)
_POWER = re.compile(r"(?:^|(?<=\d[ \u00a0]))(m|kg/m)([23])(?!\w)")
_PERCENT = re.compile(r"(?<=\d)%(?!\w)")


def tidied(blocks: Iterable[Block], shown: Shown = METRIC) -> list[Block]:
    """Return the blocks with amounts written in one way, whichever part of the program wrote them.

    Thousands before a unit are set apart as in ``shown``, ``m2`` and ``m3`` after a figure are
    raised, and a percent sign stands off its figure. Names of rows, digests, headings and drawings
    are left alone.
    """

    def tidy(text: str) -> str:
        text = _THOUSANDS.sub(lambda match: shown.number(float(match[1])), text)
        text = _POWER.sub(lambda match: match[1] + {"2": "²", "3": "³"}[match[2]], text)
        return _PERCENT.sub(" %", text)

    def cells(table: Table, written: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(
            text if k == 0 or table.columns[k].style == "mono" else tidy(text)
            for k, text in enumerate(written)
        )

    made: list[Block] = []
    for block in blocks:
        if isinstance(block, Paragraph):
            block = replace(block, text=tidy(block.text))
        elif isinstance(block, Bullets | Terms):
            block = replace(block, items=tuple((lead, tidy(text)) for lead, text in block.items))
        elif isinstance(block, Facts):
            block = replace(block, items=tuple((tidy(a), tidy(b)) for a, b in block.items))
        elif isinstance(block, Figure):
            block = replace(block, caption=tidy(block.caption))
        elif isinstance(block, Table):
            rows = tuple(
                replace(line, cells=cells(block, line.cells), note=tidy(line.note))
                for line in block.rows
            )
            block = replace(block, rows=rows, foot=cells(block, block.foot))
        made.append(block)
    return made


def _cells(table: Table, k: int) -> list[str]:
    return [line.cells[k] for line in table.rows] + list(table.foot[k : k + 1])


def _longest(table: Table, k: int) -> int:
    return max((len(cell) for cell in _cells(table, k)), default=0)


def _widths(table: Table) -> list[float]:
    """Letters for each column: no less than its longest word, more for long text, all in a line."""
    least, wish, greedy = [], [], []
    for k, column in enumerate(table.columns):
        words = [word for cell in _cells(table, k) for word in cell.split()]
        head = max((len(word) for word in column.head.split()), default=0) * 1.15
        longest, word = _longest(table, k), max((len(word) for word in words), default=0)
        if column.style == "blank":
            low, high = 30.0, 60.0
        elif not longest and column.style == "text":
            low = high = _EMPTY
        elif column.style == "number":
            low = high = max(head, longest if longest < _LONG_FIGURE else word, 4.0)
        else:
            letters = min(word, 44) * 0.95 if column.style == "mono" else min(word, 22) * 1.12
            low = max(head, letters, 3.0)
            high = max(low, longest * 1.12 if longest <= _SHORT else min(longest * 0.55, 46.0))
        least.append(low + _GAP)
        wish.append(high + _GAP)
        greedy.append(column.style == "blank" or longest > max(high, _SHORT))
    spare = LETTERS_ACROSS - sum(wish)
    if spare >= 0:
        hunger = sum(w for w, more in zip(wish, greedy, strict=True) if more)
        return [w + spare * w / hunger if more else w for w, more in zip(wish, greedy, strict=True)]
    room, extra = LETTERS_ACROSS - sum(least), sum(wish) - sum(least)
    if room <= 0:
        return [low * LETTERS_ACROSS / sum(least) for low in least]
    return [low + (w - low) * room / extra for low, w in zip(least, wish, strict=True)]
