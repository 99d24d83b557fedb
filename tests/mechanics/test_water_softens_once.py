"""Computed wetness softens ground that nothing else has softened: the rule case by case.

Planning rule of this project (after Mohtashami et al. 2017: soil type leads, wetness modifies). Own
arithmetic from its words; rank 4 is somewhat poorly, rank 5 poorly drained.
"""

from __future__ import annotations

import pytest

from terrain.mechanics.wet_classes import class_in_state, effective_rule


@pytest.mark.parametrize(
    ("state", "soil_class", "rank", "water", "expected", "by_water"),
    [
        # firm and dry ground near the water: one class softer, class 3 at most
        ("moist", 1, 0, 1, 2, True),
        ("moist", 2, 0, 1, 3, True),
        ("moist", 2, 0, 0, 2, False),
        # wet by its own drainage or class in the moist state already: the class says so itself
        ("moist", 1, 5, 1, 1, False),
        ("moist", 2, 5, 1, 2, False),
        ("moist", 3, 0, 1, 3, False),
        ("dry", 1, 5, 1, 1, False),
        ("dry", 1, 4, 1, 2, True),
        # what is wet by its own drainage does not ask for the water either
        ("moist", 2, 5, -1, 2, False),
        ("moist", 2, 4, -1, 0, False),
        # the wet state has shifted ground of rank 4 for wetness: not twice
        ("wet", 1, 4, 1, 2, False),
        ("wet", 1, 4, -1, 2, False),
        ("wet", 1, 3, 1, 2, True),
        ("wet", 1, 3, -1, 0, False),
        # the saturated state shifts all ground, not for wetness: water may still soften
        ("saturated", 1, 3, 1, 3, True),
        ("saturated", 1, 5, 1, 2, False),
    ],
)
def test_case(state, soil_class, rank, water, expected, by_water):
    number, softened = class_in_state(soil_class, rank, water, effective_rule(state))
    assert (int(number), bool(softened)) == (expected, by_water)
