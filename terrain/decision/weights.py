"""Traction need against ground-pressure impact: the front, and where the first choice stays first.

The score of a setup is ``w t + (1 - w) p``, with ``t`` and ``p`` the shares of the assessed metres
that are short of traction and over the bearing capacity. It is a straight line in the weight, so
the ranges in which one setup has the lowest score are exact.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.setups.standing import Standing

__all__ = ["leading_ranges", "weights"]

Floats = NDArray[np.float64]


def weights(setups: pd.DataFrame) -> pd.DataFrame:
    """Front and weight ranges: table ``weights`` of the registry, in ranked order.

    Parameters
    ----------
    setups : DataFrame
        Table ``setups`` of the registry, ranked.

    Notes
    -----
    Only setups of usual practice compete for the ranges; of equal scores the better ranked leads.
    """
    need = setups["short_m"].to_numpy(dtype=float)
    impact = setups["over_bearing_m"].to_numpy(dtype=float)
    standing = setups["standing"].to_numpy()
    same = standing[:, None] == standing[None, :]
    no_more = (need[:, None] <= need[None, :]) & (impact[:, None] <= impact[None, :])
    less = (need[:, None] < need[None, :]) | (impact[:, None] < impact[None, :])
    usual = np.flatnonzero(standing == Standing.USUAL.words)
    first_from, first_to = np.full((2, len(setups)), np.nan)
    low, high = leading_ranges(
        setups["traction_score"].to_numpy(dtype=float)[usual],
        setups["pressure_score"].to_numpy(dtype=float)[usual],
    )
    first_from[usual], first_to[usual] = low, high
    table = pd.DataFrame(
        {
            "setup": setups["setup"].to_numpy(),
            "short_m": need,
            "over_bearing_m": impact,
            "on_front": ~(no_more & less & same).any(axis=0),
            "first_from": first_from,
            "first_to": first_to,
        }
    )
    return table[list(columns_of("weights"))]


def leading_ranges(traction: Floats, pressure: Floats) -> tuple[Floats, Floats]:
    """Weights (ratios, 0 to 1) between which each line ``w t + (1 - w) p`` is the lowest.

    Parameters
    ----------
    traction, pressure : ndarray, shape (n,)
        Scores (ratios); of equal lines the first counts. NaN scores lead nowhere.

    Returns
    -------
    low, high : ndarray, shape (n,)
        NaN for a line that is lowest at no weight, or at one weight only and tied there.
    """
    n = len(traction)
    low, high = np.full(n, np.nan), np.full(n, np.nan)
    known = np.flatnonzero(np.isfinite(traction) & np.isfinite(pressure))
    if not known.size:
        return low, high
    t, p = traction[known], pressure[known]
    slope = t - p
    with np.errstate(divide="ignore", invalid="ignore"):
        meet = (p[None, :] - p[:, None]) / (slope[:, None] - slope[None, :])
    meet = meet[np.isfinite(meet) & (meet > 0) & (meet < 1)]
    edges = np.unique(np.concatenate([[0.0], meet, [1.0]]))
    middle = (edges[:-1] + edges[1:]) / 2
    lines = p[:, None] + slope[:, None] * middle[None, :]
    first = known[np.argmin(np.round(lines, 12), axis=0)]
    for index in np.unique(first):
        mine = np.flatnonzero(first == index)
        low[index], high[index] = edges[mine[0]], edges[mine[-1] + 1]
    return low, high
