"""Loads by trail on map, receiver and report, and ratings that the machine file does not state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from terrain.decision.ratings import ANSWERS
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_shut import closed_trails
from terrain.outputs.field_features import trail_features
from terrain.outputs.load_words import load_range, load_words, nothing_holds, unrated
from terrain.outputs.map_data import map_data
from terrain.outputs.rating_words import rating_words
from terrain.outputs.report import report_html
from tests.outputs.brief_plans import brief_plan
from tests.outputs.test_brief_loads import carry, plain
from tests.outputs.test_report import Reader


def loaded():
    plan = brief_plan(8)
    closed = closed_trails(plan)[0]
    rows = [("T1", 8004.0, 0.0), ("T2", np.nan, 0.0), ("T3", 12200.0, 5.0), (closed, 900.0, 0.0)]
    table = pd.DataFrame(rows, columns=["trail", "load_kg", "unknown_m"]).assign(
        full_kg=12200.0, way_m=100.0
    )
    return replace(plan, trail_loads=table), closed


def test_a_load_is_rounded_down_and_closed_trails_have_none():
    plan, closed = loaded()
    words = {name: plain(text) for name, text in load_words(plan).items()}
    assert words == {
        "T1": "8 000 kg at most",
        "T2": "no load holds: ask",
        "T3": "12 200 kg (full); 5 m not known",
    }
    assert closed not in words
    assert load_words(replace(plan, trail_loads=None)) == {}


def test_the_range_of_the_loads_and_that_none_holds():
    plan, _ = loaded()
    said = plain(load_range(plan))
    assert said.startswith("8 000 kg to 12 200 kg by trail, with its way to the landing (12 200 kg")
    assert said.endswith("On 1 open trail no load holds: ask.")
    nothing = replace(plan, trail_loads=plan.trail_loads.assign(load_kg=np.nan))
    assert nothing_holds(nothing)
    assert not nothing_holds(plan)
    assert load_range(nothing).startswith("No load holds on any open trail in this state")
    assert any(line.startswith("No load holds on any trail") for line in carry(nothing))
    assert not any("at most" in line for line in carry(nothing))
    assert load_range(replace(plan, trail_loads=None)) == ""


def test_a_way_of_which_nothing_is_known_has_no_load():
    plan, _ = loaded()
    blind = replace(plan, trail_loads=plan.trail_loads.assign(unknown_m=100.0))
    assert set(load_words(blind).values()) == {"not known"}
    assert load_range(blind) == ""
    assert not nothing_holds(blind)
    rows = {row["trail"]: row["load"] for row in brief_content(blind)["trails"]["rows"]}
    assert rows["T1"] == rows["T2"] == "?"
    assert "? not known." in brief_content(blind)["trails"]["notes"]


def test_map_receiver_and_report_tell_the_load_of_the_brief(small_plan):
    plan, closed = loaded()
    trails = {item["id"]: item for item in map_data(replace(plan, bottlenecks=None))["trails"]}
    assert plain(trails["T1"]["load"]) == "8 000 kg at most"
    assert trails[closed]["load"] == ""
    features = {feature.name: dict(feature.words) for feature in trail_features(plan)}
    assert plain(features["T1"]["Load"]) == "8 000 kg at most"
    assert "Load" not in features[closed]
    text = Reader(report_html(replace(small_plan, trail_loads=plan.trail_loads))).text
    assert "Load, with the way to the landing" in text
    assert "no load holds: ask" in text


def test_a_rating_that_is_not_stated_is_never_silently_held():
    plan, _ = loaded()
    assert unrated(replace(plan, ratings=None)) == []
    rows = [
        {"setup": plan.ranking.shown, "state": state, "rating": name, "answer": answer}
        for state in ("loaded", "empty")
        for name, answer in (
            ("whole machine", ANSWERS["within"]),
            ("tyres of the rear bogie", ANSWERS["none"]),
        )
    ]
    figures = dict.fromkeys(
        ("over_m", "over_balanced_m", "level_share", "largest_share", "unknown_m"), 0.0
    )
    table = pd.DataFrame(rows).assign(**figures)
    holding = ("holding_payload_balanced_kg", "holding_payload_free_kg")
    table = table.assign(**dict.fromkeys(holding, np.nan))
    names = list(dict.fromkeys(plan.stations["trail"].astype(str)))
    places = pd.DataFrame({"trail": names, "rating": "any rating"}).assign(
        over_balanced_m=0.0, over_m=0.0, largest_share=0.5, at_m=1.0, unknown_m=0.0
    )
    missing = replace(plan, ratings=table, rating_places=places)
    assert unrated(missing) == ["tyres of the rear bogie"]
    gap = "no rating that holds is known for tyres of the rear bogie"
    assert set(rating_words(missing).values()) == {gap}
    assert any("No rating that holds is known for: tyres of the rear" in x for x in carry(missing))
    words = map_data(replace(missing, bottlenecks=None))["ratings"]["words"]
    assert "No rating that holds is known for tyres of the rear bogie." in words
    features = trail_features(missing)
    assert all(gap in " ".join(map(str, dict(feature.words).values())) for feature in features)
