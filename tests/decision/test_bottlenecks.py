"""Stretches: joined, named, told, and nothing short is left out of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString

from terrain.columns import TABLES, columns_of
from terrain.decision.assessment import assess
from terrain.decision.bottlenecks import (
    KINDS,
    bottlenecks,
    cause_of,
    stretch_rows,
    stretch_setups,
    thin_metres,
)
from terrain.decision.results import CAUSES, Evaluation
from terrain.models.settings import Settings
from tests.builders import CHAINS, CLOSED_BAND, bogie, forwarder, stations

FITS = {"fits_tyres": ("710/45-26.5",)}
AIDS = (replace(CHAINS, axle_kind="bogie", **FITS), replace(CLOSED_BAND, **FITS))
RATED = (bogie("front", rated_mass_kg=40000.0), bogie("rear", rated_mass_kg=40000.0))
DEFAULTS = Settings()


def table(n, **columns):
    made = stations(grade=np.zeros(n), **columns)
    made["x_m"], made["y_m"] = made["chainage_m"], 0.0
    made["slope"] = np.hypot(made["grade"], made["cross_slope"])
    extra = {"landing": "L1", "volume_m3": 90.0, "soil_polygon": "P1", "ground_class": 1}
    for name, value in extra.items():
        if name not in made:
            made[name] = value
    return made


def found_with(made, reserves, ratio=None, cause=1, empty=1.0):
    """The real setups of a forwarder, with reserves set by hand: rows stations, usual setups."""
    found = assess(forwarder(groups=RATED), AIDS, made, {}, DEFAULTS)
    names = found.evaluation.setups
    loaded = np.full((len(made), len(names)), -1.0)
    for k, name in enumerate(found.usual):
        loaded[:, names.index(name)] = np.asarray(reserves, float)[:, k]
    ratios = np.zeros_like(loaded) if ratio is None else np.tile(ratio, (len(names), 1)).T
    evaluation = Evaluation(
        names,
        loaded,
        np.maximum(loaded, empty),
        np.full(loaded.shape, cause, np.int8),
        ratios * 100,
        ratios,
        np.zeros(loaded.shape, bool),
    )
    shown = found.usual[-1]
    return replace(found, evaluation=evaluation, ranking=replace(found.ranking, shown=shown))


def line(n, name="T1"):
    return gpd.GeoDataFrame(
        index=[name], geometry=[LineString([(0, 0), (5.0 * n, 0)])], crs="EPSG:32633"
    )


def listed(made, found):
    stretches = stretch_rows(made, found, DEFAULTS)
    return bottlenecks(line(len(made)), made, found, DEFAULTS, stretches)


BARE, CHAINED, BANDED = range(3)
OK, SHORT = 0.2, -0.1


def reserves(*stations_):
    """One row a station; letters: o all pass, c bare short, b bare and chains short, n all."""
    rows = {
        "o": (OK, OK, OK),
        "c": (SHORT, OK, OK),
        "b": (SHORT, SHORT, OK),
        "n": (SHORT, SHORT, SHORT),
        "t": (OK, OK, 0.01),
    }
    return np.array([rows[letter] for letter in "".join(stations_)])


def test_runs_are_cut_by_what_they_need_and_named_by_their_start():
    made = table(10)
    got = listed(made, found_with(made, reserves("occbboonnt"))).set_index("stretch")
    assert set(got.index) == {"T1-5", "T1-15", "T1-35", "T1-45"}
    assert got["kind"].to_dict() == {
        "T1-35": KINDS[0],
        "T1-5": KINDS[1],
        "T1-15": KINDS[1],
        "T1-45": KINDS[3],
    }
    assert "chains" in got.loc["T1-5", "needs"]
    assert "closed-band" in got.loc["T1-15", "needs"]
    assert got["needs"].isna()["T1-35"]
    assert got.loc["T1-15", ["from_m", "to_m", "length_m"]].tolist() == [15.0, 25.0, 10.0]
    assert got.loc["T1-15"].geometry.length == pytest.approx(10.0)


def test_one_better_station_between_two_alike_is_taken_in():
    made = table(7)
    got = listed(made, found_with(made, reserves("ccoccoo")))
    assert got["stretch"].tolist() == ["T1-0"]
    assert got["length_m"].tolist() == [25.0]
    assert listed(made, found_with(made, reserves("ccooccb")))["length_m"].tolist() == [10, 10, 5]


def test_a_worse_station_is_never_taken_into_a_milder_stretch():
    made = table(5)
    got = listed(made, found_with(made, reserves("ccncc")))
    assert got["kind"].tolist() == [KINDS[0], KINDS[1], KINDS[1]]
    assert listed(made, found_with(made, reserves("ccbcc")))["length_m"].sum() == 25.0
    assert len(listed(made, found_with(made, reserves("ccbcc")))) == 3


def test_trails_are_not_joined():
    made = table(4, trail=["T1", "T1", "T2", "T2"])
    made["chainage_m"] = [2.5, 7.5, 2.5, 7.5]
    found = found_with(made, reserves("cccc"))
    assert [len(rows) for _, rows in stretch_rows(made, found, DEFAULTS)] == [2, 2]


def test_nothing_to_list_gives_an_empty_table_with_all_columns():
    made = table(3)
    found = found_with(made, reserves("ooo"))
    got = listed(made, found)
    assert got.empty
    assert set(columns_of("bottlenecks")) <= set(got.columns)
    assert list(stretch_setups(made, found, []).columns) == list(columns_of("stretch_setups"))


def test_not_assessed_stations_are_in_no_stretch():
    made = table(3)
    found = found_with(made, reserves("ccc"))
    found.evaluation.reserve_loaded[1] = np.nan
    got = listed(made, found)
    assert got["stretch"].tolist() == ["T1-0", "T1-10"]
    assert got["length_m"].tolist() == [5.0, 5.0]
    alone = table(1)
    found = found_with(alone, reserves("c"))
    found.evaluation.reserve_loaded[0] = np.nan
    assert listed(alone, found).empty


@given(st.text("ocbnt", min_size=1, max_size=40))
@settings(max_examples=60, deadline=None)
def test_every_short_metre_of_every_usual_setup_lies_in_one_stretch(letters):
    made = table(len(letters))
    found = found_with(made, reserves(letters))
    stretches = stretch_rows(made, found, DEFAULTS)
    rows = np.concatenate([r for _, r in stretches]) if stretches else np.array([], int)
    assert len(set(rows.tolist())) == len(rows)
    fares = stretch_setups(made, found, stretches)
    for name in found.usual:
        reserve = found.evaluation.reserve[:, found.evaluation.column(name)]
        short = made["length_m"].to_numpy()[reserve < 0].sum()
        assert fares.loc[fares["setup"] == name, "short_m"].sum() == pytest.approx(short)


@pytest.mark.parametrize(
    ("cause", "columns", "ratio", "empty", "words"),
    [
        (1, {"grade": 0.3}, 0.5, 1.0, "climbing loaded"),
        (3, {"grade": -0.3}, 0.5, 1.0, "climbing empty"),
        (2, {"grade": -0.4}, 0.5, 1.0, "descending loaded"),
        (5, {"cross_slope": 0.4}, 0.5, 1.0, "cross slope, loaded"),
        (7, {"grade": 0.3}, 0.5, 1.0, "driveline effort, loaded"),
        (9, {"grade": 0.02}, 0.5, 1.0, "rolling resistance, loaded"),
        (11, {"grade": 0.02}, 0.5, 1.0, "pull of the dragged load"),
        (9, {"grade": 0.02}, 1.4, 1.0, "soft ground, loaded"),
        (10, {"grade": -0.02}, 1.4, 1.0, "soft ground, empty"),
        (9, {"grade": 0.02, "ground_class": 3}, 0.5, 1.0, "soft ground, loaded"),
        (1, {"grade": 0.3}, 1.4, 1.0, "climbing loaded, on soft ground"),
        (9, {"grade": 0.15}, 1.4, 1.0, "climbing loaded, on soft ground"),
        (10, {"grade": -0.15}, 1.4, 1.0, "climbing empty, on soft ground"),
        (9, {"grade": 0.02}, 1.4, -1.0, "soft ground, loaded and empty alike"),
        (9, {"grade": -0.15}, 1.4, 1.0, "soft ground, loaded"),
        (1, {"grade": 0.3}, 1.4, -1.0, "climbing loaded, on soft ground, weak empty too"),
        (3, {"grade": -0.3}, 0.5, -1.0, "climbing empty, weak loaded too"),
        (6, {"cross_slope": 0.4}, 1.4, -1.0, "cross slope, on soft ground, loaded and empty alike"),
        (11, {"grade": 0.02}, 0.5, -1.0, "pull of the dragged load, weak empty too"),
    ],
)
def test_causes_in_words(cause, columns, ratio, empty, words):
    made = table(2).assign(**columns)
    made["slope"] = np.hypot(made["grade"], made["cross_slope"])
    found = found_with(made, reserves("bb"), np.full(2, ratio), cause, empty)
    assert listed(made, found)["cause"].tolist() == [words]


def test_over_the_bearing_capacity_is_a_kind_of_its_own():
    made = table(3)
    got = listed(made, found_with(made, reserves("ooo"), np.array([0.5, 1.2, 0.5])))
    assert got["kind"].tolist() == [KINDS[2]]
    assert got["over_bearing_m"].tolist() == [5.0]


@pytest.mark.parametrize(
    ("shown", "words"), [(0.2, ""), (0.01, "; thin reserve"), (-0.01, "; short of traction")]
)
def test_over_the_bearing_capacity_tells_a_thin_reserve_too(shown, words):
    made = table(3)
    rows = np.array([(OK, OK, OK), (OK, OK, shown), (OK, OK, OK)])
    got = listed(made, found_with(made, rows, np.full(3, 1.2)))
    soft = "soft ground: nominal ground pressure over the bearing capacity"
    assert got["kind"].tolist() == [KINDS[2]]
    assert got["cause"].tolist() == [f"{soft}{words}"]


def test_thin_metres_are_those_between_nothing_and_the_limit():
    made = table(6)
    shown = np.array([0.0, 0.029, 0.03, -0.01, np.nan, 0.2])
    rows = np.array([(OK, OK, value) for value in shown])
    found = found_with(made, rows)
    name = found.ranking.shown
    assert thin_metres(made, found.evaluation, name, DEFAULTS) == pytest.approx(10.0)
    wide = replace(DEFAULTS, decision=replace(DEFAULTS.decision, thin_reserve=0.5))
    assert thin_metres(made, found.evaluation, name, wide) == pytest.approx(20.0)


@pytest.mark.parametrize("code", CAUSES)
def test_every_cause_is_told_in_sound_words(code):
    for soft, climbing, both in product((False, True), repeat=3):
        words = cause_of(code, soft=soft, climbing=climbing, both=both)
        trips = [part for part in words.replace(",", " ").split() if part in ("loaded", "empty")]
        if both and code:
            assert sorted(trips) == ["empty", "loaded"] or words.startswith("pull")
            assert words.endswith((", loaded and empty alike", "loaded too", "empty too"))
        else:
            assert len(trips) <= 1
        assert words.count("soft ground") == int(soft and code > 0)
        assert "rolling resistance" not in words or not soft


def test_a_setup_that_is_not_assessed_hides_no_other_that_falls_short():
    made = table(3)
    rows = np.array([(OK, OK, OK), (np.nan, SHORT, OK), (OK, OK, OK)])
    found = found_with(made, rows)
    got = listed(made, found)
    assert got["kind"].tolist() == [KINDS[1]]
    assert got["cause_setup"].tolist() == [found.usual[1]]
    assert got["worst_reserve"].tolist() == [SHORT]
    assert got["needs"].tolist() == [found.usual[2]]


def test_names_are_said_to_hold_within_one_plan():
    column = next(column for column in TABLES["bottlenecks"] if column.name == "stretch")
    assert "within one plan" in column.meaning


def test_loads_come_from_the_timber_over_the_stretch():
    made = table(2, volume_m3=[100.0, 120.0])
    found = found_with(made, reserves("cc"))
    dense = replace(DEFAULTS, traffic=replace(DEFAULTS.traffic, green_density_kg_m3=1000.0))
    got = bottlenecks(line(2), made, found, dense, stretch_rows(made, found, dense))
    payload_m3 = found.item(found.ranking.shown).payload_kg / 1000.0
    assert got["loads"].tolist() == [np.ceil(120.0 / payload_m3)]
    assert got["volume_m3"].tolist() == [120.0]


@pytest.mark.parametrize(
    ("letters", "ratio", "kind"),
    [("nnn", 0.5, 0), ("ccc", 0.5, 1), ("ooo", 1.4, 2), ("ttt", 0.5, 3)],
)
def test_a_rating_is_that_of_the_shown_setup_on_any_metre(monkeypatch, letters, ratio, kind):
    """Where a stretch forces the choice another setup is told; its shares are not asked for."""
    made = table(3)
    found = found_with(made, reserves(letters), np.full(3, ratio))
    shown = found.item(found.ranking.shown)
    asked = []

    def last_metre(part, item):
        asked.append(item)
        return np.arange(len(part)) == len(part) - 1

    monkeypatch.setattr("terrain.decision.bottlenecks.over_rating", last_metre)
    got = listed(made, found)
    assert got["kind"].tolist() == [KINDS[kind]]
    assert got["cause"].iloc[0].endswith("; a rating is exceeded on this slope")
    assert got["cause"].iloc[0].count("rating") == 1
    assert asked
    assert all(item is shown for item in asked)


def test_a_reserve_that_is_not_known_somewhere_is_not_the_known_one_elsewhere():
    """Unless what is known is short already: then no gap can make the stretch hold."""
    made = table(3)
    found = found_with(made, np.array([(SHORT, OK, np.nan), (SHORT, OK, 0.3), (SHORT, OK, 0.4)]))
    assert np.isnan(listed(made, found)["shown_reserve"].iloc[0])
    rows = np.array([(SHORT, OK, np.nan), (SHORT, OK, -0.07), (SHORT, OK, 0.4)])
    assert listed(made, found_with(made, rows))["shown_reserve"].iloc[0] == pytest.approx(-0.07)
