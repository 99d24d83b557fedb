"""Ratings exceeded on slopes, in the texts for receivers and tablets."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyogrio
import pytest

from terrain.columns import columns_of
from terrain.decision.rating_places import ANY_RATING
from terrain.decision.results import Plan
from terrain.outputs.exchange import geojson_text, kml_text
from terrain.outputs.gps import gpx_text
from terrain.outputs.rating_words import rating_words
from terrain.outputs.tables import write_tables
from tests.outputs.field_plan import with_field_things

LABEL = "Over a rating of the machine file with the setup to carry"


def _table() -> pd.DataFrame:
    rows = [
        ("T1", ANY_RATING, 233.2, 291.4, 1.1348, 216.2, 0.0),
        ("T1", "rear bogie", 0.0, 0.0, 0.91, 216.2, 0.0),
        ("T1", "tyres of the front bogie", 0.0, 80.0, 0.97, 40.0, 0.0),
        ("T1", "tyres of the rear bogie", 233.2, 250.0, 1.1348, 216.2, 0.0),
        ("T2", ANY_RATING, 0.0, 40.0, 0.98, 5.0, 0.0),
        ("T2", "rear bogie", 0.0, 0.0, 0.9, 5.0, 0.0),
        ("T2", "tyres of the front bogie", 0.0, 0.0, 0.9, 5.0, 0.0),
        ("T2", "tyres of the rear bogie", 0.0, 40.0, 0.98, 5.0, 0.0),
        ("T3", ANY_RATING, 0.0, 0.0, 1.0, 5.0, 0.0),
        ("T3", "rear bogie", 0.0, 0.0, 1.0, 5.0, 0.0),
    ]
    return pd.DataFrame(rows, columns=list(columns_of("rating_places")))


@dataclass(frozen=True, slots=True)
class _PlanWithPlaces(Plan):
    rating_places: pd.DataFrame | None = None


@pytest.fixture
def plan(small_plan: Plan) -> Plan:
    plan = with_field_things(small_plan)
    values = {item.name: getattr(plan, item.name) for item in fields(plan)}
    return _PlanWithPlaces(**(values | {"rating_places": _table()}))


def test_each_case_has_its_words(plan: Plan) -> None:
    words = rating_words(plan)
    assert words == {
        "T1": "233 m with balanced bogies (tyres of the rear bogie; at most 113 % of it, at 216 m "
        "as drawn); 58 m more only if bogies pivot freely (tyres of the front bogie, tyres of the "
        "rear bogie): ask the manufacturer",
        "T2": "40 m only if bogies pivot freely (tyres of the rear bogie): ask the manufacturer",
    }


def test_a_share_that_rounds_to_100_percent_is_told_in_words(plan: Plan) -> None:
    table = _table()
    table.loc[[0, 3], "largest_share"] = 1.0004
    assert "just over it, at 216 m" in rating_words(replace(plan, rating_places=table))["T1"]


def test_what_is_not_known_is_told(plan: Plan) -> None:
    table = _table()
    table.loc[8:, ["over_balanced_m", "over_m", "largest_share", "at_m"]] = np.nan
    table.loc[8:, "unknown_m"] = 120.0
    words = rating_words(replace(plan, rating_places=table))
    assert words["T3"] == "not known on 120 m"


def test_what_is_known_in_part_is_told_as_the_least(plan: Plan) -> None:
    table = _table()
    table.loc[0, "unknown_m"] = 30.0
    text = rating_words(replace(plan, rating_places=table))["T1"]
    assert "at least 113 % of it" in text
    assert text.endswith("not known on 30 m")


def test_single_axles_have_no_bogies_to_balance(plan: Plan) -> None:
    groups = tuple(replace(group, kind="single") for group in plan.machine.groups)
    machine = replace(plan.machine, groups=groups)  # type: ignore[arg-type]
    assert rating_words(replace(plan, machine=machine))["T1"].startswith("233 m (tyres")


def test_receivers_and_tablets_tell_it_of_each_trail(plan: Plan, tmp_path: Path) -> None:
    for name, text in (("t.gpx", gpx_text), ("b.kml", kml_text)):
        (tmp_path / name).write_text(text(plan), encoding="utf-8")
    wanted = [f"{LABEL}: 233 m", f"{LABEL}: 40 m only", None]
    tracks = pyogrio.read_dataframe(tmp_path / "t.gpx", layer="tracks")
    trails = pyogrio.read_dataframe(tmp_path / "b.kml", layer="Trails")
    for texts in (tracks["desc"], trails["description"]):
        for text, words in zip(texts, wanted, strict=True):
            assert words is None or words in text
            assert (LABEL in text) == (words is not None)
    record = json.loads(geojson_text(plan))
    told = [
        feature["properties"]["words"].get(LABEL)
        for feature in record["features"]
        if feature["properties"]["layer"] == "trail"
    ]
    assert [bool(text) for text in told] == [True, True, False]


def test_the_geopackage_holds_table_and_metres(plan: Plan, tmp_path: Path) -> None:
    write_tables(plan, tmp_path)
    trails = pyogrio.read_dataframe(tmp_path / "block.gpkg", layer="trails")
    assert trails["rating_over_balanced_m"].tolist() == [233.2, 0.0, 0.0]
    assert trails["rating_over_m"].tolist() == [291.4, 40.0, 0.0]
    table: Any = pyogrio.read_dataframe(tmp_path / "block.gpkg", layer="rating_places")
    assert len(table) == 10


def test_a_machine_file_without_ratings_is_told(plan: Plan, tmp_path: Path) -> None:
    bare = replace(plan, rating_places=_table().iloc[:0])
    assert set(rating_words(bare).values()) == {"not known, because the machine file states none"}
    assert list(rating_words(bare)) == ["T1", "T2", "T3"]
    write_tables(bare, tmp_path)
    assert "rating_over_m" not in pyogrio.read_dataframe(tmp_path / "block.gpkg", layer="trails")


def test_a_plan_without_the_table_says_nothing(small_plan: Plan) -> None:
    assert rating_words(small_plan) == {}
    assert LABEL not in gpx_text(small_plan)
