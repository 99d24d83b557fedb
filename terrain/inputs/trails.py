"""Read extraction trails, landings and the block boundary; handle or refuse every row by name."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from terrain.errors import Issue, errors_in
from terrain.inputs.attributes import find_column, number_values, rows_text, text_values
from terrain.inputs.ground import film_words
from terrain.inputs.guarded import open_layer, sha256_of, to_working_crs
from terrain.inputs.loaded import InputFile
from terrain.inputs.soils import polygonal

__all__ = ["ISSUE_CODES", "read_boundary", "read_landings", "read_trails"]

ISSUE_CODES: dict[str, str] = {
    "TRL01": "id missing",
    "TRL02": "id used twice",
    "TRL03": "row without a line",
    "TRL04": "line in several pieces",
    "TRL05": "same line drawn twice",
    "TRL06": "volume or width is not a usable number",
    "TRL07": "line crosses itself",
    "TRL08": "end stops just short of another trail",
    "TRL09": "heights of the line not used",
    "TRL10": "trail shorter than the snapping distance",
    "LND01": "landing id missing or used twice",
    "LND02": "landing is not a point",
    "LND03": "landing touches no trail",
    "BND01": "boundary is not an area",
    "BND02": "boundary repaired",
}

SHORTEST_LINE_M = 0.01
SAME_LINE_M = 0.001


def read_trails(
    path: Path,
    mapping: Mapping[str, str | None],
    crs: str,
    snap_m: float,
    *,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read the extraction trails.

    Parameters
    ----------
    path : Path
        Vector file of lines.
    mapping : mapping
        Columns under the keys ``id`` (required), ``trail_class``, ``volume_m3``, ``width_m``,
        ``landing``, ``film``, and ``layer``; missing or None where there is none.
    crs : str
        Working CRS in metres.
    snap_m : float
        Ends that lie this close to another trail (metres) count as touching it.
    name : str, optional
        How the block file writes the path.

    Returns
    -------
    trails, file, issues
        Trails as described in :class:`terrain.inputs.loaded.LoadedBlock`, in file order; None on
        errors. Pieces that meet end to end are merged; the same row drawn twice is kept once; all
        else that is not one line with its own id is refused by name.
    """
    where = Path(path).name if name is None else name
    keys = ("id", "trail_class", "volume_m3", "width_m", "landing", "film")
    frame, columns, issues = _opened(path, mapping, keys, crs, name, where, max_file_mb)
    if frame is None or columns["id"] is None:
        return None, None, issues
    labels = text_values(frame[columns["id"]])
    missing = [row for row, label in enumerate(labels) if label is None]
    if missing:
        what = f"trails with nothing in column {columns['id']!r}: {rows_text(missing)}"
        issues.append(Issue("TRL01", "error", what, where, "Give each trail its own id."))
    lines, found = _single_lines(frame, labels, where)
    issues += found
    table, found = _numbers(frame, columns, labels, where)
    issues += found
    keep, found = _drawn_once(labels, lines, table, where)
    issues += found
    if errors_in(issues):
        return None, None, issues
    index = pd.Index([str(label) for label in labels], name="trail", dtype=object)
    trails = gpd.GeoDataFrame(table.set_axis(index), geometry=lines, crs=frame.crs)[keep]
    issues += _shape_issues(trails, snap_m, where)
    detail = f"{len(trails)} trails, {trails.length.sum():.0f} m"
    return trails, InputFile("trails", where, sha256_of(Path(path)), detail), issues


def _opened(
    path: Path,
    mapping: Mapping[str, str | None],
    keys: tuple[str, ...],
    crs: str,
    name: str | None,
    where: str,
    max_file_mb: float,
) -> tuple[gpd.GeoDataFrame | None, dict[str, str | None], list[Issue]]:
    """Layer in the working CRS and its named columns; None with errors."""
    frame, issues = open_layer(path, mapping.get("layer"), name=name, max_file_mb=max_file_mb)
    columns: dict[str, str | None] = {}
    if frame is None:
        return None, columns, issues
    for key in keys:
        columns[key], found = find_column(frame, mapping.get(key), key=key, where=where)
        issues += found
    if "id" in keys and mapping.get("id") is None:
        names = ", ".join(str(c) for c in frame.columns if c != frame.geometry.name)
        fix = f"Name it with id = ...; columns: {names or 'none'}."
        issues.append(Issue("INP29", "error", "no id column named", where, fix))
    if errors_in(issues):
        return None, columns, issues
    moved, found = to_working_crs(frame, crs, where=where)
    if frame.geometry.has_z.any():
        what = "lines carry heights; the elevation model is used instead"
        found.append(Issue("TRL09", "note", what, where, "Nothing to do."))
    return moved, columns, issues + found


def _single_lines(
    frame: gpd.GeoDataFrame, labels: list[str | None], where: str
) -> tuple[np.ndarray, list[Issue]]:
    """One LineString per row, or None with an error naming the row."""
    lines = np.full(len(frame), None, dtype=object)
    kinds = ("empty", "kind", "short", "pieces", "merged")
    faults: dict[str, list[int]] = {kind: [] for kind in kinds}
    named = [*labels]
    for row, geometry in enumerate(frame.geometry.values):
        if geometry is None or geometry.is_empty:
            faults["empty"].append(row)
        elif geometry.geom_type not in ("LineString", "MultiLineString", "LinearRing"):
            faults["kind"].append(row)
        elif geometry.length < SHORTEST_LINE_M:
            faults["short"].append(row)
        else:
            line = geometry
            if geometry.geom_type == "MultiLineString":
                line = shapely.line_merge(shapely.remove_repeated_points(geometry))
                if line.geom_type == "LineString" and len(geometry.geoms) > 1:
                    faults["merged"].append(row)
            if line.geom_type == "MultiLineString":
                faults["pieces"].append(row)
                named[row] = f"{labels[row] or 'no id'}, {len(line.geoms)} pieces"
            else:
                lines[row] = shapely.remove_repeated_points(line)
    issues = []
    for key, code, what, fix in (
        ("empty", "TRL03", "rows without geometry", "Draw the trail or remove the row."),
        ("kind", "TRL03", "not a line", "Draw trails as lines; remove points and areas."),
        ("short", "TRL03", "lines without length", "Draw the trail or remove the row."),
        ("pieces", "TRL04", "pieces do not join into one line", "Join them, or give each an id."),
    ):
        if faults[key]:
            text = f"{what}: {rows_text(faults[key], named)}"
            issues.append(Issue(code, "error", text, where, fix))
    if faults["merged"]:
        text = f"pieces joined into one line: {rows_text(faults['merged'], named)}"
        issues.append(Issue("TRL04", "note", text, where, "Nothing to do."))
    return lines, issues


def _numbers(
    frame: gpd.GeoDataFrame,
    columns: Mapping[str, str | None],
    labels: list[str | None],
    where: str,
) -> tuple[pd.DataFrame, list[Issue]]:
    """Words as text or None, volume and width as floats (NaN unknown); unusable ones are named."""
    issues = []
    class_column = columns["trail_class"]
    classes = text_values(frame[class_column]) if class_column else [None] * len(frame)
    table = pd.DataFrame({"trail_class": pd.Series(classes, dtype=object)})
    for key, lowest, allowed in (
        ("volume_m3", 0.0, "0 or more, in m3"),
        ("width_m", 1e-9, "above 0, in m"),
    ):
        column = columns[key]
        values, wrong = np.full(len(frame), np.nan), list[int]()
        if column:
            values, wrong = number_values(frame[column])
            wrong = sorted({*wrong, *np.flatnonzero(values < lowest).tolist()})
        if column and wrong:
            given = [frame[column].iloc[row] for row in wrong]
            shown = ", ".join(repr(v) if isinstance(v, str) else str(v) for v in given)
            what = f"{column} is not usable in {rows_text(wrong, labels)} (values: {shown})"
            fix = f"Allowed: {allowed}; leave it empty where unknown."
            issues.append(Issue("TRL06", "error", what, where, fix))
        table[key] = values
    for key in ("landing", "film"):
        column = columns[key]
        words = text_values(frame[column]) if column else [None] * len(frame)
        if key == "film" and column:
            words, found = film_words(words, labels, f"{where}, {column}")
            issues += found
        table[key] = pd.Series(words, dtype=object)
    return table, issues


def _drawn_once(
    labels: list[str | None], lines: np.ndarray, table: pd.DataFrame, where: str
) -> tuple[np.ndarray, list[Issue]]:
    """Rows to keep; a row repeated in full is dropped, other repetitions are refused by name."""
    keep = np.ones(len(labels), dtype=bool)
    repeated, conflicting, same_line = [], [], []
    rows = [row for row, line in enumerate(lines) if line is not None and labels[row] is not None]
    first_of: dict[str, int] = {}
    for row in rows:
        first = first_of.setdefault(str(labels[row]), row)
        if first == row:
            continue
        if _same_line(lines[first], lines[row]) and table.iloc[first].equals(table.iloc[row]):
            keep[row] = False
            repeated.append(row)
        else:
            conflicting.append(row)
    kept = [row for row in rows if keep[row]]
    tree = shapely.STRtree(lines[kept])
    left, right = tree.query(lines[kept], predicate="dwithin", distance=SAME_LINE_M)
    for a, b in zip(left[left < right], right[left < right], strict=True):
        one, other = kept[a], kept[b]
        if labels[one] != labels[other] and _same_line(lines[one], lines[other]):
            same_line.append(f"{labels[one]} and {labels[other]} (rows {one + 1} and {other + 1})")
    issues = []
    if repeated:
        what = f"trails drawn twice, used once: {rows_text(repeated, labels)}"
        issues.append(Issue("TRL05", "warning", what, where, "Remove the second copy."))
    if conflicting:
        what = f"id used again for another line or other figures: {rows_text(conflicting, labels)}"
        fix = "Give each trail its own id, or join the pieces into one row."
        issues.append(Issue("TRL02", "error", what, where, fix))
    if same_line:
        what = f"same line under two ids: {', '.join(same_line)}"
        issues.append(Issue("TRL05", "error", what, where, "Keep one; timber would count twice."))
    return keep, issues


def _same_line(one: shapely.LineString, other: shapely.LineString) -> bool:
    """Whether two lines run through the same points, either way round."""
    if abs(one.length - other.length) > SAME_LINE_M:
        return False
    return bool(
        shapely.equals_exact(one.normalize(), other.normalize(), SAME_LINE_M)
        or shapely.hausdorff_distance(one, other) <= SAME_LINE_M
    )


def _shape_issues(trails: gpd.GeoDataFrame, snap_m: float, where: str) -> list[Issue]:
    """Self-crossings, very short trails, and ends that stop just short of another trail."""
    issues = []
    lines = trails.geometry.values
    crossing = trails.index[~shapely.is_simple(lines)]
    if len(crossing):
        what = f"lines cross or touch themselves: {', '.join(crossing)}"
        issues.append(Issue("TRL07", "note", what, where, "Check that this is meant."))
    short = trails.index[shapely.length(lines) <= snap_m]
    if len(short):
        what = f"trails not longer than snap_m = {snap_m:g} m: {', '.join(short)}"
        issues.append(Issue("TRL10", "warning", what, where, "Join them to their neighbour."))
    gaps = []
    tree = shapely.STRtree(lines)
    for end, place in (("start", 0), ("end", -1)):
        points = shapely.get_point(lines, place)
        own, near = tree.query(points, predicate="dwithin", distance=3 * snap_m)
        for row in np.unique(own):
            others = near[(own == row) & (near != row)]
            distances = shapely.distance(points[row], lines[others])
            if len(others) and distances.min() > snap_m:
                neighbour = trails.index[others[distances.argmin()]]
                gaps.append(
                    f"{end} of {trails.index[row]} {distances.min():.1f} m from {neighbour}"
                )
    if gaps:
        what = f"ends stop short of another trail without touching it: {', '.join(gaps)}"
        fix = f"Draw them together if they meet, or raise snap_m ({snap_m:g} m)."
        issues.append(Issue("TRL08", "warning", what, where, fix))
    return issues


def read_landings(
    path: Path,
    mapping: Mapping[str, str | None],
    crs: str,
    *,
    trails: gpd.GeoDataFrame | None = None,
    snap_m: float = 3.0,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read the landings as points with an id (``mapping["id"]``; ``mapping["layer"]`` optional).

    With ``trails`` (LineStrings in ``crs``) a landing farther than ``snap_m`` metres from every
    trail is left out with a warning, or refused when all are. Returns landings, file, issues.
    """
    where = Path(path).name if name is None else name
    frame, columns, issues = _opened(path, mapping, ("id",), crs, name, where, max_file_mb)
    if frame is None or columns["id"] is None:
        return None, None, issues
    issues = [issue for issue in issues if issue.code != "TRL09"]
    labels = text_values(frame[columns["id"]])
    missing = [row for row, label in enumerate(labels) if label is None]
    if missing:
        what = f"landings with nothing in column {columns['id']!r}: {rows_text(missing)}"
        issues.append(Issue("LND01", "error", what, where, "Give each landing an id."))
    again = [r for r, label in enumerate(labels) if label is not None and label in labels[:r]]
    if again:
        what = f"landing id used again: {rows_text(again, labels)}"
        issues.append(Issue("LND01", "error", what, where, "Give each landing its own id."))
    points = np.full(len(frame), None, dtype=object)
    wrong = []
    for row, geometry in enumerate(frame.geometry.values):
        parts = [] if geometry is None else shapely.get_parts(geometry)
        if len(parts) == 1 and parts[0].geom_type == "Point" and not parts[0].is_empty:
            points[row] = parts[0]
        else:
            wrong.append(row)
    if wrong:
        what = f"not one point: {rows_text(wrong, labels)}"
        issues.append(Issue("LND02", "error", what, where, "Set one point where loads are put."))
    off = np.zeros(len(frame), dtype=bool)
    if trails is not None and len(trails):
        off, far = _off_trails(points, labels, trails, snap_m, where)
        issues += far
    if errors_in(issues):
        return None, None, issues
    index = pd.Index([str(label) for label in labels], name="landing", dtype=object)
    landings = gpd.GeoDataFrame(index=index, geometry=points, crs=frame.crs)[~off]
    file = InputFile("landings", where, sha256_of(Path(path)), f"{len(landings)} landings")
    return landings, file, issues


def _off_trails(
    points: np.ndarray,
    labels: list[str | None],
    trails: gpd.GeoDataFrame,
    snap_m: float,
    where: str,
) -> tuple[np.ndarray, list[Issue]]:
    """Mark the landings that touch no trail, and name them."""
    apart = shapely.distance(points[:, None], np.asarray(trails.geometry.values)[None, :])
    off = apart.min(axis=1) > snap_m  # NaN, so not off, without a point
    far = [
        f"{labels[row] or f'row {row + 1}'} ({line.min():.1f} m from {trails.index[line.argmin()]})"
        for row, line in enumerate(apart)
        if off[row]
    ]
    what = f"landings touch no trail within {snap_m:g} m: {', '.join(far)}"
    fix = "Draw a trail to the landing or move the point."
    if not off.all():
        what += "; they are left out, and all timber goes to the other landings"
        fix += " If no timber of this block is meant to go there, leave it as it is."
    issue = Issue("LND03", "error" if off.all() else "warning", what, where, fix)
    return off, [issue] if far else []


def read_boundary(
    path: Path,
    mapping: Mapping[str, str | None],
    crs: str,
    *,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read the block boundary (areas; ``mapping["layer"]`` optional) in the working CRS.

    Returns one row per area with only ``geometry``, valid; file; issues.
    """
    where = Path(path).name if name is None else name
    frame, _, issues = _opened(path, mapping, (), crs, name, where, max_file_mb)
    if frame is None:
        return None, None, issues
    issues = [issue for issue in issues if issue.code != "TRL09"]
    areas = frame.geometry.values
    wrong = [
        row
        for row, area in enumerate(areas)
        if area is None or area.is_empty or area.geom_type not in ("Polygon", "MultiPolygon")
    ]
    if wrong:
        what = f"not an area: {rows_text(wrong)}"
        issues.append(Issue("BND01", "error", what, where, "Draw the boundary as a closed area."))
        return None, None, issues
    broken = np.flatnonzero(~shapely.is_valid(areas)).tolist()
    valid = [polygonal(shapely.make_valid(area)) for area in areas]
    if broken:
        what = f"invalid outline repaired: {rows_text(broken)}"
        issues.append(Issue("BND02", "warning", what, where, "Check it on the map."))
    boundary = gpd.GeoDataFrame(geometry=valid, crs=frame.crs)
    file = InputFile("boundary", where, sha256_of(Path(path)), f"{len(boundary)} areas")
    return boundary, file, issues
