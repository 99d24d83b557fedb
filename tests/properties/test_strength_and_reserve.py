"""Over whole machines: stronger ground never takes reserve, in either travel state, under any film.

The doubt about soil strength rests on this: a draw of stronger ground must never fail where a
draw of weaker ground passes.
"""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.settings import DecisionSettings, GroundSettings, Settings
from tests.builders import AIDS, TYRE, bogie, forwarder, single, skidder, stations

ROWS = 8
FILMS = (
    GroundSettings(),
    GroundSettings(film="litter or sod over firm ground", film_grip_cap=0.40),
    GroundSettings(film="packed snow", film_grip_cap=0.15),
    GroundSettings(film="wet clay film"),
)


def machines():
    radial = replace(TYRE, construction="radial")
    return (
        forwarder(),
        forwarder(groups=(bogie("front", tyre=radial), bogie("rear", tyre=radial))),
        forwarder(groups=(single("front", driven=False), bogie("rear"))),
        skidder(),
    )


def setups(machine):
    mounts = [[BARE], [BARE]]
    for own, group in zip(mounts, machine.groups, strict=True):
        own += [
            Mount.both_sides(aid)
            for aid in AIDS
            if aid.kind != "band track" or group.kind == "bogie"
        ]
    pairs = [(front, rear) for front in mounts[0] for rear in mounts[1]]
    return [Setup(str(number), pair) for number, pair in enumerate(pairs)]


ITEMS = [tuple(carried(setup, machine) for setup in setups(machine)) for machine in machines()]


def columns(low, high):
    return st.lists(st.floats(low, high), min_size=ROWS, max_size=ROWS).map(np.array)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(ITEMS),
    columns(-0.9, 0.9),
    columns(-0.5, 0.5),
    columns(1.0, 2500.0),
    columns(0.0, 2000.0),
    st.sampled_from(FILMS),
    st.floats(0.05, 0.6),
)
def test_reserve_never_falls_when_the_cone_index_rises(
    items, grade, cross, cone_index, more, film, slip
):
    chosen = Settings(ground=film, decision=DecisionSettings(slip_limit=slip))
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=cone_index)
    weak, _ = evaluate(table, items, chosen)
    strong, _ = evaluate(table.assign(cone_index_kpa=cone_index + more), items, chosen)
    for name in ("reserve_loaded", "reserve_empty"):
        below, above = getattr(weak, name), getattr(strong, name)
        assert np.array_equal(np.isnan(below), np.isnan(above))
        known = ~np.isnan(below)
        # 1e-12: rounding of sums that a capped film keeps equal
        assert (above[known] >= below[known] - 1e-12).all()
