"""Loads of the published slope range of a cable skidder: beside each of them the neighbour changes.

Published: Đuka et al. 2018, Forests 9(9) 526 (abstract): empty, then 1 to 5 t. That the narrower of
two neighbours counts between them is a planning assumption.
"""

from __future__ import annotations

import pytest

from terrain.decision.published_practice import published_grades

# load in t: steepest descent and climb, percent, as published
TOLD = [(-50, 80), (-26, 63), (-30, 51), (-34, 39), (-35, 30), (-41, 11)]


@pytest.mark.parametrize("tonnes", range(6))
def test_just_beside_each_load(tonnes):
    def narrower(*loads):
        downs, ups = zip(*(TOLD[t] for t in loads if 0 <= t <= 5), strict=True)
        return max(downs), min(ups)

    for kg, neighbours in (
        (1000.0 * tonnes - 1, (tonnes - 1, tonnes)),
        (1000.0 * tonnes, (tonnes,)),
        (1000.0 * tonnes + 1, (tonnes, tonnes + 1)),
    ):
        if kg >= 0:
            down, up = published_grades(kg)
            assert (100 * down, 100 * up) == pytest.approx(narrower(*neighbours), abs=1e-9), kg
