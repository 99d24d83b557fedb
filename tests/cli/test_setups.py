"""``rutwise setups``: the listing of setups, and of what each aid changes."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

from tests.cli.run import rutwise

MACHINE = str(Path(str(resources.files("sample_data"))) / "machines" / "forwarder_8.toml")
CATALOGUE = """\
[[aid]]
key = "own-band"
name = "own band tracks"
kind = "band track"
band_kind = "open traction"
mass_kg = 2000
width_m = 0.8
fits_tyres = ["710/45-26.5"]
[[aid.effect]]
quantity = "motion resistance and fuel"
likely = 1.1
low = 1.0
high = 1.2
source = "invented sheet"
"""


def test_setups_of_a_machine():
    shown = rutwise("setups", MACHINE, "--format", "json")
    assert shown.returncode == 0
    assert {"setup", "standing", "codes", "carries", "reason"} == set(json.loads(shown.stdout)[0])


def test_a_block_file_in_the_place_of_a_machine_file_is_one_message():
    block = str(Path(str(resources.files("sample_data"))) / "block.toml")
    done = rutwise("setups", block)
    assert done.returncode == 2
    assert done.stderr.count("ERROR") == 1
    assert "This is a block file; a machine file is asked for." in done.stderr
    assert "machines/forwarder_8.toml" in done.stderr
    planned = rutwise("plan", MACHINE, "-o", "never made")
    assert planned.returncode == 2
    assert "This is a machine file; a block file is asked for." in planned.stderr
    assert not Path("never made").exists()


def test_effects_of_the_users_catalogue(tmp_path):
    path = tmp_path / "aids.toml"
    path.write_text(CATALOGUE, encoding="utf-8")
    shown = rutwise("setups", MACHINE, "--aids", str(path), "--effects", "--format", "json")
    assert shown.returncode == 0
    rows = {row["effect"]: row for row in json.loads(shown.stdout)}
    own = rows["motion resistance and fuel"]
    assert (own["value"], own["status"], own["source"]) == (
        1.1,
        "supplier's figure",
        "invented sheet",
    )
    assert rows["speed cap"]["used_for"] == "told, not computed"
    assert {row["aid_key"] for row in rows.values()} == {"own-band"}


def test_effects_fit_a_narrow_terminal():
    shown = rutwise("setups", MACHINE, "--effects", COLUMNS="80")
    assert shown.returncode == 0
    assert "told, not" in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 80
