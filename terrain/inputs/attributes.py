"""Columns of other people's layers: found by name, read as text or numbers, nothing guessed."""

from __future__ import annotations

from difflib import get_close_matches

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.errors import Issue

__all__ = ["ISSUE_CODES", "find_column", "number_values", "rows_text", "text_values"]

ISSUE_CODES: dict[str, str] = {"INP29": "column not found"}


def find_column(
    frame: gpd.GeoDataFrame, column: str | None, *, key: str, where: str
) -> tuple[str | None, list[Issue]]:
    """Make sure that the attribute ``column`` named under ``key`` of the block file exists.

    Returns None without issue for a column that is not named (None), and None with an error
    that lists the columns for one that is not there.
    """
    names = [str(name) for name in frame.columns if name != frame.geometry.name]
    if column is None or column in names:
        return column, []
    by_lower = {name.lower(): name for name in names}
    near = get_close_matches(column.lower(), list(by_lower), n=1, cutoff=0.5)
    hint = f"Did you mean {by_lower[near[0]]!r}? " if near else ""
    fix = f"{hint}Columns: {', '.join(names) or 'none'}."
    return None, [Issue("INP29", "error", f"no column {column!r} ({key} = ...)", where, fix)]


def text_values(column: pd.Series) -> list[str | None]:
    """Values as trimmed text; whole floats lose ".0"; missing and blank become None."""
    result: list[str | None] = []
    for value in column:
        if pd.isna(value):
            result.append(None)
            continue
        whole = isinstance(value, float) and value.is_integer()
        result.append(str(int(value) if whole else value).strip() or None)
    return result


def number_values(column: pd.Series) -> tuple[NDArray[np.float64], list[int]]:
    """Values as floats (NaN where missing or blank), and positions of what is no finite number."""
    result, wrong = np.full(len(column), np.nan), []
    for position, text in enumerate(text_values(column)):
        if text is None:
            continue
        try:
            result[position] = float(text)
        except ValueError:
            wrong.append(position)
            continue
        if not np.isfinite(result[position]):
            result[position] = np.nan
            wrong.append(position)
    return result, wrong


def rows_text(positions: list[int], labels: list[str | None] | None = None) -> str:
    """Name rows for a message: ``T07 (row 6), row 9``; rows count from 1 in file order."""
    named = []
    for position in positions:
        label = labels[position] if labels is not None else None
        row = f"row {position + 1}"
        named.append(f"{label} ({row})" if label and label != row else row)
    return ", ".join(named)
