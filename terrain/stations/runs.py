"""Runs of stations: neighbours along one trail that are alike in something."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = ["Run", "order_along", "runs_of"]


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring stations of one trail in one class.

    ``rows`` are positions in the stations table, ascending in chainage; the run reaches from
    ``start_m`` to ``end_m`` along the trail as drawn; ``number`` is the class.
    """

    trail: str
    number: int
    start_m: float
    end_m: float
    rows: NDArray[np.int64]

    @property
    def length_m(self) -> float:
        """Length of the run in metres."""
        return self.end_m - self.start_m


def order_along(stations: pd.DataFrame) -> NDArray[np.int64]:
    """Positions of the stations trail by trail in order of appearance, along each trail.

    ``stations`` has the columns ``trail`` and ``chainage_m`` (metres).
    """
    trail, _ = pd.factorize(stations["trail"])
    return np.lexsort((stations["chainage_m"].to_numpy(dtype=float), trail))


def runs_of(stations: pd.DataFrame, number: NDArray[np.generic]) -> list[Run]:
    """Join neighbouring stations with the same class, trail by trail.

    Parameters
    ----------
    stations : DataFrame
        ``trail``, ``chainage_m``, ``length_m`` (metres).
    number : ndarray of int or bool, shape (n_station,)
        Class of each station.

    Returns
    -------
    list of Run
        The runs of a trail lie end to end from 0 to the trail's length.
    """
    order = order_along(stations)
    if not len(order):
        return []
    trail = stations["trail"].to_numpy()[order]
    length = stations["length_m"].to_numpy(dtype=float)[order]
    alike = np.asarray(number)[order]
    next_trail = np.flatnonzero(trail[1:] != trail[:-1]) + 1
    ends = np.concatenate([np.cumsum(part) for part in np.split(length, next_trail)])
    breaks = np.flatnonzero((trail[1:] != trail[:-1]) | (alike[1:] != alike[:-1])) + 1
    return [
        Run(
            str(trail[first]),
            int(alike[first]),
            float(ends[first] - length[first]),
            float(ends[last]),
            order[first : last + 1],
        )
        for first, last in zip([0, *breaks], [*(breaks - 1), len(order) - 1], strict=True)
    ]
