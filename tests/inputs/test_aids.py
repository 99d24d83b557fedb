"""The catalogue of traction aids: the shipped one, and what is refused in a user's own."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from terrain.errors import errors_in
from terrain.inputs.aids import ISSUE_CODES, aids_from, read_aids
from terrain.inputs.machines import read_machine
from terrain.models.aids import Aid
from terrain.sources import STATUSES, data_table, source

CHAINS: dict[str, Any] = {
    "key": "chains-a",
    "name": "Chains",
    "kind": "chains",
    "mass_kg": 400.0,
    "fits_tyres": ["710/45-26.5"],
    "grip_through_film": True,
    "grip_factor": 1.05,
}
BAND: dict[str, Any] = {
    "key": "band-a",
    "name": "Band",
    "kind": "band track",
    "band_kind": "open traction",
    "mass_kg": 2000.0,
    "width_m": 0.8,
    "fits_tyres": ["710/45-26.5"],
}


def codes(*rows: dict[str, Any]) -> list[str]:
    aids, issues = aids_from({"aid": list(rows)}, "aids.toml")
    assert (aids == ()) == bool(errors_in(issues))
    assert all(issue.code in ISSUE_CODES or issue.code.startswith("TOML") for issue in issues)
    return [issue.code for issue in issues]


@pytest.fixture(scope="module")
def shipped() -> tuple[Aid, ...]:
    aids, record, issues = read_aids()
    assert [issue.code for issue in issues] == ["AID08"]
    assert record is not None
    assert record.role == "aids"
    return aids


def test_the_shipped_catalogue_has_every_kind(shipped: tuple[Aid, ...]) -> None:
    assert {(aid.kind, aid.band_kind) for aid in shipped} == {
        ("chains", None),
        ("wheel track", None),
        ("band track", "open traction"),
        ("band track", "closed flotation"),
        ("dual tyres", None),
    }


def test_every_shipped_figure_has_a_status(shipped: tuple[Aid, ...]) -> None:
    for aid in shipped:
        written = {"mass_kg", "grip_factor"}
        written |= {
            key
            for key in ("width_m", "grouser_height_m", "shoe_inner_width_m", "outer_diameter_m")
            if getattr(aid, key) is not None
        }
        assert written <= set(aid.status)
        assert set(aid.status.values()) <= set(STATUSES)


def test_only_figures_with_a_publication_are_called_published(shipped: tuple[Aid, ...]) -> None:
    rows = {row["key"]: row for row in data_table("aids")["aid"]}
    for aid in shipped:
        published = [key for key, word in aid.status.items() if word == "published"]
        if published:
            assert source(rows[aid.key]["source"])
            assert rows[aid.key]["where"]
    assert {aid.key for aid in shipped if "published" in aid.status.values()} == {
        "open-band-710",
        "closed-band-710",
    }


def test_published_figures_of_the_band_tracks(shipped: tuple[Aid, ...]) -> None:
    by_key = {aid.key: aid for aid in shipped}
    # Labelle and Jaeger 2012, as quoted by others: 1,100 kg each, two on a bogie
    assert by_key["open-band-710"].mass_kg == 2 * 1100
    # Uusitalo and Ala-Ilomaki 2013, table 2
    assert by_key["open-band-710"].width_m == 0.78
    assert by_key["closed-band-710"].width_m == 0.887


def test_the_file_says_that_masses_are_not_published() -> None:
    text = resources.files("terrain.data").joinpath("aids.toml").read_text(encoding="utf-8")
    header = " ".join(text.split("[[aid]]")[0].replace("#", " ").split())
    assert "not published in general" in header
    assert "Ask the supplier" in header


@pytest.mark.parametrize("name", ["forwarder_8", "skidder_6", "skidder_4"])
def test_every_wheel_of_the_demo_machines_finds_aids(name: str, shipped: tuple[Aid, ...]) -> None:
    path = Path(str(resources.files("sample_data"))) / "machines" / f"{name}.toml"
    machine, _, _ = read_machine(path)
    assert machine is not None
    for group in machine.groups:
        kinds = {aid.kind for aid in shipped if group.tyre.designation in aid.fits_tyres}
        assert {"chains", "wheel track"} <= kinds
        assert ("band track" in kinds) == (group.kind == "bogie")
        # also for the tyres of a bogie, so that the rule against duals there has something to say
        assert "dual tyres" in kinds


def test_outer_duals_are_smaller_than_the_inner_tyres(shipped: tuple[Aid, ...]) -> None:
    inner_m = {}
    for name in ("forwarder_8", "skidder_6", "skidder_4"):
        path = Path(str(resources.files("sample_data"))) / "machines" / f"{name}.toml"
        machine, _, _ = read_machine(path)
        assert machine is not None
        inner_m |= {group.tyre.designation: group.tyre.diameter_m for group in machine.groups}
    duals = [aid for aid in shipped if aid.kind == "dual tyres"]
    assert duals
    for aid in duals:
        assert aid.outer_diameter_m is not None
        assert all(aid.outer_diameter_m < inner_m[size] for size in aid.fits_tyres)


def test_a_users_catalogue(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        '[[aid]]\nkey = "c"\nname = "Own chains"\nkind = "chains"\nmass_kg = 380\n'
        'fits_tyres = ["710/45-26.5"]\nsource = "supplier\'s sheet"\nwhere = "page 2"\n'
    )
    aids, record, issues = read_aids(path, "own.toml")
    assert issues == []
    assert record is not None
    assert record.name == "own.toml"
    assert aids[0].mass_kg == 380.0
    assert dict(aids[0].status) == {"mass_kg": "planning assumption"}
    assert "supplier's sheet, page 2" in aids[0].notes


def test_a_status_may_stand_for_each_figure() -> None:
    row = {**BAND, "status": {"mass_kg": "published"}}
    aids, _ = aids_from({"aid": [row]}, "a")
    assert dict(aids[0].status) == {"mass_kg": "published", "width_m": "planning assumption"}


def test_good_rows_pass() -> None:
    assert codes(CHAINS, BAND) == []


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ({**CHAINS, "mass_kg": 0.4}, "AID01"),
        ({**BAND, "width_m": 78.0}, "AID01"),
        ({**BAND, "width_m": None}, "TOML06"),
        ({key: BAND[key] for key in BAND if key != "width_m"}, "AID03"),
        ({key: BAND[key] for key in BAND if key != "band_kind"}, "AID03"),
        ({**CHAINS, "width_m": 0.7}, "AID03"),
        ({**BAND, "outer_diameter_m": 1.2}, "AID03"),
        ({**CHAINS, "fits_tyres": ["wide"]}, "AID04"),
        ({**CHAINS, "fits_tyres": []}, "AID04"),
        ({**CHAINS, "status": "measured"}, "AID05"),
        ({**CHAINS, "status": {"mass": "published"}}, "AID05"),
        ({**CHAINS, "grip_factor": 1.3}, "AID07"),
        ({**CHAINS, "mass_kg": -1.0}, "TOML07"),
        ({**CHAINS, "mass_kg": "400 kg"}, "TOML06"),
        ({**CHAINS, "kind": "chain"}, "TOML08"),
        ({**CHAINS, "masse_kg": 3}, "TOML04"),
        ({**CHAINS, "key": "Has Blank"}, "TOML07"),
    ],
)
def test_bad_rows(row: dict[str, Any], code: str) -> None:
    if row.get("width_m", 1) is None:
        row = {**row, "width_m": "wide"}
    assert codes(row) == [code]


def test_two_rows_with_one_key() -> None:
    assert codes(CHAINS, {**BAND, "key": "chains-a"}) == ["AID02"]


def test_an_outer_dual_as_large_as_the_inner_tyre() -> None:
    dual = {
        "key": "dual",
        "name": "Dual",
        "kind": "dual tyres",
        "mass_kg": 900.0,
        "width_m": 0.6,
        "outer_diameter_m": 1.3121,  # the diameter of 710/45-26.5 itself
        "fits_tyres": ["710/45-26.5"],
    }
    assert codes(dual) == ["AID06"]
    assert codes({**dual, "outer_diameter_m": 1.25}) == []


def test_an_empty_catalogue_and_a_missing_one(tmp_path: Path) -> None:
    _, issues = aids_from({"aid": []}, "a")
    assert [issue.code for issue in issues] == ["TOML07"]
    _, issues = aids_from({}, "a")
    assert [issue.code for issue in issues] == ["TOML05"]
    aids, record, issues = read_aids(tmp_path / "none.toml")
    assert (aids, record) == ((), None)
    assert [issue.code for issue in issues] == ["TOML01"]


def test_several_faults_of_several_rows_come_together() -> None:
    bad = {**CHAINS, "grip_factor": 1.3, "fits_tyres": ["wide"], "extra": 1}
    assert sorted(codes(bad, {**BAND, "key": "chains-a"})) == ["AID02", "AID04", "AID07", "TOML04"]


def test_the_shipped_file_is_plain_toml() -> None:
    text = resources.files("terrain.data").joinpath("aids.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text) == data_table("aids")


OWN_EFFECT: dict[str, Any] = {
    "quantity": "motion resistance and fuel",
    "likely": 1.1,
    "low": 1.05,
    "high": 1.2,
    "source": "invented supplier's sheet, 2025",
}


def with_effects(row: dict[str, Any], *effects: dict[str, Any]) -> dict[str, Any]:
    return {**row, "effect": list(effects)}


def test_a_suppliers_effect_sets_the_figure_that_the_computation_uses() -> None:
    rut = {"quantity": "rut depth after ten passes", "likely": 0.6, "source": "own trial"}
    told = {"quantity": "road damage", "note": "not on tar", "source": "sheet"}
    aids, issues = aids_from({"aid": [with_effects(BAND, OWN_EFFECT, rut, told)]}, "a")
    assert issues == []
    aid = aids[0]
    assert (aid.resistance_factor, aid.rut_factor) == (1.1, 0.6)
    assert aid.status["resistance_factor"] == "supplier's figure"
    assert [effect.source for effect in aid.effects][:2] == [OWN_EFFECT["source"], "own trial"]
    assert aid.effects[0].low == 1.05
    assert aid.effects[2].note == "not on tar"


def test_an_effect_in_a_users_file(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        '[[aid]]\nkey = "c"\nname = "Own chains"\nkind = "chains"\nmass_kg = 380\n'
        'fits_tyres = ["710/45-26.5"]\nstatus = "supplier\'s figure"\n'
        '[[aid.effect]]\nquantity = "grip on soil"\nlikely = 1.08\nlow = 1.0\nhigh = 1.1\n'
        'source = "invented supplier\'s sheet"\n'
    )
    aids, _, issues = read_aids(path, "own.toml")
    assert issues == []
    assert aids[0].grip_factor == 1.08
    assert dict(aids[0].status) == {
        "mass_kg": "supplier's figure",
        "grip_factor": "supplier's figure",
    }


def test_without_effects_nothing_changes(shipped: tuple[Aid, ...]) -> None:
    for aid in shipped:
        assert (aid.resistance_factor, aid.rut_factor, aid.effects) == (1.0, None, ())


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (with_effects(BAND, {**OWN_EFFECT, "quantity": "luck"}), "AID09"),
        (with_effects(BAND, {**OWN_EFFECT, "quantity": "mass"}), "AID09"),
        (with_effects(BAND, {**OWN_EFFECT, "likely": 9.0, "high": 9.0}), "AID10"),
        (with_effects(BAND, {**OWN_EFFECT, "low": 1.3}), "AID10"),
        (with_effects(BAND, {"quantity": "wheel slip", "source": "sheet"}), "AID10"),
        (with_effects(BAND, {"quantity": "road damage", "likely": 1.0, "source": "s"}), "AID10"),
        (with_effects(BAND, OWN_EFFECT, OWN_EFFECT), "AID11"),
        (with_effects(CHAINS, {**OWN_EFFECT, "quantity": "grip on soil"}), "AID11"),
        (with_effects(BAND, {**OWN_EFFECT, "status": "measured"}), "AID05"),
        (
            with_effects(BAND, {"quantity": "grip on soil", "likely": 1.3, "source": "sheet"}),
            "AID07",
        ),
        (with_effects(BAND, {"quantity": "speed cap", "likely": 10.0}), "TOML05"),
        (with_effects(BAND, {**OWN_EFFECT, "figure": 1.0}), "TOML04"),
    ],
)
def test_bad_effects(row: dict[str, Any], code: str) -> None:
    assert codes(row) == [code]
