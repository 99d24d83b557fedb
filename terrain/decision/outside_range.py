"""Where the traction relations are used outside their range: which quantity, which side, how far.

Outside its range a relation still gives a number. This table says for how many metres, and why.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.columns import columns_of
from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import contact, loads
from terrain.mechanics.mounted import Mounted
from terrain.mechanics.relations import relation
from terrain.models.settings import Settings

__all__ = ["outside_range"]

Floats = NDArray[np.float64]

_WORDS = {
    "width_over_diameter": ("tyre width over its diameter", "too narrow", "too wide"),
    "deflection_ratio": (
        "deflection over section height",
        "tyre hardly flattened",
        "tyre flattened much",
    ),
    "load_over_size_kpa": (
        "wheel load over tyre width and diameter",
        "load too small",
        "load too large",
    ),
    "bn": ("mobility number", "ground so soft that it may get stuck", "ground very firm"),
    "slip": ("slip limit", "too little slip", "too much slip"),
}
"""Plain words of a quantity, and of what it means to lie below and above its range."""


def outside_range(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> pd.DataFrame:
    """Metres of every setup outside the range of a traction relation, by reason.

    Parameters
    ----------
    stations : DataFrame
        With ``grade``, ``cross_slope``, ``cone_index_kpa`` and ``length_m``.
    items : sequence of Carried
    settings : Settings
        Slip limit.

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["outside_range"]``; one row for each setup, relation,
        quantity and side that is left on some assessed metre. ``gear`` names the axle groups and
        travel states that leave it. A metre may count in several rows.

    Notes
    -----
    Looked at are the mobility number (which sets ``Evaluation.extrapolated``) and the gross
    traction that rests on it, for both travel states. An unknown figure is in no row: such a
    station is not assessed. Nor is the mobility number of a group that lifts off and carries
    nothing: it has none.
    """
    length = stations["length_m"].to_numpy(dtype=float)
    rows = []
    for item in items:
        found: dict[tuple[str, str, str], list[tuple[str, Floats]]] = {}
        assessed = np.ones(len(stations), dtype=bool)
        for gear, key, values in _looked_at(stations, item, settings.decision.slip_limit):
            assessed &= ~np.isnan(values)
            low, high = relation(key[0]).valid[key[1]]
            for side, left in (("below", values < low), ("above", values > high)):
                beyond = np.where(left & np.isfinite(values), values, np.nan)
                found.setdefault((*key, side), []).append((gear, beyond))
        for (name, quantity, side), parts in found.items():
            rows += _row(item.setup.id, name, quantity, side, parts, assessed, length)
    table = pd.DataFrame(rows, columns=list(columns_of("outside_range")))
    numbers = ["metres", "range_low", "range_high", "found_low", "found_high"]
    return table.astype(dict.fromkeys(numbers, float))


def _looked_at(
    stations: pd.DataFrame, item: Carried, slip_limit: float
) -> Iterator[tuple[str, tuple[str, str], Floats]]:
    """Group and state in words, (relation, quantity), values at the stations."""
    grade = stations["grade"].to_numpy(dtype=float)
    cross = stations["cross_slope"].to_numpy(dtype=float)
    cone = stations["cone_index_kpa"].to_numpy(dtype=float)
    for laden, state in ((True, "loaded"), (False, "empty")):
        load, _, _ = group_loads(item, laden, grade if laden else -grade, cross)
        load = loads.resting_loads_kn(load)
        for i, g in enumerate(item.groups):
            gear = f"{g.group.name} {state}"
            for quantity, values in _wheel(g, load[:, i]).items():
                yield gear, ("brixius_number", quantity), np.broadcast_to(values, grade.shape)
            bn = g.mobility_number(cone, load[:, i])
            yield gear, ("brixius_gross", "bn"), np.asarray(bn, dtype=float)
    yield "whole machine", ("brixius_gross", "slip"), np.full(grade.shape, slip_limit)


def _wheel(g: Mounted, load_kn: Floats) -> dict[str, ArrayLike]:
    tyre = g.group.tyre
    wheel = load_kn / g.tyres
    return {
        "width_over_diameter": tyre.width_m / tyre.diameter_m,
        "deflection_ratio": contact.deflection_ratio(wheel, g.inflation_kpa, tyre.section_height_m),
        "load_over_size_kpa": wheel / (tyre.width_m * tyre.diameter_m),
    }


def _row(
    setup: str,
    name: str,
    quantity: str,
    side: str,
    parts: list[tuple[str, Floats]],
    assessed: NDArray[np.bool_],
    length: Floats,
) -> list[dict[str, object]]:
    """One row, or none where no assessed metre leaves the range on that side."""
    values = np.where(assessed, np.stack([beyond for _, beyond in parts]), np.nan)
    left = ~np.isnan(values)
    if not left.any():
        return []
    row = relation(name)
    low, high = row.valid[quantity]
    words, too_small, too_large = _WORDS[quantity]
    return [
        {
            "setup": setup,
            "relation": row.title,
            "quantity": words,
            "side": f"{side}: {too_small if side == 'below' else too_large}",
            "gear": ", ".join(
                gear for (gear, _), any_left in zip(parts, left, strict=True) if any_left.any()
            ),
            "metres": float(length[left.any(axis=0)].sum()),
            "range_low": low,
            "range_high": high,
            "found_low": float(np.nanmin(values)),
            "found_high": float(np.nanmax(values)),
            "status": row.valid_status,
        }
    ]
