"""Ratings exceeded and slopes that rules name, as the map tells them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from terrain.columns import columns_of
from terrain.decision.results import Plan
from terrain.outputs.map_data import map_data, verdict_words
from terrain.outputs.map_layers import emergency_items, landing_items
from terrain.outputs.map_slopes import (
    rating_items,
    rating_rows,
    rating_words,
    rule_slope_words,
    steep_items,
    steep_rows,
)
from terrain.outputs.map_trails import one_way
from terrain.outputs.shown_units import METRIC, US
from tests.outputs.map_plan import with_water
from tests.outputs.map_slope_plan import REAR, with_slopes
from tests.outputs.synthetic import make_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_slopes()


def test_the_verdict_says_how_far_a_rating_is_exceeded(plan: Plan) -> None:
    """40 + 0 + 0 m balanced and 60 + 25 + 0 m pivoting freely, by the table of the plan."""
    assert rating_words(plan) == (
        "Over a level rating on slopes: 40 m with balanced bogies, 85 m if they pivot freely; ask "
        "the manufacturer. On 5 m a share is not known in full. No rating that holds "
        "is known for whole machine."
    )
    assert "131 ft with balanced bogies, 279 ft" in rating_words(plan, US)
    data = map_data(plan)
    assert data["ratings"]["words"] == rating_words(plan)
    assert [item["t"] for item in data["ratings"]["items"]] == ["T1", "T2"]


def test_each_trail_says_its_own_metres_over_a_rating(plan: Plan) -> None:
    rows = {trail: dict(found) for trail, found in rating_rows(plan).items()}
    over = "Over a level rating on slopes"
    assert rows["T1"][over] == (
        "40 m with balanced bogies, 60 m if they pivot freely; ask the manufacturer"
    )
    assert rows["T1"]["Largest load over a rating"] == "114 % of it at 33 m"
    assert rows["T1"]["Ratings exceeded"].startswith(REAR)
    assert "whole machine" not in rows["T1"]["Ratings exceeded"]
    assert rows["T2"][over].startswith("25 m, only if bogies pivot freely")
    assert rows["T2"][over].endswith("5 m not known")
    assert "Largest load over a rating" not in rows["T2"]
    assert rows["T3"][over] == "no metre"
    words = [item["words"] for item in rating_items(plan)]
    assert words[0] == "T1: 40 m, up to 114 %; 60 m if bogies pivot freely"
    assert words[1] == "T2: 25 m, only if bogies pivot freely"


def test_without_places_the_whole_block_is_told_and_no_trail() -> None:
    """The invented table of ratings: rear tyres over on 1951 m balanced, 4264 m pivoting."""
    plan = with_water()
    assert plan.rating_places is None
    assert rating_words(plan) == (
        f"Over a level rating on slopes ({REAR}, loaded): 1\u202f951 m with balanced bogies, "
        "4\u202f264 m if they pivot freely; ask the manufacturer."
    )
    assert rating_rows(plan) == {}
    assert rating_items(plan) == []
    assert rating_words(make_plan()) == ""


def test_a_machine_without_ratings_says_so() -> None:
    empty = pd.DataFrame(columns=list(columns_of("rating_places")))
    plan = replace(with_water(), rating_places=empty)
    assert rating_words(plan) == (
        "Ratings on slopes: no rating in the machine file to hold it against."
    )
    assert all("no rating" in rows[0][1] for rows in rating_rows(plan).values())
    assert set(rating_rows(plan)) == {"T1", "T2", "T3"}


def test_slopes_over_those_that_rules_name(plan: Plan) -> None:
    """Metres by own arithmetic; 30 and 40 % stand in the rules that were read (Bavaria, page on
    timber extraction; Oregon, 437-007-0935)."""
    stations = plan.stations.copy()
    here = (stations["trail"] == "T2").to_numpy()
    grade = np.where(here, 0.1, stations["grade"].clip(-0.2, 0.2))
    first = np.flatnonzero(here)[:3]
    grade[first] = [-0.35, -0.45, 0.31]
    steep = replace(plan, stations=stations.assign(grade=grade, slope=np.abs(grade)))
    length = stations["length_m"].to_numpy()[first]
    (item,) = steep_items(steep)
    assert item["t"] == "T2"
    assert item["at"] == pytest.approx(stations["chainage_m"].iloc[first[1]], abs=0.06)
    assert item["words"].startswith("T2: 45 % (24°) down loaded; over 30 % (17°) on ")
    assert f"over 30 % (17°) on {METRIC.length(length.sum())}" in item["words"]
    assert f"over 40 % (22°) on {METRIC.length(length[1])}" in item["words"]
    assert "49 %" not in item["words"]
    assert item["words"].endswith("braking was not assessed: ask before driving")
    rows = steep_rows(steep)
    assert f"over 30 % (17°) on {METRIC.length(length.sum())}" in rows["T2"][0][1]
    assert rows["T1"][0][1] == "no metre"
    assert map_data(steep)["steep"] == [item]
    upward = replace(steep, stations=steep.stations.assign(grade=np.abs(grade)))
    assert steep_items(upward)[0]["words"].startswith("T2: 45 % (24°) up loaded")
    assert "braking" not in steep_items(upward)[0]["words"]
    for words in ("30 % (17°): ", "Bavaria (forwarder)", "Oregon, United States (any machine)"):
        assert words in rule_slope_words()


def test_an_unknown_slope_is_not_a_gentle_one(plan: Plan) -> None:
    grade = plan.stations["grade"].where(plan.stations["trail"] != "T3")
    blind = replace(plan, stations=plan.stations.assign(grade=grade))
    here = plan.stations["trail"] == "T3"
    length = METRIC.length(plan.stations.loc[here, "length_m"].sum())
    assert steep_rows(blind)["T3"][0][1] == f"{length} not known"


def test_amounts_are_written_as_in_the_report(plan: Plan) -> None:
    """Narrow no-break space between thousands and a raised 3, as terrain.outputs.document does."""
    assert one_way("580 m of 6521 m; 419 m3 of timber") == "580 m of 6\u202f521 m; 419 m³ of timber"
    assert one_way("6521 m", US) == "6,521 m"
    seasons = plan.seasons
    assert seasons is not None
    told = replace(plan, seasons=seasons.assign(decides="T1 1234 m"))
    assert "T1 1\u202f234 m" in verdict_words(told, "bare", "moist")[2]
    landing = dict(landing_items(plan)[0]["r"])["Grid figures"]
    assert landing == "E 400\u202f020 m, N 5\u202f600\u202f030 m"
    assert dict(emergency_items(plan, US)[0]["r"])["Grid figures"].startswith("E 400,030 m")
