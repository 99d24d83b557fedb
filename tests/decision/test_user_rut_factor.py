"""A rut factor of the user's catalogue takes the place of the gain from the contact area."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.rut_columns import traffic_status_rows
from terrain.decision.ruts import evaluate_ruts
from terrain.models.settings import GroundSettings, Settings, TrafficSettings
from tests.builders import CHAINS, CLOSED_BAND, DUALS, TYRE, bogie, forwarder, skidder, stations
from tests.decision.test_evaluation import both

SETTINGS = Settings(traffic=TrafficSettings(green_density_kg_m3=850.0))


def ruts(machine, *aids):
    table = stations(grade=np.array([0.0, 0.1]), cone_index_kpa=np.array([300.0, 600.0]))
    table = table.assign(ground_class=np.array([3, 2]))
    items = [carried(both(aid), machine) for aid in aids]
    # the same payload for all, so that the passes are the same
    items = [replace(item, load=machine.load) for item in items]
    made = evaluate_ruts(table, table, items, 200.0, SETTINGS)
    return np.stack([made.low_cm, made.likely_cm, made.high_cm])


@pytest.mark.parametrize(("aid", "machine"), [(CLOSED_BAND, forwarder()), (DUALS, skidder())])
def test_the_factor_is_over_bare_wheels_of_the_same_mass(aid, machine):
    # chains of the same mass stand for bare wheels under the same load
    bare = replace(CHAINS, mass_kg=aid.mass_kg)
    if aid is CLOSED_BAND:  # at the charted pressure, which a band asks for
        stiff = replace(TYRE, inflation_kpa=450.0)
        machine = replace(machine, groups=(bogie("front", tyre=stiff), bogie("rear", tyre=stiff)))
    depth = ruts(machine, bare, replace(aid, rut_factor=0.6), aid)
    np.testing.assert_allclose(depth[:, :, 1], 0.6 * depth[:, :, 0], rtol=1e-9)
    assert (depth[:, :, 2] < depth[:, :, 0]).all()  # without a factor the contact decides
    assert not np.isclose(depth[:, :, 2], depth[:, :, 1]).all()


@pytest.mark.parametrize("factor", [None, 0.6])
def test_a_soft_tyre_earns_no_shallower_rut_under_a_band(factor):
    """Common practice, no source: bands need the charted pressure."""
    depths = []
    for inflation in (450.0, 400.0, 200.0):
        tyre = replace(TYRE, inflation_kpa=inflation)
        machine = forwarder(groups=(bogie("front", tyre=tyre), bogie("rear", tyre=tyre)))
        depths.append(ruts(machine, replace(CLOSED_BAND, rut_factor=factor)))
    np.testing.assert_array_equal(depths[0], depths[1])
    np.testing.assert_array_equal(depths[0], depths[2])


def test_the_second_relation_takes_the_rating_cone_index_where_it_is_given():
    # Willoughby and Turnage (from memory): N goes with RCI and z with N^(-5/3); the first relation
    # takes the cone index. Where both stand apart, the larger of the two tells the high end.
    table = stations(cone_index_kpa=400.0).assign(ground_class=3)
    item = carried(both(CHAINS), forwarder())

    def made(index):
        ground = GroundSettings(remoulding_index=index, remoulding_source="a test")
        return evaluate_ruts(table, table, [item], 200.0, replace(SETTINGS, ground=ground))

    plain, whole, kneaded, firmer = (made(index) for index in (None, 1.0, 0.5, 1.4))
    assert plain.high_cm[0, 0] == whole.high_cm[0, 0] == firmer.high_cm[0, 0]
    # the likely figure is the geometric mean: half the rating strength makes 2^(5/6) of it
    np.testing.assert_allclose(kneaded.likely_cm, 2 ** (5 / 6) * plain.likely_cm, rtol=1e-9)
    assert kneaded.high_cm[0, 0] > plain.high_cm[0, 0]


def test_the_standing_says_which_strength_the_second_relation_took():
    def row(ground):
        sheet = SimpleNamespace(brash=None, profile=None)
        rows = traffic_status_rows(sheet, replace(SETTINGS, ground=ground))
        return next(row for row in rows if row.name == "Strength in the second rut form")

    assumed = row(GroundSettings())
    assert "the cone index itself stands in" in assumed.value
    assert assumed.status == "planning assumption"
    given = row(GroundSettings(remoulding_index=0.6, remoulding_source="own vane tests"))
    assert given.value == "cone index times the remoulding index 0.6"
    assert given.status == "user's figure: own vane tests"


def test_chains_may_have_one_too():
    depth = ruts(forwarder(), CHAINS, replace(CHAINS, rut_factor=1.2))
    np.testing.assert_allclose(depth[:, :, 1], 1.2 * depth[:, :, 0], rtol=1e-9)
