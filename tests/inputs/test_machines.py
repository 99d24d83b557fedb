"""Machine files: figures that must agree with one another."""

from __future__ import annotations

import copy
import hashlib
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from terrain.errors import Issue, errors_in
from terrain.inputs.machines import ISSUE_CODES, machine_from, read_machine

DEMO = Path(str(resources.files("sample_data"))) / "machines"
NAMES = ["forwarder_8", "skidder_6", "skidder_4"]


def table_of(name: str, **changes: Any) -> dict[str, Any]:
    """A demo machine's table with changes by dotted key; None removes a key.

    Its tyres are set to their charted pressure, so that they say nothing by themselves.
    """
    table = tomllib.loads((DEMO / f"{name}.toml").read_text(encoding="utf-8"))
    for axle in ("front", "rear"):
        table[axle]["tyre"]["inflation_kpa"] = table[axle]["tyre"]["charted_inflation_kpa"]
    for dotted, value in changes.items():
        *path, key = dotted.split("__")
        here = table
        for part in path:
            here = here[part]
        if value is None:
            here.pop(key)
        else:
            here[key] = value
    return table


def found(name: str, **changes: Any) -> list[Issue]:
    machine, issues = machine_from(table_of(name, **changes), "m.toml")
    assert (machine is None) == bool(errors_in(issues))
    assert all(issue.code in ISSUE_CODES or issue.code.startswith("TOML") for issue in issues)
    return issues


def only(issues: list[Issue], severity: str = "error") -> Issue:
    chosen = [issue for issue in issues if issue.severity == severity]
    assert len(chosen) == 1, chosen
    return chosen[0]


@pytest.mark.parametrize(("name", "wheels"), list(zip(NAMES, (8, 6, 4), strict=True)))
def test_the_demo_machines_are_sound_and_marked_invented(name: str, wheels: int) -> None:
    path = DEMO / f"{name}.toml"
    machine, record, issues = read_machine(path, f"machines/{name}.toml")
    # some of their tyres are set below the charted pressure, and nothing else is said
    assert {(issue.code, issue.severity) for issue in issues} == {("MCH13", "warning")}
    assert machine is not None
    assert machine.wheels == wheels
    assert machine.invented
    assert record is not None
    assert record.role == "machine"
    assert record.name == f"machines/{name}.toml"
    assert record.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_the_forwarder_as_read() -> None:
    machine, _ = machine_from(table_of("forwarder_8"), "m.toml")
    assert machine is not None
    assert machine.unladen_rear_kg == 9000
    assert machine.front.tyre.diameter_m == pytest.approx(1.3121)
    assert machine.front.tyre.section_height_m == pytest.approx(0.3195)
    assert machine.payload_kg == 14000
    assert machine.front.bogie_spacing_m == 1.5


def test_missing_file(tmp_path: Path) -> None:
    machine, record, issues = read_machine(tmp_path / "none.toml")
    assert machine is None
    assert record is None
    assert only(issues).code == "TOML01"


def test_faults_of_keys_and_of_figures_come_together() -> None:
    issues = found(
        "forwarder_8", machine__unladen_rear_kg=8000, front__wheels=2, rear__colour="red"
    )
    assert {issue.code for issue in issues} == {"MCH02", "MCH03", "TOML04"}


def test_axle_masses_must_add_up() -> None:
    issue = only(found("forwarder_8", machine__unladen_rear_kg=9101))
    assert issue.code == "MCH02"
    assert "101 kg more" in issue.what
    assert found("forwarder_8", machine__unladen_rear_kg=9100) == []  # 0.5 % of 20 t
    assert found("forwarder_8", machine__unladen_rear_kg=None) == []
    assert only(found("forwarder_8", machine__unladen_front_kg=20000)).code == "MCH02"


def test_a_machine_of_17_kg_is_told_about_tonnes() -> None:
    issues = found("forwarder_8", machine__unladen_mass_kg=17)
    issue = next(issue for issue in issues if issue.code == "MCH01")
    assert "write 17000" in issue.fix


def test_bar_instead_of_kpa() -> None:
    issues = found("forwarder_8", front__tyre__inflation_kpa=4.5)
    assert "write 450" in only(issues).fix


def test_a_negative_mass_is_refused_once() -> None:
    issue = only(found("forwarder_8", load__mass_kg=-14000))
    assert issue.code == "TOML07"
    assert issue.where == "m.toml, load.mass_kg"


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"front__wheels": 2}, "front.wheels"),
        ({"front__bogie_spacing_m": None}, "front.bogie_spacing_m"),
        ({"front__kind": "single", "front__wheels": 2}, "front.bogie_spacing_m"),
    ],
)
def test_wheels_agree_with_the_kind_of_axle(change: dict[str, Any], key: str) -> None:
    issue = only(found("forwarder_8", **change))
    assert issue.code == "MCH03"
    assert key in issue.where


def test_a_designation_that_contradicts_its_dimensions() -> None:
    issue = only(found("forwarder_8", front__tyre__diameter_m=1.40))
    assert issue.code == "MCH05"
    assert "1.312" in issue.what
    # 3 % of 1.3121 m: 1.3515 is allowed, and the given figure wins
    table = table_of("forwarder_8", front__tyre__diameter_m=1.35)
    machine, issues = machine_from(table, "m.toml")
    assert errors_in(issues) == []
    assert machine is not None
    assert machine.front.tyre.diameter_m == 1.35
    assert machine.front.tyre.section_height_m == pytest.approx((1.35 - 26.5 * 0.0254) / 2)


def test_width_and_section_height_are_held_against_the_designation() -> None:
    issues = found("forwarder_8", front__tyre__width_m=0.60, rear__tyre__section_height_m=0.40)
    assert [issue.code for issue in issues] == ["MCH05", "MCH05"]
    assert found("forwarder_8", rear__tyre__section_height_m=0.3195) == []


def test_a_low_section_tyre_needs_its_diameter() -> None:
    issues = found("skidder_4", rear__tyre__diameter_m=None)
    assert only(issues).code == "MCH04"
    assert "diameter_m" in only(issues).where


def test_a_classic_inch_size_warns_about_its_rule_of_thumb() -> None:
    changes: dict[str, Any] = {
        "rear__tyre__designation": "24.5-32",
        "rear__tyre__diameter_m": None,
    }
    assert only(found("skidder_4", **changes), "warning").code == "MCH04"
    changes["rear__tyre__diameter_m"] = 1.80
    assert found("skidder_4", **changes) == []


def test_an_unknown_designation_shows_the_forms() -> None:
    issue = only(found("forwarder_8", front__tyre__designation="large"))
    assert issue.code == "MCH04"
    assert "710/45-26.5" in issue.what


def test_inflation_above_the_chart() -> None:
    assert only(found("forwarder_8", front__tyre__inflation_kpa=460)).code == "MCH06"
    issues = found("forwarder_8", front__tyre__charted_inflation_kpa=None)
    assert only(issues, "warning").code == "MCH12"


def test_inflation_below_the_chart_carries_less_than_the_rated_load() -> None:
    issue = only(found("forwarder_8", rear__tyre__inflation_kpa=449), "warning")
    assert issue.code == "MCH13"
    assert issue.where == "m.toml, rear.tyre.inflation_kpa"
    assert "449 kPa, charted are 450 kPa" in issue.what
    assert "less than the rated load" in issue.what
    assert "Look the load up for that pressure" in issue.fix
    assert found("forwarder_8", rear__tyre__inflation_kpa=450) == []


@pytest.mark.parametrize(
    ("change", "severity"),
    [
        ({"machine__rated_gross_mass_kg": 19000}, "error"),
        ({"machine__rated_gross_mass_kg": 30000}, "warning"),
        ({"front__rated_mass_kg": 10500}, "error"),
        ({"rear__rated_mass_kg": 20000}, "warning"),
        ({"front__tyre__rated_load_kg": 2000}, "error"),
        ({"rear__tyre__rated_load_kg": 5000}, "warning"),
    ],
)
def test_ratings_against_what_stands_on_them(change: dict[str, Any], severity: str) -> None:
    assert only(found("forwarder_8", **change), severity).code == "MCH07"


def test_a_dragged_load_pulls_the_rear_down() -> None:
    # 3300 kg rest 0.8 m behind the rear axle; 2700 kg drag with 0.6 of their weight, 0.9 m high
    rear = 15000 - 8700 + 3300 * (1 + 0.8 / 3.5) + 2700 * 0.6 * 0.9 / 3.5
    over = {
        kilograms: [
            i.what for i in found("skidder_4", rear__rated_mass_kg=kilograms) if "full" in i.what
        ]
        for kilograms in (round(rear) - 2, round(rear) + 2)
    }
    assert [f"{rear:.0f} kg" in what for what in over[round(rear) - 2]] == [True]
    assert over[round(rear) + 2] == []


def test_the_loaded_share_on_the_rear_decides_the_rating() -> None:
    # 9000 + 14000 * (1 - 0.3 / 5.8) = 22275.9 kg, statics of a beam on two supports
    assert found("forwarder_8", rear__rated_mass_kg=22276) == []
    assert "22276 kg" in only(found("forwarder_8", rear__rated_mass_kg=22275), "warning").what


def test_a_harvester_carries_no_load() -> None:
    assert only(found("forwarder_8", machine__kind="harvester")).code == "MCH08"
    assert found("forwarder_8", machine__kind="harvester", load=None) == []
    assert only(found("forwarder_8", load=None)).code == "MCH08"


def test_a_skidder_says_how_its_load_rests() -> None:
    issues = found("skidder_4", load__carried_share=None, load__drag_coefficient=None)
    assert {issue.where for issue in errors_in(issues)} == {
        "m.toml, load.carried_share",
        "m.toml, load.drag_coefficient",
    }
    assert only(found("skidder_4", load__pull_height_m=None), "note").code == "MCH12"
    assert only(found("forwarder_8", load__carried_share=0.5)).code == "MCH08"
    assert only(found("forwarder_8", load__drag_coefficient=0.5)).code == "MCH08"


def test_the_load_centre() -> None:
    assert only(found("forwarder_8", load__centre_ahead_of_rear_m=7.0)).code == "MCH09"
    issue = only(found("forwarder_8", load__centre_ahead_of_rear_m=-5.0))
    assert "lift the front axle" in issue.what


def test_dimensions_fit_together() -> None:
    assert only(found("forwarder_8", front__bogie_spacing_m=1.3)).code == "MCH10"
    assert only(found("forwarder_8", machine__wheelbase_m=2.5)).code == "MCH10"
    issues = found("forwarder_8", machine__width_m=2.5)
    assert [(issue.code, issue.severity) for issue in issues] == [("MCH10", "warning")] * 2


def test_something_must_drive() -> None:
    assert only(found("skidder_4", front__driven=False, rear__driven=False)).code == "MCH11"
    assert found("skidder_4", front__driven=False) == []


def test_a_missing_tractive_effort_is_said() -> None:
    issues = found("forwarder_8", machine__max_tractive_effort_kn=None)
    assert only(issues, "warning").code == "MCH12"


def test_checking_changes_nothing_in_the_table() -> None:
    table = table_of("skidder_6")
    before = copy.deepcopy(table)
    machine_from(table, "m.toml")
    assert table == before


@pytest.mark.parametrize("designation", ["710/45R26.5", "710/45 R 26.5"])
def test_a_radial_designation_with_a_bias_construction_is_asked_about(designation: str) -> None:
    # R before the rim diameter marks a radial tyre: tyre standards such as ISO 4251, from memory
    changes = {"front__tyre__designation": designation}
    warning = only(found("forwarder_8", **changes), "warning")
    assert warning.code == "MCH14"
    assert designation in warning.what
    assert warning.where.endswith("front.tyre.construction")
    assert 'construction = "radial"' in warning.fix
    assert found("forwarder_8", **changes, front__tyre__construction="radial") == []
    # left out, it is taken as bias too
    assert only(found("forwarder_8", **changes, front__tyre__construction=None), "warning")
    assert found("forwarder_8") == []  # 710/45-26.5: bias by its hyphen, and said so


def test_a_letter_l_before_the_r_hides_nothing() -> None:
    changes = {"front__tyre__designation": "28LR26"}
    issues = found("skidder_6", **changes)
    assert "MCH14" in {issue.code for issue in issues}


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("boom_mass_kg", 10000),
        ("boom_reach_m", 9.6),
        ("lifted_mass_kg", 14001),
        ("column_ahead_of_rear_m", 11.7),
        ("boom_stowed_ahead_of_rear_m", -5.9),
        ("boom_stowed_ahead_of_rear_m", 11.7),  # 9.6 m from the axis, the reach is 9.5
    ],
)
def test_a_crane_that_cannot_be_on_this_machine(key: str, value: float) -> None:
    issues = errors_in(found("forwarder_8", **{f"crane__{key}": value}))
    assert ("MCH15", f"m.toml, crane.{key}") in [(i.code, i.where) for i in issues]


def test_figures_of_a_crane_are_all_or_none() -> None:
    assert found("forwarder_8", crane=None) == []
    (issue,) = errors_in(found("forwarder_8", crane__tip_height_m=None))
    assert issue.where == "m.toml, crane.tip_height_m"
    (issue,) = errors_in(found("forwarder_8", crane__reach_m=950))
    assert (issue.code, issue.where) == ("MCH01", "m.toml, crane.reach_m")
    (issue,) = errors_in(found("forwarder_8", crane__hook_m=1.0))
    assert "hook_m" in issue.where


def test_a_machine_without_its_booms_must_stand_too() -> None:
    """Own arithmetic: the rest of 20 t with its centre 1.35 m high and 3.19 m ahead of the rear."""
    change = {"crane__boom_mass_kg": 7900, "crane__boom_stowed_height_m": 3.0}
    (low,) = errors_in(found("forwarder_8", **change))  # (27000 - 23700) / 12100 = 0.27 m
    assert (low.code, low.where) == ("MCH15", "m.toml, crane.boom_stowed_height_m")
    assert "0.27 m high" in low.what
    slip = only(found("forwarder_8", crane__boom_stowed_ahead_of_rear_m=9.0), "warning")
    assert (slip.code, slip.where) == ("MCH15", "m.toml, crane.boom_stowed_ahead_of_rear_m")
    assert "6.9 m from the axis" in slip.what


def test_ratings_that_are_missing_are_named_at_once() -> None:
    gap = {"front__tyre__rated_load_kg": None, "rear__rated_mass_kg": None}
    issue = only(found("forwarder_8", **gap), "warning")
    assert issue.code == "MCH12"
    assert "front.tyre.rated_load_kg, rear.rated_mass_kg" in issue.what
    assert found("forwarder_8") == []


def test_pressures_that_look_like_psi_are_asked_about() -> None:
    psi = {"rear__tyre__inflation_kpa": 65.0, "rear__tyre__charted_inflation_kpa": 65.0}
    issue = only(found("forwarder_8", **psi), "warning")
    assert (issue.code, issue.where) == ("MCH01", "m.toml, rear.tyre.inflation_kpa")
    assert "65 psi would be 448 kPa" in issue.fix
