"""Remedies on the machine and in time: each answer is run again with the changed input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.remedy_case import cases_of, solves, tonnes
from terrain.decision.remedy_load import (
    brash_mat,
    drier_state,
    heavier_aid,
    largest_payload_kg,
    lower_inflation,
    smaller_payload,
    verified_frost,
)
from terrain.inputs.machines import machine_from
from terrain.inputs.toml_files import read_toml
from terrain.plan import plan_block
from tests.decision.remedy_block import (
    FORWARDER,
    TEXT,
    between,
    block_file,
    patch,
    reserve_of,
    situation_of,
    straight,
)

BARE = "bare"


def case_of(path, setup=BARE, state=None):
    situation, forcing, fares = situation_of(path, state)
    found = [case for case in cases_of(situation, forcing, fares) if case.setup == setup]
    return situation, found[0]


def brute_force_kg(situation, case):
    """Largest multiple of 250 kg below the full load that passes; nothing shared with the code."""
    best = np.nan
    stations = situation.along.stations
    for steps in range(400):
        kg = 250.0 * steps
        if kg >= case.item.payload_kg:
            break
        machine = replace(case.item.machine, load=replace(case.item.machine.load, mass_kg=kg))
        found, _ = evaluate(stations, [carried(case.item.setup, machine)], situation.settings)
        here = found.reserve[case.rows, 0]
        good = (here >= 0).all()
        if case.kind == "over bearing capacity":
            good &= (found.pressure_ratio[case.rows, 0] <= 1).all()
        if good:
            best = kg
    return best


@pytest.mark.parametrize(
    ("gx", "soil_class"), [(0.08, 2), (0.05, 2), (0.16, 2), (0.02, 3), (-0.1, 2), (-0.2, 3)]
)
def test_largest_payload_is_that_of_a_scan(tmp_path, gx, soil_class):
    path = block_file(tmp_path, gx, soils=patch(soil_class=soil_class))
    situation, forcing, fares = situation_of(path)
    cases = cases_of(situation, forcing, fares)
    assert cases
    for case in cases:
        expected = brute_force_kg(situation, case)
        assert largest_payload_kg(situation, case) == pytest.approx(expected, nan_ok=True)


def test_smaller_payload_run_again_through_the_machine_file(tmp_path):
    path = block_file(tmp_path / "a")
    situation, case = case_of(path)
    row = smaller_payload(situation, case)
    assert row["solves"] == "yes"
    kg = row["payload_kg"]
    assert 0 < kg < 14000
    for load, fine in ((kg, True), (kg + 250, False)):
        machine = FORWARDER.replace("mass_kg = 14000", f"mass_kg = {load:g}")
        plan = plan_block(block_file(tmp_path / f"{load:g}", machine=machine))
        here = between(plan.stations, "T1", case.from_m, case.to_m)
        assert here.sum() == len(case.rows)
        assert bool((reserve_of(plan, BARE)[here] >= 0).all()) is fine
        assert (reserve_of(plan, BARE)[~here] >= 0).all()
        if fine:
            least = reserve_of(plan, BARE)[here].min()
            assert row["reserve_after"] == pytest.approx(least, abs=1e-12)
            assert ("with a thin reserve" in row["does"]) == (least < 0.03)
            assert least < 0.03  # the largest load leaves little to spare


def test_no_more_loads_are_told_as_as_many_as_now(tmp_path):
    """Two cubic metres over the stretch are one load, full or a little smaller."""
    trails = straight()
    trails["volume_m3"] = 2.0
    situation, case = case_of(block_file(tmp_path, trails=trails))
    row = smaller_payload(situation, case)
    assert row["extra_loads"] == 0
    assert "as many loads as now over this stretch." in row["does"]


def test_a_remedy_with_reserve_to_spare_is_not_told_as_thin(tmp_path):
    _, case = case_of(block_file(tmp_path))
    thin = case.row("any", "Do it.", "yes", 0.0, 0.0, 0.029)
    assert thin["does"] == "Do it. It passes with a thin reserve (2.9 %)."
    for left_m, least in ((0.0, 0.03), (5.0, 0.01), (0.0, np.nan), (0.0, -0.01)):
        assert case.row("any", "Do it.", "yes", left_m, 0.0, least)["does"] == "Do it."


def test_extra_loads_by_arithmetic(tmp_path):
    situation, case = case_of(block_file(tmp_path))
    row = smaller_payload(situation, case)
    # a cubic metre a metre: 110 m3 leave the lower end of the stretch at 110 m; 875 kg/m3
    more = np.ceil(110 / (row["payload_kg"] / 875)) - np.ceil(110 / (14000 / 875))
    assert row["extra_loads"] == more > 0
    assert f"{more:.0f} more load" in row["does"]
    assert f"Load {tonnes(row['payload_kg'])} instead of 14.0 t" in row["does"]


def test_unknown_volume_makes_the_extra_loads_unknown(tmp_path):
    text = TEXT.replace('volume_m3 = "volume_m3"\n', "")
    situation, case = case_of(block_file(tmp_path, text=text))
    row = smaller_payload(situation, case)
    assert np.isnan(row["extra_loads"])
    assert "not known" in row["does"]


def test_drier_state_run_again(tmp_path):
    soils = patch(soil_class=2, drainage="poorly drained")
    text = TEXT.replace('state = "moist"', 'state = "wet"')
    path = block_file(tmp_path, 0.02, text, soils=soils)
    situation, case = case_of(path)
    row = drier_state(situation, case)
    assert (row["solves"], row["left_m"], row["moved_m"]) == ("yes", 0, 0)
    assert "until the ground is moist" in row["does"]
    here = case.rows
    assert (reserve_of(plan_block(path), BARE)[here] < 0).any()
    moist = reserve_of(plan_block(path, state="moist"), BARE)[here]
    assert (moist >= 0).all()
    assert row["reserve_after"] == pytest.approx(moist.min(), abs=1e-12)


def test_drier_state_that_does_not_help_says_so(tmp_path):
    situation, case = case_of(block_file(tmp_path, 0.12))
    row = drier_state(situation, case)
    assert row["solves"] == "no"
    assert row["left_m"] == pytest.approx(case.failing_m) == pytest.approx(20)


def test_frost_is_only_named_until_it_is_verified(tmp_path):
    situation, case = case_of(block_file(tmp_path))
    row = verified_frost(situation, case)
    assert row["solves"] == "named only"
    assert np.isnan(row["left_m"])


def test_lower_inflation_without_a_permitted_figure_is_only_named(tmp_path):
    situation, case = case_of(block_file(tmp_path))
    row = lower_inflation(situation, case)
    assert row["solves"] == "named only"
    assert "No permitted lower pressure" in row["note"]


def softened(lowest=220):
    return FORWARDER.replace("rated_load_kg", f"lowest_inflation_kpa = {lowest}\nrated_load_kg")


def test_lower_inflation_run_again_through_the_machine_file(tmp_path):
    path = block_file(tmp_path / "a", 0.06, machine=softened())
    situation, case = case_of(path)
    row = lower_inflation(situation, case)
    assert row["solves"] in ("yes", "partly", "no")
    assert "220 kPa instead of" in row["does"]
    assert row["does"].endswith(
        "The rated load of a tyre falls with its pressure: ask for the load table."
    )
    lower = FORWARDER.replace("inflation_kpa = 400 ", "inflation_kpa = 220 ")
    lower = lower.replace("\ninflation_kpa = 450", "\ninflation_kpa = 220")
    assert lower.count("inflation_kpa = 220") == 2
    plan = plan_block(block_file(tmp_path / "b", 0.06, machine=lower))
    short = reserve_of(plan, BARE) < 0
    length = plan.stations["length_m"].to_numpy()
    assert row["left_m"] == pytest.approx(length[case.rows] @ short[case.rows])
    assert row["left_m"] < case.failing_m
    least = reserve_of(plan, BARE)[case.rows].min()
    assert row["reserve_after"] == pytest.approx(least, abs=1e-12)


def test_tyres_under_chains_are_not_let_down(tmp_path):
    situation, case = case_of(
        block_file(tmp_path, machine=softened()), "chains-710-bogie + chains-710-bogie"
    )
    row = lower_inflation(situation, case)
    assert row["solves"] == "named only"
    assert "keep their pressure" in row["note"]


def test_lowest_inflation_above_the_one_in_use_is_refused(tmp_path):
    path = tmp_path / "machine.toml"
    path.write_text(softened(500), encoding="utf-8")
    table, _ = read_toml(path, "machine file")
    machine, issues = machine_from(table.table, "machine.toml")
    assert machine is None
    assert {i.code for i in issues if i.severity == "error"} == {"MCH06"}
    path.write_text(softened(300), encoding="utf-8")
    machine, _ = machine_from(read_toml(path, "machine file")[0].table, "machine.toml")
    assert machine.front.tyre.lowest_inflation_kpa == 300


def test_heavier_aid_is_a_scored_setup_that_keeps_one_end(tmp_path):
    path = block_file(tmp_path)
    situation, case = case_of(path)
    row = heavier_aid(situation, case)
    assert row["solves"] == "yes"
    name = row["note"].removeprefix("Setup ").removesuffix(".")
    other = situation.assessment.item(name)
    same = [a == b for a, b in zip(other.setup.mounts, case.item.setup.mounts, strict=True)]
    assert sorted(same) == [False, True]
    assert other.added_mass_kg > case.item.added_mass_kg
    least = reserve_of(plan_block(path), name)[case.rows].min()
    assert least >= 0
    assert row["reserve_after"] == pytest.approx(least, abs=1e-12)
    standing = situation.assessment.ranking.setups.set_index("setup").loc[name, "standing"]
    assert standing in row["does"]


def test_brash_says_mass_and_supply_and_no_more(tmp_path):
    text = TEXT + "[brash]\nresidue_kg_per_ha = 40000.0\n"
    situation, case = case_of(block_file(tmp_path, text=text))
    row = brash_mat(situation, case)
    assert row["solves"] == "named only"
    assert np.isnan(row["left_m"])
    # 20 m of 4 m at 15 to 20 kg/m2; 40 t a hectare on 4 m of every 20 m is 20 kg/m2
    assert "1.2 to 1.6 t" in row["does"]
    assert "about 20 kg/m2" in row["note"]


@pytest.mark.parametrize(
    ("before", "left", "moved", "unknown", "word"),
    [
        (20, 0, 0, False, "yes"),
        (20, 0, 5, False, "partly"),
        (20, 5, 0, False, "partly"),
        (20, 20, 0, False, "no"),
        (20, 0, 0, True, "cannot tell"),
    ],
)
def test_words_of_what_a_remedy_achieves(before, left, moved, unknown, word):
    assert solves(before, left, moved, unknown=unknown) == word


def test_masses_are_told_in_quarter_tonnes():
    assert [tonnes(kg) for kg in (10500, 10250, 12000)] == ["10.5 t", "10.25 t", "12.0 t"]
