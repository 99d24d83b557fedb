"""What each trail bears with its way to the landing, held against plans made with that load."""

from __future__ import annotations

import pytest

from terrain.decision.assessment import with_payload
from terrain.decision.rating_places import ANY_RATING
from terrain.decision.trail_loads import trail_loads
from terrain.plan import plan_block
from tests.situations import situation_of
from tests.tiny_block import MACHINE, plane, soils, write_block

FULL_KG = 14_000.0
SOFT = soils().assign(soil_class=[1, 2], drainage="well drained")


def loads_of(path):
    made = situation_of(path)
    along = made.along
    item = made.assessment.item(made.shown)
    table = trail_loads(along.stations, along.network, along.routes, item, made.settings)
    return table.set_index("trail")


@pytest.fixture(scope="module")
def gentle(tmp_path_factory):
    """Two per cent, class 2 before the landing: too soft for the full load, not too steep."""
    return write_block(tmp_path_factory.mktemp("loads") / "b", dem=plane(0.02), soils=SOFT)


def passes(path, tmp_path, kilograms):
    """Whether the whole of both trails bears that load, by a plan with it in the machine file."""
    text = MACHINE.replace("mass_kg = 14000", f"mass_kg = {kilograms:.0f}")
    assert text != MACHINE or kilograms == FULL_KG
    plan = plan_block(
        write_block(tmp_path / f"{kilograms:.0f}", dem=plane(0.02), soils=SOFT, machine=text)
    )
    k = plan.evaluation.column("bare")
    fine = (plan.evaluation.reserve[:, k] >= 0) & (plan.evaluation.pressure_ratio[:, k] <= 1)
    return bool(fine.all())


def test_the_load_is_the_largest_step_that_a_plan_with_it_passes(gentle, tmp_path):
    rows = loads_of(gentle)
    load = rows.loc["T1", "load_kg"]
    assert 0 < load < FULL_KG
    assert load % 250 == 0
    assert passes(gentle, tmp_path, load)
    assert not passes(gentle, tmp_path, load + 250)
    assert rows["full_kg"].eq(FULL_KG).all()
    assert rows["unknown_m"].eq(0).all()


def test_a_trail_is_held_to_its_way_to_the_landing(gentle, tmp_path):
    """T2 lies on firm ground; its timber goes over the soft end of T1."""
    rows = loads_of(gentle)
    assert rows.loc["T2", "load_kg"] == rows.loc["T1", "load_kg"]
    firm = soils().assign(soil_class=1, drainage="well drained")
    all_firm = loads_of(write_block(tmp_path / "firm", dem=plane(0.02), soils=firm))
    assert all_firm["load_kg"].eq(FULL_KG).all()
    assert all_firm["traction_kg"].eq(FULL_KG).all()


def test_no_load_holds_where_the_empty_machine_falls_short(tmp_path):
    steep = soils().assign(soil_class=1, drainage="well drained")
    rows = loads_of(write_block(tmp_path / "steep", dem=plane(0.9), soils=steep))
    assert rows[["traction_kg", "load_kg"]].isna().all(axis=None)


def test_a_machine_without_load_has_no_rows(gentle):
    made = situation_of(gentle)
    along = made.along
    empty = with_payload(made.assessment.machine, 0.0)
    item = made.assessment.item(made.shown)
    bare = type(item)(item.setup, empty, item.groups, None)
    table = trail_loads(along.stations, along.network, along.routes, bare, made.settings)
    assert table.empty
    assert "load_kg" in table.columns


def test_ratings_on_slopes_cut_the_load_of_the_trails_that_exceed_them(tmp_path):
    """The load is the largest step whose plan has no rating over with balanced bogies."""
    firm = soils().assign(soil_class=1, drainage="well drained")

    def rated(mass):
        text = MACHINE.replace("mass_kg = 14000", f"mass_kg = {mass:.0f}", 1)
        return text.replace('kind = "bogie"', 'kind = "bogie"\nrated_mass_kg = 23500')

    def block(name, mass):
        return write_block(tmp_path / name, dem=plane(0.2), soils=firm, machine=rated(mass))

    def over_m(path):
        table = plan_block(path).rating_places
        return table[table["rating"] == ANY_RATING].set_index("trail")["over_balanced_m"]

    rows = loads_of(block("full", FULL_KG))
    assert over_m(block("look", FULL_KG)).gt(0).any()
    load = rows.loc["T1", "load_kg"]
    assert 0 < load < rows.loc["T1", "ground_kg"]
    assert over_m(block("held", load))["T1"] == 0
    assert over_m(block("more", load + 250))["T1"] > 0
