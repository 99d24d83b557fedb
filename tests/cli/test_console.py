"""The terminal: tables of 80 columns, a bar on a terminal, plain lines when piped."""

from __future__ import annotations

import io
import sys

import pytest

from cli.console import TABLE_WIDTH, Format, print_rows, progress
from tests.outputs.synthetic import decided, make_plan


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_piped_table_fits_eighty_columns(capsys) -> None:
    rows = [{"setup": "closed flotation band tracks " * 4, "short": "1,903 ft", "aids": "10 lb"}]
    print_rows(rows, ("setup", "short", "aids"), Format.TABLE, "Setups")
    lines = capsys.readouterr().out.splitlines()
    assert TABLE_WIDTH == 80
    assert max(len(line) for line in lines) <= 80
    assert len(lines) > 4


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_setups_of_a_plan_fit_and_are_in_the_units_chosen(capsys, units: str) -> None:
    from cli.commands.plan import _print_setups
    from terrain.outputs.shown_units import shown_in

    _print_setups(decided(make_plan()), shown_in(units))
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert ("9,700 lb" in text) == (units == "us")
    assert "ask the manufacturer first" not in text


def test_a_csv_listing_holds_no_formula_and_leaves_the_unknown_empty(capsys) -> None:
    rows = [{"trail": " =1+2", "grade": -0.5}, {"trail": "@T2", "grade": float("nan")}]
    print_rows(rows, ("trail", "grade"), Format.CSV)
    assert capsys.readouterr().out.splitlines() == ["trail,grade", "' =1+2,-0.5", "'@T2,"]


def test_piped_progress_is_one_plain_line_a_stage(monkeypatch) -> None:
    err = io.StringIO()
    monkeypatch.setattr(sys, "stderr", err)
    with progress() as stage:
        stage("reading the inputs")
        stage("computing slopes")
    assert err.getvalue() == "reading the inputs\ncomputing slopes\n"


def test_a_terminal_shows_a_bar_and_keeps_the_stages(monkeypatch) -> None:
    err = Terminal()
    monkeypatch.setattr(sys, "stderr", err)
    monkeypatch.setenv("TERM", "xterm")
    with progress() as stage:
        stage("reading [red] inputs")
        stage("computing slopes")
    text = err.getvalue()
    assert " s  reading [red] inputs" in text
    assert " s  computing slopes" in text
    assert "\x1b[" in text


def test_a_fault_inside_ends_the_bar_and_is_passed_on(monkeypatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())

    def fail() -> None:
        with progress() as stage:
            stage("reading")
            raise RuntimeError("broken")

    with pytest.raises(RuntimeError, match="broken"):
        fail()
