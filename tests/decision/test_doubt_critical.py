"""The critical strength against the evaluation itself, with no table and with one."""

import numpy as np
import pytest
from scipy.optimize import brentq

from terrain.decision.assessment import with_payload
from terrain.decision.carried import carried
from terrain.decision.critical_strength import critical_inverse, grid_over, loads_drawn_kg
from terrain.decision.evaluation import evaluate
from terrain.models.machine import Load
from terrain.models.settings import GroundSettings, Settings
from terrain.setups.rulebook import Standing, judge_all
from tests.builders import AIDS, CLOSED_BAND, forwarder, skidder, stations
from tests.decision.test_evaluation import both

MOST_DIFFERENT = 1e-3
"""Share of station-setup-draw answers that the table may give otherwise than the evaluation."""

NEAR_NOUGHT = 0.02
"""And only where the reserve is nearer to nought than this (ratio); a step of the table."""


def items_of(machine, most=8):
    kept = [s for s, j in judge_all(machine, AIDS) if j.standing is not Standing.EXCLUDED]
    return [carried(setup, machine) for setup in kept[:most]]


def places(n=300, seed=0, **columns):
    rng = np.random.default_rng(seed)
    return stations(grade=rng.normal(0, 0.28, n), cross_slope=rng.normal(0, 0.12, n), **columns)


@pytest.mark.parametrize("make", [forwarder, skidder])
def test_a_place_passes_from_its_critical_strength_on(make):
    items, table = items_of(make()), places()
    inverse = critical_inverse(table, items, Settings(), 1.0, 5000.0)
    rng = np.random.default_rng(1)
    for _ in range(5):
        cone = np.exp(rng.uniform(np.log(20), np.log(4000), len(table)))
        reserve = evaluate(table.assign(cone_index_kpa=cone), items, Settings())[0].reserve
        differs = (cone[:, None] * inverse >= 1) != (reserve >= 0)
        assert np.abs(reserve[differs & np.isfinite(reserve)]).max(initial=0.0) < 1e-4
        assert differs[np.isfinite(reserve)].mean() < 1e-3
    assert (inverse == 0).any()
    assert ((inverse > 0) & (inverse < 1)).any()


def test_the_root_is_that_of_a_general_root_finder():
    """Against scipy's brentq on the evaluation."""
    items = items_of(forwarder(), 3)
    table = stations(grade=np.array([0.15]), cross_slope=np.array([0.08]))
    inverse = critical_inverse(table, items, Settings(), 1.0, 20_000.0)[0]
    for k, item in enumerate(items):

        def reserve(cone, item=item):
            here = table.assign(cone_index_kpa=cone)
            return float(evaluate(here, [item], Settings())[0].reserve[0, 0])

        assert 1 / inverse[k] == pytest.approx(brentq(reserve, 10, 10_000), rel=1e-4)


def test_what_no_strength_passes_and_what_nobody_knows():
    items = items_of(forwarder(), 2)
    table = stations(grade=np.array([0.9, 0.1, np.nan, 0.1]), cross_slope=[0.0, 0.95, 0.0, np.nan])
    inverse = critical_inverse(table, items, Settings(), 1.0, 5000.0)
    assert (inverse[1] == 0).all()  # the cross slope alone asks for more than any grip
    assert np.isnan(inverse[2:]).all()
    assert not (5000.0 * inverse[0] >= 1).any()
    weak = critical_inverse(stations(grade=[-0.1]), items, Settings(), 4000.0, 5000.0)
    assert (4000.0 * weak >= 1).all()  # passes already on the weakest ground asked for


@pytest.mark.parametrize("make", [forwarder, skidder])
def test_the_table_answers_as_the_evaluation_does_but_very_near_to_nought(make):
    machine = make()
    items = items_of(machine)
    rng = np.random.default_rng(2)
    n, draws = 400, 12
    grade, cross = rng.normal(0, 0.15, (draws, n)), rng.normal(0, 0.12, (draws, n))
    cone = np.exp(rng.uniform(np.log(60), np.log(2000), (draws, n)))
    factor = rng.normal(1, 0.1, draws)
    film = GroundSettings(film="litter or sod over firm ground", film_grip_cap=0.4)
    settings = Settings(ground=film)
    loads = loads_drawn_kg(items, factor)
    grid = grid_over(
        stations(grade=grade[0]), items, settings, [(grade, cross)], loads, (1.0, cone.max())
    )
    corners = grid.corners(grade, cross, draws)
    least = grid.least_inverse(grade.mean(axis=0), cross.mean(axis=0), 2.0)
    answers, direct = [], []
    for k, item in enumerate(items):
        inverse = grid.inverse(k, corners, loads[k])
        assert (np.nan_to_num(inverse) >= least * (1 - 1e-6)).all()
        answers.append(cone * inverse >= 1)
        rows = []
        for d in range(draws):
            alone = carried(item.setup, with_payload(machine, factor[d]))
            assert alone.payload_kg == pytest.approx(loads[k, d])
            table = stations(grade=grade[d], cross_slope=cross[d], cone_index_kpa=cone[d])
            rows.append(evaluate(table, [alone], settings)[0].reserve[:, 0])
        direct.append(np.array(rows))
    reserve = np.array(direct)
    differs = np.array(answers) != (reserve >= 0)
    assert differs.mean() < MOST_DIFFERENT
    assert np.abs(reserve[differs]).max(initial=0.0) < NEAR_NOUGHT
    assert 0.1 < (reserve >= 0).mean() < 0.9  # both answers were asked for


def test_trails_with_their_own_film_get_their_own_row_of_the_table():
    items = items_of(forwarder(), 1)
    table = stations(grade=np.array([0.25, 0.25]))
    table["film"] = ["bare mineral", "litter or sod over firm ground"]
    table["film_grip_cap"] = [np.nan, 0.2]
    slopes = (np.full((1, 2), 0.25), np.zeros((1, 2)))
    loads = loads_drawn_kg(items, np.ones(1))
    grid = grid_over(table, items, Settings(), [slopes], loads, (1.0, 3000.0))
    inverse = grid.inverse(0, grid.corners(*slopes, 1), loads[0])
    own = critical_inverse(table, items, Settings(), 1.0, 90_000.0)
    assert inverse[0, 0] == pytest.approx(own[0, 0], rel=0.01)
    assert inverse[0, 1] == own[1, 0] == 0


def test_a_drawn_load_is_never_heavier_than_the_ratings_allow():
    machine = forwarder(rated_gross_mass_kg=35_000.0)
    items = items_of(machine)
    loads = loads_drawn_kg(items, np.array([0.5, 1.0, 3.0]))
    for item, load in zip(items, loads, strict=True):
        room = 35_000 - machine.unladen_mass_kg - item.added_mass_kg
        assert load == pytest.approx([7000, min(14_000, room), room])


def test_a_load_that_the_ratings_cut_earns_no_steeper_stance_in_the_draws_either():
    # own arithmetic: the full load lifts the front at 28.2 / 88.8 = 0.318; 0.32 is a node
    machine = forwarder(
        wheelbase_m=3.2, cg_height_m=2.2, load=Load(14000, -0.5, 3.2), rated_gross_mass_kg=30000
    )
    item = carried(both(CLOSED_BAND), machine)
    assert item.payload_kg < 14000
    grade, cross = np.array([[0.32]]), np.zeros((1, 1))
    table, loads = stations(grade=0.32), np.array([[item.payload_kg]])
    grid = grid_over(table, [item], Settings(), [(grade, cross)], loads, (50.0, 3000.0))
    assert critical_inverse(table, [item], Settings(), 50.0, 3000.0)[0, 0] == 0.0
    drawn = grid.inverse(0, grid.corners(grade, cross, 1), loads[0])
    assert drawn[0, 0] == pytest.approx(0.0, abs=1e-9)
