"""Any table of the column registry as a table of the report: heads, units and words from it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from terrain.columns import TABLES, Column
from terrain.outputs import document
from terrain.outputs.document import Block, Paragraph, Table, named
from terrain.outputs.page_parts import rows_of
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN

__all__ = ["asked_from", "column_head", "registered_blocks", "registered_table", "written"]

_ENDINGS = {
    "_m": "m", "_kpa": "kPa", "_kg": "kg", "_kn": "kN", "_t": "t", "_m3": "m3", "_ha": "ha",
    "_mj": "MJ", "_l": "L", "_kg_m2": "kg/m2", "_m2": "m2", "_mm": "mm",
}  # fmt: skip
_SLOPES = ("reserve", "grade", "slope", "cross", "uphill", "downhill", "max_cross")
_SHARES = ("share", "chance", "weight", "first_from", "first_to", "slip")
_ASK_FROM = ("check_slope", "tip_slope")
_PLAIN = ("setup", "state", "trail", "chainage_m", "status", "aid", "unit")
"""Columns that need no explanation."""

_LONGEST_GAP = 14
"""What the registry says of a missing value stands in the cell when it is this short."""

_DIGITS = {"t": 1, "m3": 0, "MJ": 0, "L": 0, "ha": 1, "kg/m2": 1, "mm": 0, "m2": 2}


def registered_blocks(
    name: str,
    frame: pd.DataFrame | None,
    shown: Shown,
    *,
    only: Sequence[str] = (),
    most: int | None = None,
    explained: bool = True,
    by: str = "",
) -> list[Block]:
    """Return the table ``name`` and a note on what its columns mean; nothing for no rows.

    With ``by`` each value of that column gets a table of its own; ``most`` holds for each.
    """
    if frame is None or not len(frame):
        return []
    blocks: list[Block] = []
    columns = _columns(frame, only)
    parts: list[tuple[str, pd.DataFrame]] = [("", frame)]
    if by in columns:
        columns.remove(by)
        parts = [(named(str(value)), part) for value, part in frame.groupby(by, sort=False)]
    for caption, part in parts:
        blocks.append(registered_table(name, part, shown, only=columns, most=most, caption=caption))
        rest = len(part) - most if most is not None else 0
        if rest > 0:
            words = f"{rest} more rows: see plan.json or block.gpkg."
            blocks.append(Paragraph(words, style="note"))
    known = {item.name: item for item in TABLES.get(name, ())}
    told = [
        f"{column_head(column)}: {known[column].meaning.rstrip('.')}"
        for column in columns
        if column in known and column not in _PLAIN and explained
    ]
    if told:
        blocks.append(Paragraph(". ".join(told) + ".", style="note"))
    return blocks


def registered_table(
    name: str,
    frame: pd.DataFrame,
    shown: Shown,
    *,
    only: Sequence[str] = (),
    most: int | None = None,
    caption: str = "",
) -> Table:
    """Return the rows of ``frame`` with the units of the registry's table ``name``.

    ``only`` picks and orders columns; ``most`` is the largest number of rows. A column that the
    registry does not know takes its unit from the ending of its name.
    """
    known = {item.name: item for item in TABLES.get(name, ())}
    columns = _columns(frame, only)
    columns = [column for column in columns if column == columns[0] or frame[column].notna().any()]
    heads = []
    for column in columns:
        figures = pd.api.types.is_numeric_dtype(frame[column]) and frame[column].dtype != "boolean"
        style = "number" if figures and frame[column].dtype != bool else "text"
        heads.append(document.Column(column_head(column), style))  # type: ignore[arg-type]
    rows = tuple(
        document.row(
            *(written(line[column], column, known.get(column), shown) for column in columns)
        )
        for line in rows_of(frame.loc[:, columns].head(most) if most else frame.loc[:, columns])
    )
    return Table(tuple(heads), rows, caption=caption)


def written(value: object, column: str, known: Column | None, shown: Shown) -> str:
    """Write one value: by the unit in the registry, else by the ending of the column's name."""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if value is None or (isinstance(value, float) and np.isnan(value)):
        gap = known.missing if known is not None else UNKNOWN
        if gap.startswith("no "):  # no range, no figure: nothing to know
            return "none"
        return gap if len(gap) <= _LONGEST_GAP and not gap.startswith("never") else UNKNOWN
    if not isinstance(value, int | float | np.integer | np.floating):
        return named(shown.sentence(str(value)) if " " in str(value) else str(value))
    amount = float(value)
    unit = known.unit if known is not None else _unit_of(column)
    if unit in ("ratio", ""):
        return _ratio(amount, column, unit, shown)
    if unit == "m":
        return shown.length(amount)
    if unit == "kPa":
        return shown.pressure(amount)
    if unit in ("degrees", "mm"):
        return f"{shown.number(amount, _DIGITS.get(unit, 0))} {'°' if unit == 'degrees' else unit}"
    if unit == "m3":
        return shown.volume(amount)
    try:
        return shown.amount(amount, unit, _DIGITS.get(unit, 0))
    except KeyError:
        return f"{shown.number(amount, 0 if amount.is_integer() else 2)} {unit}"


def _ratio(amount: float, column: str, unit: str, shown: Shown) -> str:
    if any(word in column for word in _SHARES):
        return shown.percent(amount)
    if column in _ASK_FROM:  # a slope from which to ask is never rounded up
        amount = asked_from(amount)
    if any(word in column for word in _SLOPES) and "ratio" not in column:
        return shown.slope(amount)
    return shown.number(amount, 0 if amount.is_integer() and unit == "" else 2)


def asked_from(slope: float) -> float:
    """A slope (ratio) from which something is to be asked, down to whole percent; NaN stays."""
    return math.floor(100 * slope + 1e-9) / 100 if math.isfinite(slope) else slope


def _columns(frame: pd.DataFrame, only: Sequence[str]) -> list[str]:
    names = [str(name) for name in frame.columns if name != "geometry"]
    return [name for name in only if name in names] if only else names


def _unit_of(column: str) -> str:
    for ending in sorted(_ENDINGS, key=len, reverse=True):
        if column.endswith(ending):
            return _ENDINGS[ending]
    return ""


def column_head(column: str) -> str:
    """Column name in words, without the ending that names its unit."""
    name = column
    for ending in sorted(_ENDINGS, key=len, reverse=True):
        if name.endswith(ending):
            name = name[: -len(ending)]
            break
    name = name.replace("_", " ").replace("ngp", "nominal pressure").replace(" max", ", largest")
    return name[:1].upper() + name[1:]
