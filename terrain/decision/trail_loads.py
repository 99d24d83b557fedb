"""What each trail bears: the largest load that holds on all of it and on its way to the landing."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision import ratings
from terrain.decision.carried import Carried
from terrain.decision.remedy_load import PAYLOAD_STEP_KG
from terrain.decision.travel import surface_of, travel_over
from terrain.models.settings import Settings
from terrain.stations.network import Network
from terrain.stations.routes import Routes, edges_to_landing
from terrain.stations.traffic import edge_of

__all__ = ["trail_loads"]


def trail_loads(
    stations: pd.DataFrame, network: Network, routes: Routes, item: Carried, settings: Settings
) -> pd.DataFrame:
    """Try loads from the full one down, in steps, on every trail with its way to the landing.

    Parameters
    ----------
    stations : DataFrame
        ``trail``, ``length_m``, ``grade``, ``cross_slope`` (ratios), ``cone_index_kpa``,
        ``bearing_kpa`` and films.
    network : Network
    routes : Routes
    item : Carried
        The setup with the load that its ratings allow.
    settings : Settings

    Returns
    -------
    DataFrame
        Table ``trail_loads`` of the registry, in the order of the stations. Empty for a machine
        without load.

    Notes
    -----
    Every step is looked at, because less load does not always mean more reserve: it presses on the
    wheels that pull. A trail that falls short on the empty way in, or exceeds a rating there, holds
    with no load. The ratings are held on the slopes with bogies whose wheels carry alike; what a
    bogie that pivots freely may carry, and whether a short overload is allowed, only the
    manufacturer can say.
    """
    if item.load is None or item.payload_kg <= 0:
        return pd.DataFrame(columns=list(columns_of("trail_loads")))
    names = list(dict.fromkeys(stations["trail"].astype(str)))
    with_way = _with_way(stations, network, routes, names)
    surface = surface_of(stations, settings.ground)
    bearing = stations["bearing_kpa"].to_numpy(dtype=float)

    def fails(carrying: Carried, laden: bool) -> tuple[NDArray[np.bool_], ...]:
        way = travel_over(stations, carrying, laden, settings, surface)
        return way.balance.reserve_ratio < 0, way.pressure_kpa.max(axis=-1) > bearing

    empty_short, empty_over = fails(item, False)
    steps = np.arange(PAYLOAD_STEP_KG, item.payload_kg, PAYLOAD_STEP_KG)[::-1]
    loads = [item.payload_kg, *(float(step) for step in steps)]
    ground = ratings.ground_of(stations)
    empty_rated = _over_rating(item, False, ground)
    by_traction, by_ground, by_all = (np.full(len(names), np.nan) for _ in range(3))
    for load in loads:
        short, over = fails(item.carrying(load), True)
        holds = ~(with_way @ (short | empty_short))
        bears = holds & ~(with_way @ (over | empty_over))
        over_rated = _over_rating(item.carrying(load), True, ground) | empty_rated
        rated = bears & ~(with_way @ over_rated)
        by_traction = np.where(np.isnan(by_traction) & holds, load, by_traction)
        by_ground = np.where(np.isnan(by_ground) & bears, load, by_ground)
        by_all = np.where(np.isnan(by_all) & rated, load, by_all)
        if np.isfinite(by_all).all():  # it asks for all that the others ask for
            break
    full = travel_over(stations, item, True, settings, surface)
    unknown = np.isnan(full.balance.reserve_ratio) | np.isnan(bearing)
    length = stations["length_m"].to_numpy(dtype=float)
    return pd.DataFrame(
        {
            "trail": names,
            "full_kg": item.payload_kg,
            "traction_kg": by_traction,
            "ground_kg": by_ground,
            "load_kg": by_all,
            "unknown_m": with_way @ np.where(unknown, length, 0.0),
            "way_m": with_way @ length,
        }
    )[list(columns_of("trail_loads"))]


def _over_rating(item: Carried, laden: bool, ground: ratings.Ground) -> NDArray[np.bool_]:
    """Stations where a rating is exceeded, bogies balanced; unknown is not exceeded."""
    shares = [one.balanced for one in ratings.shares_of(item, laden, ground, None) if one.rated]
    over = np.zeros(len(ground.grade), dtype=bool)
    for share in shares:
        over |= share > ratings.OVER
    return over


def _with_way(
    stations: pd.DataFrame, network: Network, routes: Routes, names: list[str]
) -> NDArray[np.bool_]:
    """Stations of each trail and of the ways that its timber takes, (n_trail, n_station)."""
    edges: dict[str, set[int]] = {name: set() for name in names}
    for edge, passed in enumerate(edges_to_landing(network, routes)):
        edges[str(network.trail[edge])] |= passed
    number = edge_of(stations, network)
    return np.stack([np.isin(number, list(edges[name])) for name in names])
