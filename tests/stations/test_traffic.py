"""Volumes and passes on networks whose every figure is known by arithmetic."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import box

from terrain.models.settings import TrafficSettings
from terrain.stations.traffic import (
    PASS_CLASSES,
    pass_class,
    passes_for,
    payload_m3,
    trail_volumes,
)
from tests.stations.networks import CRS, landings_of, traffic_of, trails_of

# main trail of 200 m to the landing, two branches of 100 m that join it at its far end
Y_LINES = [[(0, 0), (200, 0)], [(0, 100), (0, 0)], [(0, -100), (0, 0)]]
NAN = float("nan")


def at(stations, trail, chainage):
    rows = stations[stations["trail"] == trail]
    return rows.iloc[(rows["chainage_m"] - chainage).abs().argmin()]


def test_a_y_by_hand():
    stations, traffic, _, issues = traffic_of(
        trails_of(Y_LINES, [100, 50, 30]), landings_of(L=(200, 0))
    )
    assert not issues
    assert traffic.arrivals_m3 == {"L": pytest.approx(180)}
    # a branch's lower end carries its whole volume, its first 5 m carry 5 % of it
    assert at(stations, "T2", 97.5)["U"] == pytest.approx(50)
    assert at(stations, "T2", 2.5)["U"] == pytest.approx(2.5)
    # the main trail begins with both branches and half a metre of rate 0.5 m3 per metre
    assert at(stations, "T1", 2.5)["U"] == pytest.approx(80 + 2.5)
    assert at(stations, "T1", 197.5)["U"] == pytest.approx(180)
    assert (traffic.against_m3 == 0).all()


def test_two_landings_share_the_timber():
    trails = trails_of([[(0, 0), (100, 0)]], [100])
    stations, traffic, _, _ = traffic_of(trails, landings_of(A=(0, 0), B=(100, 0)))
    # one edge between two landings: the halves run apart
    assert traffic.arrivals_m3 == {"A": pytest.approx(50), "B": pytest.approx(50)}
    assert stations["U"].max() == pytest.approx(50)
    assert (stations["landing"] == "A").sum() == len(stations) / 2


def test_an_assigned_landing_is_obeyed_and_opposite_travel_is_told():
    lines = [[(0, 0), (100, 0)], [(100, 0), (200, 0)], [(100, 50), (100, 0)]]
    trails = trails_of(lines, [10, 20, 40], landings=[None, None, "A"])
    trails = trails.rename(index={"T1": "W", "T2": "E", "T3": "N"})
    stations, traffic, _, issues = traffic_of(trails, landings_of(A=(0, 0), B=(200, 0)))
    assert not issues
    assert traffic.arrivals_m3["A"] == pytest.approx(50)  # 10 + 40
    assert traffic.arrivals_m3["B"] == pytest.approx(20)
    assert (stations.loc[stations["trail"] == "N", "landing"] == "A").all()
    assert (traffic.against_m3 == 0).all()
    # now the eastern trail is sent west: it runs against nobody, but from the west trail B is far
    trails["landing"] = [None, "A", "B"]
    stations, traffic, _, _ = traffic_of(trails, landings_of(A=(0, 0), B=(200, 0)))
    assert traffic.arrivals_m3 == {"A": pytest.approx(30), "B": pytest.approx(40)}
    east = (stations["trail"] == "E").to_numpy()
    assert traffic.against_m3[east] == pytest.approx(40)  # T3's timber meets T2's there
    assert (traffic.against_m3[~east] == 0).all()


def test_a_bad_assignment_is_refused_by_name():
    trails = trails_of(Y_LINES, [1, 1, 1], landings=[None, "Nowhere", None])
    *_, issues = traffic_of(trails, landings_of(L=(200, 0)))
    assert [issue.code for issue in issues] == ["NET03"]
    assert "T2" in issues[0].what
    island = trails_of([[(0, 0), (50, 0)], [(500, 0), (550, 0)]], [1, 1], landings=[None, "A"])
    *_, issues = traffic_of(island, landings_of(A=(50, 0), B=(550, 0)))
    assert [issue.code for issue in issues] == ["NET04"]


def test_unknown_volume_stays_unknown_downstream_and_keeps_its_lower_bound():
    stations, traffic, _, _ = traffic_of(
        trails_of(Y_LINES, [100, NAN, 30]), landings_of(L=(200, 0))
    )
    assert stations.loc[stations["trail"] == "T2", "U"].isna().all()
    assert stations.loc[stations["trail"] == "T1", "U"].isna().all()
    assert stations.loc[stations["trail"] == "T3", "U"].notna().all()
    assert traffic.known_m3.max() == pytest.approx(130)


def test_a_loop_parts_where_both_ways_are_equally_long():
    ring = [[(0, 0), (0, 50), (100, 50), (100, 0)], [(0, 0), (100, 0)], [(100, 0), (150, 0)]]
    stations, _traffic, _, _ = traffic_of(trails_of(ring, [200, 100, 0]), landings_of(L=(150, 0)))
    # T1 leaves by its start before x = 50 m, where x + 100 = 200 - x, and by its end behind it
    long_way = stations[stations["trail"] == "T1"]
    assert long_way["U"].max() == pytest.approx(150)
    assert long_way.loc[long_way["chainage_m"] < 50, "U"].max() == pytest.approx(50)
    assert stations.loc[stations["trail"] == "T3", "U"].to_numpy() == pytest.approx(300)


def test_precedence_of_volumes():
    trails = trails_of(
        [[(0, 0), (100, 0)], [(0, 100), (100, 100)], [(0, 300), (100, 300)]], [7, NAN, NAN]
    )
    settings = TrafficSettings(volume_m3_per_ha=100.0, served_width_m=20.0)
    stand = gpd.GeoDataFrame(
        {"volume_m3_per_ha": [250.0]}, geometry=[box(-10, 50, 50, 150)], crs=CRS
    )
    table = trail_volumes(trails, settings, stand)
    # own figure; 50 m x 20 m of stand = 0.1 ha x 250; 100 m x 20 m = 0.2 ha x 100
    assert table["volume_m3"].tolist() == pytest.approx([7, 25, 20])
    assert table["volume_from"].tolist() == [
        "trail's own figure",
        "stand layer",
        "volume per hectare",
    ]
    bare = trail_volumes(trails, TrafficSettings())
    assert bare["volume_m3"].isna().tolist() == [False, True, True]
    stand["volume_m3_per_ha"] = NAN
    assert trail_volumes(trails, TrafficSettings(served_width_m=20.0), stand)[
        "volume_m3"
    ].isna().tolist() == [False, True, True]


def test_passes_and_their_rule():
    passes = passes_for([0, 1, 15.5, 15.6, NAN], 15.5, harvester_passes=1)
    assert passes.loads.tolist()[:4] == [0, 1, 1, 2]
    assert passes.all.tolist()[:4] == [0, 3, 3, 5]
    assert np.isnan(passes.all[4])
    runs = passes_for([1.0, 100.0], 20.0, harvester_passes=0, assortment_runs=3)
    assert runs.loads.tolist() == [3, 5]
    assert runs.all.tolist() == [6, 10]
    assert passes_for(100.0, 20.0 * (1 - 1e-12)).loads == 5  # rounding error is no sixth load
    assert np.isnan(passes_for(10.0, payload_m3(14000, None)).all)
    assert payload_m3(14000, 875) == pytest.approx(16)


def test_classes_of_passes():
    # published: Mohtashami et al. 2017, table 1: 1-2, 3-5, 6-10, over 10
    assert pass_class([NAN, 0, 1, 2, 3, 5, 6, 10, 11, 500]).tolist() == [
        -1, 0, 1, 1, 2, 2, 3, 3, 4, 4,
    ]  # fmt: skip
    assert len(PASS_CLASSES) == 4
