"""``rutwise fit`` as a user runs it, on an invented machine file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import sample_data
from cli.commands.fit import fit
from terrain.errors import InputRefused

MACHINES = Path(sample_data.__file__).parent / "machines"
FORWARDER = str(MACHINES / "forwarder_8.toml")
app = typer.Typer()
app.command()(fit)


def run(*arguments: str):
    return CliRunner().invoke(app, [FORWARDER, *arguments])


def findings(*arguments: str):
    result = run(*arguments, "--format", "json")
    return result, {(row["check"], row["where"]): row for row in json.loads(result.stdout)}


GOOD = (
    "--aid", "open-band-710", "--clearance-left", "10 mm", "--clearance-right", "3/8 in",
    "--sag-left", "55 mm", "--sag-right", "1 1/2 in", "--pressure", "450 kPa",
    "--air-only", "--make-named", "--tyre", "710/45R26.5",
)  # fmt: skip


def test_all_in_order():
    result, rows = findings(*GOOD)
    assert result.exit_code == 0
    assert {row["result"] for row in rows.values()} == {"in order"}
    assert "approves nothing" in result.stderr


@pytest.mark.parametrize(
    ("option", "value", "check"),
    [
        ("--sag-left", "39 mm", "band-track sag"),
        ("--sag-right", "3 in", "band-track sag"),
        ("--clearance-left", "5 mm", "band-track shoe clearance"),
        ("--pressure", "50 psi", "cold tyre pressure"),
        ("--charted", "300 kPa", "cold tyre pressure"),
        ("--tyre", "600/50-22.5", "tyre size"),
    ],
)
def test_one_fault_ends_with_exit_code_3(option, value, check):
    result, rows = findings(*GOOD, option, value)
    assert result.exit_code == 3
    assert {row["check"] for row in rows.values() if row["result"] == "not in order"} == {check}


def test_a_flat_tyre_is_inspected_and_not_inflated():
    for arguments in (("--pressure", "0 kPa"), (*GOOD, "--pressure", "50 psi")):
        result = run(*arguments)
        assert result.exit_code == 3
        assert "Inflate" not in result.stdout
        assert "Do not drive and do not put air in" in result.stdout
        assert "from memory" in result.stderr
    # a small shortfall: 400 of 450 kPa
    result = run(*GOOD, "--pressure", "400 kPa")
    assert "Inflate to 450 kPa" in result.stdout


def test_duals_for_another_tyre_and_far_too_small_are_not_in_order():
    skidder = str(MACHINES / "skidder_4.toml")
    result = CliRunner().invoke(app, [skidder, "--aid", "duals-710", "--format", "json"])
    assert result.exit_code == 3
    rows = {row["check"]: row for row in json.loads(result.stdout)}
    assert rows["tyre size"]["result"] == "not in order"
    assert rows["diameters of the dual tyres"]["result"] == "not in order"
    assert "1.290 m" in rows["diameters of the dual tyres"]["measured"]
    # the catalogue's own pairs are not called wrong
    result = CliRunner().invoke(app, [skidder, "--aid", "duals-30-5l", "--format", "json"])
    rows = {row["check"]: row for row in json.loads(result.stdout)}
    assert rows["diameters of the dual tyres"]["result"] == "in order"
    assert rows["tyre size"]["result"] == "in order"


def test_a_wheel_track_sheet_can_be_in_order():
    arguments = (
        "--aid", "wheel-tracks-710-bogie", "--track-inside", "4.11 m", "--tyre-outside", "4.12 m",
        "--sits-tight", "--pressure", "450 kPa", "--air-only", "--make-named",
    )  # fmt: skip
    result, rows = findings(*arguments)
    assert result.exit_code == 0
    assert "0 not in order, 0 cannot be told" in result.stderr
    assert {row["result"] for row in rows.values()} == {"in order", "for information"}


def test_each_measurement_is_judged_in_its_own_units():
    # 1 1/2 in is 38.1 mm: in order on an inch tape, too tight by the metric figure
    result, _ = findings(*GOOD, "--units", "metric")
    assert result.exit_code == 3
    _, rows = findings(*GOOD, "--units", "us")
    assert rows["band-track sag", "rear bogie, right"]["measured"] == "1 1/2 in (38 mm)"


def test_nothing_measured_says_so_and_is_no_failure():
    result, rows = findings("--aid", "open-band-710")
    assert result.exit_code == 0
    assert rows["band-track sag", "rear bogie, left"]["result"] == "cannot tell"
    assert rows["liquid ballast", "rear bogie"]["result"] == "cannot tell"


def test_table_says_what_to_do():
    result = run(*GOOD, "--sag-left", "90 mm")
    assert "not in order" in result.stdout
    assert "walk off" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "codes"),
    [
        (("--sag-left", "12", "--pressure", "2 feet"), ["MEA01", "MEA01"]),
        (("--aid", "no-such-aid"), ["MEA02"]),
        (("--aids", "none.toml"), ["TOML01"]),
    ],
)
def test_refusals_list_every_fault(arguments, codes):
    result = run(*arguments)
    assert isinstance(result.exception, InputRefused)
    assert [issue.code for issue in result.exception.issues] == codes
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("--pressure", "4000 kPa", "--charted", "4500 kPa"), "beyond the 900 kPa"),
        (("--pressure", "600 psi"), "beyond the 900 kPa"),
        (("--charted", "0 kPa", "--pressure", "50 kPa"), "below the 40 kPa"),
        (("--charted", "39 kPa"), "below the 40 kPa"),
    ],
)
def test_pressures_that_no_forest_tyre_has_are_refused(arguments, word):
    result = run(*arguments)
    assert isinstance(result.exception, InputRefused)
    assert {issue.code for issue in result.exception.issues} == {"PRS09"}
    assert all(word in issue.what for issue in result.exception.issues)
    assert result.exception.issues[0].where.startswith("option --")
    assert result.stdout == ""


def test_the_ends_of_the_span_are_read():
    for arguments in (("--pressure", "0 kPa"), ("--pressure", "900 kPa", "--charted", "40 kPa")):
        assert run(*arguments).exit_code == 3
