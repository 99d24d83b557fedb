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
from terrain.inputs.machines import read_machine

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
        (("--sag-left", "12", "--pressure", "2 feet"), ["MEA01", "MEA01", "MEA03"]),
        (("--aid", "no-such-aid", "--sag-left", "12"), ["MEA02", "MEA01"]),
        (
            ("--aid", "chains-710-bogie", "--sag-left", "10 m", "--charted", "9 bar", "--creeps"),
            ["MEA04", "MEA03", "MEA03"],
        ),
        (("--charted", "90 bar", "--clearance-left", "1 ft"), ["MEA04", "PRS09", "MEA03"]),
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
    ("aid", "arguments", "options", "words"),
    [
        (
            None,
            ("--sag-left", "200 mm", "--clearance-left", "1 mm", "--pressure", "450 kPa"),
            ["--clearance-left", "--sag-left"],
            ("No --aid is given", "a band track", "open-band-710"),
        ),
        (None, ("--make-not-named",), ["--make-not-named"], ("an aid", "chains-710-bogie")),
        (None, ("--sits-tight",), ["--sits-tight"], ("a wheel track", "wheel-tracks-710-bogie")),
        (
            "chains-710-bogie",
            ("--sag-right", "55 mm", "--make-named"),
            ["--sag-right"],
            ("chains-710-bogie is of the kind chains", "a band track", "closed-band-710"),
        ),
        (
            "open-band-710",
            ("--outer-diameter", "2 m", "--inner-diameter", "1 m"),
            ["--inner-diameter", "--outer-diameter"],
            ("dual tyres", "duals-710"),
        ),
        (
            "duals-710",
            ("--creeps", "--track-inside", "4.1 m", "--tyre-outside", "4.12 m"),
            ["--track-inside", "--tyre-outside", "--creeps"],
            ("a wheel track",),
        ),
    ],
)
def test_what_the_aid_has_no_check_for_is_refused(aid, arguments, options, words):
    result = run(*(("--aid", aid) if aid else ()), *arguments)
    assert isinstance(result.exception, InputRefused)
    issues = result.exception.issues
    assert [(issue.code, issue.where) for issue in issues] == [
        ("MEA03", f"option {option}") for option in options
    ]
    for issue in issues:
        assert all(word in f"{issue.what} {issue.fix}" for word in words)
    assert result.stdout == ""


def test_a_catalogue_without_such_an_aid_says_so(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[[aid]]\nkey = "x"\nname = "x"\nkind = "chains"\nmass_kg = 700.0\n')
    result = run("--aids", str(own), "--aid", "x", "--sag-left", "50 mm")
    assert [issue.code for issue in result.exception.issues] == ["MEA03"]
    assert "the catalogue has no band track" in result.exception.issues[0].fix


@pytest.mark.parametrize(
    ("aid", "option", "text", "word"),
    [
        ("open-band-710", "--clearance-left", "10 m", "10 m is beyond the 200 mm"),
        ("open-band-710", "--clearance-right", "8 in", "8 in is beyond the 7.87 in"),
        ("open-band-710", "--sag-left", "5.5 m", "5.5 m is beyond the 350 mm"),
        ("open-band-710", "--sag-right", "40 cm", "40 cm is beyond the 350 mm"),
        ("wheel-tracks-710-bogie", "--track-inside", "412 m", "412 m is beyond the 9.5 m"),
        ("wheel-tracks-710-bogie", "--tyre-outside", "4.12 mm", "4.12 mm is below the 500 mm"),
        ("duals-710", "--inner-diameter", "13 cm", "13 cm is below the 500 mm"),
        ("duals-710", "--outer-diameter", "51 ft", "51 ft is beyond the 374.02 in"),
    ],
)
def test_lengths_that_no_fitted_aid_has_are_refused(aid, option, text, word):
    # the bounds are planning assumptions
    result = run("--aid", aid, option, text)
    assert isinstance(result.exception, InputRefused)
    (issue,) = result.exception.issues
    assert (issue.code, issue.where) == ("MEA04", f"option {option}")
    assert issue.what.startswith(word)
    assert "unit mixed up or a typing slip" in issue.what


def test_the_ends_of_the_lengths_are_read():
    for low, high in (("0 mm", "200 mm"), ("0 in", "7 3/4 in")):
        assert run(*GOOD, "--clearance-left", low, "--clearance-right", high).exit_code == 3
    assert run(*GOOD, "--sag-left", "0 mm", "--sag-right", "350 mm").exit_code == 3
    result, rows = findings(
        "--aid", "wheel-tracks-710-bogie", "--track-inside", "0.5 m", "--tyre-outside", "9.5 m"
    )
    assert result.exit_code == 0
    assert rows["wheel-track tightness", "rear bogie"]["result"] == "cannot tell"


@pytest.mark.parametrize(
    ("inside", "outside"), [("1.0 m", "4.12 m"), ("1.31 m", "1.312 m"), ("4.12 m", "4.12 m")]
)
def test_impossible_wheel_track_figures_are_a_question_and_no_failure(inside, outside):
    result, rows = findings(
        "--aid", "wheel-tracks-710-bogie", "--track-inside", inside, "--tyre-outside", outside
    )
    assert result.exit_code == 0
    assert rows["wheel-track tightness", "rear bogie"]["result"] == "cannot tell"
    assert "planning assumption" in result.stderr


def test_another_chart_and_a_decimal_comma_are_told():
    _, rows = findings("--charted", "500 kPa", "--pressure", "500 kPa", "--tyre", "710/45-26,5")
    pressure = rows["cold tyre pressure", "rear bogie"]
    assert pressure["result"] == "in order"
    assert "the machine file has 450 kPa" in pressure["allowed"]
    size = rows["tyre size", "rear bogie"]
    assert (size["result"], size["measured"]) == ("in order", "710/45-26.5 on the sidewall")


def test_a_machine_file_and_a_catalogue_with_decimal_commas(tmp_path):
    text = Path(FORWARDER).read_text(encoding="utf-8")
    assert text.count("710/45-26.5") == 2
    own, aids = tmp_path / "own.toml", tmp_path / "aids.toml"
    own.write_text(text.replace("710/45-26.5", "710/45-26,5"), encoding="utf-8")
    aids.write_text(
        '[[aid]]\nkey = "x"\nname = "x"\nkind = "chains"\nmass_kg = 700.0\n'
        'fits_tyres = ["710/45R26,50"]\n'
    )
    arguments = [str(own), "--aids", str(aids), "--aid", "x", "--format", "json"]
    result = CliRunner().invoke(app, arguments)
    size = next(row for row in json.loads(result.stdout) if row["check"] == "tyre size")
    assert size["result"] == "in order"
    assert size["measured"] == "710/45-26.5 in the machine file"
    assert size["allowed"] == "710/45R26.50"
    read, _, _ = read_machine(own)
    assert [one.tyre.designation for one in read.groups] == ["710/45-26.5"] * 2


def test_a_chart_typed_in_psi_is_shown_in_psi_before_anything_is_measured():
    _, rows = findings("--charted", "73 psi")
    assert rows["cold tyre pressure", "rear bogie"]["allowed"].startswith("73 psi (503 kPa)")


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


def test_a_pressure_and_a_chart_in_two_units_are_refused():
    # 65 psi are 448 kPa, 6.9 times the 65 kPa that were meant as psi
    done = run("--pressure", "65 psi", "--charted", "65 kPa")
    assert isinstance(done.exception, InputRefused)
    assert [(i.code, i.where) for i in done.exception.issues] == [("PRS11", "option --pressure")]


def test_an_aid_for_the_other_kind_of_axle_is_not_in_order(tmp_path):
    catalogue = tmp_path / "aids.toml"
    catalogue.write_text(
        '[[aid]]\nkey = "c"\nname = "chains"\nkind = "chains"\nmass_kg = 400\n'
        'axle_kind = "single"\n'
        'fits_tyres = ["710/45-26.5"]\nstatus = "planning assumption"\n'
    )
    arguments = ("--aids", str(catalogue), "--aid", "c", "--make-named", "--pressure", "450 kPa")
    result, rows = findings(*arguments)
    assert result.exit_code == 3
    row = rows[("kind of axle", "rear bogie")]
    assert row["result"] == "not in order"
    assert "made for a single axle" in row["allowed"]
    assert not any(check == "kind of axle" for check, _ in findings(*GOOD)[1])
