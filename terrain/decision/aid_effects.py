"""What each aid changes: the generic figures, and those of the user's catalogue in their place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.carried import Carried
from terrain.mechanics.effects import TOLD, Effect, effects_of, quantities
from terrain.models.aids import SUPPLIERS_FIGURE, Aid

__all__ = ["effects_of_aids", "effects_table"]

_DIRECTIONS = {"+": "more", "-": "less", "0": "no change"}


def effects_table(items: Sequence[Carried]) -> pd.DataFrame:
    """Every effect of the aids of some setups; see :func:`effects_of_aids`."""
    return effects_of_aids(group.aid for item in items for group in item.groups)


def effects_of_aids(aids: Iterable[Aid | None]) -> pd.DataFrame:
    """Every effect of some aids with the figure that counts, its standing and its use.

    Parameters
    ----------
    aids : iterable of Aid or None
        Repeated entries and None (a bare group) are passed over.

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["effects_used"]``. The value is, in this order: that of
        an ``[[aid.effect]]`` of the catalogue, that of a key of the catalogue, the generic one;
        NaN where none was read. Its range is given where it belongs to that value.
    """
    distinct = {aid.key: aid for aid in aids if aid is not None}
    rows = []
    for aid in distinct.values():
        generic = {effect.quantity: effect for effect in effects_of(aid.kind)}
        own = {effect.quantity for effect in aid.effects}
        for name, quantity in quantities().items():
            entered = (quantity.field or quantity.entered_as) in aid.status
            if name in generic or name in own or entered:
                rows.append(_row(aid, name, generic.get(name)))
    return pd.DataFrame(rows, columns=list(columns_of("effects_used")))


def _row(aid: Aid, name: str, generic: Effect | None) -> dict[str, object]:
    quantity = quantities()[name]
    row: dict[str, object] = {
        "aid_key": aid.key,
        "aid": aid.name,
        "effect": name,
        "direction": _DIRECTIONS[generic.direction] if generic else "",
        "value": np.nan,
        "low": np.nan,
        "high": np.nan,
        "unit": quantity.unit,
    }
    own = next((e for e in aid.effects if e.quantity == name), None)
    if own is not None:
        figures = (own.likely, own.low, own.high)
        row |= dict(zip(("value", "low", "high"), map(_or_nan, figures), strict=True))
        used = quantity.used_for if own.likely is not None else ""
        return row | {
            "status": own.status,
            "source": own.source,
            "used_for": used or TOLD,
            "note": own.note,
        }
    key = quantity.field or quantity.entered_as
    value = getattr(aid, key) if key else None
    if isinstance(value, bool):
        row["direction"] = "yes" if value else "no"
    if value is not None and key in aid.status:
        row["value"] = value
        if quantity.field and generic and generic.low is not None and generic.high is not None:
            fits = generic.low <= value <= generic.high
            row |= {"low": generic.low, "high": generic.high} if fits else {}
        status = aid.status[key]
        return row | {
            "status": status,
            "source": aid.source if status in ("published", SUPPLIERS_FIGURE) else "",
            "used_for": quantity.used_for or TOLD,
            "note": generic.note if generic else "",
        }
    if generic is None:  # cannot happen: a row is made for an own, an entered or a generic figure
        return row
    figures = (generic.likely, generic.low, generic.high)
    row |= dict(zip(("value", "low", "high"), map(_or_nan, figures), strict=True))
    return row | {
        "unit": generic.unit or quantity.unit,
        "status": generic.status,
        "source": ", ".join(part for part in (generic.source, generic.where) if part),
        "used_for": generic.used_for or TOLD,
        "note": generic.note,
    }


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value
