"""The ground under each station in the chosen moisture state: wet or not, class, strength."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.mechanics import soil_strength
from terrain.models.settings import GroundSettings

__all__ = ["ground_columns"]


def ground_columns(stations: pd.DataFrame, ground: GroundSettings) -> pd.DataFrame:
    """Wet-soil exposure, class after the moisture state's shift, and its strength.

    Parameters
    ----------
    stations : DataFrame
        With ``soil_class`` and ``drainage``.
    ground : GroundSettings
        Only a frost depth that somebody verified is credited.

    Returns
    -------
    DataFrame
        ``wet`` (boolean, NA unknown), ``ground_class`` (Int64), ``cone_index_kpa`` and
        ``bearing_kpa`` (likely values; NaN where the class is unknown).
    """
    rule = soil_strength.state_rules()[ground.state]
    soil_class = stations["soil_class"].fillna(0).to_numpy(dtype=np.int64)
    drainage = [None if pd.isna(word) else str(word) for word in stations["drainage"]]
    wet = soil_strength.wet_flag(soil_class, soil_strength.drainage_rank(drainage), rule)
    frost = ground.state == "frozen" and ground.frost_depth_m is not None
    shifted = soil_strength.shifted_class(soil_class, wet, rule, frost_verified=frost)
    known = pd.array(np.where(shifted > 0, shifted, 1), dtype="Int64")
    known[shifted <= 0] = pd.NA
    flags = pd.array(wet == 1, dtype="boolean")
    flags[wet < 0] = pd.NA
    return pd.DataFrame(
        {
            "wet": flags,
            "ground_class": known,
            "cone_index_kpa": soil_strength.cone_index_kpa(shifted),
            "bearing_kpa": soil_strength.bearing_kpa(shifted),
        },
        index=stations.index,
    )
