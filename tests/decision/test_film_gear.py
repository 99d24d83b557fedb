"""Packed snow and ice: chains and tracks bite into the film and never get the grip of the soil."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.results import CAUSES
from terrain.decision.travel import travel_over
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.settings import FilmCap, GroundSettings, Settings
from tests.builders import CHAINS, CLOSED_BAND, DUALS, bogie, forwarder, skidder, stations
from tests.decision.test_evaluation import BARE_SETUP, both

FRONT_CHAINS = Setup("front chains", (Mount.both_sides(CHAINS), BARE))


def reserve(table, *setups, ground, machine=None):
    items = [carried(setup, machine or forwarder()) for setup in setups]
    return evaluate(table, items, Settings(ground=ground))[0]


@pytest.mark.parametrize(("film", "cap"), [("packed snow", 0.15), ("ice", 0.04)])
def test_without_a_figure_nothing_is_assessed_for_setups_with_gear(film, cap):
    ground = GroundSettings(film=film, film_grip_cap=cap)
    table = stations(grade=np.array([0.01, -0.01]), cone_index_kpa=1500.0)
    found = reserve(table, BARE_SETUP, both(CHAINS), both(CLOSED_BAND), FRONT_CHAINS, ground=ground)
    assert np.isfinite(found.reserve[:, 0]).all()  # plain tyres keep the published cap
    assert np.isnan(found.reserve[:, 1:]).all()
    assert {CAUSES[code] for code in found.cause[:, 1:].ravel()} == {"not assessed"}
    # dual tyres are plain tyres
    both_bare = reserve(table, BARE_SETUP, both(DUALS), ground=ground, machine=skidder())
    assert np.isfinite(both_bare.reserve).all()


def test_the_users_figure_caps_gear_and_plain_tyres_keep_theirs():
    table = stations(grade=0.10, cone_index_kpa=1500.0)
    unknown = GroundSettings(film="ice", film_grip_cap=0.04)
    known = replace(unknown, film_grip_cap_with_aids=0.22)
    plain = reserve(table, BARE_SETUP, ground=unknown).reserve
    found = reserve(table, BARE_SETUP, both(CHAINS), ground=known)
    assert found.reserve[0, 0] == plain[0, 0]
    way = travel_over(table, carried(both(CHAINS), forwarder()), True, Settings(ground=known))
    assert way.gross.tolist() == [[0.22, 0.22]]
    # and never more than the ground below, nor the soil's grip
    soil = reserve(table, both(CHAINS), ground=GroundSettings()).reserve[0, 0]
    assert found.reserve[0, 1] < soil - 0.2
    soft = stations(grade=0.0, cone_index_kpa=150.0)
    way = travel_over(soft, carried(both(CHAINS), forwarder()), True, Settings(ground=known))
    assert (way.gross < 0.22).any()


def test_litter_and_clay_are_still_bitten_through():
    table = stations(grade=0.10, cone_index_kpa=1500.0)
    soil = reserve(table, both(CHAINS), ground=GroundSettings()).reserve
    clay = GroundSettings(film="wet clay film", film_grip_cap=0.10)
    assert reserve(table, both(CHAINS), ground=clay).reserve == soil


def test_the_films_of_trails_have_their_own_figures():
    caps = (FilmCap("ice", 0.04, "published", 0.22, "user's figure: test"),
            FilmCap("packed snow", 0.15, "published"))  # fmt: skip
    table = stations(grade=np.full(3, 0.05), cone_index_kpa=1500.0)
    table["film"] = ["bare mineral", "ice", "packed snow"]
    table["film_grip_cap"] = [np.nan, 0.04, 0.15]
    ground = GroundSettings(film_caps=caps)
    found = reserve(table, both(CHAINS), ground=ground).reserve[:, 0]
    assert found[0] > found[1]
    assert np.isfinite(found).tolist() == [True, True, False]
    alone = GroundSettings(film="ice", film_grip_cap=0.04, film_grip_cap_with_aids=0.22)
    assert found[1] == reserve(table.iloc[[1]][[*stations().columns]], both(CHAINS), ground=alone
                               ).reserve[0, 0]  # fmt: skip


def test_an_undriven_axle_with_gear_rolls_no_better_than_is_known():
    machine = forwarder(groups=(bogie("front", driven=False), bogie("rear")))
    table = stations(grade=-0.10, cone_index_kpa=1500.0)
    ice = GroundSettings(film="ice", film_grip_cap=0.04)
    found = reserve(table, FRONT_CHAINS, ground=ice, machine=machine)
    assert np.isnan(found.reserve_loaded).all()
    known = replace(ice, film_grip_cap_with_aids=0.02)
    item = carried(FRONT_CHAINS, machine)
    way = travel_over(table, item, True, Settings(ground=known))
    front, rear = way.load_kn[0] / way.load_kn.sum()
    assert way.balance.reserve_ratio[0] == pytest.approx(
        rear * 0.04 + front * 0.02 - 0.10, rel=1e-9
    )
