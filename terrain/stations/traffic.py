"""From timber to passes: volumes flow along the shortest ways to the landings.

Counting rules. The volume of a trail lies evenly along it. ``U`` at a station is all that leaves it
toward the landing: what arrives from upstream and the trail's own part down to the station's
lower end, so that the last station of a branch carries the volume of the whole branch. Loads are
``U / Q`` rounded up there, with ``Q`` the payload in m3. One load is two passes: empty in, loaded
out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray

from terrain.models.settings import TrafficSettings
from terrain.stations.network import Network
from terrain.stations.routes import Routes, ways_to_landing
from terrain.units import HECTARE_M2

__all__ = [
    "PASS_CLASSES",
    "Passes",
    "Traffic",
    "VOLUME_SOURCES",
    "edge_flow",
    "edge_of",
    "pass_class",
    "passes_for",
    "passes_of",
    "payload_m3",
    "station_volumes",
    "trail_volumes",
]

Floats = NDArray[np.float64]

PASS_CLASSES: tuple[tuple[float, str], ...] = (
    (2.0, "1-2 passes, small strip road"),
    (5.0, "3-5 passes, strip road"),
    (10.0, "6-10 passes, base road"),
    (np.inf, "over 10 passes, main base road"),
)
"""Upper edges and names of the classes of trails by forwarder passes (Mohtashami et al. 2017, table
1). Whether empty passes count was not said in the part that was read; here they do."""

VOLUME_SOURCES = ("trail's own figure", "stand layer", "volume per hectare", "unknown")
"""Where a trail's volume comes from, in the order of precedence."""


@dataclass(frozen=True, slots=True)
class Traffic:
    """Timber over the trails.

    Attributes
    ----------
    volumes : DataFrame
        Index trail: ``volume_m3`` (NaN unknown), ``volume_from`` (one of :data:`VOLUME_SOURCES`).
    volume_m3 : ndarray, shape (n_station,)
        ``U``, solid m3; NaN where a trail upstream, or the trail itself, has no known volume.
    known_m3 : ndarray, shape (n_station,)
        The known part of it: a lower bound.
    against_m3 : ndarray, shape (n_station,)
        The part that travels against the station's direction of loaded travel (only where trails
        are assigned to landings that are not their nearest).
    arrivals_m3 : dict of str to float
        Known volume by landing.
    """

    volumes: pd.DataFrame
    volume_m3: Floats
    known_m3: Floats
    against_m3: Floats
    arrivals_m3: dict[str, float]


class Passes(NamedTuple):
    """Loads, loaded passes, and all passes (empty ones and the harvester too); NaN unknown."""

    loads: Floats
    loaded: Floats
    all: Floats


def trail_volumes(
    trails: gpd.GeoDataFrame, settings: TrafficSettings, stand: gpd.GeoDataFrame | None = None
) -> pd.DataFrame:
    """Volume of each trail, solid m3.

    Order of precedence: the trail's own ``volume_m3``; the stand layer, as the area of the trail's
    strip (served width, flat ends) in each stand times its m3 per hectare; the block's m3 per
    hectare times served width times length; else unknown.

    Parameters
    ----------
    trails : GeoDataFrame
        Index trail, ``volume_m3`` (NaN unknown), lines in metres.
    settings : TrafficSettings
    stand : GeoDataFrame, optional
        ``volume_m3_per_ha`` and polygons.

    Returns
    -------
    DataFrame
        ``volume_m3`` (m3, NaN unknown) and ``volume_from``. A strip outside every stand, or partly
        in a stand without volume, is unknown; a part of a strip outside the stands gives nothing.
        Where strips of two trails overlap their timber counts for both.
    """
    own = trails["volume_m3"].to_numpy(dtype=float)
    width = settings.served_width_m
    routes = [own, np.full(len(trails), np.nan), np.full(len(trails), np.nan)]
    if stand is not None and width is not None:
        routes[1] = _from_stand(trails, stand, width)
    if settings.volume_m3_per_ha is not None and width is not None:
        per_metre = settings.volume_m3_per_ha * width / HECTARE_M2
        routes[2] = trails.geometry.length.to_numpy(dtype=float) * per_metre
    volume = np.full(len(trails), np.nan)
    origin = np.full(len(trails), VOLUME_SOURCES[-1], dtype=object)
    for values, words in zip(routes, VOLUME_SOURCES, strict=False):
        take = np.isnan(volume) & ~np.isnan(values)
        volume[take], origin[take] = values[take], words
    return pd.DataFrame({"volume_m3": volume, "volume_from": origin}, index=trails.index)


def _from_stand(trails: gpd.GeoDataFrame, stand: gpd.GeoDataFrame, width_m: float) -> Floats:
    strips = shapely.buffer(np.asarray(trails.geometry.values), width_m / 2, cap_style="flat")
    areas = np.asarray(stand.geometry.values)
    strip, area = shapely.STRtree(areas).query(strips, predicate="intersects")
    shared = shapely.area(shapely.intersection(strips[strip], areas[area]))
    inside = shared > 0
    strip, area, shared = strip[inside], area[inside], shared[inside]
    per_ha = stand["volume_m3_per_ha"].to_numpy(dtype=float)[area]
    volume = np.bincount(strip, shared * per_ha / HECTARE_M2, minlength=len(strips))
    covered = np.bincount(strip, shared, minlength=len(strips)) > 0
    return np.where(covered, volume, np.nan)


def edge_flow(
    network: Network, routes: Routes, volume_of_edge: Floats
) -> tuple[Floats, Floats, dict[str, float]]:
    """What runs through every edge from further off, without its own part.

    Parameters
    ----------
    network, routes
    volume_of_edge : ndarray, shape (n_edge,) or (n_edge, k)
        Amount that lies along each edge (m3, or any number that adds up).

    Returns
    -------
    toward_to, toward_from : ndarray, same shape
        Amount that runs through toward the edge's ``to_node`` and toward its ``from_node``, in the
        same unit.
    arrivals : dict
        Amount by landing (of the first column where there are several).

    Raises
    ------
    AssertionError
        When what arrives is not what was cut: nothing may get lost on the way.
    """
    amount = np.asarray(volume_of_edge, dtype=float)
    flat = amount.reshape(len(network.trail), -1)
    length = network.length_m
    before = (routes.parting_m / length)[:, None] * flat
    toward_to, toward_from = np.zeros_like(flat), np.zeros_like(flat)
    arrivals: dict[str, float] = {}
    arrived = np.zeros(flat.shape[1])
    for number, forest in enumerate(routes.forests):
        own = routes.forest_of_edge == number
        waiting = np.zeros((len(network.node_x_m), flat.shape[1]))
        np.add.at(waiting, network.from_node[own], before[own])
        np.add.at(waiting, network.to_node[own], (flat - before)[own])
        order = np.argsort(-forest.distance_m, kind="stable")
        for node in order[np.isfinite(forest.distance_m[order])]:
            if not waiting[node].any():
                continue
            edge = forest.next_edge[node]
            if edge < 0:
                name = str(forest.landing[node])
                arrivals[name] = arrivals.get(name, 0.0) + float(waiting[node, 0])
                arrived += waiting[node]
                continue
            through = toward_from if network.to_node[edge] == node else toward_to
            through[edge] += waiting[node]
            waiting[forest.next_node[node]] += waiting[node]
    cut = flat.sum(axis=0)
    if not np.allclose(arrived, cut, rtol=1e-9, atol=1e-6):
        raise AssertionError(f"{cut} was cut, {arrived} arrived at the landings")
    return toward_to.reshape(amount.shape), toward_from.reshape(amount.shape), arrivals


def station_volumes(
    stations: pd.DataFrame, network: Network, routes: Routes, volumes: pd.DataFrame
) -> Traffic:
    """Volume that leaves every station toward the landing, solid m3.

    Parameters
    ----------
    stations : DataFrame
        As :func:`terrain.stations.along.place_stations` makes it with the same network and routes.
    network, routes
    volumes : DataFrame
        Of :func:`trail_volumes`.
    """
    length = network.length_m
    trail_length = pd.Series(length).groupby(network.trail).sum()
    rate = volumes["volume_m3"] / trail_length.reindex(volumes.index)
    rate_of_edge = rate.reindex(network.trail).to_numpy(dtype=float)  # m3 per metre
    unknown = np.isnan(rate_of_edge)
    known = np.nan_to_num(rate_of_edge) * length
    to, back, arrivals = edge_flow(
        network, routes, np.stack([known, unknown.astype(float)], axis=1)
    )

    edge = edge_of(stations, network)
    half = stations["length_m"].to_numpy(dtype=float) / 2
    along = stations["chainage_m"].to_numpy(dtype=float)
    to_start, to_end = ways_to_landing(network, routes, edge, along)
    ahead, chainage = to_end <= to_start, along - network.start_m[edge]
    parting = routes.parting_m[edge]
    driven = np.where(ahead, chainage + half - parting, parting - (chainage - half))
    driven = np.clip(driven, 0.0, length[edge])
    own = np.nan_to_num(rate_of_edge[edge]) * driven
    through = to[edge] + back[edge]
    volume = through[:, 0] + own
    blind = unknown[edge] | (through[:, 1] > 0)
    return Traffic(
        volumes=volumes,
        volume_m3=np.where(blind, np.nan, volume),
        known_m3=volume,
        against_m3=np.where(ahead, back[edge, 0], to[edge, 0]),
        arrivals_m3=dict(sorted(arrivals.items())),
    )


def edge_of(stations: pd.DataFrame, network: Network) -> NDArray[np.int64]:
    """Position of the network edge of each station (shape (n_station,)), by trail and chainage."""
    code = {name: number for number, name in enumerate(dict.fromkeys(network.trail))}
    trail = np.array([code[name] for name in network.trail])
    order = np.lexsort((network.start_m, trail))
    step = float(network.end_m.max()) + 1.0
    keys = trail[order] * step + network.start_m[order]
    here = stations["trail"].map(code).to_numpy(dtype=np.int64)
    wanted = here * step + stations["chainage_m"].to_numpy(dtype=float)
    return order[np.searchsorted(keys, wanted, side="right") - 1]


def payload_m3(payload_kg: ArrayLike, green_density_kg_m3: float | None) -> Floats:
    """Payload in solid m3: mass over density of fresh timber; NaN without density or payload."""
    kilograms = np.asarray(payload_kg, dtype=float)
    if green_density_kg_m3 is None:
        return np.full(kilograms.shape, np.nan)
    return np.where(kilograms > 0, kilograms / green_density_kg_m3, np.nan)


def passes_for(
    volume_m3: ArrayLike,
    payload_m3: ArrayLike,
    *,
    harvester_passes: int = 1,
    assortment_runs: int = 1,
) -> Passes:
    """Passes over stations with ``volume_m3`` (solid m3) in loads of ``payload_m3`` (broadcast).

    Loads are the volume over the payload, rounded up, and at least ``assortment_runs``: each
    assortment fetched on its own enters the branch, if only part-loaded. All passes are twice the
    loads and the harvester's (1 is a planning assumption). No volume gives no pass; an unknown
    volume or payload gives NaN.
    """
    volume, payload = np.broadcast_arrays(
        np.asarray(volume_m3, dtype=float), np.asarray(payload_m3, dtype=float)
    )
    loads = np.maximum(np.ceil(volume / payload - 1e-9), float(assortment_runs))
    loads = np.where(volume > 0, loads, np.where(np.isnan(volume) | np.isnan(payload), np.nan, 0.0))
    harvester = np.where(loads > 0, float(harvester_passes), 0.0)
    return Passes(loads, loads, 2 * loads + np.where(np.isnan(loads), np.nan, harvester))


def passes_of(volume_m3: ArrayLike, payload_kg: ArrayLike, settings: TrafficSettings) -> Passes:
    """:func:`passes_for` with the density, harvester passes and assortments of the settings.

    ``volume_m3`` (solid m3) and ``payload_kg`` (kg) broadcast.
    """
    return passes_for(
        volume_m3,
        payload_m3(payload_kg, settings.green_density_kg_m3),
        harvester_passes=settings.harvester_passes,
        assortment_runs=settings.assortment_runs,
    )


def pass_class(passes: ArrayLike) -> NDArray[np.int64]:
    """Class number 1 to 4 by :data:`PASS_CLASSES`; 0 without passes, -1 unknown."""
    count = np.asarray(passes, dtype=float)
    number = np.searchsorted([edge for edge, _ in PASS_CLASSES[:-1]], count, side="left") + 1
    return np.where(np.isnan(count), -1, np.where(count <= 0, 0, number)).astype(np.int64)
