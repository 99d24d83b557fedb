"""Optional columns of the soil layer: soil type of the USCS and the water content found in it."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.errors import Issue
from terrain.inputs.attributes import number_values, rows_text, text_values
from terrain.sources import data_table

__all__ = ["ISSUE_CODES", "moisture_columns"]

ISSUE_CODES: dict[str, str] = {
    "SOIL13": "soil type without a moisture relation",
    "SOIL14": "water content that is no usable percentage",
}


def moisture_columns(
    frame: gpd.GeoDataFrame, columns: Mapping[str, str | None], labels: list[str], where: str
) -> tuple[pd.DataFrame, list[Issue]]:
    """Read ``uscs`` (symbol or None) and ``moisture_percent`` (NaN unknown) of each polygon.

    A symbol without a relation is a note: the class alone then gives the strength. A water content
    that is no number above 0 and at most 300 % is an error by row.
    """
    count, issues = len(frame), []
    named: list[str | None] = [*labels]
    column = columns.get("uscs")
    given = text_values(frame[column]) if column else [None] * count
    symbols = [word.upper().replace(" ", "") if word else None for word in given]
    known = data_table("soil_classes")["moisture_strength"]["types"]
    without = [row for row, word in enumerate(symbols) if word and word not in known]
    if without:
        what = f"soil types without a moisture relation: {rows_text(without, named)}"
        fix = f"Their class alone counts. With relation: {', '.join(sorted(known))}."
        issues.append(Issue("SOIL13", "note", what, where, fix))
    column = columns.get("moisture_percent")
    percent, wrong = np.full(count, np.nan), list[int]()
    if column:
        percent, wrong = number_values(frame[column])
        wrong = sorted({*wrong, *np.flatnonzero((percent <= 0) | (percent > 300)).tolist()})
    if wrong:
        what = f"water content is not a percentage of dry mass: {rows_text(wrong, named)}"
        fix = "Allowed: above 0, at most 300; leave it empty where unknown."
        issues.append(Issue("SOIL14", "error", what, where, fix))
    table = pd.DataFrame(
        {"uscs": pd.Series(symbols, dtype=object), "moisture_percent": np.asarray(percent)}
    )
    return table, issues
