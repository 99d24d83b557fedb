"""Read a survey of ruts: a CSV file, or a layer of points; refuse by row what cannot be used."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.errors import Issue, errors_in
from terrain.inputs.attributes import number_values, rows_text, text_values
from terrain.inputs.csv_rows import csv_rows
from terrain.inputs.guarded import open_layer, to_working_crs

__all__ = ["COLUMNS", "ISSUE_CODES", "read_survey"]

ISSUE_CODES = {
    "SVY01": "the survey cannot be read",
    "SVY02": "a column of the survey is missing",
    "SVY03": "a row of the survey has no usable place",
    "SVY04": "a row of the survey has no usable depth",
    "SVY05": "a row of the survey has a length, type or time that is not usable",
}
"""Issue codes of this module and what they stand for."""

COLUMNS: dict[str, tuple[str, ...]] = {
    "trail": ("trail", "trail_id"),
    "chainage_m": ("chainage_m", "chainage"),
    "x_m": ("x_m", "x", "easting"),
    "y_m": ("y_m", "y", "northing"),
    "depth_cm": ("depth_cm", "rut_depth_cm"),
    "length_m": ("length_m", "rut_length_m"),
    "rut_type": ("rut_type", "type"),
    "when": ("when",),
}
"""Our names and the headings that are taken for them. ``when`` is ``before`` or ``after``."""

MAX_ROWS = 1_000_000
MAX_BYTES = 200_000_000
_DEEPEST_CM = 300.0
_DEFAULT_LENGTH_M = 1.0


def read_survey(path: Path, crs: str) -> tuple[pd.DataFrame | None, list[Issue]]:
    """Read measured ruts.

    Parameters
    ----------
    path : Path
        ``.csv`` (comma or semicolon, headings of :data:`COLUMNS`; coordinates in ``crs``), or a
        vector layer of points with the same columns.
    crs : str
        Working CRS in metres.

    Returns
    -------
    DataFrame or None
        One row a record: ``trail`` (None unknown), ``chainage_m``, ``x_m``, ``y_m`` (NaN where not
        given), ``depth_cm`` (0 is measured and no rut), ``length_m`` (1 m where not given),
        ``rut_type`` (1 to 3, 0 not given), ``when`` (``before`` or ``after``), ``row`` (from 1).
        None when the file cannot be used at all.
    list of Issue
        Errors end the reading; rows that are left out are warnings that name them.
    """
    if path.suffix.lower() in (".csv", ".txt"):
        raw, issues = _csv(path)
    else:
        raw, issues = _layer(path, crs)
    if raw is None:
        return None, issues
    where = path.name
    if raw.empty:
        fix = "Add the measured ruts, one a row."
        what = "there is no row below the headings"
        return None, [*issues, Issue("SVY01", "error", what, where, fix)]
    by_lower = {str(name).strip().lower(): name for name in raw.columns}
    found: Mapping[str, str | None] = {
        key: next((by_lower[n] for n in names if n in by_lower), None)
        for key, names in COLUMNS.items()
    }
    along = found["trail"] and found["chainage_m"]
    if not found["depth_cm"] or not (along or (found["x_m"] and found["y_m"])):
        what = f"the columns are: {', '.join(str(name) for name in raw.columns)}"
        fix = "Needed: depth_cm, and either trail and chainage_m, or x and y (or points)."
        return None, [*issues, Issue("SVY02", "error", what, where, fix)]
    table, left_out = _table(raw, found, where)
    issues += left_out
    if table.empty:
        what = "no row can be used"
        issues.append(Issue("SVY01", "error", what, where, "Correct the rows named above."))
    return (None if errors_in(issues) else table), issues


def _csv(path: Path) -> tuple[pd.DataFrame | None, list[Issue]]:
    def refused(reason: str) -> tuple[None, list[Issue]]:
        fix = "Save it as CSV, UTF-8, with one line of headings."
        return None, [Issue("SVY01", "error", f"not readable: {reason}", str(path), fix)]

    try:
        if path.stat().st_size > MAX_BYTES:
            raise ValueError(f"larger than {MAX_BYTES} bytes")
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        return refused("it is not a UTF-8 text")
    except (OSError, ValueError) as error:
        return refused(str(error).splitlines()[0])
    rows, fault = csv_rows(text)
    if fault or not rows:
        return refused(fault or "it is empty")
    header = [cell.strip() for cell in rows[0][1]]
    width = len(header)
    ragged = [f"line {line}" for line, cells in rows[1:] if len(cells) > width]
    if ragged:
        what = f"more cells than headings in {', '.join(ragged[:20])}"
        fix = "Write decimals with a point, or put semicolons between the cells."
        return None, [Issue("SVY01", "error", what, str(path), fix)]
    filled = [[*cells, *[""] * (width - len(cells))] for _, cells in rows[1 : MAX_ROWS + 1]]
    raw = pd.DataFrame(
        [[cell.strip() or np.nan for cell in cells] for cells in filled], columns=header
    )
    semicolons = text.splitlines()[0].count(";") >= max(1, width - 1)
    return raw.map(_WITH_POINT[";" if semicolons else ","]), []


def _pointed(pattern: str) -> Callable[[object], object]:
    def of(value: object) -> object:
        known = isinstance(value, str) and re.fullmatch(pattern, value.strip())
        return str(value).replace(",", ".") if known else value

    return of


_WITH_POINT = {";": _pointed(r"\d+,\d+"), ",": _pointed(r"\d+,(\d{1,2}|\d{4,})")}
"""``12,5`` as a number, by separator: quoted between commas three digits may be thousands."""


def _layer(path: Path, crs: str) -> tuple[pd.DataFrame | None, list[Issue]]:
    frame, issues = open_layer(path)
    if frame is None or errors_in(issues):
        return None, issues
    moved, more = to_working_crs(frame, crs, where=path.name)
    issues = [*issues, *more]
    if moved is None:
        return None, issues
    points = gpd.GeoSeries(moved.geometry)
    single = (points.geom_type == "Point").to_numpy() & ~points.is_empty.to_numpy()
    raw = pd.DataFrame(moved.drop(columns=moved.geometry.name))
    taken = {name for key in ("x_m", "y_m") for name in COLUMNS[key]}
    raw = raw.drop(columns=[name for name in raw.columns if str(name).lower() in taken])
    where_points = points.where(single)
    raw["x_m"] = where_points.x.to_numpy()
    raw["y_m"] = where_points.y.to_numpy()
    return raw, issues


def _table(
    raw: pd.DataFrame, found: Mapping[str, str | None], where: str
) -> tuple[pd.DataFrame, list[Issue]]:
    count = len(raw)

    def numbers(key: str) -> tuple[np.ndarray, set[int]]:
        name = found[key]
        if name is None:
            return np.full(count, np.nan), set()
        values, wrong = number_values(raw[name])
        return values, set(wrong)

    def words(key: str) -> list[str | None]:
        name = found[key]
        return [None] * count if name is None else text_values(raw[name])

    depth, no_depth = numbers("depth_cm")
    bad_depth = np.isnan(depth) | (depth < 0) | (depth > _DEEPEST_CM)
    x, _ = numbers("x_m")
    y, _ = numbers("y_m")
    chainage, _ = numbers("chainage_m")
    trail = words("trail")
    named = np.array([name is not None for name in trail])
    bad_place = ~(named & np.isfinite(chainage)) & ~(np.isfinite(x) & np.isfinite(y))
    length, no_length = numbers("length_m")
    given = ~np.isnan(length)
    kind, no_kind = numbers("rut_type")
    kind = np.nan_to_num(kind)
    when = [(word or "after").lower() for word in words("when")]
    odd = (given & (length <= 0)) | ~np.isin(kind, (0, 1, 2, 3))
    odd |= np.array([word not in ("before", "after") for word in when], dtype=bool)
    odd[sorted(no_length | no_kind)] = True
    bad_depth[sorted(no_depth)] = True
    issues = []
    for bad, code, what, fix in (
        (bad_place, "SVY03", "rows without a place", "Give trail and chainage_m, or x and y."),
        (bad_depth, "SVY04", "rows without a usable depth", "Allowed: 0 to 300 cm."),
        (
            odd,
            "SVY05",
            "rows with an odd length, type or time",
            "Length above 0 m; type 1, 2 or 3; when: before or after.",
        ),
    ):
        rows = np.flatnonzero(bad).tolist()
        if rows:
            text = f"{what}, left out: {rows_text(rows)}"
            issues.append(Issue(code, "warning", text, where, fix))
    table = pd.DataFrame(
        {
            "trail": pd.Series(trail, dtype=object),
            "chainage_m": chainage,
            "x_m": x,
            "y_m": y,
            "depth_cm": depth,
            "length_m": np.where(given, length, _DEFAULT_LENGTH_M),
            "rut_type": kind.astype(np.int64),
            "when": when,
            "row": np.arange(1, count + 1),
        }
    )
    keep = ~(bad_place | bad_depth | odd)
    return table[keep].reset_index(drop=True), issues
