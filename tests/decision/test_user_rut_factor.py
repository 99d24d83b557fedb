"""A rut factor of the user's catalogue takes the place of the gain from the contact area."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.ruts import evaluate_ruts
from terrain.models.settings import Settings, TrafficSettings
from tests.builders import CHAINS, CLOSED_BAND, DUALS, forwarder, skidder, stations
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
    depth = ruts(machine, bare, replace(aid, rut_factor=0.6), aid)
    np.testing.assert_allclose(depth[:, :, 1], 0.6 * depth[:, :, 0], rtol=1e-9)
    assert (depth[:, :, 2] < depth[:, :, 0]).all()  # without a factor the contact decides
    assert not np.isclose(depth[:, :, 2], depth[:, :, 1]).all()


def test_chains_may_have_one_too():
    depth = ruts(forwarder(), CHAINS, replace(CHAINS, rut_factor=1.2))
    np.testing.assert_allclose(depth[:, :, 1], 1.2 * depth[:, :, 0], rtol=1e-9)
