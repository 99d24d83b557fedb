"""Read soil polygons: the forester's class 1-4, or one suggested from drainage and texture.

Polygons are kept as drawn (only invalid rings are repaired); where they overlap the softer class
rules later, and the overlap is said here with the metres of trail that it touches.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from terrain.errors import Issue, errors_in
from terrain.inputs.attributes import find_column, number_values, rows_text, text_values
from terrain.inputs.guarded import open_layer, sha256_of, to_working_crs
from terrain.inputs.loaded import InputFile
from terrain.inputs.soil_moisture_columns import moisture_columns
from terrain.models.soil import DRAINAGE_CLASSES
from terrain.sources import data_table

__all__ = [
    "ISSUE_CODES",
    "known_drainage",
    "known_texture",
    "polygonal",
    "read_soils",
    "suggest_class",
]

ISSUE_CODES: dict[str, str] = {
    "SOIL01": "neither soil class nor drainage and texture given",
    "SOIL02": "soil class other than 1, 2, 3, 4",
    "SOIL03": "drainage word not known",
    "SOIL04": "texture word not known",
    "SOIL05": "row without polygon",
    "SOIL06": "invalid polygon repaired",
    "SOIL07": "polygons overlap",
    "SOIL08": "trail on no soil polygon",
    "SOIL09": "soil class unknown",
    "SOIL10": "soil class suggested, not the forester's",
    "SOIL11": "polygon id missing or used twice",
    "SOIL12": "forester's class much firmer than drainage and texture suggest",
}

OVERLAP_AREA_M2 = 1.0
OVERLAP_TRAIL_M = 0.1
UNCOVERED_TRAIL_M = 0.1


def suggest_class(drainage: str | None, texture: str | None) -> int | None:
    """Suggest a soil sensitivity class; the forester decides.

    Parameters
    ----------
    drainage : str or None
        USDA natural drainage class or a short form of it, any case.
    texture : str or None
        USDA texture class, short form, or an organic material ("peat", "organic").

    Returns
    -------
    int or None
        1 (firm) to 4 (soft): class of the texture group plus steps for poor drainage, at most 4.
        None when either word is missing or not known.

    Notes
    -----
    The rule is a planning assumption, kept in ``terrain/data/soil_suggestion.toml``.
    """
    dry, group = known_drainage(drainage), _texture_group(known_texture(texture))
    if dry is None or group is None:
        return None
    table = data_table("soil_suggestion")
    softened = table["texture_class"][group] + table["drainage_steps"][dry]
    return int(min(softened, table["rule"]["highest_class"]))


def known_drainage(word: str | None) -> str | None:
    """USDA natural drainage class that ``word`` means (any case, short form, without "drained")."""
    plain = _plain(word)
    short = data_table("soil_suggestion")["drainage_short"].get(plain.upper())
    if short is not None:
        return str(short)
    full = plain if plain.endswith("drained") else f"{plain} drained"
    return full if full in DRAINAGE_CLASSES else None


def known_texture(word: str | None) -> str | None:
    """Texture class that ``word`` means (any case or short form); None when not known."""
    plain = _plain(word)
    short = data_table("soil_suggestion")["texture_short"].get(plain.upper())
    plain = str(short) if short is not None else plain
    return plain if plain in _texture_groups() else None


def _plain(word: str | None) -> str:
    return re.sub(r"[\s_-]+", " ", word or "").strip().lower()


@cache
def _texture_groups() -> dict[str, str]:
    table = data_table("soil_suggestion")
    return {
        texture: group
        for part in ("texture_groups", "texture_groups_more")
        for group, textures in table[part].items()
        if isinstance(textures, list)
        for texture in textures
    }


def _texture_group(texture: str | None) -> str | None:
    return None if texture is None else _texture_groups()[texture]


def read_soils(
    path: Path,
    mapping: Mapping[str, str | None],
    crs: str,
    trails: gpd.GeoDataFrame,
    *,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read the soil polygons.

    Parameters
    ----------
    path : Path
        Vector file.
    mapping : mapping
        Columns under ``id``, ``soil_class``, ``drainage``, ``texture``, and ``layer``; each may be
        missing or None.
    crs : str
        Working CRS in metres.
    trails : GeoDataFrame
        Trails in ``crs`` (LineStrings), for the metres in the messages; may be empty.
    name : str, optional
        How the block file writes the path.

    Returns
    -------
    soils, file, issues
        Soils as described in :class:`terrain.inputs.loaded.LoadedBlock`; None on errors.
    """
    where = Path(path).name if name is None else name
    frame, issues = open_layer(path, mapping.get("layer"), name=name, max_file_mb=max_file_mb)
    if frame is None:
        return None, None, issues
    columns: dict[str, str | None] = {}
    for key in ("id", "soil_class", "drainage", "texture", "uscs", "moisture_percent"):
        columns[key], found = find_column(frame, mapping.get(key), key=key, where=where)
        issues += found
    if (
        not errors_in(issues)
        and columns["soil_class"] is None
        and None
        in (
            columns["drainage"],
            columns["texture"],
        )
    ):
        fix = "Name the column soil_class, or both drainage and texture, in [soils]."
        issues.append(Issue("SOIL01", "error", "no column gives the soil", where, fix))
    if errors_in(issues):
        return None, None, issues
    moved, found = to_working_crs(frame, crs, where=where)
    issues += found
    if moved is None:
        return None, None, issues
    labels, found = _polygon_ids(moved, columns["id"], where)
    issues += found
    table, found = _attributes(moved, columns, labels, where)
    issues += found
    extra, found = moisture_columns(moved, columns, labels, where)
    table, issues = table.join(extra), issues + found
    geometry, drawn, found = _polygons(moved, labels, trails, where)
    issues += found
    if errors_in(issues):
        return None, None, issues
    index = pd.Index(labels, name="polygon", dtype=object)
    soils = gpd.GeoDataFrame(table.set_axis(index), geometry=geometry, crs=moved.crs)[drawn]
    issues += _metres_issues(soils, trails, where)
    if errors_in(issues):
        return None, None, issues
    file = InputFile("soils", where, sha256_of(Path(path)), f"{len(soils)} polygons")
    return soils, file, issues


def _polygon_ids(
    frame: gpd.GeoDataFrame, column: str | None, where: str
) -> tuple[list[str], list[Issue]]:
    """Unique names: the id, with "-2", "-3" where a soil unit has several polygons."""
    given = text_values(frame[column]) if column else [None] * len(frame)
    names: list[str] = []
    missing: list[int] = []
    repeated: list[str] = []
    taken: set[str] = set()
    for position, value in enumerate(given):
        base = value or f"row {position + 1}"
        if value is None:
            missing.append(position)
        label, number = base, 1
        while label in taken:
            number += 1
            label = f"{base}-{number}"
        if number == 2:
            repeated.append(base)
        taken.add(label)
        names.append(label)
    issues = []
    if column and missing:
        what = f"polygons with nothing in column {column!r}: {rows_text(missing)}; named by row"
        issues.append(Issue("SOIL11", "warning", what, where, "Give each polygon an id."))
    if repeated:
        what = f"several polygons share an id: {', '.join(repeated)}; numbered -2, -3, ..."
        issues.append(Issue("SOIL11", "note", what, where, "Nothing to do if parts of one unit."))
    return names, issues


def _attributes(
    frame: gpd.GeoDataFrame, columns: Mapping[str, str | None], labels: list[str], where: str
) -> tuple[pd.DataFrame, list[Issue]]:
    """Class, drainage, texture and where the class comes from; every wrong row named."""
    issues: list[Issue] = []
    count = len(frame)
    numbers, wrong = np.full(count, np.nan), list[int]()
    if columns["soil_class"]:
        numbers, wrong = number_values(frame[columns["soil_class"]])
        outside = ~np.isnan(numbers) & ~np.isin(numbers, (1, 2, 3, 4))
        wrong = sorted({*wrong, *np.flatnonzero(outside).tolist()})
    if wrong:
        values = [str(frame[columns["soil_class"]].iloc[row]) for row in wrong]
        named = rows_text(wrong, [*labels])
        what = f"soil class is not 1, 2, 3 or 4 in {named} (values: {', '.join(values)})"
        fix = "1 firm ... 4 soft; leave it empty where unknown."
        issues.append(Issue("SOIL02", "error", what, where, fix))
    drainage, found = _words(frame, columns["drainage"], "drainage", labels, where)
    issues += found
    texture, found = _words(frame, columns["texture"], "texture", labels, where)
    issues += found
    suggested = [suggest_class(a, b) for a, b in zip(drainage, texture, strict=True)]
    classes: list[int | None] = []
    origin: list[str] = []
    for number, proposal in zip(numbers, suggested, strict=True):
        classes.append(proposal if np.isnan(number) else int(number))
        known = "unknown" if proposal is None else "suggested"
        origin.append(known if np.isnan(number) else "forester")
    firmer = [
        row
        for row, proposal in enumerate(suggested)
        if proposal is not None and origin[row] == "forester" and proposal - numbers[row] >= 2
    ]
    if firmer:
        what = f"class is 2 or more below what the rule suggests: {rows_text(firmer, [*labels])}"
        fix = "The forester's class is used; look at it once more."
        issues.append(Issue("SOIL12", "note", what, where, fix))
    table = pd.DataFrame(
        {
            "soil_class": pd.array(classes, dtype="Int64"),
            "drainage": pd.Series(drainage, dtype=object),
            "texture": pd.Series(texture, dtype=object),
            "class_from": origin,
        }
    )
    return table, issues


def _words(
    frame: gpd.GeoDataFrame, column: str | None, key: str, labels: list[str], where: str
) -> tuple[list[str | None], list[Issue]]:
    """Words of the vocabulary, or None; unknown words are errors with the nearest known one."""
    if column is None:
        return [None] * len(frame), []
    understand = known_drainage if key == "drainage" else known_texture
    vocabulary = list(DRAINAGE_CLASSES) if key == "drainage" else list(_texture_groups())
    given = text_values(frame[column])
    meant = [understand(word) if word else None for word in given]
    unknown: dict[str, list[int]] = {}
    for row, word in enumerate(given):
        if word and meant[row] is None:
            unknown.setdefault(word, []).append(row)
    hints = []
    for word, rows in unknown.items():
        near = get_close_matches(_plain(word), vocabulary, n=1, cutoff=0.5)
        hint = f" (nearest known: {near[0]!r})" if near else ""
        hints.append(f"{word!r}{hint} in {rows_text(rows, [*labels])}")
    if not hints:
        return meant, []
    code = "SOIL03" if key == "drainage" else "SOIL04"
    fix = f"Allowed: {', '.join(vocabulary)}; leave it empty where unknown."
    return meant, [Issue(code, "error", f"{key} not known: {'; '.join(hints)}", where, fix)]


def polygonal(geometry: shapely.Geometry) -> shapely.Geometry:
    """Polygonal part of a geometry (make_valid leaves stray lines and points beside polygons)."""
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(parts) if parts else shapely.Polygon()


def _polygons(
    frame: gpd.GeoDataFrame, labels: list[str], trails: gpd.GeoDataFrame, where: str
) -> tuple[np.ndarray, np.ndarray, list[Issue]]:
    """Valid polygons, which rows have one, and what was missing, repaired or no polygon."""
    given = frame.geometry.values
    named: list[str | None] = [*labels]
    issues: list[Issue] = []
    missing = np.array([g is None or g.is_empty for g in given])
    kinds = np.array([None if g is None else g.geom_type for g in given], dtype=object)
    other = ~missing & ~np.isin(kinds, ["Polygon", "MultiPolygon"])
    if other.any():
        what = f"not a polygon: {rows_text(np.flatnonzero(other).tolist(), named)}"
        issues.append(Issue("SOIL05", "error", what, where, "Remove them or draw them as areas."))
    if missing.all():
        issues.append(Issue("SOIL05", "error", "no row has a polygon", where, "Export it again."))
    elif missing.any():
        what = (
            f"rows without polygon left out: {rows_text(np.flatnonzero(missing).tolist(), named)}"
        )
        issues.append(
            Issue("SOIL05", "warning", what, where, "Draw the polygon or remove the row.")
        )
    result = np.array([None if lost else g for g, lost in zip(given, missing, strict=True)])
    repaired: list[int] = []
    emptied: list[int] = []
    for row in np.flatnonzero(~missing & ~other & ~shapely.is_valid(result)).tolist():
        result[row] = polygonal(shapely.make_valid(result[row]))
        metres = _metres_in(result[row], trails)
        (emptied if result[row].is_empty else repaired).append(row)
        named[row] = f"{labels[row]}, {metres:.0f} m of trail"
    if emptied:
        what = f"polygons without area left out: {rows_text(emptied, [*labels])}"
        issues.append(Issue("SOIL05", "warning", what, where, "Draw them again."))
        missing[emptied] = True
    if repaired:
        what = f"invalid polygons repaired: {rows_text(repaired, named)}"
        issues.append(Issue("SOIL06", "warning", what, where, "Check their outline on the map."))
    return result, ~missing, issues


def _metres_in(area: shapely.Geometry, trails: gpd.GeoDataFrame) -> float:
    return float(shapely.length(shapely.intersection(trails.geometry.values, area)).sum())


def _metres_issues(soils: gpd.GeoDataFrame, trails: gpd.GeoDataFrame, where: str) -> list[Issue]:
    """Overlaps, uncovered trail metres, unknown and suggested classes, each with its metres."""
    issues = []
    polygons = soils.geometry.values
    pairs = []
    left, right = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    for a, b in zip(left[left < right], right[left < right], strict=True):
        common = shapely.intersection(polygons[a], polygons[b])
        metres = _metres_in(polygonal(common), trails)
        if common.area >= OVERLAP_AREA_M2 or metres >= OVERLAP_TRAIL_M:
            names = f"{soils.index[a]} and {soils.index[b]}"
            pairs.append(f"{names} ({common.area:.0f} m2, {metres:.0f} m of trail)")
    if pairs:
        fix = "The softer class is used there; mend the boundary if that is wrong."
        issues.append(Issue("SOIL07", "warning", f"overlap: {', '.join(pairs)}", where, fix))
    covered = shapely.union_all(polygons)
    bare = {t: line.difference(covered).length for t, line in trails.geometry.items()}
    bare = {trail: metres for trail, metres in bare.items() if metres >= UNCOVERED_TRAIL_M}
    if bare:
        total = sum(bare.values())
        nowhere = total >= trails.geometry.length.sum() - UNCOVERED_TRAIL_M
        listed = ", ".join(f"{trail} {metres:.0f} m" for trail, metres in bare.items())
        what = f"{total:.0f} m of trail lie on no soil polygon: {listed}"
        if nowhere:
            what = f"no trail lies on any soil polygon ({total:.0f} m)"
        fix = "Draw the missing polygons; check that this is the layer of the block and its CRS."
        issues.append(Issue("SOIL08", "error" if nowhere else "warning", what, where, fix))
    for origin, code, severity, what, fix in (
        ("unknown", "SOIL09", "warning", "class unknown", "Give a class, or drainage and texture."),
        ("suggested", "SOIL10", "note", "class suggested, the forester decides", "Confirm it."),
    ):
        rows = soils[soils["class_from"] == origin]
        if len(rows):
            metres = _metres_in(shapely.union_all(rows.geometry.values), trails)
            text = f"{what}: {', '.join(rows.index)} ({metres:.0f} m of trail)"
            issues.append(
                Issue(code, "warning" if severity == "warning" else "note", text, where, fix)
            )
    return issues
