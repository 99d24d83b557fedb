"""Doubt of a block that was read from files, and the table of the block file."""

import numpy as np
import pytest

from terrain.decision.assessment import assess
from terrain.decision.doubt import doubt_of
from terrain.decision.doubt_answers import pieces_of_trails
from terrain.decision.ground import frost_is_verified
from terrain.decision.look_along import look_along, read_surfaces, route_water
from terrain.decision.situation import Situation
from terrain.decision.strength import strength_of_polygons
from terrain.inputs.block_file import read_block_file
from terrain.models.settings import DoubtSettings
from terrain.plan import check_block
from terrain.stations.routes import find_routes
from tests.stations.networks import landings_of, traffic_of, trails_of
from tests.tiny_block import BLOCK, soils, write_block

FILMED = BLOCK.replace("[settings]", 'film = "bare mineral"\n[settings]')

TABLE = """\
[doubt]
draws = 400
seed = 7
dem_error_m = 0.1
dem_error_range_m = 8.0
payload_spread_percent = 6.0
density_spread_percent = 4.0
"""


def situation(folder, block=BLOCK):
    """As the recipe makes it; the softer polygon is of class 2."""
    path = write_block(folder, block=block, soils=soils().assign(soil_class=[1, 2]))
    loaded, network, issues = check_block(path)
    assert loaded is not None, issues
    assert network is not None
    settings = loaded.settings
    strength = strength_of_polygons(
        loaded.soils,
        loaded.water.readings,
        loaded.water.moisture_state,
        settings.ground.state,
        frost_verified=frost_is_verified(settings.ground),
    )
    surfaces, water = read_surfaces(loaded), route_water(loaded)
    along = look_along(loaded, network, surfaces, water, strength)
    found = assess(loaded.machine, loaded.aids, along.stations, along.states, settings)
    return Situation(loaded, surfaces, water, strength, along, found)


@pytest.mark.parametrize("block", [BLOCK, BLOCK + TABLE])
def test_a_block_from_files_gets_its_chances(tmp_path, block):
    made = situation(tmp_path, block)
    doubt = doubt_of(made)
    setups, states = made.assessment.evaluation.setups, ("dry", "moist", "wet", "saturated")
    assert list(doubt.block["setup"].unique()) == list(setups)
    assert len(doubt.block) == len(setups) * len(states)
    assert doubt.block["chance"].between(0, 1).all()
    assert (doubt.block["low"] <= doubt.block["chance"]).all()
    assert (doubt.block["high"] >= doubt.block["chance"]).all()
    assert set(doubt.trails["trail"]) == {"T1", "T2"}
    assert doubt.leaders["chance"].sum() == pytest.approx(1.0)
    assert "none" in set(doubt.leaders["setup"])
    assert doubt.draws == made.settings.doubt.draws
    assert f"{doubt.draws}" in doubt.sentence
    assert not doubt.sources["source"].duplicated().any()
    here = doubt.block[doubt.block["state"] == "moist"].set_index("setup")["chance"]
    assert (here > 0).any()
    assert 0 < here[made.shown] < 1  # in doubt, so that its sources were looked for
    assert doubt.sources["share"].sum() == pytest.approx(1.0)


def test_places_that_were_probed_already_leave_less_to_settle(tmp_path):
    from dataclasses import replace

    from terrain.decision.doubt_draws import make_world, varied_along
    from terrain.decision.doubt_sources import worlds_for_pairs

    made = situation(tmp_path)
    varied = varied_along(made.along.stations, DoubtSettings(draws=4000), 2.0, 5.0)
    one, two = (make_world(varied, 4000, 1, number) for number in (0, 1))
    fresh, probed, none = (
        worlds_for_pairs(one, two, np.full(len(varied.polygons), places))[2].soil
        for places in (0.0, 6.0, np.nan)
    )
    # weights 3 / (3 + 0 + 3) and 3 / (3 + 6 + 3); four standard errors of a correlation
    assert np.corrcoef(fresh[0], two.soil[0])[0, 1] == pytest.approx(0.5, abs=0.05)
    assert np.corrcoef(probed[0], two.soil[0])[0, 1] == pytest.approx(0.25, abs=0.06)
    assert none.tobytes() == replace(one, soil=one.soil + 0.0).soil.tobytes()


def test_the_table_of_the_block_file_is_read(tmp_path):
    block, issues = read_block_file(write_block(tmp_path, block=FILMED + TABLE))
    assert not issues
    assert block is not None
    assert block.settings.doubt == DoubtSettings(400, 7, 0.1, 8.0, 6.0, 4.0)
    plain, _ = read_block_file(write_block(tmp_path / "plain"))
    assert plain is not None
    assert plain.settings.doubt == DoubtSettings()


def test_a_spread_of_nothing_is_read(tmp_path):
    table = "[doubt]\ndem_error_m = 0\npayload_spread_percent = 0\ndensity_spread_percent = 0\n"
    block, issues = read_block_file(write_block(tmp_path, block=FILMED + table))
    assert not issues
    assert block is not None
    found = block.settings.doubt
    assert (found.dem_error_m, found.payload_spread_percent) == (0.0, 0.0)
    assert found.density_spread_percent == 0.0


def pieces_on(lines, landings):
    """Pieces of trails on a network by hand, and where each begins along its trail."""
    trails = trails_of(lines, [1.0] * len(lines))
    stations, _, network, issues = traffic_of(trails, landings)
    assert not issues
    routes, _ = find_routes(network, trails, landings, 0.5)
    made = pieces_of_trails(stations, network, routes)
    names = [
        f"{name} from {start:.0f}"
        for name, start in zip(network.trail, network.start_m, strict=True)
    ]
    return {
        trail: {names[k] for k in np.flatnonzero(made.with_way[row])}
        for row, trail in enumerate(made.trails)
    }


def test_the_way_of_a_trail_is_what_its_timber_is_driven_over():
    lines = [[(0, 0), (200, 0)], [(100, 50), (100, 0)], [(50, -30), (50, 0)]]
    found = pieces_on(lines, landings_of(L=(200, 0)))
    assert found["T1"] == {"T1 from 0", "T1 from 50", "T1 from 100"}
    assert found["T2"] == {"T2 from 0", "T1 from 100"}
    assert found["T3"] == {"T3 from 0", "T1 from 50", "T1 from 100"}
    # with a landing at each end no timber of T2 passes the western half
    both = pieces_on(lines, landings_of(L=(200, 0), W=(0, 0)))
    assert both["T3"] == {"T3 from 0", "T1 from 0"}


def test_a_loop_needs_both_its_ways():
    """T2 leaves T1 at 50 m and comes back to it at 150 m: its timber parts in the middle."""
    lines = [[(0, 0), (200, 0)], [(50, 0), (50, 80), (150, 80), (150, 0)]]
    found = pieces_on(lines, landings_of(L=(200, 0)))
    assert found["T2"] == {"T2 from 0", "T1 from 50", "T1 from 150"}
    both = pieces_on(lines, landings_of(L=(200, 0), W=(0, 0)))
    assert both["T2"] == {"T2 from 0", "T1 from 0", "T1 from 150"}


def test_a_trail_behind_soft_ground_is_no_surer_than_its_way(tmp_path):
    """T2 lies on firm ground and joins T1, whose last 50 m before the landing are soft."""
    doubt = doubt_of(situation(tmp_path))
    found = doubt.trails.pivot_table(index="trail", columns="setup", values=["chance", "alone"])
    assert (found["alone"].loc["T2"] > found["alone"].loc["T1"]).any()
    assert (found["chance"].loc["T2"] == found["chance"].loc["T1"]).all()
    shown = found["chance"].loc["T2"]
    assert shown.between(0.01, 0.94).any()


@pytest.mark.parametrize(
    "line",
    [
        "dem_error_range_m = 8.0",
        "draws = 3",
        "dem_error_m = -0.1",
        "payload_spread_percent = 80",
        "density_spread_percent = -1",
    ],
)
def test_a_faulty_table_is_refused(tmp_path, line):
    path = write_block(tmp_path, block=f"{FILMED}[doubt]\n{line}\n")
    block, issues = read_block_file(path)
    assert block is None
    assert len(issues) == 1
    assert f"doubt.{line.split(' ')[0]}" in issues[0].where
    assert (issues[0].code == "DBT01") == line.startswith("dem_error_range")
