"""One verdict walked back: the figures are the plan's, and they make it again by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.assessment import assess
from terrain.decision.carried import carried
from terrain.decision.travel import what_is_missing
from terrain.decision.walk import equations_of, walk_back
from terrain.errors import InputRefused
from terrain.models.machine import Load
from terrain.models.settings import Settings
from terrain.plan import plan_block
from terrain.units import GRAVITY_M_S2
from tests.builders import CHAINS, forwarder, single, skidder, stations
from tests.cli.run import rutwise
from tests.decision.test_evaluation import BARE_SETUP, both
from tests.situations import situation_of
from tests.tiny_block import BLOCK, write_block


@pytest.fixture(scope="module")
def block(tmp_path_factory):
    text = BLOCK.replace("[settings]", 'film = "litter or sod over firm ground"\n[settings]')
    text = text.replace("[settings]", 'film_grip_cap = 0.4\nfilm_cap_source = "a test"\n[settings]')
    return write_block(tmp_path_factory.mktemp("walk"), block=text)


@pytest.fixture(scope="module")
def situation(block):
    return situation_of(block)


@pytest.fixture(scope="module")
def weak(block):
    """The plan's stretches."""
    found = plan_block(block).bottlenecks
    assert found is not None
    return found


def figures(steps):
    return [{figure.name: figure.value for figure in step.figures} for step in steps]


@pytest.mark.parametrize("setup", ["bare", "chains-710-bogie + closed-band-710"])
@pytest.mark.parametrize("trail", ["T1", "T2"])
def test_the_last_figures_are_those_of_the_plan(situation, setup, trail):
    verdict, along, _, place, ground, machine, axles, front, rear, balance, pressure = figures(
        walk_back(situation, trail, setup)
    )
    stations, evaluation = situation.along.stations, situation.assessment.evaluation
    k = evaluation.column(setup)
    rows = np.flatnonzero((stations["trail"] == trail).to_numpy())
    row = rows[evaluation.reserve[rows, k].argmin()]
    reserves = (
        balance["reserve, loaded toward the landing"],
        balance["reserve, empty away from it"],
    )
    assert reserves == (evaluation.reserve_loaded[row, k], evaluation.reserve_empty[row, k])
    assert along["smallest reserve"] == min(reserves)
    assert pressure["largest of them"] == evaluation.pressure_kpa[row, k]
    ranked = situation.assessment.ranking.setups.set_index("setup").loc[setup]
    assert verdict["short of traction"] == ranked["short_m"]
    # by hand: gradient and heading make the grade (standard geometry)
    angle = np.radians(place["heading of loaded travel"])
    east, north = place["gradient toward east"], place["gradient toward north"]
    grade = east * np.sin(angle) + north * np.cos(angle)
    assert place["grade, uphill loaded"] == pytest.approx(grade, abs=1e-12)
    # by hand: the balance of all driven groups, Brixius 1987 for the parts
    load = np.array(
        [axles[f"{name} axle group, normal to the ground"] for name in ("front", "rear")]
    )
    gross = np.array([g["gross traction over load"] for g in (front, rear)])
    resistance = np.array([g["motion resistance over load"] for g in (front, rear)])
    cross = place["cross slope, ground rises to the left"]
    grip = np.sqrt(((load * gross).sum() / load.sum()) ** 2 - cross**2)
    asked = axles["grade in this direction"] + (load * resistance).sum() / load.sum()
    if balance["what the slope asks"] > 0:
        assert balance["what the slope asks"] == pytest.approx(asked, rel=1e-9)
        effort = balance.get("driveline effort over load", np.inf)
        assert balance["what the machine gives"] == pytest.approx(min(grip, effort), rel=1e-9)
    assert ground["cone index, likely"] == stations["cone_index_kpa"].iloc[row]
    assert machine["load within the ratings"] == situation.assessment.item(setup).payload_kg


def test_a_dragged_load_and_an_undriven_axle_are_told_as_they_are_computed(situation):
    # standard statics: what drags on the ground is no weight on the wheels
    rear = single("rear", driven=False)
    machine = skidder(groups=(single("front"), rear))
    block = replace(situation.block, machine=machine)
    found = assess(
        machine, (), situation.along.stations, situation.along.states, situation.settings
    )
    steps = walk_back(replace(situation, block=block, assessment=found), "T1", "bare")
    on_wheels_kn = (11000 + 0.5 * 4000) * GRAVITY_M_S2 / 1000
    assert f"carry {on_wheels_kn:.0f} kN on the level" in steps[-1].text
    assert f"at {GRAVITY_M_S2:g} m/s2" in steps[6].text
    axles, rear_grip = (figures(steps)[i] for i in (6, 8))
    assert "motion resistance over load" not in rear_grip
    # Brixius 1987: an undriven wheel rolls with 1 / Bn + 0.04
    towed = 1 / rear_grip["mobility number"] + 0.04
    assert rear_grip["motion resistance over load, rolling"] == pytest.approx(towed, rel=1e-9)
    assert axles["pull of the dragged load"] > 0
    assert "its figure: user's figure: a test" in steps[8].text


def test_the_weak_stretch_is_that_of_the_plan(weak, situation):
    """Every stretch of the plan is named at its worst place; elsewhere none is."""
    assert len(weak)
    for row in weak.to_dict("records"):
        steps = walk_back(situation, row["trail"], situation.shown, row["worst_m"])
        told = figures(steps)[2]
        assert row["stretch"] in steps[2].title
        assert f"From {row['from_m']:.0f} to {row['to_m']:.0f} m" in steps[2].text
        for name in ("stretch", "kind", "cause"):
            assert told[name] == row[name]
        assert told["length"] == row["length_m"]
        assert told["smallest reserve, setup of the cause"] == row["worst_reserve"]
        assert told["smallest reserve, setup asked about"] == row["shown_reserve"]


def test_a_place_in_no_weak_stretch_is_said_to_be_in_none(weak, situation):
    inside = [(row["from_m"], row["to_m"]) for row in weak.to_dict("records")]
    free = next(m for m in range(5, 200, 5) if not any(a <= m <= b for a, b in inside))
    stretch = walk_back(situation, "T1", "bare", free)[2]
    assert "in no weak stretch" in stretch.text
    assert {figure.name: figure.value for figure in stretch.figures} == {"stretch": "none"}


def test_a_place_can_be_named(situation):
    steps = walk_back(situation, "T1", "bare", chainage_m=101.0)
    assert "102 m of T1" in steps[3].title or "103 m of T1" in steps[3].title


@pytest.mark.parametrize("chainage_m", [9999.0, -2.0, 201.1, float("nan")])
def test_a_place_beyond_the_trail_is_refused_with_its_length(situation, chainage_m):
    with pytest.raises(InputRefused) as refusal:
        walk_back(situation, "T1", "bare", chainage_m=chainage_m)
    (issue,) = refusal.value.issues
    assert (issue.code, issue.where) == ("WHY04", "--at")
    assert "200 m long" in issue.what
    assert walk_back(situation, "T1", "bare", chainage_m=200.9)  # lengths are told in whole metres


def test_the_shown_setup_is_taken_when_none_is_named(situation):
    assert walk_back(situation, "T1") == walk_back(situation, "T1", situation.shown)


def test_a_place_where_wheels_lift_says_slope_and_limit(situation):
    machine = forwarder(wheelbase_m=3.2, cg_height_m=2.2, load=Load(14000, -0.5, 3.2))
    along = situation.along
    stations = along.stations.assign(grade=0.33, cross_slope=0.0, cone_index_kpa=4000.0)
    found = assess(machine, (), stations, along.states, situation.settings)
    block = replace(situation.block, machine=machine)
    steep = replace(
        situation, block=block, along=replace(along, stations=stations), assessment=found
    )
    balance = walk_back(steep, "T1", "bare")[-2]
    assert "What binds: an axle lifting off, loaded. Wheels lift off" in balance.text
    # own arithmetic: (11 x 3.2 - 14 x 0.5) / (20 x 2.2 + 14 x 3.2) = 0.318
    assert "loaded, front end uphill: 33.0 % over 31.8 %" in balance.text
    assert "lift_off_grades" in balance.relations
    assert "lift" not in walk_back(situation, "T2", "bare")[-2].text


def test_what_is_missing_is_named(tmp_path):
    text, setup = BLOCK.replace("[settings]", 'film = "ice"\n[settings]'), "chains-710-bogie"
    icy = situation_of(write_block(tmp_path, block=text))
    with pytest.raises(InputRefused) as refusal:
        walk_back(icy, "T1", f"{setup} + {setup}")
    (issue,) = refusal.value.issues
    assert issue.code == "WHY03"
    words = "what chains or tracks hold on the surface film is not known on 200 m"
    assert issue.what == f"nothing of trail T1 could be assessed with {setup} + {setup}: {words}"
    # a place named in it is told all the same, and not as one that holds
    told = walk_back(icy, "T1", f"{setup} + {setup}", 100.0)[-2].text
    assert "asks: not known." in told


def test_each_thing_that_is_missing_is_told_with_its_metres():
    table = stations(
        grade=np.array([0.1, np.nan, 0.1]), cone_index_kpa=np.array([np.nan, np.nan, 500.0])
    ).assign(film="litter or sod over firm ground", film_grip_cap=[0.4, 0.4, np.nan])
    bare, chained = (carried(setup, forwarder()) for setup in (BARE_SETUP, both(CHAINS)))
    ground = "the slope is not known on 5 m; the soil strength is not known on 10 m"
    assert what_is_missing(table, chained, Settings()) == ground
    plain = "the grip of plain tyres on the surface film is not known on 5 m"
    assert what_is_missing(table, bare, Settings()) == f"{ground}; {plain}"


def test_every_step_has_a_standing_or_equations_with_sources(situation):
    for step in walk_back(situation, "T1", "bare"):
        equations = equations_of(step)
        assert equations or step.status or step.title == "The trail"
        assert all(equation and status for _, equation, status, _ in equations)


def test_unknown_names_are_refused_with_what_there_is(situation):
    with pytest.raises(InputRefused) as no_trail:
        walk_back(situation, "T9", "bare")
    assert no_trail.value.issues[0].code == "WHY01"
    assert "T1, T2" in no_trail.value.issues[0].fix
    with pytest.raises(InputRefused) as no_setup:
        walk_back(situation, "T1", "wings")
    assert no_setup.value.issues[0].code == "WHY02"
    assert "bare" in no_setup.value.issues[0].fix


def test_the_command_tells_it_in_words_and_in_rows(block):
    told = rutwise("why", block, "--trail", "T1", "--setup", "bare")
    assert told.returncode == 0, told.stderr
    assert "The balance" in told.stdout
    assert "The weak stretch T1-" in told.stdout
    assert "Brixius" in told.stdout
    assert "Rutwise approves nothing" in told.stdout.replace("\n", " ")
    assert all(len(line) <= 80 for line in told.stdout.splitlines())
    rows = rutwise("why", block, "--trail", "T1", "--format", "csv")
    assert rows.stdout.splitlines()[0] == "step,title,figure,value,unit,relations"
    wrong = rutwise("why", block, "--trail", "nowhere")
    assert wrong.returncode == 2
    assert "T1, T2" in wrong.stderr
