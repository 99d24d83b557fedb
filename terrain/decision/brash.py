"""Brash: what a sensitive stretch asks for, what the stand can give, and how far that goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.models.settings import BrashSettings
from terrain.models.soil import SOFT_FROM_CLASS
from terrain.sources import data_table
from terrain.units import HECTARE_M2

__all__ = ["BrashBalance", "BrashNeed", "brash_balance", "brash_need", "brash_supply_kg_m2"]


@dataclass(frozen=True, slots=True)
class BrashNeed:
    """Mass of brash in kg/m2: ``low`` and ``high`` of the advice, ``useful_from``; its source."""

    low: float
    high: float
    useful_from: float
    source: str
    where: str
    status: str


@dataclass(frozen=True, slots=True)
class BrashBalance:
    """Need against supply.

    Attributes
    ----------
    supply_kg_m2 : Series
        By trail; NaN where width, spacing or residue is not known.
    need_m, short_m, unknown_m : Series
        By trail, metres: sensitive stretch; of it with less than the low end of the advice; where
        need or supply is not known (sensitive without a known supply, or perhaps sensitive because
        class or wetness is not known).
    missing_t : float
        Tonnes missing to the low end of the advice on the short metres.
    beyond_m, covered_m : float
        Metres whose rut likely counts with the shown setup, and of them those that the supply
        would cover. Since the evidence disagrees, brash leaves ``beyond_m - covered_m`` at best
        and ``beyond_m`` at worst.
    """

    supply_kg_m2: pd.Series
    need_m: pd.Series
    short_m: pd.Series
    unknown_m: pd.Series
    missing_t: float
    beyond_m: float
    covered_m: float


def brash_need() -> BrashNeed:
    """Return the published advice for sensitive sites."""
    row = data_table("brash")["need"]
    return BrashNeed(
        row["low_kg_m2"],
        row["high_kg_m2"],
        row["useful_from_kg_m2"],
        row["source"],
        row["where"],
        row["status"],
    )


def brash_supply_kg_m2(
    residue_kg_per_ha: ArrayLike,
    trail_width_m: ArrayLike,
    spacing_m: ArrayLike,
    share_on_trail: ArrayLike = 1.0,
) -> NDArray[np.float64]:
    """Mass that the stand can lay on a square metre of trail, kg.

    ``residue share / (10 000 width / spacing)``: all arguments broadcast; mass in kg per hectare,
    lengths in metres. NaN where one of them is.
    """
    trail_share = np.asarray(trail_width_m, float) / np.asarray(spacing_m, float)
    given = np.asarray(residue_kg_per_ha, float) * np.asarray(share_on_trail, float)
    return given / (HECTARE_M2 * trail_share)


def brash_balance(
    stations: pd.DataFrame,
    width_m: pd.Series,
    beyond: NDArray[np.bool_],
    settings: BrashSettings,
    spacing_m: float | None,
) -> BrashBalance:
    """Hold need against supply, trail by trail.

    Parameters
    ----------
    stations : DataFrame
        ``trail``, ``length_m``, ``ground_class`` (as it behaves in the moisture state), ``wet``.
    width_m : Series
        Trail width by trail, metres; NaN unknown.
    beyond : ndarray of bool, shape (n_station,)
        Stations whose rut likely counts.
    settings : BrashSettings
    spacing_m : float or None
        Trail spacing where ``settings`` gives none, metres.

    Notes
    -----
    Sensitive is ground of class 3 or 4, wet ground, and every station in ``beyond`` (planning
    assumption).
    """
    need = brash_need()
    spacing = settings.spacing_m or spacing_m or np.nan
    supply = pd.Series(
        brash_supply_kg_m2(
            settings.residue_kg_per_ha,
            width_m.to_numpy(dtype=float),
            spacing,
            settings.share_on_trail,
        ),
        index=width_m.index,
    )
    length = stations["length_m"].to_numpy(dtype=float)
    wet = stations["wet"].astype("boolean").fillna(False).to_numpy(dtype=bool)
    soft = (stations["ground_class"].fillna(0) >= SOFT_FROM_CLASS).to_numpy(dtype=bool)
    sensitive = soft | wet | beyond
    unsure = ~sensitive & (stations["wet"].isna() | stations["ground_class"].isna()).to_numpy(bool)
    here = stations["trail"].map(supply).to_numpy(dtype=float)
    width = stations["trail"].map(width_m).to_numpy(dtype=float)
    short = sensitive & (here < need.low)
    by_trail = pd.DataFrame(
        {
            "need": np.where(sensitive, length, 0.0),
            "short": np.where(short, length, 0.0),
            "unknown": np.where((sensitive & np.isnan(here)) | unsure, length, 0.0),
        }
    ).groupby(stations["trail"].to_numpy(), sort=False)
    sums = by_trail.sum().reindex(width_m.index).fillna(0.0)
    missing = np.where(short, (need.low - here) * length * width, 0.0).sum() / 1000.0
    return BrashBalance(
        supply,
        sums["need"],
        sums["short"],
        sums["unknown"],
        float(missing),
        float(length[beyond].sum()),
        float(length[beyond & (here >= need.low)].sum()),
    )
