"""Reading hand-written TOML: every fault at once, each with key, allowed values and a remedy."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import Field

from terrain.inputs.toml_files import (
    ISSUE_CODES,
    StrictTable,
    check_table,
    read_toml,
    without_unknown_keys,
)
from terrain.inputs.unit_slips import bare_number_advice, slip_advice


class Wheel(StrictTable):
    diameter_m: float = Field(gt=0, description="diameter in metres")
    radial: bool = False


class Cart(StrictTable):
    name: str = Field(min_length=1)
    kind: Literal["hand cart", "ox cart"]
    mass_kg: float = Field(gt=0)
    count: int = Field(1, ge=1, le=9)
    wheel: Wheel
    spare: Wheel | None = None
    parts: list[Wheel] = Field([])
    tag: str | dict[str, str] = ""
    shares: list[Annotated[float, Field(le=1)]] = Field([], description="shares of it")
    cover: Literal["litter or sod", "ice"] = "ice"
    code: str = Field("a", pattern="^[a-z]$", description="one small letter")


GOOD = {"name": "a", "kind": "ox cart", "mass_kg": 17, "wheel": {"diameter_m": 1.0}}


def test_a_good_table_passes() -> None:
    cart, issues = check_table(Cart, GOOD, "cart.toml")
    assert issues == []
    assert cart is not None
    assert cart.mass_kg == 17.0


def test_all_faults_are_listed_at_once() -> None:
    table = {
        "name": "",
        "kind": "ox car",
        "mass_kg": "19 t",
        "count": 12,
        "colour": "red",
        "wheel": {"diametre_m": 1.0, "radial": "yes"},
        "parts": [{"diameter_m": 1.0}, {"diameter_m": -1.0}],
    }
    cart, issues = check_table(Cart, table, "cart.toml")
    assert cart is None
    found = {(issue.code, issue.where) for issue in issues}
    assert found == {
        ("TOML07", "cart.toml, name"),
        ("TOML08", "cart.toml, kind"),
        ("TOML06", "cart.toml, mass_kg"),
        ("TOML07", "cart.toml, count"),
        ("TOML04", "cart.toml, colour"),
        ("TOML05", "cart.toml, wheel.diameter_m"),
        ("TOML04", "cart.toml, wheel.diametre_m"),
        ("TOML06", "cart.toml, wheel.radial"),
        ("TOML07", "cart.toml, parts[2].diameter_m"),
    }
    assert all(issue.severity == "error" and issue.fix for issue in issues)


def fault(**changes: object) -> str:
    _, issues = check_table(Cart, {**GOOD, **changes}, "cart.toml")
    assert len(issues) == 1
    return str(issues[0])


def test_an_unknown_key_names_the_nearest_known_one() -> None:
    assert "Did you mean diameter_m?" in fault(wheel={"diameter_m": 1.0, "diametr_m": 1.0})
    assert "Did you mean mass_kg?" in fault(mass_t=1)


def test_a_key_in_the_wrong_table_is_sent_home() -> None:
    assert "It belongs to wheel.radial" in fault(radial=True)


def test_a_far_off_key_gets_the_list_of_allowed_ones() -> None:
    text = fault(xyzzy=1)
    assert "Did you mean" not in text
    assert "Allowed here: name, kind, mass_kg" in text


def test_a_number_with_a_unit_is_turned_into_advice() -> None:
    assert "mass_kg = 19000" in fault(mass_kg="19 t")
    assert "it must be a bare number" in fault(mass_kg="19 t")


def test_negative_infinite_and_true_are_no_masses() -> None:
    assert "it must be more than 0" in fault(mass_kg=-1.0)
    assert "it must be a finite number" in fault(mass_kg=float("nan"))
    assert "it must be a finite number" in fault(mass_kg=float("inf"))
    assert "it must be a bare number" in fault(mass_kg=True)


def test_a_wrong_word_shows_the_allowed_words_and_the_nearest() -> None:
    text = fault(kind="ox-cart")
    assert 'Did you mean "ox cart"?' in text
    assert '"hand cart"' in text


def test_allowed_words_are_listed_whole() -> None:
    text = fault(cover="litter")
    assert text.endswith('Did you mean "litter or sod"? Allowed: "litter or sod", "ice".')
    assert "Did you mean" not in fault(cover="mud")
    assert 'cover is "mud".' in fault(cover="mud")


def test_an_entry_of_a_list_is_told_with_its_key() -> None:
    text = fault(shares=[0.5, 1.5])
    assert "shares[2] is 1.5, it must be at most 1." in text
    assert "Give shares[2] within its range: shares of it." in text
    assert "shares[1]" in fault(shares=["x"])


def test_no_rule_of_the_program_is_printed_where_words_do() -> None:
    text = fault(code="A1")
    assert 'code is "A1", which is not allowed.' in text
    assert "Correct code: one small letter." in text
    assert "^" not in text
    assert "name is empty." in fault(name="")


@pytest.mark.parametrize(
    ("text", "role", "said"),
    [
        ("[dem]\n[machine]\nfile='m.toml'", "machine file", "a block file; a machine file"),
        ("[machine]\n[front]", "block file", "a machine file; a block file"),
        ("[[aid]]", "machine file", "a catalogue of aids; a machine file"),
        ("[block]", "aid catalogue", "a block file; an aid catalogue"),
        ("[[profile]]", "block file", "a file of rule profiles; a block file"),
    ],
)
def test_a_file_of_another_kind_is_one_issue(
    tmp_path: Path, text: str, role: str, said: str
) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text)
    file, (issue,) = read_toml(path, role)
    assert file is None
    assert issue.code == "TOML09"
    assert f"This is {said} is asked for." in issue.what
    assert ("m.toml" in issue.fix) == ("m.toml" in text)


@pytest.mark.parametrize("text", ["", "[front]\n[dem]", "[frnt]"])
def test_what_is_not_clearly_of_another_kind_is_read_on(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text)
    assert read_toml(path, "machine file")[0] is not None


def test_a_part_declared_twice_is_named(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("[soils]\nid = 1\n[soils]\n")
    (issue,) = read_toml(path, "block file")[1]
    assert "The part [soils] stands in the file a second time (at line 3" in issue.what
    assert "only once" in issue.fix
    path.write_text("[front.tyre]\n[front.tyre]\n")
    assert "[front.tyre] stands" in read_toml(path)[1][0].what


def test_a_table_where_a_value_belongs_and_the_reverse() -> None:
    assert "wheel is 3, it must be a table of keys" in fault(wheel=3)
    assert "name is a table, it must be a text in quotes" in fault(name={"x": 1})


def test_a_union_points_to_the_key_of_the_file() -> None:
    _, issues = check_table(Cart, {**GOOD, "tag": 3}, "cart.toml")
    assert {issue.where for issue in issues} == {"cart.toml, tag"}


def test_unknown_keys_can_be_left_out_to_go_on_checking() -> None:
    table = {**GOOD, "x": 1, "wheel": {"diameter_m": 1.0, "y": 2}, "parts": [{"z": 1}]}
    pruned = without_unknown_keys(Cart, table)
    assert pruned == {**GOOD, "wheel": {"diameter_m": 1.0}, "parts": [{}]}
    assert table["wheel"]["y"] == 2


def test_reading_gives_table_and_digest(tmp_path: Path) -> None:
    path = tmp_path / "å file.toml"
    path.write_bytes('\ufeffname = "é"\r\n'.encode())  # a byte order mark and Windows line ends
    file, issues = read_toml(path)
    assert issues == []
    assert file is not None
    assert file.table == {"name": "é"}
    assert file.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_missing_file_names_the_one_of_nearly_the_same_name(tmp_path: Path) -> None:
    (tmp_path / "forwarder.toml").write_text("")
    file, issues = read_toml(tmp_path / "forwardr.toml", "machine file")
    assert file is None
    assert issues[0].code == "TOML01"
    assert "machine file does not exist" in issues[0].what
    assert "forwarder.toml" in issues[0].fix
    assert read_toml(tmp_path / "no" / "x.toml")[1][0].fix.startswith("There is no folder")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert read_toml(tmp_path)[1][0].code == "TOML02"


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(6_000_000)
    assert read_toml(path)[1][0].code == "TOML02"


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"a = 1\nb = = 2\n", "line 2"),
        (b"a = 19 t\n", "line 1"),
        (b"a = 1\na = 2\n", "line 2"),
        (b"a = 1\n\nb = '\xff'\n", "Line 3"),
        (b"a = [" + b"[" * 5000, ""),
    ],
)
def test_a_syntax_error_names_its_line(tmp_path: Path, content: bytes, line: str) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    file, issues = read_toml(path)
    assert file is None
    assert issues[0].code == "TOML03"
    assert line in issues[0].what


@pytest.mark.parametrize(
    ("key", "value", "advice"),
    [
        ("mass_kg", "19 t", "mass_kg = 19000."),
        ("mass_kg", "19,5t", "mass_kg = 19500."),
        ("mass_kg", "900", "mass_kg = 900."),
        ("inflation_kpa", "4.5 bar", "inflation_kpa = 450."),
        ("inflation_kpa", "50 psi", "inflation_kpa = 344.7379."),  # 1 psi = 6.894757 kPa
        ("width_m", "28 in", "width_m = 0.7112."),  # 1 in = 25.4 mm
        ("width_m", "3 bananas", "without a unit"),
        ("wheels", "4", "wheels = 4."),
    ],
)
def test_advice_for_texts(key: str, value: str, advice: str) -> None:
    assert advice in bare_number_advice(key, value)


def test_no_advice_where_none_is_sure() -> None:
    assert bare_number_advice("mass_kg", "heavy") == ""
    assert bare_number_advice("mass_kg", 3) == ""
    assert bare_number_advice("wheels", "4 big") == ""


def test_slip_advice() -> None:
    assert slip_advice("unladen_mass_kg", 17, 2000, 60000) == "If 17 is meant in t, write 17000."
    assert "bar" in slip_advice("inflation_kpa", 4.5, 40, 900)
    assert slip_advice("unladen_mass_kg", 1e9, 2000, 60000) == ""
    assert slip_advice("wheels", 1e9, 2, 4) == ""


def test_codes_are_unique_and_titled() -> None:
    assert all(title for title in ISSUE_CODES.values())


def test_importing_stays_light() -> None:
    code = (
        "import sys, terrain.inputs.toml_files, terrain.inputs.machines, terrain.inputs.block_file;"
        "print([m for m in ('geopandas','pandas','rasterio','shapely') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
