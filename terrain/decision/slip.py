"""Slip that a setup needs on ground that it passes: the plan's own balance, solved for slip.

The reserve says what is left at the slip limit. Here the same balance (films, grip factors,
friction circle, driveline, axles that are not driven, both directions of travel) is asked the other
way round: at which slip nothing is left. It decides nothing.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.decision.travel import Surface, surface_of, travel_over
from terrain.mechanics import traction
from terrain.models.settings import Settings

__all__ = ["SlipNeeded", "slip_needed", "slip_of_passed"]

Floats = NDArray[np.float64]

_ASKED = ("grade", "cross_slope", "cone_index_kpa", "film", "film_grip_cap")


class SlipNeeded(NamedTuple):
    """Slip (fraction) at the place passed with the smallest reserve, and the most of any passed.

    NaN where no station is passed.
    """

    tightest: float
    most: float


def slip_needed(stations: pd.DataFrame, item: Carried, settings: Settings) -> float:
    """Smallest slip at which the setup holds at all of these stations, loaded and empty.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``cone_index_kpa``; films as in
        :func:`terrain.decision.travel.surface_of`.
    item : Carried
    settings : Settings

    Returns
    -------
    float
        A fraction, 0 to the slip limit of the settings. NaN without a station, where a reserve is
        unknown, or where a station is short at the limit: it needs more than the limit.
    """
    table = stations[[name for name in _ASKED if name in stations]]
    films = surface_of(table, settings.ground)

    def reserve_at(slip: float, rows: NDArray[np.intp]) -> Floats:
        here = table.iloc[rows]
        chosen = replace(settings, decision=replace(settings.decision, slip_limit=slip))
        surface = Surface(*(getattr(films, part.name)[rows] for part in fields(films)))
        ways = (travel_over(here, item, laden, chosen, surface) for laden in (True, False))
        return np.minimum(*(way.balance.reserve_ratio for way in ways))

    return traction.slip_needed(reserve_at, len(table), settings.decision.slip_limit)


def slip_of_passed(
    stations: pd.DataFrame, item: Carried, settings: Settings, reserve: Floats
) -> SlipNeeded:
    """Slip needed over the stations that the setup passes.

    Parameters
    ----------
    stations, item, settings
        As in :func:`slip_needed`.
    reserve : ndarray, shape (n_station,)
        The setup's reserve, the smaller of both travel states; NaN unknown.
    """
    passed = reserve >= 0
    if not passed.any():
        return SlipNeeded(np.nan, np.nan)
    tightest = int(np.argmin(np.where(passed, reserve, np.inf)))
    return SlipNeeded(
        slip_needed(stations.iloc[[tightest]], item, settings),
        slip_needed(stations[passed], item, settings),
    )
