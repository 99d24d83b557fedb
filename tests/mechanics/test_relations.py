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
    Check,
    checks_of,
    for_construction,
    outside_validity,
    relation,
    relations,
)
from terrain.sources import STATUSES, data_table, source

# functions that look things up or put relations together, and state no relation of their own
NOT_RELATIONS = {
    "effects.effects",
    "effects.effects_of",
    "effects.quantities",
    "films.bite_words",
    "films.films",
    "mounted.mounted",
    "relations.checks_of",
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
        assert row.status in {"planning assumption", "derived"}
    assert bool(row.valid) == bool(row.valid_status)
    assert row.valid_status in {"", *STATUSES}


ALL_CHECKS = [check for relation_id in relations() for check in checks_of(relation_id)]
DATA_CHECKS = [check for check in ALL_CHECKS if not check.test]


def named(path: str):
    module, name = path.rsplit(".", 1)
    return getattr(importlib.import_module(module), name)


def built(value):
    """An argument of a check: an object where the data say what makes it."""
    if isinstance(value, dict):
        return named(value["made_by"])(**{k: v for k, v in value.items() if k != "made_by"})
    return value


def results_of(check: Check) -> list:
    """What the function gives for a check, in the order of what is expected."""
    arguments = {name: built(value) for name, value in check.inputs.items()}
    result = named(relation(check.relation).function)(**arguments)
    if all(hasattr(result, name) for name in check.expected):
        return [getattr(result, name) for name in check.expected]
    return list(result) if isinstance(result, tuple) else [result]


def test_every_relation_has_a_check_and_every_check_a_relation():
    assert [name for name in relations() if not checks_of(name)] == []
    listed = [row["relation"] for row in data_table("check_values")["check"]]
    assert set(listed) - set(relations()) == set()
    assert len(listed) == len(ALL_CHECKS)


@pytest.mark.parametrize("check", DATA_CHECKS, ids=lambda check: check.relation)
def test_check_value(check):
    # sources and tolerances stand with each check in terrain/data/check_values.toml: half a unit of
    # the sixth digit for own arithmetic (5e-6), half a unit of the last printed digit for published
    # values; two say there why they need more
    found = results_of(check)
    assert len(found) == len(check.expected)
    limits = {"rtol": 0.0, "atol": 0.0, **check.tolerance}
    for (name, expected), value in zip(check.expected.items(), found, strict=True):
        assert np.shape(value) == np.shape(expected), name
        np.testing.assert_allclose(value, expected, **limits, err_msg=name)


@pytest.mark.parametrize("check", DATA_CHECKS, ids=lambda check: check.relation)
def test_a_check_says_where_it_comes_from(check):
    assert len(check.tolerance) == 1
    origin, _, told = check.origin.partition(": ")
    assert origin in {"own arithmetic", "published"}
    if origin == "own arithmetic":
        assert not told
        # six digits are given: half a unit of the sixth
        assert check.tolerance in ({"rtol": 5e-6}, {"rtol": 0.0})
    else:
        key, _, place = told.partition(", ")
        assert source(key).read != "recalled"
        assert place
        assert relation(check.relation).status != "from memory"
        # half a unit of the last printed digit may be wide, so own arithmetic stands beside it
        exact = check.tolerance == {"rtol": 0.0}
        beside = [c for c in checks_of(check.relation) if c.origin == "own arithmetic"]
        assert exact or beside


def test_checks_that_are_no_data_are_few_and_their_tests_exist():
    elsewhere = {check.relation: check.test for check in ALL_CHECKS if check.test}
    assert set(elsewhere) == {"slip_needed"}  # takes a function
    for named_test in elsewhere.values():
        path, name = named_test.split("::")
        text = (Path(terrain.__file__).parents[1] / path).read_text(encoding="utf-8")
        body = next(n for n in ast.parse(text).body if getattr(n, "name", "") == name)
        assert any(isinstance(n, ast.Assert) for n in ast.walk(body))


def test_ranges_are_told_and_a_missing_one_too():
    # two rows of each kind, by hand
    assert relation("brixius_gross").validity_words() == (
        "slip 0 to 0.3; mobility number 6 to 80 (planning assumption)"
    )
    assert relation("rut_maclaurin").validity_words() == (
        "cone index up to 1500 kPa (planning assumption)"
    )
    assert relation("rut_multi_pass").validity_words() == "passes 1 and more (planning assumption)"
    assert relation("tyre_deflection").validity_words() == "no range was read"
    assert relation("lateral_tip").validity_words() == "holds for any figures"


def test_any_figures_is_for_statics_and_geometry_alone():
    free = {row.id for row in relations().values() if row.any_figures}
    for name in free:
        assert not relation(name).valid
    read = {"centre_of_gravity", "side_shares"}  # the two with a published worked example
    derived = {row.id for row in relations().values() if row.status == "derived"}
    assert free == (read | derived) - {"slip_needed"}  # that holds where its balance does


def test_statics_are_published_only_where_a_worked_example_was_read():
    cited = {row.id for row in relations().values() if row.source == "liljedahl_1989"}
    assert cited == {"centre_of_gravity", "axle_loads", "side_shares"}
    for row in relations().values():
        if row.source == "liljedahl_1989":
            assert "worked example" in row.where
            examples = [c for c in checks_of(row.id) if c.origin.startswith("published: liljedahl")]
            assert examples, row.id
        if row.status == "derived":
            assert "assumption" not in row.where, row.id
    for name in ("grip_balance", "downhill_side", "group_thrust"):
        assert relation(name).status == "planning assumption"
        assert "own" in relation(name).where
        assert "derived" in relation(name).where or "side_shares" in relation(name).where


def test_the_sources_are_those_that_were_read():
    assert relation("ngp_wheel").source == "saarilahti_2002"
    assert relation("vci50_wheels").source == "priddy_1999"
    assert relation("rating_cone_index").source == "army_en5341"
    assert source("mellgren_1980").read == "recalled"


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


def test_deflection_range_ends_where_memory_is_surer():
    # from memory (ASABE D497): 0.1 to 0.3, with 0.4 less surely; the narrower one counts
    found = outside_validity("brixius_number", deflection_ratio=[0.1, 0.3, 0.301, 0.4])
    assert found.tolist() == [False, False, True, True]
    assert "0.4" in relation("brixius_number").conditions


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
