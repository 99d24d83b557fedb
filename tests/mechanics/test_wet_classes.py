"""What computed wetness does to a class: the planning rule, checked over all cases."""

import itertools

import numpy as np
import pytest

from terrain.mechanics.wet_classes import (
    class_in_state,
    effective_rule,
    water_rule,
    wet_by_water,
    wet_in_state,
)

STATES = ("dry", "moist", "wet", "saturated")
SOILS = list(itertools.product((0, 1, 2, 3, 4), range(-1, 7)))


def test_limit_is_the_published_one():
    # published: Mohtashami et al. 2017, Table 3: depth-to-water of 1 m or less
    assert wet_by_water([0.0, 1.0, 1.001, 2.0, np.nan]).tolist() == [1, 1, 0, 0, -1]
    assert water_rule().wet_status == "published"
    assert water_rule().status == "planning assumption"


@pytest.mark.parametrize(("soil_class", "rank"), SOILS)
def test_the_wetter_the_state_the_wetter_and_softer(soil_class, rank):
    # all ways in which water can come nearer from state to state
    for water in ([0, 0, 0, 0], [0, 0, 1, 1], [0, 1, 1, 1], [1, 1, 1, 1]):
        rules = [effective_rule(state) for state in STATES]
        wet = [int(wet_in_state(soil_class, rank, w, r)) for w, r in zip(water, rules, strict=True)]
        known = [flag for flag in wet if flag >= 0]
        assert known == sorted(known)
        number = [
            int(class_in_state(soil_class, rank, w, r)[0])
            for w, r in zip(water, rules, strict=True)
        ]
        if soil_class:
            known = [n for n in number if n]
            assert known == sorted(known)
        else:
            assert number == [0, 0, 0, 0]


@pytest.mark.parametrize("state", [*STATES, "frozen"])
def test_water_shifts_at_most_once_and_never_beyond_class_3(state):
    rule = effective_rule(state)
    for soil_class, rank in SOILS:
        dry, _ = class_in_state(soil_class, rank, 0, rule)
        under, softened = class_in_state(soil_class, rank, 1, rule)
        assert int(under) - int(dry) in (0, 1)
        assert bool(softened) == (under > dry)
        if under > dry:
            assert under <= 3


@pytest.mark.parametrize("state", STATES)
def test_unknown_water_never_improves(state):
    rule = effective_rule(state)
    for soil_class, rank in SOILS:
        blind, _ = class_in_state(soil_class, rank, -1, rule)
        dry, _ = class_in_state(soil_class, rank, 0, rule)
        under, _ = class_in_state(soil_class, rank, 1, rule)
        assert blind == (under if under == dry else 0)
        assert int(wet_in_state(soil_class, rank, -1, rule)) in (
            (1,) if wet_in_state(soil_class, rank, 0, rule) == 1 else (-1,)
        )


def test_frost_that_nobody_verified_is_moist_ground():
    assert effective_rule("frozen").state == "moist"
    assert effective_rule("frozen", frost_verified=True).state == "frozen"
    frozen = effective_rule("frozen", frost_verified=True)
    assert wet_in_state(4, 6, 1, frozen) == 0
    number, softened = class_in_state([1, 2, 3, 4], 6, 1, frozen, frost_verified=True)
    assert number.tolist() == [1, 1, 2, 3]
    assert not softened.any()
