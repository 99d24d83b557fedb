"""Read a log of cold tyre pressures (CSV) that holds one unit throughout, or refuse it.

Columns: ``date`` (2026-05-04, a time after it is ignored), ``tyre`` (any name), and the pressure
as ``pressure_kpa``, ``pressure_bar`` or ``pressure_psi``; or ``pressure`` with a ``unit`` column or
with the unit in each cell. ``charted_low_kpa`` and ``charted_high_kpa`` (or bar, psi, as the
pressure) may give the charted range. Comma, semicolon or tab between the cells.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from terrain.errors import Issue, errors_in
from terrain.inputs.csv_rows import csv_rows
from terrain.units import BAR_KPA, PSI_KPA

__all__ = ["ISSUE_CODES", "PressureLog", "read_pressure_log"]

ISSUE_CODES = {
    "PRS01": "the pressure log cannot be read",
    "PRS02": "a column of the pressure log is missing or appears twice",
    "PRS03": "a row of the pressure log has no clear date or tyre",
    "PRS04": "a pressure is not a number, or the charted range is upside down",
    "PRS05": "the pressure log mixes units or names none",
    "PRS06": "a pressure is in another unit than the log says, or a typing slip",
    "PRS07": "the pressure log holds no reading",
    "PRS08": "columns or cells of the pressure log were not used",
    "PRS09": "a pressure on the command line is one that no forest tyre has",
    "PRS10": "what the wheels carry does not go with the machine file, or there is none",
    "PRS11": "a reading and its chart are in different units",
}
"""Issue codes of this module and what they stand for."""

MAX_BYTES = 20_000_000
PLAUSIBLE_KPA = (40.0, 900.0)
"""Cold inflation that a forest tyre can have; the same span as for a machine file.

A reading above it is refused. One below it is a flat tyre, and has to be read.
"""

_UNITS = {"kpa": 1.0, "bar": BAR_KPA, "psi": PSI_KPA}
_CELL = re.compile(r"\s*(?P<number>[0-9]+(?:\.[0-9]+|,[0-9]{1,2})?)\s*(?P<unit>[A-Za-z]*)\s*")
_DATE = re.compile(r"(?P<day>(?P<year>\d{4})-\d\d-\d\d)([ T]\d\d:\d\d(:\d\d)?)?")
_YEARS = (1990, 2099)
MOST_TYRES = 200
_VALUES = ("pressure", "charted_low", "charted_high")


@dataclass(frozen=True, slots=True)
class PressureLog:
    """Readings in the order of the file, all arrays of one length.

    Pressures in kPa, NaN where a cell is empty; ``line`` is the line of the file; ``unit`` the one
    unit of the log (``kpa``, ``bar`` or ``psi``).
    """

    name: str
    unit: str
    line: NDArray[np.int64]
    day: NDArray[np.datetime64]
    tyre: tuple[str, ...]
    pressure_kpa: NDArray[np.float64]
    low_kpa: NDArray[np.float64]
    high_kpa: NDArray[np.float64]


@dataclass(slots=True)
class _Row:
    line: int
    day: str
    tyre: str
    values: dict[str, float]
    units: dict[str, str]
    unit_in_cell: bool


def read_pressure_log(path: str | Path) -> tuple[PressureLog | None, list[Issue]]:
    """Read and check the log at ``path``.

    Returns
    -------
    PressureLog or None
        None when there is an error.
    list of Issue
        Every fault at once, each with the line.
    """
    text, issues = _text(Path(path))
    name = Path(path).name
    if text is None:
        return None, issues
    table, issues = _table(text, name)
    if errors_in(issues):
        return None, issues
    columns = table[0][1]
    rows: list[_Row] = []
    for line, cells in table[1:]:
        row, found = _row(line, cells, columns, name)
        issues += found
        if row is not None:
            rows.append(row)
    _one_spelling(rows)
    issues += _unit_issues(rows, name) + _tyre_issues(rows, name)
    if not errors_in(issues):
        issues += _slip_issues(rows, name) or _beyond_issues(rows, name)
        if not any(not math.isnan(row.values["pressure"]) for row in rows):
            issues.append(
                Issue("PRS07", "error", "There is no reading.", name, "Add rows below the header.")
            )
    if errors_in(issues):
        return None, issues
    return _log(rows, name), issues


def _text(path: Path) -> tuple[str | None, list[Issue]]:
    def refused(what: str, fix: str) -> tuple[None, list[Issue]]:
        return None, [Issue("PRS01", "error", what, str(path), fix)]

    try:
        if not path.is_file():
            return refused("There is no such file.", "Check the name; a CSV file is wanted.")
        if path.stat().st_size > MAX_BYTES:
            return refused(f"It is larger than {MAX_BYTES} bytes.", "Split the log by year.")
        return path.read_bytes().decode("utf-8-sig"), []
    except OSError as error:
        return refused(f"It cannot be read ({error.strerror or error}).", "Check the permission.")
    except UnicodeDecodeError:
        return refused("It is not a UTF-8 text.", "Save it as CSV with UTF-8 encoding.")


def _table(text: str, name: str) -> tuple[list[tuple[int, list[str]]], list[Issue]]:
    """Header and rows as (line, cells), the header in small letters; and what is wrong with it."""
    table, fault = csv_rows(text)
    if fault or not table:
        what = f"It is no CSV ({fault})." if fault else "The file is empty."
        fix = "Save it as CSV with a header, one reading a row; close every quotation mark."
        return [], [Issue("PRS01", "error", what, name, fix)]
    header = [cell.strip().lower() for cell in table[0][1]] if table else []
    issues = []
    for wanted in ("date", "tyre"):
        if header.count(wanted) != 1:
            what = f"There must be one column {wanted}; there are {header.count(wanted)}."
            issues.append(Issue("PRS02", "error", what, f"{name}, line 1", f"Add {wanted}."))
    pressures = [column for column in header if _value_name(column) == "pressure"]
    if len(pressures) != 1:
        code = "PRS05" if len(pressures) > 1 else "PRS02"
        what = f"There must be one pressure column; there are {len(pressures)}"
        what += f": {', '.join(pressures)}." if pressures else "."
        fix = "Keep one of pressure_kpa, pressure_bar, pressure_psi, and bring all readings to it."
        issues.append(Issue(code, "error", what, f"{name}, line 1", fix))
    unused = [c for c in header if c and c not in ("date", "tyre", "unit") and not _value_name(c)]
    if unused:
        what = f"Columns that are not used: {', '.join(unused)}."
        issues.append(Issue("PRS08", "note", what, f"{name}, line 1", "Nothing to do."))
    if table:
        table[0] = (table[0][0], header)
    return table, issues


def _value_name(column: str) -> str:
    """``pressure`` for ``pressure_psi``; empty for a column that holds no pressure."""
    for name in _VALUES:
        if column == name or column.removeprefix(f"{name}_") in _UNITS:
            return name
    return ""


def _row(
    line: int, cells: list[str], columns: list[str], name: str
) -> tuple[_Row | None, list[Issue]]:
    where = f"{name}, line {line}"
    if len(cells) > len(columns):
        what = f"There are {len(cells)} cells under {len(columns)} columns."
        fix = "Write decimals with a point, or put semicolons between the cells."
        return None, [Issue("PRS03", "error", what, where, fix)]
    padded = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
    given = dict(zip(columns, padded, strict=True))
    issues: list[Issue] = []
    day = _day(given["date"])
    if not day:
        what = f"The date {given['date']!r} is not clear."
        fix = f"Write it as 2026-05-04, a year from {_YEARS[0]} to {_YEARS[1]}."
        issues.append(Issue("PRS03", "error", what, where, fix))
    if not given["tyre"]:
        issues.append(Issue("PRS03", "error", "No tyre is named.", where, "Name the tyre."))
    values = dict.fromkeys(_VALUES, math.nan)
    units: dict[str, str] = {}
    in_cell = False
    for column, cell in given.items():
        value_name = _value_name(column)
        if not value_name or not cell:
            continue
        found = _CELL.fullmatch(cell)
        written = found["unit"].lower() if found else ""
        if not found or (written and written not in _UNITS):
            what = f"{column} is {cell!r}, which is no pressure."
            fix = "Write a number such as 240 or 34.5; leave the cell empty when nobody read it."
            issues.append(Issue("PRS04", "error", what, where, fix))
            continue
        values[value_name] = float(found["number"].replace(",", "."))
        said = [written, column.rpartition("_")[2] if "_" in column else "", ""]
        if value_name == "pressure":
            said[2] = given.get("unit", "").lower()
            in_cell = bool(written)
        said = [unit for unit in said if unit and unit not in ("low", "high")]
        units[value_name] = " and ".join(dict.fromkeys(said))
    if values["charted_low"] > values["charted_high"]:
        what, fix = "The charted range is upside down.", "Swap charted_low and charted_high."
        issues.append(Issue("PRS04", "error", what, where, fix))
    if errors_in(issues):
        return None, issues
    tyre = " ".join(given["tyre"].split())
    return _Row(line, day, tyre, values, units, in_cell), issues


def _day(written: str) -> str:
    """The day as 2026-05-04, a time behind it left out; empty when it is not clear."""
    found = _DATE.fullmatch(written)
    if not found or not _YEARS[0] <= int(found["year"]) <= _YEARS[1]:
        return ""
    try:
        return date.fromisoformat(found["day"]).isoformat()
    except ValueError:
        return ""


def _one_spelling(rows: list[_Row]) -> None:
    """Give a tyre that is written in several cases the spelling of its first reading."""
    first: dict[str, str] = {}
    for row in rows:
        row.tyre = first.setdefault(row.tyre.casefold(), row.tyre)


def _tyre_issues(rows: list[_Row], name: str) -> list[Issue]:
    many = len({row.tyre for row in rows})
    if many <= MOST_TYRES:
        return []
    what = f"It names {many} tyres; no fleet that one log is kept for has more than {MOST_TYRES}."
    fix = "Give each tyre one name and write that in every row."
    return [Issue("PRS03", "error", what, name, fix)]


def _unit_issues(rows: Iterable[_Row], name: str) -> list[Issue]:
    """One unit throughout; a charted range without a unit of its own takes that of the reading."""
    lines: dict[str, list[int]] = {}
    for row in rows:
        for value_name, unit in row.units.items():
            if unit or value_name == "pressure":
                lines.setdefault(unit, []).append(row.line)
    fix = "Bring every reading to one unit and name it once: pressure_kpa, _bar or _psi."
    if len(lines) > 1 or any(" and " in unit for unit in lines):
        listed = "; ".join(
            f"{unit or 'no unit'}: {len(set(at))} rows, first in line {at[0]}"
            for unit, at in sorted(lines.items())
        )
        return [Issue("PRS05", "error", f"The log mixes units ({listed}).", name, fix)]
    unknown = [unit for unit in lines if unit not in _UNITS]
    if unknown:
        said = f"The unit {unknown[0]!r} is not known." if unknown[0] else "No unit is named."
        return [Issue("PRS05", "error", said, name, fix)]
    return []


def _slip_issues(rows: list[_Row], name: str) -> list[Issue]:
    """Readings whose size betrays another unit, unless the cell itself names the unit.

    The readings fall into two heaps where two neighbours in order differ more than threefold. When
    the heaps lie as far apart as two units do, give or take a fifth, somebody mixed them. A log
    that lies outside what a forest tyre can hold as a whole is named as well.
    """
    unit = next((row.units["pressure"] for row in rows if "pressure" in row.units), "kpa")
    doubtful = [row for row in rows if row.values["pressure"] > 0 and not row.unit_in_cell]
    if not doubtful:
        return []
    doubtful.sort(key=lambda row: row.values["pressure"])
    kpa = np.array([row.values["pressure"] for row in doubtful]) * _UNITS[unit]
    steps = kpa[1:] / kpa[:-1]
    if steps.size and steps.max() > 3:
        cut = int(steps.argmax()) + 1
        apart = float(np.median(kpa[cut:]) / np.median(kpa[:cut]))
        factors = (PSI_KPA, BAR_KPA, BAR_KPA / PSI_KPA)
        if any(0.8 <= apart / factor <= 1.2 for factor in factors):
            odd = doubtful[:cut] if cut <= len(doubtful) - cut else doubtful[cut:]
            return [_slip(row, unit, name) for row in sorted(odd, key=lambda row: row.line)]
    middle = float(np.median(kpa))
    if not PLAUSIBLE_KPA[0] <= middle <= PLAUSIBLE_KPA[1]:
        typical = f"{middle / _UNITS[unit]:.4g} {_spelled(unit)}"
        what = f"The middle reading is {typical}, which no forest tyre holds."
        return [Issue("PRS06", "error", what, name, "Check the unit in the head of the column.")]
    return []


def _beyond_issues(rows: list[_Row], name: str) -> list[Issue]:
    """Pressures that no forest tyre holds, wherever their unit is written.

    A reading may be as low as 0, since a flat tyre has to be read; a charted figure may not.
    """
    issues = []
    unit = next((row.units["pressure"] for row in rows if "pressure" in row.units), "kpa")
    least, most = PLAUSIBLE_KPA
    for row in rows:
        for value_name, value in row.values.items():
            kpa = value * _UNITS[unit]
            low = 0.0 if value_name == "pressure" else least
            if low <= kpa <= most or math.isnan(kpa):
                continue
            said = f"{value:g} {_spelled(unit)}"
            if unit != "kpa":
                said += f" ({kpa:.0f} kPa)"
            what = (
                f"{value_name} of {row.tyre} is {said}, beyond the {most:.0f} kPa that a forest "
                "tyre can hold: unit mixed up or a typing slip."
            )
            if kpa < low:
                what = (
                    f"{value_name} of {row.tyre} is {said}, below the {least:.0f} kPa that is "
                    "charted for any forest tyre: unit mixed up or a typing slip."
                )
            fix = "Read the gauge again and correct the row; leave the cell empty if nobody can."
            issues.append(Issue("PRS06", "error", what, f"{name}, line {row.line}", fix))
    return issues


def _slip(row: _Row, unit: str, name: str) -> Issue:
    value = row.values["pressure"]
    what = f"{value:g} {_spelled(unit)} of {row.tyre} stands apart as if it were in another unit."
    fix = f"Correct it; if it is right, write the unit into the cell: {value:g} {_spelled(unit)}."
    return Issue("PRS06", "error", what, f"{name}, line {row.line}", fix)


def _spelled(unit: str) -> str:
    return "kPa" if unit == "kpa" else unit


def _log(rows: list[_Row], name: str) -> PressureLog:
    unit = next(row.units["pressure"] for row in rows if "pressure" in row.units)
    factor = _UNITS[unit]

    def column(value_name: str) -> NDArray[np.float64]:
        return np.array([row.values[value_name] for row in rows], dtype=float) * factor

    return PressureLog(
        name,
        unit,
        np.array([row.line for row in rows], dtype=np.int64),
        np.array([row.day for row in rows], dtype="datetime64[D]"),
        tuple(row.tyre for row in rows),
        column("pressure"),
        column("charted_low"),
        column("charted_high"),
    )
