"""Read the planner's own strength readings: a CSV table or a layer of points.

A row that cannot count is left out and named with its reason; the others are used. What keeps the
whole table from being understood is an error.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from terrain.errors import Issue
from terrain.inputs.attributes import find_column, number_values, text_values
from terrain.inputs.guarded import (
    check_file,
    open_layer,
    sha256_of,
    sniff_vector,
    to_working_crs,
)
from terrain.inputs.loaded import InputFile, softness
from terrain.inputs.refs import LayerRef
from terrain.inputs.water_tables import ReadingsTable
from terrain.models.soil import MOISTURE_STATES
from terrain.units import PSI_KPA

__all__ = ["ISSUE_CODES", "UNITS_KPA", "WIDEST_KPA", "read_readings"]

ISSUE_CODES: dict[str, str] = {
    "RDG01": "the table of readings cannot be read",
    "RDG02": "a column of the readings is missing",
    "RDG03": "readings left out, row by row, with the reason",
    "RDG04": "the CRS of the readings is not stated",
    "RDG05": "no reading is left",
    "RDG06": "every reading lies outside the soil polygons",
}

UNITS_KPA = {
    "kpa": 1.0,
    "kn/m2": 1.0,
    "mpa": 1000.0,
    "n/mm2": 1000.0,
    "n/cm2": 10.0,
    "psi": PSI_KPA,
    "kgf/cm2": 98.0665,
    "kg/cm2": 98.0665,
}
"""Units that a reading may have, and their size in kPa (a kilogram-force is 9.80665 N)."""

WIDEST_KPA = {"cone": 10_000.0, "vane": 500.0, "plate": 3_000.0}
"""Largest reading believed, kPa: planning assumptions to catch slips of unit, no limits of soil."""

DEEPEST_CM = 200.0
MAX_MB = 20.0
_KEYS = ("depth_cm", "value", "unit", "kind", "date", "moisture_state")
_OUTSIDE = "outside every soil polygon"
_FROZEN_WORDS = ("frozen", "frost", "ice")


@dataclass(slots=True)
class _Refused:
    """Reasons by row; a row may have several."""

    reasons: dict[int, list[str]] = field(default_factory=dict)

    def add(self, row: int, reason: str) -> None:
        self.reasons.setdefault(row, []).append(reason)


def read_readings(
    ref: LayerRef,
    table: ReadingsTable,
    crs: str,
    soils: gpd.GeoDataFrame | None,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read, check and place the readings.

    Parameters
    ----------
    ref : LayerRef
        File and column names.
    table : ReadingsTable
        Words that stand for empty cells, and the CRS of a CSV.
    crs : str
        Working CRS, metres.
    soils : GeoDataFrame or None
        Polygons (index ``polygon``); None when they could not be read: then nothing is placed.

    Returns
    -------
    readings : GeoDataFrame or None
        One row for each reading that counts: ``row`` (in the file, from 1), ``polygon``, ``kind``,
        ``value_kpa``, ``depth_cm`` (NaN unknown), ``date`` (str or None), ``moisture_state``,
        Point ``geometry``. Where polygons overlap the softer class takes the reading.
    file, issues
        Rows left out are warnings; the plan goes on without them.
    """
    frame, issues = _opened(ref, table, crs)
    if frame is None:
        return None, None, issues
    columns: dict[str, str | None] = {}
    for key in _KEYS:
        wanted = ref.columns.get(key)
        optional = wanted == key or key in ("depth_cm", "date")  # a default name may be absent
        columns[key] = wanted if wanted in frame.columns else None
        if wanted not in frame.columns and not optional:
            issues += find_column(frame, wanted, key=key, where=ref.name)[1]
    for key, stands_in in (
        ("value", None),
        ("unit", table.unit_of_all),
        ("kind", table.kind_of_all),
        ("moisture_state", table.state_of_all),
    ):
        if columns[key] is None and stands_in is None:
            names = ", ".join(str(name) for name in frame.columns if name != "geometry")
            what = f"There is no column {ref.columns.get(key)!r} for the {key}."
            fix = f"Name it in [readings]; columns: {names}."
            if key != "value":
                word = "state_of_all" if key == "moisture_state" else f"{key}_of_all"
                fix = f"Name it in [readings], or say {word}; columns: {names}."
            issues.append(Issue("RDG02", "error", what, ref.name, fix))
    if any(issue.severity == "error" for issue in issues):
        return None, None, issues
    refused = _Refused()
    read = _values(frame, columns, table, refused)
    read["polygon"] = _placed(frame, soils, refused)
    keep = [row for row in range(len(frame)) if row not in refused.reasons]
    elsewhere = _all_outside(frame, soils, refused, table, ref.name)
    issues += [*elsewhere, *_refusals(refused, ref.name)]
    if soils is not None and not keep and not elsewhere:
        fix = "Mend the rows, or take [readings] out."
        issues.append(Issue("RDG05", "warning", "No reading is left.", ref.name, fix))
    readings = gpd.GeoDataFrame(read, geometry=frame.geometry.values, crs=crs).iloc[keep]
    detail = f"{len(keep)} of {len(frame)} readings used"
    return readings, InputFile("readings", ref.name, sha256_of(ref.path), detail), issues


def _opened(
    ref: LayerRef, table: ReadingsTable, crs: str
) -> tuple[gpd.GeoDataFrame | None, list[Issue]]:
    """Rows with a geometry column in the working CRS; None geometry where there is no position."""
    resolved, issues = check_file(ref.path, name=ref.name, max_file_mb=MAX_MB)
    if resolved is None:
        return None, issues
    if sniff_vector(resolved) is not None:
        frame, issues = open_layer(ref.path, ref.layer, name=ref.name, max_file_mb=MAX_MB)
        if frame is None:
            return None, issues
        moved, found = to_working_crs(frame, crs, where=ref.name)
        if moved is not None and moved.geometry.name != "geometry":
            moved = moved.rename_geometry("geometry")
        return moved, issues + found
    rows, issues = _csv(resolved, ref.name)
    if rows is None:
        return None, issues
    for key in ("x", "y"):
        if ref.columns.get(key) not in rows.columns:
            names = ", ".join(rows.columns)
            what = f"There is no column {ref.columns.get(key)!r} for {key}."
            fix = f"Name it in [readings] with {key} = ...; columns: {names}."
            issues.append(Issue("RDG02", "error", what, ref.name, fix))
    if issues:
        return None, issues
    x, y = (number_values(_numbers(rows[str(ref.columns[key])]))[0] for key in ("x", "y"))
    placed = np.isfinite(x) & np.isfinite(y)
    points = np.full(len(rows), None, dtype=object)
    points[placed] = shapely.points(x[placed], y[placed])
    if table.crs is None:
        what = f"The CRS of x and y is not stated; taken as {_short(crs)}, that of the elevation."
        fix = 'Say crs = "EPSG:..." in [readings] when that is wrong.'
        issues.append(Issue("RDG04", "note", what, ref.name, fix))
        return gpd.GeoDataFrame(rows, geometry=points, crs=crs), issues
    try:
        frame = gpd.GeoDataFrame(rows, geometry=points, crs=table.crs)
    except Exception as error:  # pyproj raises its own kinds
        what = f"crs = {table.crs!r} is not understood ({str(error).splitlines()[0][:80]})."
        fix = 'Write a code, for example "EPSG:32633".'
        return None, [Issue("RDG04", "error", what, ref.name, fix)]
    moved, found = to_working_crs(frame, crs, where=ref.name)
    if moved is None:
        fix = f"Check crs in [readings]: it is {table.crs!r}, and x, y must be in it."
        found = [replace(issue, fix=fix) for issue in found]
    return moved, issues + found


def _short(crs: str) -> str:
    return crs if len(crs) < 20 else "the working CRS"


def _csv(path: Path, where: str) -> tuple[pd.DataFrame | None, list[Issue]]:
    """Cells as text; the delimiter is the one that the header holds most of."""

    def refused(what: str, fix: str) -> tuple[None, list[Issue]]:
        return None, [Issue("RDG01", "error", what, where, fix)]

    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        return refused("It is neither a known layer nor UTF-8 text.", "Save it as CSV in UTF-8.")
    if text.lstrip()[:1] in ("<", "{", "["):
        return refused("It is text, but no table.", "Save the readings as CSV with a header.")
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    try:
        rows = [
            cells
            for cells in csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as error:
        return refused(f"It is no CSV ({error}).", "Save it as CSV with a header.")
    if len(rows) < 2:
        return refused("There is no row below the header.", "Add the readings, one a row.")
    header = [cell.strip() for cell in rows[0]]
    if len(set(header)) != len(header):
        return refused("A column name appears twice.", "Name each column once.")
    width = len(header)
    ragged = [str(n) for n, cells in enumerate(rows[1:], start=1) if len(cells) > width]
    if ragged:
        what = f"More cells than columns in row {', '.join(ragged)}."
        return refused(what, "With commas between the cells, decimals need a point.")
    cells = [[*row, *[""] * (width - len(row))] for row in rows[1:]]
    return pd.DataFrame([[c.strip() or None for c in row] for row in cells], columns=header), []


def _numbers(column: pd.Series) -> pd.Series:
    """Text with decimal commas made readable as numbers; other types stay."""
    return column.map(lambda v: v.replace(",", ".") if isinstance(v, str) else v)


def _values(
    frame: gpd.GeoDataFrame,
    columns: dict[str, str | None],
    table: ReadingsTable,
    refused: _Refused,
) -> pd.DataFrame:
    count = len(frame)

    def words(key: str, instead: str | None) -> list[str | None]:
        column = columns[key]
        given = text_values(frame[column]) if column else [None] * count
        return [instead if word is None else word for word in given]

    def numbers(key: str) -> tuple[np.ndarray, list[int]]:
        column = columns[key]
        if column is None:
            return np.full(count, np.nan), []
        return number_values(_numbers(frame[column]))

    kinds = [None if word is None else word.lower() for word in words("kind", table.kind_of_all)]
    units = words("unit", table.unit_of_all)
    states = [None if w is None else w.lower() for w in words("moisture_state", table.state_of_all)]
    value, wrong = numbers("value")
    depth, wrong_depth = numbers("depth_cm")
    size = np.full(count, np.nan)
    for row in range(count):
        kind, unit, state = kinds[row], units[row], states[row]
        if kind not in WIDEST_KPA:
            said = "no kind" if kind is None else f"kind {kind!r}"
            refused.add(row, f"{said}; allowed: cone, vane, plate")
        factor = UNITS_KPA.get((unit or "").lower().replace(" ", "").replace("²", "2"))
        if factor is None:
            said = "no unit" if unit is None else f"unit {unit!r} is none of pressure"
            refused.add(row, f"{said}; allowed: {', '.join(UNITS_KPA)}")
        if row in wrong or np.isnan(value[row]):
            refused.add(row, "no number as value")
        elif factor is not None and kind in WIDEST_KPA:
            size[row] = value[row] * factor
            if not 0 < size[row] <= WIDEST_KPA[kind]:
                most = f"{WIDEST_KPA[kind]:g}"
                refused.add(
                    row, f"{size[row]:g} kPa is no {kind} reading (above 0, at most {most})"
                )
        if row in wrong_depth or (np.isfinite(depth[row]) and not 0 <= depth[row] <= DEEPEST_CM):
            refused.add(row, f"depth is not 0 to {DEEPEST_CM:g} cm")
        if state is None:
            refused.add(row, "no moisture state")
        elif any(word in state for word in _FROZEN_WORDS):
            refused.add(row, "taken in frozen ground or its crust, which misleads")
        elif state not in MOISTURE_STATES:
            refused.add(row, f"moisture state {state!r}; allowed: dry, moist, wet, saturated")
    days = [_day(word, row, refused) for row, word in enumerate(words("date", None))]
    return pd.DataFrame(
        {
            "row": np.arange(1, count + 1),
            "kind": pd.Series(kinds, dtype=object),
            "value_kpa": size,
            "depth_cm": depth,
            "date": pd.Series(days, dtype=object),
            "moisture_state": pd.Series(states, dtype=object),
        }
    )


def _day(word: str | None, row: int, refused: _Refused) -> str | None:
    if word is None:
        return None
    try:
        return date.fromisoformat(word[:10]).isoformat()
    except ValueError:
        refused.add(row, f"date {word!r} is not like 2026-05-04")
        return None


def _placed(
    frame: gpd.GeoDataFrame, soils: gpd.GeoDataFrame | None, refused: _Refused
) -> list[str | None]:
    """Polygon under each reading; the softer where several overlap."""
    names: list[str | None] = [None] * len(frame)
    rank = None if soils is None else softness(soils)
    for row, point in enumerate(frame.geometry.values):
        if point is None or point.is_empty or point.geom_type != "Point":
            refused.add(row, "no position")
        elif soils is not None and rank is not None:
            inside = np.flatnonzero(shapely.intersects(soils.geometry.values, point))
            if inside.size:
                names[row] = str(soils.index[inside[np.argmax(rank[inside])]])
            else:
                refused.add(row, _OUTSIDE)
    return names


def _all_outside(
    frame: gpd.GeoDataFrame,
    soils: gpd.GeoDataFrame | None,
    refused: _Refused,
    table: ReadingsTable,
    where: str,
) -> list[Issue]:
    """One warning in the place of one a row when no reading lies on the soils: a wrong CRS."""
    placed = [row for row, reasons in refused.reasons.items() if _OUTSIDE in reasons]
    points = [point for point in frame.geometry.values if point is not None and not point.is_empty]
    if soils is None or not placed or len(placed) < len(points):
        return []
    for row in placed:
        refused.reasons[row].remove(_OUTSIDE)
        if not refused.reasons[row]:
            del refused.reasons[row]
    areas = shapely.STRtree(soils.geometry.values)
    away_m = areas.query_nearest(points, return_distance=True, all_matches=False)[1].min()
    away = f"{away_m / 1000:,.1f} km" if away_m >= 1000 else f"{away_m:.0f} m"
    said = f'"{table.crs}"' if table.crs else "that of the elevation, as none is stated"
    what = (
        f"No reading lies on a soil polygon ({len(points)} were read); the nearest is {away} off."
    )
    fix = (
        f"Check crs in [readings] (it is {said}) and the columns x and y; of a layer, its own CRS."
    )
    return [Issue("RDG06", "warning", what, where, fix)]


def _refusals(refused: _Refused, where: str) -> list[Issue]:
    """One warning for each row that is left out, with every reason."""
    fix = "The plan goes on without it; mend the row to have it count."
    return [
        Issue(
            "RDG03",
            "warning",
            f"Reading left out: {'; '.join(reasons)}.",
            f"{where}, row {row + 1}",
            fix,
        )
        for row, reasons in sorted(refused.reasons.items())
    ]
