"""The trails as a network: where they join, and how far every node is from a landing."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import cKDTree

from terrain.errors import Issue

__all__ = ["ISSUE_CODES", "Network", "build_network", "landing_nodes", "shortest_links"]

ISSUE_CODES = {
    "NET01": "A trail reaches no landing along the network.",
    "NET02": "Trails cross away from their ends; the crossing is taken as a junction.",
}


@dataclass(frozen=True, slots=True)
class Network:
    """Trails cut into edges at every junction and landing.

    Attributes
    ----------
    trail : ndarray of object, shape (n_edge,)
        Trail of each edge.
    start_m, end_m : ndarray, shape (n_edge,)
        Chainages along the trail as drawn between which the edge runs.
    from_node, to_node : ndarray of int, shape (n_edge,)
        Nodes at ``start_m`` and ``end_m``.
    node_x_m, node_y_m : ndarray, shape (n_node,)
    to_landing_m : ndarray, shape (n_node,)
        Shortest distance to a landing along the trails; inf where none is reached.
    landing : ndarray of object, shape (n_node,)
        That landing, None where none is reached.
    """

    trail: NDArray[np.object_]
    start_m: NDArray[np.float64]
    end_m: NDArray[np.float64]
    from_node: NDArray[np.int64]
    to_node: NDArray[np.int64]
    node_x_m: NDArray[np.float64]
    node_y_m: NDArray[np.float64]
    to_landing_m: NDArray[np.float64]
    landing: NDArray[np.object_]

    @property
    def length_m(self) -> NDArray[np.float64]:
        """Length of each edge, metres."""
        return self.end_m - self.start_m


def landing_nodes(
    node_xy_m: NDArray[np.float64], landings: gpd.GeoDataFrame, snap_m: float
) -> dict[str, int]:
    """Node of every landing that lies on the network.

    ``node_xy_m`` has shape (n_node, 2), in the CRS of ``landings`` (points, index ``landing``).
    """
    distance, nearest = cKDTree(node_xy_m).query(shapely.get_coordinates(landings.geometry.values))
    # a node is the mean of points within the snapping distance, so it may lie a little further off
    return {
        str(name): int(node)
        for name, d, node in zip(landings.index, distance, nearest, strict=True)
        if d <= 2 * snap_m
    }


def shortest_links(
    from_node: NDArray[np.int64], to_node: NDArray[np.int64], length_m: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Edges that matter for shortest ways: of parallel ones the shortest, none onto its own node.

    Returns their numbers, and the lower and the higher node of each, in the order of these two.
    """
    low, high = np.minimum(from_node, to_node), np.maximum(from_node, to_node)
    order = np.lexsort((length_m, high, low))
    order = order[low[order] != high[order]]
    low, high = low[order], high[order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(low) != 0) | (np.diff(high) != 0)
    return order[first], low[first], high[first]


def build_network(
    trails: gpd.GeoDataFrame, landings: gpd.GeoDataFrame, snap_m: float
) -> tuple[Network, list[Issue]]:
    """Join ``trails`` where they meet within ``snap_m`` and measure the way to the landings.

    Trails join where an end of one lies within ``snap_m`` of the other, where they cross, and
    where a landing lies within ``snap_m`` of them. The nearest landing along the trails counts.

    Parameters
    ----------
    trails, landings : GeoDataFrame
        As in :class:`terrain.inputs.loaded.LoadedBlock`; same metric CRS.
    snap_m : float
        Distance below which two points are taken as the same place, metres.

    Returns
    -------
    Network
    list of Issue
        NET01 (error) for every trail with a part that reaches no landing, NET02 (note) for
        crossings.
    """
    lines = np.asarray(trails.geometry.values)
    names = np.asarray(trails.index, dtype=object)
    lengths = shapely.length(lines)
    points, crossings = _meeting_points(lines, landings)
    cuts = _cuts(lines, lengths, points, snap_m)

    piece_trail = np.concatenate([np.full(len(c), i) for i, c in enumerate(cuts)])
    piece_at = np.concatenate(cuts)
    where = shapely.line_interpolate_point(lines[piece_trail], piece_at)
    xy = shapely.get_coordinates(where)
    node_of_cut, node_xy = _cluster(xy, snap_m)

    same = piece_trail[1:] == piece_trail[:-1]
    first, second = np.flatnonzero(same), np.flatnonzero(same) + 1
    distance, landing_node, landing_of_node = _to_landings(
        node_of_cut[first],
        node_of_cut[second],
        piece_at[second] - piece_at[first],
        node_xy,
        landings,
        snap_m,
    )
    landing = np.array(
        [landing_of_node.get(int(n)) if n >= 0 else None for n in landing_node], dtype=object
    )
    network = Network(
        trail=names[piece_trail[first]],
        start_m=piece_at[first],
        end_m=piece_at[second],
        from_node=node_of_cut[first],
        to_node=node_of_cut[second],
        node_x_m=node_xy[:, 0],
        node_y_m=node_xy[:, 1],
        to_landing_m=distance,
        landing=landing,
    )
    return network, _issues(network, [(names[i], names[j], p) for i, j, p in crossings], snap_m)


def _meeting_points(
    lines: NDArray, landings: gpd.GeoDataFrame
) -> tuple[NDArray, list[tuple[int, int, shapely.Point]]]:
    """Trail ends, landings and crossings; crossings also with the two trails."""
    ends = np.concatenate([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    a, b = shapely.STRtree(lines).query(lines, predicate="intersects")
    pairs = np.stack([a, b], axis=1)[a < b]
    crossings = []
    end_tree = cKDTree(shapely.get_coordinates(ends))
    for i, j in pairs:
        shared = shapely.intersection(lines[i], lines[j])
        for part in shapely.get_parts(shared):
            point = shapely.get_point(part, 0) if part.geom_type == "LineString" else part
            nearest, _ = end_tree.query(shapely.get_coordinates(point)[0])
            if nearest > 1e-6:
                crossings.append((int(i), int(j), point))
    extra = [p for _, _, p in crossings]
    return np.concatenate(
        [ends, np.asarray(landings.geometry.values), np.array(extra, dtype=object)]
    ), crossings


def _cuts(
    lines: NDArray, lengths: NDArray[np.float64], points: NDArray, snap_m: float
) -> list[NDArray[np.float64]]:
    """Chainages at which each line is cut: its ends, and every point that meets it."""
    line_of, point_of = shapely.STRtree(points).query(lines, predicate="dwithin", distance=snap_m)
    at = shapely.line_locate_point(lines[line_of], points[point_of])
    cuts = []
    for i, length in enumerate(lengths):
        inner = np.sort(at[line_of == i])
        inner = inner[(inner > snap_m) & (inner < length - snap_m)]
        if inner.size:  # cuts closer than the snapping distance are one cut
            inner = inner[np.concatenate([[True], np.diff(inner) > snap_m])]
        cuts.append(np.concatenate([[0.0], inner, [length]]))
    return cuts


def _cluster(xy: NDArray, snap_m: float) -> tuple[NDArray[np.int64], NDArray]:
    """Number the places: points within ``snap_m`` of each other share a node at their mean."""
    pairs = cKDTree(xy).query_pairs(snap_m, output_type="ndarray")
    n = len(xy)
    link = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    count, label = connected_components(link, directed=False)
    members = np.bincount(label, minlength=count)
    mean = np.stack([np.bincount(label, xy[:, k], count) / members for k in (0, 1)], axis=1)
    return label.astype(np.int64), mean


def _to_landings(
    from_node: NDArray,
    to_node: NDArray,
    length: NDArray,
    node_xy: NDArray,
    landings: gpd.GeoDataFrame,
    snap_m: float,
) -> tuple[NDArray[np.float64], NDArray[np.int64], dict[int, str]]:
    """Shortest distance of every node to a landing, the landing's node, and landings by node."""
    n = len(node_xy)
    landing_of_node: dict[int, str] = {}
    for name, place in landing_nodes(node_xy, landings, snap_m).items():
        landing_of_node.setdefault(place, name)
    if not landing_of_node:
        return np.full(n, np.inf), np.full(n, -1), {}
    edge, low, high = shortest_links(from_node, to_node, length)
    graph = coo_array((length[edge], (low, high)), shape=(n, n)).tocsr()
    to_landing, _, source = dijkstra(
        graph,
        directed=False,
        indices=sorted(landing_of_node),
        min_only=True,
        return_predecessors=True,
    )
    return to_landing, np.where(np.isfinite(to_landing), source, -1), landing_of_node


def _issues(
    network: Network, crossings: list[tuple[str, str, shapely.Point]], snap_m: float
) -> list[Issue]:
    lost = ~np.isfinite(network.to_landing_m[network.from_node])
    length = network.length_m
    issues = []
    for trail in dict.fromkeys(network.trail[lost]):
        metres = length[lost & (network.trail == trail)].sum()
        issues.append(
            Issue(
                "NET01",
                "error",
                f"{metres:.0f} m of trail {trail} reach no landing along the trails",
                f"trails, trail {trail}",
                f"Join it to another trail or to a landing (ends within {snap_m:g} m count as "
                "joined; set trails.snap_m to change that), or take it out of the layer.",
            )
        )
    for one, other, point in crossings:
        issues.append(
            Issue(
                "NET02",
                "note",
                f"trails {one} and {other} cross at E {point.x:.0f} N {point.y:.0f}; "
                "the crossing is taken as a junction",
                f"trails, {one} and {other}",
                "If a machine can't turn there, draw the trails apart.",
            )
        )
    return issues
