import ast
import importlib
import inspect
import pkgutil
from pathlib import Path

import numpy as np
import pytest

import terrain.mechanics
from terrain.mechanics import traction
from terrain.mechanics.effects import effects, effects_of
from terrain.mechanics.relations import (
    for_construction,
    outside_validity,
    relation,
    relations,
)
from terrain.sources import STATUSES, source

# functions that look things up or put relations together, and state no relation of their own
NOT_RELATIONS = {
    "effects.effects",
    "effects.effects_of",
    "effects.quantities",
    "films.bite_words",
    "films.films",
    "mounted.mounted",
    "relations.for_construction",
    "relations.outside_validity",
    "relations.relation",
    "relations.relations",
    "readings.readings_rule",
    "readings.shear_classes",
    "soil_moisture.soil_types",
    "soil_strength.drainage_rank",
    "soil_strength.soil_classes",
    "soil_strength.state_rules",
    "wet_classes.effective_rule",
    "wet_classes.water_rule",
}


def public_functions() -> set[str]:
    found = set()
    for module_info in pkgutil.iter_modules(terrain.mechanics.__path__):
        module = importlib.import_module(f"terrain.mechanics.{module_info.name}")
        for name in module.__all__:
            item = getattr(module, name)
            function = inspect.unwrap(item)
            if inspect.isfunction(function) and function.__module__ == module.__name__:
                found.add(f"{module_info.name}.{name}")
    return found


@pytest.mark.parametrize("relation_id", relations())
def test_path_resolves_and_source_is_known(relation_id):
    row = relation(relation_id)
    module, name = row.function.rsplit(".", 1)
    assert callable(getattr(importlib.import_module(module), name))
    assert row.status in STATUSES
    assert row.role in {"primary", "cross-check", "option", "helper"}
    assert row.equation
    assert row.where
    if row.source:
        assert source(row.source)
    else:
        assert row.status == "planning assumption"
    assert bool(row.valid) == bool(row.valid_status)
    assert row.valid_status in {"", *STATUSES}


def test_every_public_function_is_a_listed_relation():
    listed = {row.function.removeprefix("terrain.mechanics.") for row in relations().values()}
    assert public_functions() - NOT_RELATIONS == listed


# a run works these out in its own words, from the same equation
STATED_OTHERWISE = {
    "ngp_wheel": "mechanics.mounted: load over the contact area of the whole group",
    "rut_band": "decision.ruts: the passes of loaded and empty trips are added up first",
}


def called_names() -> set[str]:
    """Names of all functions that a run may call: every call in the package and the commands."""
    found = set()
    for folder in ("terrain", "cli"):
        for path in (Path(terrain.__file__).parents[1] / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call):
                    found.add(getattr(node.func, "attr", getattr(node.func, "id", "")))
    return found


def test_what_no_run_computes_says_so():
    called = called_names()
    for row in relations().values():
        if row.id in STATED_OTHERWISE:
            continue
        alone = "used by the tests alone" in row.conditions
        assert alone == (row.function.rsplit(".", 1)[1] not in called), row.id
        assert not alone or row.role == "cross-check", row.id


def test_radial_tyres_have_their_own_form_and_it_is_from_memory():
    assert for_construction("grip_balance", "radial") == "grip_balance"
    for name in ("brixius_gross", "brixius_resistance", "brixius_towed", "firm_rolling"):
        own = relation(for_construction(name, "radial"))
        assert for_construction(name, "bias") == name
        assert own.function == relation(name).function
        assert (own.status, relation(name).status) == ("from memory", "published")
        assert "0.0325" in own.equation
        assert "0.04" in relation(name).equation
    # the equations as they are printed, worked out: Bn 10 at 20 % slip
    gross = 0.88 * (1 - np.exp(-1)) * (1 - np.exp(-9.5 * 0.2)) + 0.0325
    assert traction.gross_traction_ratio(10.0, 0.2, "radial") == pytest.approx(gross, rel=1e-9)
    rolling = 0.9 / 10 + 0.0325 + 0.5 * 0.2 / np.sqrt(10)
    assert traction.motion_resistance_ratio(10.0, 0.2, "radial") == pytest.approx(rolling, rel=1e-9)


def test_memory_is_not_dressed_up():
    # a source that is only recalled cannot make a relation published
    for row in relations().values():
        if row.source and source(row.source).read == "recalled":
            assert row.status != "published", row.id


def test_loaded_forest_wheel_leaves_the_range():
    # own arithmetic: 50 kN on 0.71 x 1.312 m is 53.7 kPa (inside), 60 kN is 64 kPa (outside)
    size = 0.71 * 1.312
    found = outside_validity("brixius_number", load_over_size_kpa=np.array([50, 60]) / size)
    assert found.tolist() == [False, True]


def test_any_value_outside_counts_and_unknown_is_outside():
    found = outside_validity(
        "brixius_number", width_over_diameter=[0.5, 0.5, np.nan], deflection_ratio=[0.1, 0.05, 0.1]
    )
    assert found.tolist() == [False, True, True]
    assert not outside_validity("rut_multi_pass", passes=1e6)


def test_wrong_names_are_refused():
    with pytest.raises(KeyError, match="unknown relation 'brixius'"):
        outside_validity("brixius")
    with pytest.raises(KeyError, match="has no range for"):
        outside_validity("brixius_number", load=3.0)


def test_effects_have_a_standing_and_ordered_figures():
    assert {effect.aid for effect in effects()} == {
        "chains",
        "wheel track",
        "band track",
        "dual tyres",
    }
    for effect in effects():
        assert effect.status in STATUSES
        assert effect.direction in {"+", "-", "0"}
        if effect.status == "published":
            assert source(effect.source)
            assert effect.where
        figures = [f for f in (effect.low, effect.likely, effect.high) if f is not None]
        assert figures == sorted(figures)


def test_published_rut_factor_of_band_tracks():
    # published: Gerasimov & Katarov 2010 as summarised: 0.22 / 0.40 and 0.48 / 0.71
    row = next(e for e in effects_of("band track") if e.quantity.startswith("rut depth"))
    assert row.low == pytest.approx(0.22 / 0.40, abs=0.005)
    assert row.high == pytest.approx(0.48 / 0.71, abs=0.005)
