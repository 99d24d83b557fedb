"""Which way every metre of trail sends its timber: to the nearest or to the assigned landing."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from terrain.errors import Issue
from terrain.stations.network import Network, landing_nodes, shortest_links

__all__ = [
    "ISSUE_CODES",
    "Forest",
    "Routes",
    "edges_to_landing",
    "find_routes",
    "ways_to_landing",
]

ISSUE_CODES = {
    "NET03": "A trail is assigned to a landing that is not in the layer, or touches no trail.",
    "NET04": "A trail does not reach the landing that it is assigned to.",
}


@dataclass(frozen=True, slots=True)
class Forest:
    """Shortest ways from every node to one landing, or to the nearest of all.

    Attributes
    ----------
    distance_m : ndarray, shape (n_node,)
        Metres along the trails; inf where none is reached.
    next_node, next_edge : ndarray of int, shape (n_node,)
        Next node and edge on the way; -1 at the landing and where none is reached.
    landing : ndarray of object, shape (n_node,)
        The landing that is reached; None without.
    """

    distance_m: NDArray[np.float64]
    next_node: NDArray[np.int64]
    next_edge: NDArray[np.int64]
    landing: NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Routes:
    """Where the edges of the network send their timber.

    Attributes
    ----------
    forests : tuple of Forest
        The first leads to the nearest landing, each other one to an assigned landing.
    forest_of_edge : ndarray of int, shape (n_edge,)
    back_m, ahead_m : ndarray, shape (n_edge,)
        Metres to the landing from the edge's ``from_node`` and ``to_node``.
    parting_m : ndarray, shape (n_edge,)
        Metres from the edge's start to the point where both ways are equally long, 0 to its
        length: what lies before leaves by ``from_node``, what lies behind by ``to_node``.
    """

    forests: tuple[Forest, ...]
    forest_of_edge: NDArray[np.int64]
    back_m: NDArray[np.float64]
    ahead_m: NDArray[np.float64]
    parting_m: NDArray[np.float64]


def find_routes(
    network: Network, trails: gpd.GeoDataFrame, landings: gpd.GeoDataFrame, snap_m: float
) -> tuple[Routes, list[Issue]]:
    """Find the way of every edge to its landing.

    Parameters
    ----------
    network : Network
    trails : GeoDataFrame
        Index ``trail``; an optional column ``landing`` assigns trails to landings.
    landings : GeoDataFrame
        Index ``landing``, points.
    snap_m : float
        Snapping distance of the network, metres.

    Returns
    -------
    Routes
        A trail whose assignment cannot be met goes to the nearest landing, with an error.
    list of Issue
        NET03, NET04 (errors).
    """
    graph = _Graph(network)
    node_xy = np.stack([network.node_x_m, network.node_y_m], axis=1)
    node_of = landing_nodes(node_xy, landings, snap_m)
    forests = [graph.forest(np.flatnonzero(network.to_landing_m == 0.0), network.landing)]
    forest_of_edge = np.zeros(len(network.trail), dtype=np.int64)
    issues: list[Issue] = []
    assigned = trails.get("landing", {})
    numbers: dict[str, int] = {}
    for trail, name in dict(assigned).items():
        if not isinstance(name, str):
            continue
        where = f"trails, trail {trail}"
        if name not in node_of:
            known = ", ".join(str(label) for label in landings.index)
            what = (
                f"trail {trail} is assigned to landing {name!r}, which is not in the layer or "
                "touches no trail"
            )
            issues.append(Issue("NET03", "error", what, where, f"Known landings: {known}."))
            continue
        if name not in numbers:
            names = np.full(len(network.node_x_m), name, dtype=object)
            forests.append(graph.forest(np.array([node_of[name]]), names))
            numbers[name] = len(forests) - 1
        own = network.trail == trail
        distance = forests[numbers[name]].distance_m
        if not np.isfinite(distance[network.from_node[own]]).all():
            what = f"trail {trail} does not reach landing {name}, which it is assigned to"
            fix = "Join the trails, or assign another landing, or none for the nearest."
            issues.append(Issue("NET04", "error", what, where, fix))
            continue
        forest_of_edge[own] = numbers[name]
    distances = np.stack([forest.distance_m for forest in forests])
    back = distances[forest_of_edge, network.from_node]
    ahead = distances[forest_of_edge, network.to_node]
    length = network.length_m
    with np.errstate(invalid="ignore"):
        parting = np.clip(np.nan_to_num((length + ahead - back) / 2), 0.0, length)
    return Routes(tuple(forests), forest_of_edge, back, ahead, parting), issues


def ways_to_landing(
    network: Network, routes: Routes, edge: NDArray[np.int64], chainage_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Metres to the landing from points on ``edge`` at ``chainage_m``, shapes alike.

    Returns the way back over the edge's ``from_node`` and the way ahead over its ``to_node``. A
    load takes the shorter one; of two alike the one ahead, as the trail is drawn.
    """
    back = routes.back_m[edge] + chainage_m - network.start_m[edge]
    ahead = routes.ahead_m[edge] + network.end_m[edge] - chainage_m
    return back, ahead


def edges_to_landing(network: Network, routes: Routes) -> tuple[frozenset[int], ...]:
    """Edges that the timber of each edge is driven over: the edge itself, and its ways out.

    Where the timber of an edge parts, both ways count. A way that reaches no landing ends where
    the trails end.
    """
    found = []
    ways: list[dict[int, frozenset[int]]] = [{} for _ in routes.forests]
    for edge, length in enumerate(network.length_m):
        number = int(routes.forest_of_edge[edge])
        passed = frozenset({edge})
        if routes.parting_m[edge] > 0:
            node = int(network.from_node[edge])
            passed |= _edges_from(node, routes.forests[number], ways[number])
        if routes.parting_m[edge] < length:
            node = int(network.to_node[edge])
            passed |= _edges_from(node, routes.forests[number], ways[number])
        found.append(passed)
    return tuple(found)


def _edges_from(node: int, forest: Forest, known: dict[int, frozenset[int]]) -> frozenset[int]:
    """Edges on the way from a node; ``known`` keeps what was found for each node on it."""
    walked = []
    while node not in known and forest.next_node[node] >= 0:
        walked.append(node)
        node = int(forest.next_node[node])
    way = known.setdefault(node, frozenset())
    for here in reversed(walked):
        way = known[here] = way | {int(forest.next_edge[here])}
    return way


class _Graph:
    """The network for shortest ways: of parallel edges the shortest, no edge onto itself."""

    def __init__(self, network: Network):
        self.size = len(network.node_x_m)
        length = network.length_m
        self.edge, low, high = shortest_links(network.from_node, network.to_node, length)
        self.key = low * self.size + high
        self.matrix = coo_array((length[self.edge], (low, high)), shape=(self.size,) * 2).tocsr()

    def forest(self, roots: NDArray[np.int64], names: NDArray[np.object_]) -> Forest:
        """Shortest ways to the nearest of ``roots``; ``names`` holds the landing of each node."""
        none = np.full(self.size, -1, dtype=np.int64)
        if not len(roots):
            blank = np.full(self.size, None, dtype=object)
            return Forest(np.full(self.size, np.inf), none, none, blank)
        distance, following, root = dijkstra(
            self.matrix, directed=False, indices=roots, min_only=True, return_predecessors=True
        )
        node = np.flatnonzero(following >= 0)
        low, high = np.minimum(node, following[node]), np.maximum(node, following[node])
        edge = none.copy()
        edge[node] = self.edge[np.searchsorted(self.key, low * self.size + high)]
        reached = np.isfinite(distance)
        landing = np.full(self.size, None, dtype=object)
        landing[reached] = names[root[reached]]
        return Forest(distance, np.where(following >= 0, following, -1), edge, landing)
