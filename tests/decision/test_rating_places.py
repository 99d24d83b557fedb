"""Where a rating is exceeded: own arithmetic of plain statics (Liljedahl et al. 1989)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.columns import columns_of
from terrain.decision.carried import carried
from terrain.decision.rating_places import ANY_RATING, ratings_by_trail
from terrain.decision.ratings import over_rating, rating_checks
from terrain.models.settings import Settings
from tests.builders import forwarder, stations
from tests.decision.test_evaluation import BARE_SETUP
from tests.decision.test_ratings import RATED_TYRE, rated


def places(table, machine=None):
    made = ratings_by_trail(table, carried(BARE_SETUP, machine or rated()), Settings())
    assert tuple(made.columns) == columns_of("rating_places")
    return made.set_index(["trail", "rating"]).sort_index()


def climbs():
    """Level, 20 %, 30 % and 40 % on A, level and 5 % on B; chainages count through."""
    return stations(
        trail=np.array(["A", "A", "A", "A", "B", "B"], dtype=object),
        grade=np.array([0.0, 0.2, 0.3, 0.4, 0.0, 0.05]),
    )


def rear_share(grade):
    """Moments about the rear of 34 t on a climb, over the rear bogie's 24 t."""
    cosine = 1 / np.sqrt(1 + grade**2)
    moment_x, moment_h = 11000 * 5.5 + 14000 * 0.3, 20000 * 1.4 + 14000 * 2.1
    return (34000 - (moment_x - moment_h * grade) / 5.5) * cosine / 24000


def test_metres_and_the_worst_place_of_a_climb_are_those_of_statics():
    row = places(climbs()).loc["A", "rear bogie"]
    shares = [rear_share(grade) for grade in (0.0, 0.2, 0.3, 0.4)]
    assert [share > 1 for share in shares] == [False, False, True, True]
    assert row["over_balanced_m"] == row["over_m"] == 10.0
    assert row["largest_share"] == pytest.approx(max(shares), rel=1e-9)
    assert row["at_m"] == 17.5
    assert row["unknown_m"] == 0.0


def test_each_trail_has_a_row_for_every_rating_and_one_for_all_of_them():
    made = ratings_by_trail(climbs(), carried(BARE_SETUP, rated()), Settings())
    names = [
        ANY_RATING,
        "whole machine",
        "front bogie",
        "rear bogie",
        "tyres of the front bogie",
        "tyres of the rear bogie",
    ]
    assert made["rating"].tolist() == names * 2
    assert made["trail"].tolist() == ["A"] * 6 + ["B"] * 6
    assert (made.loc[made["trail"] == "B", "over_balanced_m"] == 0).all()


def test_a_metre_over_several_ratings_counts_once():
    table = stations(grade=np.array([0.3, 0.4, 0.0]), cross_slope=np.array([0.0, 0.2, 0.3]))
    made = places(table).loc["T1"]
    single = made.drop(index=ANY_RATING)["over_balanced_m"]
    assert single["rear bogie"] == 10.0
    assert single["tyres of the rear bogie"] == 10.0
    assert made.loc[ANY_RATING, "over_balanced_m"] == 15.0 < single.sum()
    # the other route to the same metres
    item = carried(BARE_SETUP, rated())
    assert 5.0 * over_rating(table, item).sum() == 15.0


def test_metres_add_up_to_those_of_the_table_of_ratings():
    rng = np.random.default_rng(8)
    n = 400
    table = stations(
        trail=rng.choice(np.array(["A", "B", "C"], dtype=object), n),
        grade=rng.normal(0, 0.2, n),
        cross_slope=rng.normal(0, 0.1, n),
        cone_index_kpa=rng.uniform(400, 1500, n),
    )
    item = carried(BARE_SETUP, rated())
    whole = rating_checks(table, [item], Settings()).groupby("rating")
    made = ratings_by_trail(table, item, Settings()).groupby("rating")
    for name, rows in whole:
        for column in ("over_balanced_m", "over_m"):
            # a metre can be over loaded and empty alike
            total = made.get_group(name)[column].sum()
            assert rows[column].max() - 1e-9 <= total <= rows[column].sum() + 1e-9
        assert made.get_group(name)["largest_share"].max() == rows["balanced_share"].max()
    once = made.get_group(ANY_RATING)["over_balanced_m"].sum()
    assert once == pytest.approx(5.0 * over_rating(table, item).sum(), rel=1e-9)
    assert 0 < once < 5.0 * n


def test_metres_that_need_a_freely_pivoting_bogie_stand_apart():
    # gentle enough for balanced wheels, thrust within the bogie still loads one of them more
    row = places(stations(grade=0.02, cone_index_kpa=900.0)).loc["T1", "tyres of the rear bogie"]
    assert row["over_balanced_m"] == 0.0
    assert row["largest_share"] < 1.0
    steep = places(stations(grade=0.25, cone_index_kpa=900.0)).loc["T1"]
    assert steep.loc[ANY_RATING, "over_m"] >= steep.loc[ANY_RATING, "over_balanced_m"]


def test_over_only_if_the_bogie_pivots_freely():
    table = stations(grade=np.linspace(0, 0.3, 31), cone_index_kpa=900.0)
    row = places(table).loc["T1", "tyres of the rear bogie"]
    assert row["over_m"] > row["over_balanced_m"]


def test_the_empty_machine_counts_too():
    # nose-heavy on an unloaded downhill run: only the front bogie's rating is tight
    front_rating = 11900.0
    machine = forwarder(load=None)
    front = replace(machine.groups[0], rated_mass_kg=front_rating)
    machine = replace(machine, groups=(front, machine.groups[1]))
    made = places(stations(grade=0.30), machine)
    cosine = 1 / np.sqrt(1 + 0.30**2)
    front = (11000 * 5.5 + 20000 * 1.4 * 0.30) * cosine / 5.5
    assert made.loc[("T1", "front bogie"), "largest_share"] == pytest.approx(front / front_rating)
    assert made.loc[("T1", ANY_RATING), "over_balanced_m"] == 5.0
    assert len(made) == 2  # other ratings are not in the machine file


def test_unknown_slope_and_unknown_strength_are_told_and_not_counted():
    table = stations(
        trail=np.array(["A", "A", "B"], dtype=object),
        grade=np.array([0.4, np.nan, np.nan]),
        cone_index_kpa=np.array([np.nan, 900.0, 900.0]),
    )
    made = places(table)
    row = made.loc["A", "rear bogie"]
    assert (row["over_balanced_m"], row["unknown_m"]) == (5.0, 5.0)
    assert made.loc[("A", "tyres of the rear bogie"), "unknown_m"] == 10.0
    unknown = made.loc["B", ANY_RATING]
    assert unknown[["over_balanced_m", "over_m", "largest_share", "at_m"]].isna().all()
    assert unknown["unknown_m"] == 5.0


def test_no_rating_no_row():
    assert places(climbs(), forwarder()).empty


def test_soft_tyres_are_unknown_where_they_are_not_over_even_the_charted_rating():
    # the rating holds at 450 kPa, 400 are set; cross slope loads the downhill wheels
    soft = replace(RATED_TYRE, inflation_kpa=400)
    groups = tuple(replace(group, tyre=soft) for group in rated().groups)
    table = stations(
        trail=np.array(["A", "A", "B"], dtype=object), cross_slope=np.array([0.0, 0.4, 0.0])
    )
    made = places(table, replace(rated(), groups=groups))
    row = made.loc["A", "tyres of the rear bogie"]
    assert (row["over_balanced_m"], row["unknown_m"]) == (5.0, 5.0)
    assert row["largest_share"] > 1
    level = made.loc["B", "tyres of the rear bogie"]
    assert level[["over_balanced_m", "largest_share"]].isna().all()
    assert level["unknown_m"] == 5.0
    assert made.loc[("B", ANY_RATING), "unknown_m"] == 5.0  # axles hold, tyres nobody knows
    assert made.loc[("B", ANY_RATING), "over_m"] == 0.0
