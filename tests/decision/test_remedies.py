"""The table of remedies as a whole: what it holds, and that "yes" means yes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.ops import substring

from terrain.columns import columns_of
from terrain.decision.assessment import in_state, with_payload
from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.look_along import look_along
from terrain.decision.remedies import REMEDIES, SOLVES, remedies
from terrain.decision.remedy_case import BY_TRACTION, cases_of
from terrain.plan import check_block, look_at
from terrain.stations.network import build_network
from tests.decision.remedy_block import (
    TEXT,
    block_file,
    lines,
    patch,
    situation_of,
    tables,
    two_landings,
)
from tests.tiny_block import plane


@pytest.fixture(scope="module")
def eased(tmp_path_factory):
    trails = lines(T1=[(0, 0), (200, 0)], T2=[(40, 60), (40, 0)])
    path = block_file(tmp_path_factory.mktemp("eased"), trails=trails)
    situation, forcing, fares = situation_of(path)
    return situation, forcing, fares, *remedies(situation, forcing, fares)


def test_tables_have_the_registered_columns_and_words(eased):
    _, forcing, _, table, detours = eased
    assert tuple(table.columns) == columns_of("remedies")
    assert tuple(detours.columns) == (*columns_of("reroutes"), "geometry")
    assert set(table["solves"]) <= set(SOLVES)
    assert set(table["remedy"]) == set(REMEDIES)
    assert set(table["stretch"]) <= set(forcing["stretch"])
    assert table["does"].str.endswith(".").all()
    assert len(detours) == (table["remedy"] == "reroute").sum()


def test_named_only_was_not_computed(eased):
    table = eased[3]
    named = table["solves"] == "named only"
    assert table.loc[named, ["left_m", "moved_m"]].isna().all(axis=None)
    assert table.loc[~named, ["left_m", "moved_m"]].notna().all(axis=None)
    assert table.loc[named, "reserve_after"].isna().all()
    solved = table[(table["solves"] == "yes") & (table["remedy"] != "leave out")]
    assert (solved["reserve_after"] >= 0).all()
    thin = solved["reserve_after"] < 0.03
    assert (solved["does"].str.contains("with a thin reserve") == thin).all()
    always = {"winch assist", "wider tyres", "brash", "verified frost"}
    assert always <= set(table.loc[named, "remedy"])


def test_setups_are_the_shown_one_and_usual_lighter_ones_where_they_are_short(eased):
    situation, forcing, fares, table, _ = eased
    shown = situation.assessment.item(situation.shown)
    for name in set(table["setup"]):
        item = situation.assessment.item(name)
        assert name == situation.shown or (
            item.added_mass_kg < shown.added_mass_kg and name in situation.assessment.usual
        )
    assert "bare" in set(table["setup"])
    cases = cases_of(situation, forcing, fares)
    assert all(case.failing_m > 0 for case in cases)
    assert len({(case.stretch, case.setup) for case in cases}) == len(cases)


def test_a_thin_reserve_gets_no_remedy_and_pressure_only_what_changes_it(tmp_path):
    situation, forcing, fares = situation_of(block_file(tmp_path, -0.1))
    assert set(forcing["kind"]) == {"over bearing capacity"}
    table, detours = remedies(situation, forcing, fares)
    assert set(table["setup"]) == {situation.shown}
    assert not set(table["remedy"]) & {"reroute", "other landing", "leave out", "lower inflation"}
    assert detours.empty
    thin = forcing.assign(kind="thin reserve")
    assert remedies(situation, thin, fares)[0].empty


def test_no_bottleneck_gives_empty_tables_with_columns(eased):
    situation, forcing, fares, _, _ = eased
    table, detours = remedies(situation, forcing.iloc[:0], fares.iloc[:0])
    assert table.empty
    assert detours.empty
    assert tuple(table.columns) == columns_of("remedies")
    assert tuple(detours.columns) == (*columns_of("reroutes"), "geometry")
    assert detours.crs is not None


@pytest.fixture(scope="module")
def base_block(tmp_path_factory):
    text = TEXT.replace('state = "moist"', 'state = "wet"')
    trails = lines(T1=[(0, 0), (200, 0)], T2=[(40, 60), (40, 0)])
    path = block_file(
        tmp_path_factory.mktemp("base"), text=text, trails=trails, landings=two_landings()
    )
    return check_block(path)[0]


@settings(
    max_examples=12,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),  # an example takes too long to shrink
)
@given(
    gx=st.floats(-0.25, 0.25),
    gy=st.floats(-0.15, 0.15),
    west=st.floats(20, 150),
    width=st.floats(10, 60),
    half=st.floats(5, 40),
    soil_class=st.sampled_from([2, 3, 4]),
)
def test_yes_never_leaves_a_short_metre(base_block, gx, gy, west, width, half, soil_class):
    z, _ = plane(gx, gy)
    rows, columns = base_block.dem.shape
    north = (rows - 1 - np.arange(rows)) * 2.0
    tilted = 300 + gx * np.arange(columns)[None, :] * 2.0 + gy * north[:, None]
    block = replace(
        base_block,
        dem=base_block.dem.with_values(tilted.astype(z.dtype)),
        soils=_like(base_block.soils, patch(west, west + width, half, soil_class)),
        water=replace(base_block.water, dem=None),
    )
    network, _ = build_network(block.trails, block.landings, 3.0)
    situation = look_at(block, network)
    forcing, fares = tables(situation)
    table, detours = remedies(situation, forcing, fares)
    cases = {(c.stretch, c.setup): c for c in cases_of(situation, forcing, fares)}
    for row in table[table["solves"] == "yes"].to_dict("records"):
        assert (row["left_m"], row["moved_m"]) == (0, 0)
        case = cases[row["stretch"], row["setup"]]
        _recompute(situation, case, row, detours)


def _like(soils, changed):
    shapes = dict(zip(changed["polygon"], changed.geometry, strict=True))
    classes = dict(zip(changed["polygon"], changed["soil_class"], strict=True))
    new = soils.copy()
    new["soil_class"] = [classes[name] for name in soils.index]
    new["soil_class"] = new["soil_class"].astype("Int64")
    return new.set_geometry([shapes[name] for name in soils.index])


def _recompute(situation, case, row, detours):
    """Ask the plain functions again, with the input changed as the remedy says."""
    along, settings_ = situation.along, situation.settings
    stations, item = along.stations, case.item
    before = situation.assessment.evaluation
    was_short = before.reserve[:, before.column(case.setup)] < 0
    if row["remedy"] == "smaller payload":
        share = row["payload_kg"] / item.machine.load.mass_kg
        item = carried(item.setup, with_payload(item.machine, share))
    elif row["remedy"] == "heavier aid on one axle group":
        item = situation.assessment.item(row["note"].removeprefix("Setup ").removesuffix("."))
    elif row["remedy"] == "drier state":
        state = row["does"].removeprefix("Wait until the ground is ").split(":")[0]
        stations = in_state(stations, along.states[state])
    elif row["remedy"] == "other landing":
        to = row["does"].split("landing ")[1].split(":")[0]
        names = row["does"].split("Haul trail")[1].split(" to landing")[0].removeprefix("s")
        chosen = [name.strip() for name in names.split(",")]
        landing = situation.block.trails["landing"].astype(object).copy()
        landing[chosen] = to
        block = replace(situation.block, trails=situation.block.trails.assign(landing=landing))
        stations = _along(situation, block).stations
    elif row["remedy"] == "reroute":
        line = detours.set_index(["stretch", "setup"]).geometry[case.stretch, case.setup]
        old = situation.block.trails.geometry.loc[case.trail]
        first, last = (
            shapely.line_locate_point(old, shapely.Point(line.coords[i])) for i in (0, -1)
        )
        parts = [*line.coords]
        if first > 0:
            parts = [*substring(old, 0, first).coords[:-1], *parts]
        if last < old.length:
            parts = [*parts, *substring(old, last, old.length).coords[1:]]
        shapes = situation.block.trails.geometry.copy()
        shapes.loc[case.trail] = LineString(parts)
        changed = situation.block.trails.set_geometry(shapes)
        stations = _along(situation, replace(situation.block, trails=changed)).stations
        found, _ = evaluate(stations, [item], settings_)
        middle = stations["chainage_m"].to_numpy()
        own = (stations["trail"] == case.trail).to_numpy()
        on_line = own & (middle > first) & (middle < first + line.length)
        assert (found.reserve[on_line, 0] >= 0).all()
        return
    else:
        assert row["remedy"] in ("lower inflation", "leave out", "other way round")
        return
    found, _ = evaluate(stations, [item], settings_)
    assert (found.reserve[case.rows, 0] >= 0).all(), row
    assert not (found.reserve[~was_short, 0] < 0).any(), row
    if case.kind not in BY_TRACTION:
        assert (found.pressure_ratio[case.rows, 0] <= 1).all(), row


def _along(situation, block):
    network, _ = build_network(block.trails, block.landings, 3.0)
    return look_along(block, network, situation.surfaces, situation.water, situation.strength)
