"""The trail network: junctions, loops, islands, and the way to the landing."""

from __future__ import annotations

import geopandas as gpd
import networkx as nx
import numpy as np
import pytest
from shapely.geometry import LineString, Point

from terrain.stations.network import build_network


def trails_of(**lines):
    frame = gpd.GeoDataFrame(
        {"trail_class": None}, index=list(lines), geometry=list(lines.values()), crs="EPSG:32633"
    )
    frame.index.name = "trail"
    return frame


def landings_of(**points):
    return gpd.GeoDataFrame(
        index=list(points), geometry=[Point(p) for p in points.values()], crs="EPSG:32633"
    )


def y_shape():
    return trails_of(
        stem=LineString([(0, 0), (0, 100)]),
        left=LineString([(0, 100), (-60, 180)]),
        right=LineString([(50, 200), (0, 100)]),
    )


def test_distances_on_a_y_are_plain_sums():
    network, issues = build_network(y_shape(), landings_of(L=(0, 0)), 3.0)
    assert not issues
    ends = {
        (round(x), round(y)): d
        for x, y, d in zip(network.node_x_m, network.node_y_m, network.to_landing_m, strict=True)
    }
    assert ends[(0, 0)] == 0
    assert ends[(0, 100)] == pytest.approx(100)
    assert ends[(-60, 180)] == pytest.approx(200)  # 100 + a 3-4-5 branch of 100
    assert ends[(50, 200)] == pytest.approx(100 + np.hypot(50, 100))
    assert set(network.landing) == {"L"}


def test_a_branch_that_meets_a_trail_in_its_middle_cuts_it():
    network, _ = build_network(
        trails_of(main=LineString([(0, 0), (0, 100)]), branch=LineString([(0.5, 40), (80, 40)])),
        landings_of(L=(0, 0)),
        3.0,
    )
    main = network.trail == "main"
    assert sorted(network.start_m[main]) == pytest.approx([0, 40])
    assert network.to_landing_m.max() == pytest.approx(40 + 79.5, abs=0.6)


def test_two_landings_share_the_trail_between_them():
    network, _ = build_network(
        trails_of(t=LineString([(0, 0), (100, 0)])), landings_of(A=(0, 0), B=(100, 0)), 3.0
    )
    assert set(network.landing) == {"A", "B"}
    assert (network.to_landing_m == 0).all()


def test_island_is_refused_by_name():
    lines = y_shape()
    lines.loc["island"] = [None, LineString([(500, 0), (560, 0)])]
    _, issues = build_network(lines, landings_of(L=(0, 0)), 3.0)
    assert [(i.code, i.severity) for i in issues] == [("NET01", "error")]
    assert "island" in issues[0].what
    assert "60 m" in issues[0].what


def test_crossing_away_from_ends_is_a_junction_and_is_said():
    network, issues = build_network(
        trails_of(a=LineString([(0, 0), (100, 0)]), b=LineString([(50, -50), (50, 50)])),
        landings_of(L=(0, 0)),
        3.0,
    )
    assert [i.code for i in issues] == ["NET02"]
    assert np.isfinite(network.to_landing_m).all()


def test_distances_equal_an_independent_graph_library_on_a_looped_network():
    # oracle: networkx Dijkstra on the same edges
    rng = np.random.default_rng(4)
    lines = {}
    for i in range(6):
        for j in range(6):
            if i < 5 and rng.random() < 0.9:
                lines[f"h{i}{j}"] = LineString([(i * 50, j * 50), (i * 50 + 50, j * 50)])
            if j < 5 and rng.random() < 0.9:
                bend = (i * 50 + rng.uniform(5, 20), j * 50 + 25)
                lines[f"v{i}{j}"] = LineString([(i * 50, j * 50), bend, (i * 50, j * 50 + 50)])
    network, _ = build_network(trails_of(**lines), landings_of(A=(0, 0), B=(250, 250)), 1.0)
    graph = nx.Graph()
    for u, v, s, e in zip(
        network.from_node, network.to_node, network.start_m, network.end_m, strict=True
    ):
        old = graph.get_edge_data(u, v, {"w": np.inf})["w"]
        graph.add_edge(u, v, w=min(old, e - s))
    sources = [int(n) for n in np.flatnonzero(network.to_landing_m == 0)]
    expected = nx.multi_source_dijkstra_path_length(graph, sources, weight="w")
    for node, d in expected.items():
        assert network.to_landing_m[node] == pytest.approx(d, rel=1e-9)
