"""Over whole machines: the slip needed is within the limit exactly where the reserve holds.

The reserve is that of the plan: films, friction circle, driveline, undriven axles, both directions.
"""

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.slip import slip_needed, slip_of_passed
from terrain.mechanics.traction import SLIP_STEP
from terrain.models.settings import DecisionSettings, GroundSettings, Settings
from tests.builders import forwarder, skidder, stations
from tests.properties.test_strength_and_reserve import FILMS, machines, setups

ICE = GroundSettings(film="ice", film_grip_cap=0.04, film_grip_cap_with_aids=0.22)
# a driveline that often binds, and an aid that rolls heavily, where less slip can be better
WEAK = forwarder(max_tractive_effort_kn=70.0)
ITEMS = [
    carried(setup, machine)
    for machine in (*machines(), WEAK, skidder(max_tractive_effort_kn=35.0))
    for setup in setups(machine)
]


def limited(film, slip):
    return Settings(ground=film, decision=DecisionSettings(slip_limit=slip))


def reserve_of(table, item, film, slip):
    return evaluate(table, [item], limited(film, slip))[0].reserve[:, 0]


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(ITEMS),
    st.floats(-0.7, 0.7),
    st.floats(-0.4, 0.4),
    st.floats(100.0, 2500.0),
    st.sampled_from([*FILMS, ICE]),
    st.floats(0.02, 0.6),
)
def test_slip_needed_is_within_the_limit_exactly_where_the_reserve_holds(
    item, grade, cross, cone_index, film, limit
):
    table = stations(grade=grade, cross_slope=cross, cone_index_kpa=cone_index)
    reserve = reserve_of(table, item, film, limit)[0]
    slip = slip_needed(table, item, limited(film, limit))
    assert np.isfinite(slip) == (reserve >= 0)
    if not np.isfinite(slip):
        return
    assert 0 <= slip <= limit
    assert reserve_of(table, item, film, slip)[0] >= 0
    if slip > 2 * SLIP_STEP:
        assert reserve_of(table, item, film, slip - 2 * SLIP_STEP)[0] < 0
    # short at every smaller slip, enough at every larger one up to the limit
    for part in np.linspace(0.0, 1.0, 7):
        below, above = part * (slip - 2 * SLIP_STEP), slip + part * (limit - slip)
        if below >= 0 and slip > 2 * SLIP_STEP:
            assert reserve_of(table, item, film, below)[0] < 0
        assert reserve_of(table, item, film, above)[0] >= -1e-12


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(ITEMS),
    st.lists(st.floats(-0.4, 0.4), min_size=6, max_size=6),
    st.lists(st.floats(150.0, 1500.0), min_size=6, max_size=6),
    st.sampled_from([*FILMS, ICE]),
)
def test_the_most_over_the_stations_passed_is_that_of_the_worst_of_them(item, grade, cone, film):
    table = stations(grade=np.array(grade), cone_index_kpa=np.array(cone))
    chosen = limited(film, 0.25)
    reserve = reserve_of(table, item, film, 0.25)
    found = slip_of_passed(table, item, chosen, reserve)
    assume((reserve >= 0).any())
    each = np.array([slip_needed(table.iloc[[row]], item, chosen) for row in range(len(table))])
    assert found.most == max(each[reserve >= 0])
    assert found.tightest == each[np.argmin(np.where(reserve >= 0, reserve, np.inf))]


def test_nothing_passed_is_unknown_and_not_nought():
    item = carried(setups(forwarder())[0], forwarder())
    steep = stations(grade=np.full(2, 0.9))
    found = slip_of_passed(steep, item, Settings(), reserve_of(steep, item, GroundSettings(), 0.25))
    assert np.isnan(found).all()


def test_what_bare_strength_left_out_asks_for_slip():
    item = carried(setups(forwarder())[0], forwarder())
    table = stations(grade=0.12, cone_index_kpa=900.0)
    plain = slip_needed(table, item, Settings())
    # a film takes from the grip, a cross slope asks for a part of it, towing asks of fewer wheels
    film = limited(GroundSettings(film="wet clay film", film_grip_cap=0.40), 0.25)
    assert slip_needed(table, item, film) == plain  # at this slip the grip is below the cap
    tight = limited(GroundSettings(film="wet clay film", film_grip_cap=0.19), 0.25)
    assert np.isnan(slip_needed(table, item, tight))
    assert slip_needed(table.assign(cross_slope=0.25), item, Settings()) > plain + 0.01
    towed = tuple(replace(g, driven=k == 1) for k, g in enumerate(forwarder().groups))
    half = carried(setups(forwarder())[0], forwarder(groups=towed))
    assert slip_needed(table, half, Settings()) > plain + 0.01
