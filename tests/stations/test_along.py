"""Stations: lengths, headings, direction of loaded travel."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString

from terrain.stations.along import check_lengths, place_stations
from terrain.stations.network import build_network
from terrain.stations.routes import find_routes
from tests.stations.test_network import landings_of, trails_of, y_shape


def stations_of(trails, landings, step=5.0, snap=3.0):
    network, _ = build_network(trails, landings, snap)
    routes, _ = find_routes(network, trails, landings, snap)
    return place_stations(trails, network, step, routes)


def test_lengths_add_up_and_no_part_is_longer_than_the_step():
    trails = y_shape()
    stations = stations_of(trails, landings_of(L=(0, 0)), step=7.0)
    check_lengths(stations, trails)
    assert stations["length_m"].max() <= 7.0 + 1e-9


def test_every_station_heads_for_the_landing():
    stations = stations_of(y_shape(), landings_of(L=(0, 0)))
    by_trail = stations.groupby("trail")["heading_deg"].agg(["min", "max"])
    assert by_trail.loc["stem"].tolist() == pytest.approx([180, 180])
    # from (-60, 180) to (0, 100): east 60, south 80
    assert by_trail.loc["left"].tolist() == pytest.approx([90 + np.degrees(np.arctan2(80, 60))] * 2)
    # drawn from (50, 200) to (0, 100): already toward the landing
    expected = 180 + np.degrees(np.arctan2(50, 100))
    assert by_trail.loc["right"].tolist() == pytest.approx([expected] * 2)


def test_a_ring_splits_where_both_ways_are_equally_long():
    ring = trails_of(
        stem=LineString([(0, -50), (0, 0)]),
        ring=LineString([(0, 0), (100, 0), (100, 100), (0, 100), (0, 0)]),
    )
    stations = stations_of(ring, landings_of(L=(0, -50)))
    on_ring = stations[stations["trail"] == "ring"]
    assert on_ring["to_landing_m"].max() == pytest.approx(50 + 200 - 2.5)
    first_side = on_ring[on_ring["chainage_m"] < 100]
    assert first_side["heading_deg"].to_numpy() == pytest.approx(270)
    last_side = on_ring[on_ring["chainage_m"] > 300]
    assert last_side["heading_deg"].to_numpy() == pytest.approx(180)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(-400, 400), st.integers(-400, 400)),
        min_size=2,
        max_size=8,
        unique=True,
    ),
    st.floats(1.0, 40.0),
)
def test_reversing_a_trail_changes_nothing_but_the_chainage(points, step):
    line = LineString(points)
    if line.length < 30 or not line.is_simple:
        return
    start = points[0]
    one = stations_of(trails_of(t=line), landings_of(L=start), step)
    other = stations_of(trails_of(t=shapely.reverse(line)), landings_of(L=start), step)
    other = other.iloc[::-1].reset_index(drop=True)
    for name in ("x_m", "y_m", "to_landing_m", "length_m"):
        assert one[name].to_numpy() == pytest.approx(other[name].to_numpy(), abs=1e-6)
    turn = (one["heading_deg"].to_numpy() - other["heading_deg"].to_numpy() + 180) % 360 - 180
    assert np.abs(turn).max() < 1e-4
    assert one["length_m"].sum() == pytest.approx(line.length)


def test_check_lengths_catches_a_lost_row():
    trails = y_shape()
    stations = stations_of(trails, landings_of(L=(0, 0)))
    with pytest.raises(AssertionError):
        check_lengths(gpd.GeoDataFrame(stations.iloc[1:]), trails)
