"""Stations: a point every few metres along every trail, heading the way the load travels."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from terrain.stations.network import Network
from terrain.stations.routes import Routes, ways_to_landing

__all__ = ["check_lengths", "place_stations", "points_along"]


def place_stations(
    trails: gpd.GeoDataFrame, network: Network, step_m: float, routes: Routes
) -> gpd.GeoDataFrame:
    """Make the stations table: every edge of the network cut into equal parts, one row a part.

    Parameters
    ----------
    trails : GeoDataFrame
        Index ``trail``, LineString geometry in a metric CRS.
    network : Network
        Every trail of it must reach a landing.
    step_m : float
        Longest part, metres.
    routes : Routes
        The ways of the timber on that network.

    Returns
    -------
    GeoDataFrame
        Index 0..n-1, named ``station``; columns ``trail``, ``chainage_m`` (of the middle of the
        part), ``length_m``, ``x_m``, ``y_m``, ``heading_deg``, ``landing``, ``to_landing_m`` as in
        :mod:`terrain.columns`; point geometry. ``length_m`` sums to the length of each trail.

    Notes
    -----
    A station travels loaded toward the end of its edge from which the way to a landing, the rest
    of the edge included, is shorter. On a loop the two halves so run apart.
    """
    span = network.length_m
    parts = np.maximum(np.ceil(span / step_m - 1e-9), 1).astype(np.int64)
    edge = np.repeat(np.arange(len(span)), parts)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(parts) - parts, parts)
    length = (span / parts)[edge]
    chainage = network.start_m[edge] + (within + 0.5) * length
    trail = network.trail[edge]

    back, ahead = ways_to_landing(network, routes, edge, chainage)
    as_drawn = ahead <= back
    target = np.where(as_drawn, network.to_node[edge], network.from_node[edge])

    x, y = points_along(trails, trail, chainage)
    xa, ya = points_along(trails, trail, chainage - length / 2)
    xb, yb = points_along(trails, trail, chainage + length / 2)
    sign = np.where(as_drawn, 1.0, -1.0)
    heading = np.degrees(np.arctan2(sign * (xb - xa), sign * (yb - ya))) % 360.0

    table = pd.DataFrame(
        {
            "trail": trail.astype(str),
            "chainage_m": chainage,
            "length_m": length,
            "x_m": x,
            "y_m": y,
            "heading_deg": heading,
            "landing": _landings(routes, edge, target),
            "to_landing_m": np.minimum(ahead, back),
        },
        index=pd.RangeIndex(len(edge), name="station"),
    )
    return gpd.GeoDataFrame(table, geometry=shapely.points(x, y), crs=trails.crs)


def _landings(routes: Routes, edge: NDArray, node: NDArray) -> NDArray[np.object_]:
    """Landing that the forest of each edge reaches from each node."""
    names = np.stack([forest.landing for forest in routes.forests])
    return names[routes.forest_of_edge[edge], node]


def points_along(
    trails: gpd.GeoDataFrame, trail: NDArray, chainage_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coordinates at ``chainage_m`` along ``trail`` (shapes alike), clipped to the trail's ends."""
    lines = trails.geometry.loc[list(trail)].values
    xy = shapely.get_coordinates(
        shapely.line_interpolate_point(np.asarray(lines), np.maximum(chainage_m, 0.0))
    )
    return xy[:, 0], xy[:, 1]


def check_lengths(stations: gpd.GeoDataFrame, trails: gpd.GeoDataFrame) -> None:
    """Assert that the stations' lengths add up to each trail's length (1 mm)."""
    total = stations.groupby("trail")["length_m"].sum()
    difference = (total - trails.length.reindex(total.index)).abs()
    if len(total) != len(trails) or not (difference < 1e-3).all():
        raise AssertionError(f"station lengths do not add up to the trails': {difference.max()} m")
