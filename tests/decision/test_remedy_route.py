"""Other landings and stretches left out: graph answers against an oracle, and run again."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.decision.leave_out import evaluated_anew, heading_along, leave_out
from terrain.decision.remedy_case import cases_of
from terrain.decision.remedy_route import (
    left_out_rows,
    other_landing_rows,
    other_way_rows,
    trails_over,
)
from terrain.plan import plan_block
from terrain.stations.routes import find_routes
from terrain.stations.traffic import edge_of
from tests.decision.remedy_block import (
    TEXT,
    WITH_LANDING,
    between,
    block_file,
    lines,
    patch,
    reserve_of,
    situation_of,
    two_landings,
)

RING = {"T1": [(0, 0), (200, 0)], "T2": [(40, 0), (40, 60), (160, 60), (160, 0)]}
FORK = {"T1": [(0, 0), (200, 0)], "T2": [(40, 60), (40, 0)], "T3": [(160, 60), (160, 0)]}


def cases(path):
    situation, forcing, fares = situation_of(path)
    return situation, [c for c in cases_of(situation, forcing, fares) if not c.by_pressure]


@pytest.fixture(scope="module")
def ring(tmp_path_factory):
    path = block_file(tmp_path_factory.mktemp("ring"), trails=lines(**RING))
    return situation_of(path)[0]


# other landing


def test_the_other_landing_run_again_through_the_trails_column(tmp_path):
    layers = {"landings": two_landings(), "soils": patch(120, 140), "trails": lines(**FORK)}
    path = block_file(tmp_path / "a", 0.08, **layers)
    situation, found = cases(path)
    rows = other_landing_rows(situation, found)
    bare = next(row for row in rows if row["setup"] == "bare")
    assert bare["does"] == "Haul trail T1 to landing L2: the stretch is driven the other way."
    assert (bare["solves"], bare["left_m"], bare["moved_m"]) == ("yes", 0, 0)
    promised = bare["reserve_after"]
    # beyond x = 100 the way to L1 is x metres shorter: on average 200 - 2 x 150 = 100 m more
    assert bare["added_m"] == pytest.approx(100 * 100 / 200)

    trails = lines(**FORK)
    trails["goes_to"] = ["L2", None, None]
    layers["trails"] = trails
    plan = plan_block(block_file(tmp_path / "b", 0.08, WITH_LANDING, **layers))
    here = between(plan.stations, "T1", 120, 140)
    assert (plan.stations["landing"][here] == "L2").all()
    assert (reserve_of(plan, "bare")[here] >= 0).all()
    assert reserve_of(plan, "bare")[here].min() == pytest.approx(promised, abs=1e-12)
    assert (reserve_of(plan, "bare") >= 0).all()
    first = plan_block(path)
    assert (reserve_of(first, "bare")[here] < 0).any()


def test_without_another_landing_it_says_so(tmp_path):
    situation, found = cases(block_file(tmp_path))
    rows = other_landing_rows(situation, found)
    assert len(rows) == len(found)
    assert {row["solves"] for row in rows} == {"no"}
    assert "no other landing" in rows[0]["does"]


def test_a_landing_that_cannot_be_reached_is_no_remedy(tmp_path):
    far = two_landings().copy()
    trails = lines(T1=[(0, 0), (200, 0)], T2=[(0, 80), (60, 80)])
    far.geometry = [far.geometry.iloc[0], trails.geometry.iloc[1].interpolate(0)]
    situation, found = cases(block_file(tmp_path, landings=far, trails=trails))
    rows = other_landing_rows(situation, found)
    assert {row["solves"] for row in rows} == {"no"}
    assert "not possible" in rows[0]["does"]


def test_trails_over_a_stretch_are_those_whose_timber_crosses_it(ring, tmp_path):
    situation, _, _ = situation_of(
        block_file(tmp_path, trails=lines(**FORK), landings=two_landings())
    )
    network, routes = situation.along.network, situation.along.routes
    station = between(situation.along.stations, "T1", 170, 175)
    edge = edge_of(situation.along.stations, network)
    # T2 joins at x = 40 and goes to L2 at x = 0; T3 joins at x = 160 and goes to L1 past x = 170
    assert trails_over(network, routes, set(edge[station])) == {"T1", "T3"}


def test_timber_against_the_stations_direction_is_seen(tmp_path):
    trails = lines(A=[(0, 0), (100, 0)], B=[(100, 0), (200, 0)])
    trails["goes_to"] = ["L1", "L2"]
    path = block_file(tmp_path, text=WITH_LANDING, trails=trails, landings=two_landings())
    situation, _, _ = situation_of(path)
    along, block = situation.along, situation.block
    edge = edge_of(along.stations, along.network)
    heading = heading_along(along.stations, edge, along.network, along.routes)
    assert heading.against.all()
    routes, _ = find_routes(
        along.network, block.trails.assign(landing=None), block.landings, snap_m=3.0
    )
    assert not heading_along(along.stations, edge, along.network, routes).against.any()


def test_heading_is_that_of_the_stations_table(ring):
    along = ring.along
    edge = edge_of(along.stations, along.network)
    heading = heading_along(along.stations, edge, along.network, along.routes)
    assert heading.to_landing_m == pytest.approx(along.stations["to_landing_m"].to_numpy())
    east = np.sin(np.radians(along.stations["heading_deg"].to_numpy()))
    on_t1 = (along.stations["trail"] == "T1").to_numpy()
    assert ((east[on_t1] > 0) == heading.as_drawn[on_t1]).all()


# the other way round


@pytest.mark.parametrize("east", [130, 160])  # within an edge, and up to the junction at x = 160
def test_the_other_way_round_run_again_with_the_trail_parted_there(tmp_path, east):
    """Uphill to the landing over the soft patch; the other way round it is driven downhill."""
    layers = {"soils": patch(110, east), "trails": lines(**RING)}
    situation, found = cases(block_file(tmp_path / "a", 0.08, **layers))
    rows = other_way_rows(situation, found)
    assert len(rows) == len(found)
    bare = next(row for row in rows if row["setup"] == "bare")
    case = next(case for case in found if case.setup == "bare")
    assert "Drive the stretch the other way round, loaded" in bare["does"]
    # drawn apart there by more than the snapping distance; T2 stays joined to the way to L1
    end = case.to_m - (4 if east == 160 else 0)
    apart = {"T1": [(0, 0), (end, 0)], "R": [(end + 4, 0), (200, 0)]}
    layers["trails"] = lines(**apart, T2=RING["T2"])
    plan = plan_block(block_file(tmp_path / "b", 0.08, **layers))
    here = between(plan.stations, "T1", case.from_m, case.to_m)
    reserve = reserve_of(plan, "bare")[here]
    assert here.sum() == len(case.rows)
    assert bare["reserve_after"] == pytest.approx(reserve.min(), abs=1e-6)
    assert (bare["solves"] == "yes") == (reserve_of(plan, "bare") >= 0).all()
    assert bare["solves"] == "yes"
    assert bare["added_m"] > 0


def test_without_a_loop_there_is_no_other_way_round(tmp_path):
    situation, found = cases(block_file(tmp_path, trails=lines(**FORK)))
    rows = other_way_rows(situation, found)
    assert {row["solves"] for row in rows} == {"no"}
    assert {row["does"] for row in rows} == {"There is no way round to a landing."}


# leaving out


def test_stranded_timber_by_arithmetic(tmp_path):
    situation, found = cases(block_file(tmp_path, trails=lines(**FORK)))
    rows = left_out_rows(situation, found)
    row = rows[0]
    # a cubic metre a metre: T1 up to 110 m, and T2 (60 m); T3 joins behind the stretch
    assert row["stranded_m3"] == pytest.approx(110 + 60)
    assert row["stranded_trails"] == "T1, T2"
    assert row["solves"] == "partly"
    assert row["left_m"] == 0
    assert np.isnan(row["reserve_after"])  # nobody drives it any more
    assert "20 m of T1" in row["does"]
    assert "150 m beyond it" in row["does"]


def test_unknown_volume_is_said_not_zero(tmp_path):
    text = TEXT.replace('volume_m3 = "volume_m3"\n', "")
    situation, found = cases(block_file(tmp_path, text=text))
    row = left_out_rows(situation, found)[0]
    assert np.isnan(row["stranded_m3"])
    assert "unknown volume" in row["does"]
    assert row["note"].startswith("Volume not known: T1")


def test_on_a_ring_the_timber_goes_the_other_way_round(ring):
    rows = np.flatnonzero(between(ring.along.stations, "T1", 90, 110))
    out = leave_out(ring, [rows])
    assert out.cut_off_m == 0
    assert out.left_out_m == pytest.approx(20)
    assert out.stranded_m3 == pytest.approx(20)
    turned = between(ring.along.stations, "T1", 40, 90)
    assert out.turned[turned].all()
    assert not out.turned[between(ring.along.stations, "T1", 0, 40)].any()


@pytest.mark.parametrize("gx", [0.08, -0.44])
def test_leaving_out_run_again_by_cutting_the_line(tmp_path, gx):
    trails = lines(**RING)
    path = block_file(tmp_path / "a", gx, trails=trails)
    situation, _, _ = situation_of(path)
    rows = np.flatnonzero(between(situation.along.stations, "T1", 90, 110))
    out = leave_out(situation, [rows])
    cut = lines(T1a=[(0, 0), (90, 0)], T1b=[(110, 0), (200, 0)], T2=RING["T2"])
    plan = plan_block(block_file(tmp_path / "b", gx, trails=cut))
    length = plan.stations["length_m"].to_numpy()
    assert length.sum() == pytest.approx(out.kept @ situation.along.stations["length_m"])
    for k, name in enumerate(out.evaluation.setups):
        assert out.short_m[k] == pytest.approx(length @ (reserve_of(plan, name) < 0)), name
    if gx < 0:  # what ran downhill before has to climb now
        assert out.new_short_m[out.evaluation.column("bare")] > 0


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_who_reaches_a_landing_is_what_a_graph_of_stations_says(ring, data):
    stations = ring.along.stations
    gone = data.draw(st.lists(st.integers(0, len(stations) - 1), max_size=6, unique=True))
    out = leave_out(ring, [np.array([row]) for row in gone], ["bare"])
    network = ring.along.network
    edge = edge_of(stations, network)
    graph = nx.Graph()
    for number in range(len(network.trail)):
        rows = np.flatnonzero(edge == number)
        rows = rows[np.argsort(stations["chainage_m"].to_numpy()[rows])]
        ends = [("node", network.from_node[number]), *(("gap", r) for r in rows[:-1])]
        ends.append(("node", network.to_node[number]))
        for row, a, b in zip(rows, ends[:-1], ends[1:], strict=True):
            graph.add_nodes_from([a, b])
            if row not in gone:
                graph.add_edge(a, b, row=row)
    root = ("node", int(np.flatnonzero(network.to_landing_m == 0)[0]))
    reached = {
        graph.edges[pair]["row"] for pair in graph.subgraph(
            nx.node_connected_component(graph, root)
        ).edges
    }  # fmt: skip
    assert set(np.flatnonzero(out.kept)) == reached
    assert out.left_out_m == pytest.approx(stations["length_m"].to_numpy()[gone].sum())
    assert np.isnan(out.evaluation.reserve[~out.kept]).all()
    assert np.isfinite(out.evaluation.reserve[out.kept]).all()


def test_stretches_left_out_in_another_state_are_those_of_a_plan_in_that_state(tmp_path):
    path = block_file(tmp_path, -0.1, trails=lines(**RING), soils=patch(60, 130))
    moist, _, _ = situation_of(path)
    wet, _, _ = situation_of(path, state="wet")
    rows = np.flatnonzero(between(moist.along.stations, "T1", 90, 110))
    out, wanted = leave_out(moist, [rows]), leave_out(wet, [rows])
    assert out.turned.any()
    items = moist.assessment.items
    found = evaluated_anew(moist, items, out.turned, out.against, ~out.kept, "wet")
    np.testing.assert_allclose(found.reserve, wanted.evaluation.reserve, rtol=1e-12)
    assert not np.allclose(out.evaluation.reserve, found.reserve, equal_nan=True)


def test_nothing_left_out_changes_nothing(ring):
    out = leave_out(ring, [])
    assert out.kept.all()
    assert not out.turned.any()
    assert out.new_short_m.sum() == 0
    assert out.stranded_m3 == 0
    plan = ring.assessment.evaluation
    assert np.array_equal(out.evaluation.reserve, plan.reserve)
