"""Small trail networks for the tests of routes and traffic."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from shapely.geometry import LineString, Point

from terrain.models.settings import TrafficSettings
from terrain.stations.along import place_stations
from terrain.stations.network import build_network
from terrain.stations.routes import find_routes
from terrain.stations.traffic import Traffic, station_volumes, trail_volumes

CRS = "EPSG:32633"


def trails_of(lines, volumes, landings=None, ids=None):
    """GeoDataFrame of trails; ``lines`` are lists of points, ``volumes`` in m3 (NaN unknown)."""
    ids = ids or [f"T{n + 1}" for n in range(len(lines))]
    return gpd.GeoDataFrame(
        {
            "volume_m3": np.asarray(volumes, dtype=float),
            "landing": list(landings) if landings is not None else [None] * len(lines),
        },
        index=ids,
        geometry=[LineString(points) for points in lines],
        crs=CRS,
    )


def landings_of(**places):
    """GeoDataFrame of landings by name."""
    return gpd.GeoDataFrame(
        index=list(places), geometry=[Point(p) for p in places.values()], crs=CRS
    )


def traffic_of(trails, landings, step_m=5.0, snap_m=0.5, settings=None):
    """Stations with the column ``U`` (m3), the Traffic, the network and all issues."""
    network, issues = build_network(trails, landings, snap_m)
    routes, more = find_routes(network, trails, landings, snap_m)
    stations = place_stations(trails, network, step_m, routes)
    volumes = trail_volumes(trails, settings or TrafficSettings())
    traffic: Traffic = station_volumes(stations, network, routes, volumes)
    return stations.assign(U=traffic.volume_m3), traffic, network, [*issues, *more]
