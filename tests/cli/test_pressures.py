"""``rutwise pressures`` as a user runs it, on invented logs."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import sample_data
from cli.commands.pressures import pressures
from terrain.errors import InputRefused

MACHINES = Path(sample_data.__file__).parent / "machines"
app = typer.Typer()
app.command()(pressures)


def write(path: Path, series: dict[str, list[float | None]], unit: str = "kpa") -> str:
    lines = [f"date,tyre,pressure_{unit}"]
    for tyre, values in series.items():
        for number, value in enumerate(values):
            day = date(2026, 5, 4) + timedelta(number)
            lines.append(f"{day},{tyre},{'' if value is None else value}")
    path.write_text("\n".join(lines), encoding="utf-8")
    return str(path)


def run(log: str, *arguments: str):
    return CliRunner().invoke(app, [log, *arguments])


def test_sound_log_ends_with_0_and_says_nothing(tmp_path):
    log = write(tmp_path / "log.csv", {"front left": [450.0] * 10})
    result = run(log, "--charted-low", "430 kPa", "--charted-high", "470 kPa", "--format", "json")
    assert result.exit_code == 0
    assert json.loads(result.stdout) == []
    assert "out of range 0" in result.stderr


def test_low_reading_leak_and_gap(tmp_path):
    log = write(
        tmp_path / "log.csv",
        {
            "front left": [450.0] * 12,
            "rear left": [460.0 - 3 * i for i in range(12)],
            "rear right": [450.0] * 5 + [None] + [450.0] * 6,
        },
    )
    result = run(log, "--machine", str(MACHINES / "forwarder_8.toml"), "--format", "json")
    assert result.exit_code == 3
    rows = json.loads(result.stdout)
    # 450 kPa charted less 5 % is 427.5: the readings 427 of day 12 only
    assert [(row["finding"], row["tyre"]) for row in rows] == [
        ("below the charted range", "rear left"),
        ("slow leak", "rear left"),
        ("not read", "rear right"),
    ]
    assert "valve stems" in rows[0]["what_to_do"]
    assert "90 kPa" in rows[1]["measured"]
    assert "2026-05-09" in rows[2]["day"]


def test_no_chart_is_said_and_not_judged(tmp_path):
    result = run(write(tmp_path / "log.csv", {"front left": [450.0] * 10}))
    assert result.exit_code == 0
    assert "not judged: front left" in result.stderr


def test_psi_in_psi_out(tmp_path):
    log = write(tmp_path / "log.csv", {"a": [65.0] * 9 + [40.0]}, "psi")
    result = run(log, "--charted-low", "60 psi", "--format", "json")
    assert json.loads(result.stdout)[0]["measured"] == "40 psi (276 kPa)"


def test_csv_never_starts_a_formula(tmp_path):
    log = write(tmp_path / "log.csv", {"=1+1": [450.0, 200.0]})
    result = run(log, "--charted-low", "400 kPa", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert rows[0]["tyre"] == "'=1+1"


@pytest.mark.parametrize("extra", [(), ("--charted-low", "5 bar", "--charted-high", "4 bar")])
def test_mixed_units_and_upside_down_ranges_are_refused(tmp_path, extra):
    values = [450.0, 449.0, 65.0] if not extra else [450.0, 449.0]
    result = run(write(tmp_path / "log.csv", {"a": values}), *extra)
    assert isinstance(result.exception, InputRefused)
    assert [issue.code for issue in result.exception.issues] == ["PRS04" if extra else "PRS06"]
    assert result.stdout == ""
