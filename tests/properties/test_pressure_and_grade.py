"""What is said of nominal pressure and of grades, over every machine with everything it may carry.

The demonstration machines with the shipped catalogue, and the invented ones of the tests with
theirs. Ratings are taken off, so that every setup carries the same load. Figures are invented or
planning assumptions: only the order of results is tested, which follows from geometry and statics.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sample_data
from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.footprints import footprints_table
from terrain.decision.ruts import evaluate_ruts
from terrain.inputs.aids import read_aids
from terrain.inputs.machines import read_machine
from terrain.mechanics.mounted import mounted
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.settings import Settings, TrafficSettings
from tests.builders import AIDS, bogie, forwarder, single, skidder, stations

ROWS = 8
TRAFFIC = Settings(traffic=TrafficSettings(green_density_kg_m3=850.0))
ROUNDING = 1e-9
"""Relative: far above the rounding of sums, far below what any aid changes."""


def unrated(machine):
    """The machine with no rating of masses and loads: the load is the same with every setup."""
    groups = tuple(
        replace(g, rated_mass_kg=None, tyre=replace(g.tyre, rated_load_kg=None))
        for g in machine.groups
    )
    return replace(machine, groups=groups, rated_gross_mass_kg=None)


def cases():
    """Machine and catalogue."""
    folder = Path(sample_data.__file__).parent / "machines"
    shipped = [(read_machine(path)[0], read_aids()[0]) for path in sorted(folder.glob("*.toml"))]
    invented = (
        forwarder(),
        forwarder(groups=(single("front", driven=False), bogie("rear"))),
        skidder(),
    )
    return [(unrated(m), aids) for m, aids in [*shipped, *((m, AIDS) for m in invented)]]


CASES = cases()
machines = st.sampled_from(range(len(CASES)))


def fitting(group, aids):
    return [
        aid
        for aid in aids
        if (not aid.fits_tyres or group.tyre.designation in aid.fits_tyres)
        and aid.axle_kind in (None, group.kind)
        and (aid.kind != "band track" or group.kind == "bogie")
    ]


def options(case):
    """Pairs of what front and rear may carry; None is bare. The first is bare both."""
    machine, aids = CASES[case]
    return list(product(*([None, *fitting(group, aids)] for group in machine.groups)))


OPTIONS = [options(case) for case in range(len(CASES))]


def worked(machine, pair):
    mounts = tuple(Mount.both_sides(aid) if aid else BARE for aid in pair)
    return carried(Setup("one", mounts), machine)


def found(machine, pair, table):
    return evaluate(table, [worked(machine, pair)], Settings())[0]


def pressure(machine, pair, table):
    return found(machine, pair, table).pressure_kpa[:, 0]


def of_kind(case, *kinds):
    """Pairs of the case with aids of these kinds alone, at least one."""
    wanted = (None, *(aid for aid in CASES[case][1] if aid.kind in kinds))
    return [pair for pair in OPTIONS[case] if any(pair) and all(aid in wanted for aid in pair)]


def columns(low, high):
    return st.lists(st.floats(low, high), min_size=ROWS, max_size=ROWS).map(np.array)


def slopes(grade, cross):
    """Slopes that are no steeper than on which every machine here stands on all wheels."""
    return stations(grade=grade, cross_slope=cross, cone_index_kpa=800.0)


# nominal pressure


def test_every_kind_of_aid_is_among_the_cases():
    kinds = {aid.kind for pairs in OPTIONS for pair in pairs for aid in pair if aid}
    assert kinds == {"chains", "wheel track", "band track", "dual tyres"}
    assert sum(len(of_kind(case, "band track")) for case in range(len(CASES))) > 10


@pytest.mark.parametrize("case", range(len(CASES)))
def test_chains_never_lower_the_pressure_on_level_ground(case):
    # own arithmetic: the footprint stays the tyre's, the mass is added
    machine, _ = CASES[case]
    level = stations()
    bare = pressure(machine, (None, None), level)
    pairs = of_kind(case, "chains")
    assert pairs
    for pair in pairs:
        assert (pressure(machine, pair, level) >= bare * (1 - ROUNDING)).all()
    both = [pair for pair in pairs if None not in pair]
    assert both
    for pair in both:
        assert (pressure(machine, pair, level) > bare).all()


@settings(max_examples=25, deadline=None)
@given(machines, columns(-0.3, 0.3), columns(-0.2, 0.2))
def test_chains_on_both_groups_never_lower_the_pressure_on_a_slope(case, grade, cross):
    # on one group alone they lower the centre of gravity a little, which eases the other group's
    # downhill side: that case is left out here
    machine, _ = CASES[case]
    bare = pressure(machine, (None, None), slopes(grade, cross))
    for pair in of_kind(case, "chains"):
        if None not in pair:
            assert (pressure(machine, pair, slopes(grade, cross)) > bare).all()


@settings(max_examples=25, deadline=None)
@given(machines, columns(-0.3, 0.3), columns(-0.2, 0.2))
def test_a_band_track_at_equal_mass_never_raises_the_pressure(case, grade, cross):
    # own arithmetic: two bands of at least the tyre's width, each longer than a wheel is high,
    # cover more than four nominal wheels of half that length
    machine, _ = CASES[case]
    bare = pressure(machine, (None, None), slopes(grade, cross))
    for pair in of_kind(case, "band track"):
        for aid, group in zip(pair, machine.groups, strict=True):
            assert aid is None or aid.width_m >= group.tyre.width_m
        weightless = [aid and replace(aid, mass_kg=0.0) for aid in pair]
        banded = pressure(machine, weightless, slopes(grade, cross))
        assert (banded <= bare * (1 + ROUNDING)).all()
        if None not in pair:
            assert (banded < 0.95 * bare).all()


@given(machines, st.floats(20, 400))
def test_a_band_as_wide_as_its_tyre_has_the_larger_area(case, load_kn):
    machine, _ = CASES[case]
    for group in machine.groups:
        bare = mounted(group, BARE)
        for aid in fitting(group, CASES[case][1]):
            if aid.kind == "band track":
                narrow = replace(aid, width_m=group.tyre.width_m)
                banded = mounted(group, Mount.both_sides(narrow))
                assert banded.area_m2 > bare.area_m2
                assert banded.nominal_pressure_kpa(load_kn) < bare.nominal_pressure_kpa(load_kn)


@settings(max_examples=25, deadline=None)
@given(machines, st.data(), columns(-0.3, 0.3), columns(-0.2, 0.2), st.floats(1.0, 1.5))
def test_a_heavier_machine_on_the_same_contact_never_presses_less(case, data, grade, cross, more):
    # all masses grow alike, so the centre of gravity stays: the pressure grows as the masses do
    machine, _ = CASES[case]
    pair = data.draw(st.sampled_from(OPTIONS[case]))
    heavy = replace(
        machine,
        unladen_mass_kg=machine.unladen_mass_kg * more,
        unladen_front_kg=machine.unladen_front_kg * more,
        load=replace(machine.load, mass_kg=machine.load.mass_kg * more),
    )
    aids = [aid and replace(aid, mass_kg=aid.mass_kg * more) for aid in pair]
    before = pressure(machine, pair, slopes(grade, cross))
    after = pressure(heavy, aids, slopes(grade, cross))
    np.testing.assert_allclose(after, before * more, rtol=1e-9)


@settings(max_examples=25, deadline=None)
@given(machines, st.data(), st.floats(0, 3000), st.floats(0, 5000))
def test_more_load_and_heavier_aids_never_press_less_on_level_ground(case, data, aid_kg, load_kg):
    machine, _ = CASES[case]
    pair = data.draw(st.sampled_from(OPTIONS[case]))
    before = pressure(machine, pair, stations())
    loaded = replace(machine, load=replace(machine.load, mass_kg=machine.load.mass_kg + load_kg))
    assert (pressure(loaded, pair, stations()) >= before * (1 - ROUNDING)).all()
    aids = [aid and replace(aid, mass_kg=aid.mass_kg + aid_kg) for aid in pair]
    assert (pressure(machine, aids, stations()) >= before * (1 - ROUNDING)).all()


# grades

STEPS = np.linspace(-0.9, 0.9, 361)


def along(machine, pair, cone_index, cross):
    """Reserve loaded and empty at every step of grade, positive where that state climbs."""
    table = stations(grade=STEPS, cross_slope=cross, cone_index_kpa=cone_index)
    result = found(machine, pair, table)
    return result.reserve_loaded[:, 0], result.reserve_empty[::-1, 0]


@settings(max_examples=60, deadline=None)
@given(machines, st.data(), st.floats(60, 2500))
def test_reserve_falls_with_the_climb_and_beyond_its_top_with_the_descent(case, data, cone_index):
    machine, _ = CASES[case]
    pair = data.draw(st.sampled_from(OPTIONS[case]))
    for reserve in along(machine, pair, cone_index, 0.0):
        change = np.diff(reserve)
        climbs = STEPS[:-1] >= 0
        assert (change[climbs] <= 1e-12).all()
        top = int(np.argmax(reserve))
        assert STEPS[top] <= 0
        assert (change[:top] >= -1e-12).all()
        # where anything but the room to tipping over the side binds it falls by at least half of
        # what the grade rises: the weight that moves between the groups takes back less than that
        binds = ~np.isclose(reserve, reserve.max(), rtol=0, atol=1e-12)[1:] & climbs
        assert (change[binds] < -0.4 * np.diff(STEPS)[binds]).all()


@settings(max_examples=60, deadline=None)
@given(machines, st.data(), st.floats(20, 2500), st.floats(-0.3, 0.3))
def test_the_grades_that_are_passed_are_one_stretch(case, data, cone_index, cross):
    # so a steeper climb, or a steeper descent, never passes where a gentler one fails
    machine, _ = CASES[case]
    pair = data.draw(st.sampled_from(OPTIONS[case]))
    for reserve in along(machine, pair, cone_index, cross):
        passed = np.flatnonzero(reserve >= 0)
        assert not passed.size or passed[-1] - passed[0] + 1 == passed.size


# inflation under band tracks


def with_inflation(machine, pair, inflation_kpa):
    """The tyres under band tracks set to this pressure (none: to the charted one), charted 450."""
    groups = []
    for group, aid in zip(machine.groups, pair, strict=True):
        charted = replace(group.tyre, charted_inflation_kpa=450.0)
        if aid is not None and aid.kind == "band track":
            charted = replace(charted, inflation_kpa=inflation_kpa)
        groups.append(replace(group, tyre=charted))
    return replace(machine, groups=tuple(groups))


BANDED = [
    (case, pair)
    for case, pairs in enumerate(OPTIONS)
    for pair in pairs
    if any(aid is not None and aid.kind == "band track" for aid in pair)
]


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(BANDED), columns(-0.4, 0.4), columns(150, 1400), st.floats(50, 449))
def test_low_pressure_under_band_tracks_earns_nothing(banded, grade, cone_index, inflation_kpa):
    # common practice, no source: bands run at the charted pressure. So tyres set lower change no
    # result at all: reserve, pressure, range, work, ruts (without a factor of the user's own, which
    # is over bare wheels as they are set), footprints
    case, pair = banded
    machine, _ = CASES[case]
    table = stations(grade=grade, cone_index_kpa=cone_index).assign(ground_class=2)
    low = worked(with_inflation(machine, pair, inflation_kpa), pair)
    high = worked(with_inflation(machine, pair, 450.0), pair)
    (first, work), (second, same_work) = (evaluate(table, [i], Settings()) for i in (low, high))
    for name in ("reserve_loaded", "reserve_empty", "pressure_kpa", "extrapolated", "cause"):
        np.testing.assert_array_equal(getattr(first, name), getattr(second, name), err_msg=name)
    assert work.tolist() == same_work.tolist()
    soft, hard = (evaluate_ruts(table, table, [i], 200.0, TRAFFIC) for i in (low, high))
    for name in ("low_cm", "likely_cm", "high_cm"):
        assert np.isfinite(getattr(hard, name)).all()
        np.testing.assert_array_equal(getattr(soft, name), getattr(hard, name), err_msg=name)
    pd.testing.assert_frame_equal(footprints_table([low]), footprints_table([high]))


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(BANDED), columns(150, 1400), st.floats(451, 700))
def test_pressure_above_the_chart_is_no_gain_under_band_tracks_either(banded, cone_index, kpa):
    # a harder tyre flattens less: the mobility number falls, and is never that of a softer one
    case, pair = banded
    machine, _ = CASES[case]
    for group, harder, aid in zip(
        with_inflation(machine, pair, 450.0).groups,
        with_inflation(machine, pair, kpa).groups,
        pair,
        strict=True,
    ):
        if aid is not None and aid.kind == "band track":
            numbers = [
                mounted(g, Mount.both_sides(aid)).mobility_number(cone_index, 120.0)
                for g in (group, harder)
            ]
            assert (numbers[1] < numbers[0]).all()
