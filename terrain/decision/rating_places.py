"""Where a setup exceeds a rating: metres on each trail, by rating and all together.

The table behind the words "over the rating on slopes" on map, brief and receiver. It stands on the
same shares as :func:`terrain.decision.ratings.rating_checks`, so that the places and the table of
ratings cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision import ratings
from terrain.decision.carried import Carried
from terrain.models.settings import Settings

__all__ = ["ANY_RATING", "ratings_by_trail"]

Floats = NDArray[np.float64]

ANY_RATING = "any rating"
"""Name of the row of a trail that counts every metre over at least one rating, once."""


@dataclass(frozen=True, slots=True)
class _Shares:
    """Load over one rating at each station, the larger of loaded and empty; NaN unknown.

    ``worst`` is the worse bogie case, the balanced one where the other is unknown. ``known`` is
    False where no known case is over and a case of either travel state is unknown.
    """

    name: str
    balanced: Floats
    worst: Floats
    known: NDArray[np.bool_]


def ratings_by_trail(stations: pd.DataFrame, item: Carried, settings: Settings) -> pd.DataFrame:
    """Metres of each trail on which a setup exceeds its ratings.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``cone_index_kpa``, ``length_m``, ``trail``,
        ``chainage_m``.
    item : Carried
        The setup, with the payload that its ratings allow on the level.
    settings : Settings
        The slip limit, for the thrust behind a bogie that pivots freely.

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["rating_places"]``. For each trail, in the order of the
        stations, first the row :data:`ANY_RATING` (a metre over several ratings counts once), then
        one row a rating of the machine file. A metre counts that is over loaded or empty. No row
        where the machine file has no rating.

    Notes
    -----
    ``over_balanced_m``, ``largest_share`` and ``at_m`` hold for bogies whose wheels carry alike;
    ``over_m - over_balanced_m`` are the metres that come on top only if bogies pivot freely. Of
    tyres that are set below their charted pressure a share is known only where even the charted
    rating is exceeded, so the largest one is the least that it can be.
    Never a permission: where nothing is over, jolts, swinging logs and wear are still not in it.
    """
    found = _shares(stations, item, settings.decision.slip_limit)
    if not found:
        return pd.DataFrame(columns=list(columns_of("rating_places")))
    everything = _Shares(
        ANY_RATING,
        _largest([one.balanced for one in found]),
        _largest([one.worst for one in found]),
        np.all([one.known for one in found], axis=0),
    )
    everything = replace(everything, known=everything.known | (everything.worst > ratings.OVER))
    length = stations["length_m"].to_numpy(float)
    chainage = stations["chainage_m"].to_numpy(float)
    trail = stations["trail"].astype(str).to_numpy()
    rows = []
    for name in pd.unique(trail):
        here = np.flatnonzero(trail == name)
        for one in (everything, *found):
            rows.append(
                {"trail": name, "rating": one.name} | _row(one, here, length[here], chainage[here])
            )
    return pd.DataFrame(rows, columns=list(columns_of("rating_places")))


def _shares(stations: pd.DataFrame, item: Carried, slip: float) -> list[_Shares]:
    """Every rating that the machine file states, both travel states together."""
    ground = ratings.ground_of(stations)
    laden = ratings.shares_of(item, True, ground, slip) if item.load is not None else None
    empty = ratings.shares_of(item, False, ground, slip)
    found = []
    for both in zip(empty, laden or empty, strict=True):
        if both[0].rated:
            worst = _largest(
                [np.where(np.isnan(one.worst), one.balanced, one.worst) for one in both]
            )
            known = np.all([np.isfinite(one.worst) for one in both], axis=0)
            found.append(
                _Shares(
                    both[0].name,
                    _largest([one.balanced for one in both]),
                    worst,
                    known | (worst > ratings.OVER),
                )
            )
    return found


def _largest(shares: list[Floats]) -> Floats:
    """Largest known share at each station; NaN where none is known."""
    return np.fmax.reduce(shares)


def _row(one: _Shares, here: NDArray, length: Floats, chainage: Floats) -> dict[str, float]:
    balanced, worst = one.balanced[here], one.worst[here]
    row = {
        "over_balanced_m": np.nan,
        "over_m": np.nan,
        "largest_share": np.nan,
        "at_m": np.nan,
        "unknown_m": float(length[~one.known[here]].sum()),
    }
    if np.isfinite(worst).any():
        row["over_m"] = float(length[worst > ratings.OVER].sum())
    if np.isfinite(balanced).any():
        at = int(np.nanargmax(balanced))
        row |= {
            "over_balanced_m": float(length[balanced > ratings.OVER].sum()),
            "largest_share": float(balanced[at]),
            "at_m": float(chainage[at]),
        }
    return row
