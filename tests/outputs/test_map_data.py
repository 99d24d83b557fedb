"""What the map's script is given: the same figures as the plan, station by station."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.results import Plan
from terrain.models.emergency import Emergency
from terrain.outputs import map_layers, map_trails
from terrain.outputs.map_codes import ALPHABET
from terrain.outputs.map_data import NO_VERDICT, evaluations_of, map_data, verdict_words
from tests.outputs.synthetic import make_plan, with_decision


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_decision(make_plan())


@pytest.fixture(scope="module")
def data(plan: Plan) -> dict:
    return map_data(plan)


def column(data: dict, name: str, state: str, setup: str) -> np.ndarray:
    """Figures as the page reads them; own arithmetic."""
    place = [item["id"] for item in data["setups"]].index(setup)
    text = data["packs"][data["figures"][name][state][place]]
    scale = data["scales"][name]
    codes = [
        64 * ALPHABET.index(a) + ALPHABET.index(b)
        for a, b in zip(text[::2], text[1::2], strict=True)
    ]
    return np.array(
        [
            np.nan if c == 0 else scale["low"] + (c - 1 + scale["shift"]) * scale["step"]
            for c in codes
        ]
    )


def test_it_is_plain_data(data: dict) -> None:
    json.dumps(data, allow_nan=False)


@pytest.mark.parametrize("state", ["dry", "moist", "saturated"])
def test_every_setup_and_state_keeps_its_reserves(plan: Plan, data: dict, state: str) -> None:
    answer = plan.evaluations[state]
    for k, setup in enumerate(answer.setups):
        found = column(data, "reserve", state, setup)
        assert found == pytest.approx(answer.reserve[:, k], abs=0.0005, nan_ok=True)
        assert ((found < 0) == (answer.reserve[:, k] < 0)).all()


def test_shuffled_stations_give_the_same_trails(plan: Plan, data: dict) -> None:
    """The stations table may come in any order; rows of the answers go with it."""
    order = np.random.default_rng(1).permutation(len(plan.stations))
    order = np.concatenate([order[order == 0], order[order != 0]])  # the first trail stays first
    answers = {
        state: replace(
            answer,
            **{
                name: getattr(answer, name)[order]
                for name in (
                    "reserve_loaded", "reserve_empty", "cause", "pressure_kpa", "pressure_ratio",
                    "extrapolated",
                )
            },
        )
        for state, answer in plan.evaluations.items()
    }  # fmt: skip
    mixed = replace(
        plan,
        stations=plan.stations.iloc[order],
        evaluations=answers,
        evaluation=answers[plan.settings.ground.state],
    )
    again = map_data(mixed)
    names = [trail["id"] for trail in data["trails"]]
    assert sorted(names) == sorted(trail["id"] for trail in again["trails"])
    one = np.sort(column(data, "reserve", "dry", "bare"))
    assert np.sort(column(again, "reserve", "dry", "bare")) == pytest.approx(one, nan_ok=True)
    first = len(data["trails"][0]["e"])
    assert column(again, "reserve", "dry", "bare")[:first] == pytest.approx(
        column(data, "reserve", "dry", "bare")[:first], nan_ok=True
    )


def test_trails_end_where_their_lines_end(plan: Plan, data: dict) -> None:
    for trail in data["trails"]:
        length = plan.trails.geometry[trail["id"]].length
        assert trail["e"][-1] == pytest.approx(length, abs=0.02)
        assert trail["m"][-1] == pytest.approx(length, abs=0.06)
        assert len(trail["m"]) == len(trail["p"])


def test_arrow_of_the_strip_is_the_loads_way(data: dict) -> None:
    """In the synthetic plan the way to the landing grows with the chainage: travel against it."""
    assert {trail["flow"] for trail in data["trails"]} == {-1}


def test_the_verdict_is_that_of_the_season_table(plan: Plan) -> None:
    row = plan.seasons[(plan.seasons["setup"] == "bare") & (plan.seasons["state"] == "saturated")]
    mark, outcome, words = verdict_words(plan, "bare", "saturated")
    assert (mark, outcome) == ("○", "does not suit")
    assert words.startswith(f"{row['short_m'].iloc[0]:.0f} m short of traction")
    assert verdict_words(plan, "open + open", "dry")[:2] == ["●", "suits"]


def test_without_seasons_only_the_plans_own_state_is_judged() -> None:
    plan = make_plan()
    assert list(evaluations_of(plan)) == ["moist"]
    assert verdict_words(plan, "open + open", "moist")[1] == "suits"
    assert verdict_words(plan, "open + open", "wet") == ["•", "not judged", NO_VERDICT]
    data = map_data(plan)
    assert data["states"] == ["moist"]
    assert data["stretches"] == []


def test_unknown_passes_stay_unknown(plan: Plan, data: dict) -> None:
    assert np.isnan(column(data, "passes", "moist", "bare")).all()
    known = replace(plan, stations=plan.stations.assign(passes=7.0))
    assert set(column(map_data(known), "passes", "moist", plan.ranking.shown)) == {7.0}
    assert np.isnan(column(map_data(known), "passes", "moist", "bare")).all()


def test_stretches_lie_on_their_trails(plan: Plan) -> None:
    items = map_trails.stretch_items(plan)
    assert [item["id"] for item in items] == list(plan.bottlenecks["stretch"])
    trails = {trail["id"]: trail for trail in map_data(plan)["trails"]}
    for item in items:
        assert 0 <= item["from"] <= item["worst"] <= item["to"] <= trails[item["t"]]["e"][-1]
    assert dict(items[0]["r"])["Lightest usual setup that passes"] == "no listed setup"


def test_detours_and_the_meeting_point_are_drawn_when_there_are_any(plan: Plan) -> None:
    assert len(map_layers.detour_items(plan)) == len(plan.reroutes)
    assert map_layers.emergency_items(plan) == []
    west, south, *_ = plan.dem.bounds
    there = replace(plan, emergency=Emergency("Gate <b>", west + 10, south + 20, "gravel road"))
    item = map_layers.emergency_items(there)[0]
    assert item["n"] == "Meeting point for help: Gate <b>"
    assert dict(item["r"])["Note"] == "gravel road"


def test_soil_labels_have_several_places_inside_their_polygon(plan: Plan) -> None:
    items = map_layers.soil_items(plan)
    assert all(len(item["ats"]) >= 2 for item in items)
    assert dict(items[1]["r"])["Drainage"] == "not known"


def test_a_trail_without_a_climb_says_none_and_an_unknown_one_says_so(plan: Plan) -> None:
    row = plan.trails.iloc[0]
    assert dict(map_trails.trail_rows(row))["Steepest uphill, loaded"].endswith("°)")
    down_only = row.copy()
    down_only["steepest_up"] = float("nan")
    assert dict(map_trails.trail_rows(down_only))["Steepest uphill, loaded"] == "none"
    down_only["steepest_down"] = float("nan")
    assert dict(map_trails.trail_rows(down_only))["Steepest uphill, loaded"] == "not known"


def test_arrows_point_the_way_the_load_travels(plan: Plan) -> None:
    """T2 is drawn northward and the load goes back south; own arithmetic."""
    turns = [item["turn"] for item in map_trails.arrow_items(plan)]
    assert any(abs(turn - 172) < 15 for turn in turns)


def test_the_verdict_tells_what_was_not_assessed_and_what_a_drier_state_decides(
    plan: Plan,
) -> None:
    def said(**changes: object) -> str:
        table = plan.seasons.astype({"decides": object}).assign(**changes)
        return verdict_words(replace(plan, seasons=table), "bare", "saturated")[2]

    row = plan.seasons[(plan.seasons["setup"] == "bare") & (plan.seasons["state"] == "saturated")]
    short = f"{row['short_m'].iloc[0]:.0f} m short of traction"
    assert said(not_assessed_m=205.0).startswith(f"{short}; 205 m not assessed; ")
    assert "not assessed" not in said(not_assessed_m=0.0)
    assert said(short_m=np.nan, unsolved_m=0.0).startswith("metres short of traction not known; ")
    carried = said(decides="falls short in moist ground")
    assert carried.endswith(" Falls short in moist ground.")
    assert "by trail" not in carried
    assert "Short metres by trail: T1 10 m." in said(decides="T1 10 m").replace("\u202f", " ")
