"""Water that trails meet: whether a crossing is mapped there, and which trails lie behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.look_along import AlongTrails
from terrain.decision.remedy_route import trails_over
from terrain.stations.traffic import edge_of

__all__ = ["NEAR_CROSSING_M", "has_crossing", "place_name", "water_without_crossing"]

NEAR_CROSSING_M = 15.0
"""A crossing that is mapped farther than this from a stretch at water is none of that stretch."""


def has_crossing(run: Mapping[Any, Any]) -> bool:
    """Whether a crossing is mapped at the stretch (a row of ``water_runs``)."""
    return isinstance(run["crossing"], str) and float(run["to_crossing_m"]) <= NEAR_CROSSING_M


def place_name(run: Mapping[Any, Any]) -> str:
    """Name of a stretch at water: its trail and where it begins along it, in metres."""
    return f"{run['trail']} at {float(run['from_m']):.0f} m"


def water_without_crossing(
    along: AlongTrails, runs: pd.DataFrame, trails: pd.Index
) -> pd.DataFrame:
    """Places where water is met without a mapped crossing, for each trail.

    Parameters
    ----------
    along : AlongTrails
    runs : DataFrame
        ``water_runs`` of :class:`terrain.decision.wet_results.WetGround`.
    trails : Index
        Trails in the order wanted.

    Returns
    -------
    DataFrame
        Index ``trails``; ``water_here`` names the places on the trail itself, ``water_on_way``
        those on other trails that its timber passes; None where there is none.
    """
    stations, network = along.stations, along.network
    edge = edge_of(stations, network)
    name = stations["trail"].astype(str).to_numpy()
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    here: dict[str, list[str]] = {}
    on_way: dict[str, list[str]] = {}
    for run in runs.to_dict("records"):
        if has_crossing(run):
            continue
        trail, place = str(run["trail"]), place_name(run)
        here.setdefault(trail, []).append(place)
        inside = (name == trail) & (run["from_m"] <= chainage) & (chainage <= run["to_m"])
        edges = {int(number) for number in np.unique(edge[inside])}
        for other in trails_over(network, along.routes, edges) - {trail}:
            on_way.setdefault(other, []).append(place)
    return pd.DataFrame(
        {
            column: [", ".join(found[str(t)]) if str(t) in found else None for t in trails]
            for column, found in (("water_here", here), ("water_on_way", on_way))
        },
        index=trails,
        dtype=object,
    )
