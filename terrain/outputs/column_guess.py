"""Guess which column of a layer means what, from its values first and its name second."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

__all__ = ["guess_columns", "id_candidates"]

_NAMES = {
    "soil_class": r"class|klass|sens|cat",
    "trail_class": r"class|klass|type|kind|cat",
    "volume_m3": r"vol|m3|m³|cbm",
    "width_m": r"width|breit|bredd",
}
_ID_NAMES = r"^(id|.*_id|id_.*|name|label|code|no|nr|number|polygon|trail|landing|.*name)$"
_KNOWN_SHARE = 0.8


def guess_columns(role: str, frame: gpd.GeoDataFrame) -> dict[str, str | None]:
    """Guess the columns of a layer.

    Parameters
    ----------
    role : {"soils", "trails", "landings"}
    frame : GeoDataFrame
        The layer as it was drawn.

    Returns
    -------
    dict
        Our key to a column name, None where nothing fits. A column is used once.

    Notes
    -----
    Drainage and texture are told by their words: at least eight of ten must be known. A soil class
    holds only 1 to 4 and its name must hint at a class. Volume and width must be numbers that are
    not negative and carry a telling name. An id is filled in every row and never repeats.
    """
    used: set[str] = set()
    guess: dict[str, str | None] = {}
    if role == "soils":
        from terrain.inputs.soils import known_drainage, known_texture

        guess["drainage"] = _first(frame, used, lambda c: _known(c, known_drainage))
        guess["texture"] = _first(frame, used, lambda c: _known(c, known_texture))
        guess["soil_class"] = _first(frame, used, _is_soil_class, _NAMES["soil_class"])
    if role == "trails":
        guess["volume_m3"] = _first(frame, used, _is_amount, _NAMES["volume_m3"])
        guess["width_m"] = _first(frame, used, _is_amount, _NAMES["width_m"])
        guess["trail_class"] = _first(frame, used, _is_filled_text, _NAMES["trail_class"])
    candidates = [name for name in id_candidates(frame) if name not in used]
    guess["id"] = candidates[0] if candidates else None
    return guess


def id_candidates(frame: gpd.GeoDataFrame) -> list[str]:
    """Columns that can serve as id: filled, never repeated; telling names and texts first."""
    names = [name for name in _attributes(frame) if _is_key(frame[name])]

    def rank(name: str) -> tuple[bool, bool]:
        return (not re.match(_ID_NAMES, name.lower()), _is_number(frame[name]))

    return sorted(names, key=rank)


def _attributes(frame: gpd.GeoDataFrame) -> list[str]:
    return [str(name) for name in frame.columns if name != frame.geometry.name]


def _first(
    frame: gpd.GeoDataFrame,
    used: set[str],
    fits: Callable[[pd.Series], bool],
    named: str = "",
) -> str | None:
    """First unused column that fits by its values and, where asked, by its name."""
    for name in _attributes(frame):
        if name not in used and re.search(named, name.lower()) and fits(frame[name]):
            used.add(name)
            return name
    return None


def _is_number(column: pd.Series) -> bool:
    from pandas.api.types import is_bool_dtype, is_numeric_dtype

    return bool(is_numeric_dtype(column) and not is_bool_dtype(column))


def _texts(column: pd.Series) -> list[str]:
    return [text for text in (str(value).strip() for value in column.dropna()) if text]


def _is_key(column: pd.Series) -> bool:
    from pandas.api.types import is_integer_dtype

    texts = _texts(column)
    whole = not _is_number(column) or bool(is_integer_dtype(column))
    return whole and len(texts) == len(column) > 0 and len(set(texts)) == len(texts)


def _is_filled_text(column: pd.Series) -> bool:
    return not _is_number(column) and bool(_texts(column))


def _known(column: pd.Series, known: Callable[[str | None], str | None]) -> bool:
    texts = [] if _is_number(column) else _texts(column)
    hits = sum(known(text) is not None for text in texts)
    return bool(texts) and hits >= _KNOWN_SHARE * len(texts)


def _is_soil_class(column: pd.Series) -> bool:
    texts = {text.removesuffix(".0") for text in _texts(column)}
    return bool(texts) and texts <= {"1", "2", "3", "4"}


def _is_amount(column: pd.Series) -> bool:
    return _is_number(column) and bool((column.dropna() >= 0).all() and column.notna().any())
