"""Which surface film lies at a station, and what grip it leaves to plain tyres."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.models.settings import GroundSettings

__all__ = ["film_at"]


def film_at(stations: pd.DataFrame, trails: pd.DataFrame, ground: GroundSettings) -> pd.DataFrame:
    """Film and its grip cap at every station: the trail's own film, else the block's.

    Parameters
    ----------
    stations : DataFrame
        With ``trail``.
    trails : DataFrame
        Index trail; ``film`` (a word of ``terrain.models.soil.SURFACE_FILMS``, or None).
    ground : GroundSettings
        The block's film and the known caps.

    Returns
    -------
    DataFrame
        ``film`` (string) and ``film_grip_cap`` (gross traction ratio of plain tyres; NaN on bare
        mineral ground, which has none, and where no figure is known), on the stations' index.
    """
    own = trails["film"].to_dict() if "film" in trails else {}
    film = stations["trail"].astype(object).map(own).astype(object)
    film = film.where(film.notna(), ground.film)
    known = {name: ground.cap_of(name) for name in film.unique()}
    caps = {name: np.nan if cap is None else cap.grip_cap for name, cap in known.items()}
    return pd.DataFrame(
        {"film": film.astype("string"), "film_grip_cap": film.map(caps).astype(float)},
        index=stations.index,
    )
