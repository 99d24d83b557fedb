"""What must hold of timber on any network: nothing lost, and the drawing does not matter."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.ops import substring

from terrain.decision.ruts import beyond
from terrain.stations.traffic import passes_for
from tests.stations.networks import landings_of, traffic_of, trails_of

QUICK = settings(max_examples=30, deadline=None)


@st.composite
def networks(draw):
    """Random tree on a jittered lattice, with up to four extra trails that make loops."""
    n = draw(st.integers(2, 14))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    cells = rng.permutation(36)[: n + 1]
    places = np.stack([cells % 6, cells // 6], axis=1) * 100.0 + rng.uniform(-25, 25, (n + 1, 2))
    lines = [(int(rng.integers(0, k)), k) for k in range(1, n + 1)]
    for _ in range(draw(st.integers(0, 4))):
        a, b = (int(v) for v in rng.choice(n + 1, 2, replace=False))
        if (a, b) not in lines and (b, a) not in lines:
            lines.append((a, b))
    points = [[tuple(places[a]), tuple(places[b])] for a, b in lines]
    volumes = rng.uniform(0, 300, len(points)).round(1)
    landings = {"L0": tuple(places[0])}
    if draw(st.booleans()):
        landings["L1"] = tuple(places[n])
    return trails_of(points, volumes), landings_of(**landings)


@QUICK
@given(networks())
def test_what_is_cut_arrives(case):
    trails, landings = case
    stations, traffic, _, _ = traffic_of(trails, landings)
    assert sum(traffic.arrivals_m3.values()) == pytest.approx(trails["volume_m3"].sum())
    assert (stations["U"] >= 0).all()
    assert stations["U"].max() <= trails["volume_m3"].sum() + 1e-6


@QUICK
@given(networks(), st.integers(0, 2**32 - 1))
def test_the_order_of_the_trails_changes_nothing(case, seed):
    trails, landings = case
    one, first, _, _ = traffic_of(trails, landings)
    shuffled = trails.iloc[np.random.default_rng(seed).permutation(len(trails))]
    two, second, _, _ = traffic_of(shuffled, landings)
    assert second.arrivals_m3 == pytest.approx(first.arrivals_m3)
    for trail in trails.index:
        a = one.loc[one["trail"] == trail, "U"].to_numpy()
        b = two.loc[two["trail"] == trail, "U"].to_numpy()
        assert a == pytest.approx(b, abs=1e-6)


@QUICK
@given(networks())
def test_the_direction_in_which_a_trail_is_drawn_changes_nothing(case):
    trails, landings = case
    _, first, _, _ = traffic_of(trails, landings, snap_m=0.01)
    turned = trails.copy()
    turned["geometry"] = [LineString(g.coords[::-1]) for g in trails.geometry]
    _, second, _, _ = traffic_of(turned, landings, snap_m=0.01)
    moved = 2 * 0.01 * (trails["volume_m3"] / trails.length).sum()  # the snapping
    assert second.arrivals_m3 == pytest.approx(first.arrivals_m3, abs=moved)


@QUICK
@given(networks(), st.floats(0.3, 0.7))
def test_splitting_a_trail_changes_nothing(case, share):
    trails, landings = case
    whole, first, _, _ = traffic_of(trails, landings, step_m=1e9, snap_m=0.01)
    line, volume = trails.geometry.iloc[0], trails["volume_m3"].iloc[0]
    parts = [substring(line, 0, share, normalized=True), substring(line, share, 1, normalized=True)]
    split = trails_of(
        [list(p.coords) for p in parts] + [list(g.coords) for g in trails.geometry.iloc[1:]],
        [volume * share, volume * (1 - share), *trails["volume_m3"].iloc[1:]],
        ids=["A", "B", *trails.index[1:]],
    )
    cut, second, _, _ = traffic_of(split, landings, step_m=1e9, snap_m=0.01)
    moved = 2 * 0.01 * (trails["volume_m3"] / trails.length).sum()  # the snapping
    assert second.arrivals_m3 == pytest.approx(first.arrivals_m3, abs=moved)
    for trail in trails.index[1:]:
        a = np.sort(whole.loc[whole["trail"] == trail, "U"].to_numpy())
        b = np.sort(cut.loc[cut["trail"] == trail, "U"].to_numpy())
        assert a == pytest.approx(b, abs=moved)


@QUICK
@given(networks())
def test_another_library_sends_the_same_timber_the_same_way(case):
    # oracle: shortest paths of networkx, edge by edge, on the same network
    trails, landings = case
    _, traffic, network, _ = traffic_of(trails, landings)
    graph = nx.Graph()
    length = network.end_m - network.start_m
    for a, b, metres in zip(network.from_node, network.to_node, length, strict=True):
        old = graph.get_edge_data(a, b, {"weight": np.inf})["weight"]
        graph.add_edge(a, b, weight=min(metres, old))
    roots = np.flatnonzero(network.to_landing_m == 0)
    reach, _ = nx.multi_source_dijkstra(graph, set(roots.tolist()))
    assert [reach[n] for n in range(len(network.node_x_m))] == pytest.approx(network.to_landing_m)
    rate = (trails["volume_m3"] / trails.length).reindex(network.trail).to_numpy()
    arrived: dict[str, float] = {}
    for edge, metres in enumerate(length):
        a, b = network.from_node[edge], network.to_node[edge]
        part = np.clip((metres + reach[b] - reach[a]) / 2, 0, metres)
        for node, amount in ((a, part * rate[edge]), (b, (metres - part) * rate[edge])):
            name = network.landing[node]
            arrived[name] = arrived.get(name, 0.0) + amount
    for name, amount in traffic.arrivals_m3.items():
        assert arrived[name] == pytest.approx(amount, abs=1e-6)


@given(
    st.lists(st.floats(0, 5000), min_size=1, max_size=20),
    st.floats(1, 40),
    st.floats(1, 3),
    st.integers(1, 5),
)
def test_more_payload_never_means_more_passes(volumes, payload, gain, runs):
    small = passes_for(volumes, payload, assortment_runs=runs)
    large = passes_for(volumes, payload * gain, assortment_runs=runs)
    assert (large.all <= small.all).all()
    assert ((small.loads * payload - np.array(volumes)) > -1e-5).all()  # everything is fetched


@given(st.integers(1, 40), st.floats(0, 30), st.floats(1, 50))
def test_the_share_beyond_runs_from_none_to_all(n, minimum, limit):
    stations = pd.DataFrame(
        {"trail": "T", "chainage_m": 5.0 * np.arange(n) + 2.5, "length_m": np.full(n, 5.0)}
    )
    limits = np.full(n, limit)
    for depth, expected in ((0.0, 0.0), (limit * 1.01, 1.0 if 5 * n >= minimum else 0.0)):
        held = beyond(np.full((n, 1), depth), limits, stations, minimum)
        assert held.mean() == expected
    assert not beyond(np.full((n, 1), np.nan), limits, stations, minimum).any()
