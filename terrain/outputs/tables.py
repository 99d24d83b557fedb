"""Tables for people and programs: CSV, one GeoPackage, and ``plan.json``.

The same plan gives the same bytes: nothing that is written holds the time of day.
"""

from __future__ import annotations

import json
import math
import sqlite3
from contextlib import closing
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.ops import substring

from terrain.columns import TABLES
from terrain.decision.results import CAUSES, Plan
from terrain.known import largest
from terrain.outputs.check_sheet import check_sheet_record
from terrain.outputs.gpkg_layers import decision_layers
from terrain.outputs.gpkg_metadata import add_metadata
from terrain.outputs.gpkg_styles import write_styles
from terrain.outputs.page_parts import (
    RESERVE_CLASSES,
    classify,
    invented_words,
    keyed,
    without_geometry,
)
from terrain.outputs.report_record import decision_record
from terrain.outputs.spreadsheets import guarded
from terrain.outputs.wet_section import wet_record, wet_tables
from terrain.outputs.wording import CAUTIONS, DEFERRAL, code_list
from terrain.stations.runs import runs_of

__all__ = [
    "LIBRARIES",
    "PLAN_FORMAT",
    "evaluation_table",
    "guard_formulas",
    "plain",
    "plan_record",
    "runs_table",
    "write_tables",
]

PLAN_FORMAT = "rutwise plan 1"
"""Name and number of the layout of ``plan.json``; the number rises when a key changes meaning."""

LIBRARIES = ("numpy", "pandas", "geopandas", "shapely", "pyproj", "pyogrio", "rasterio", "folium")
"""Libraries whose versions ``plan.json`` names."""

_FIXED_DATE = "2000-01-01T00:00:00.000Z"


def guard_formulas(frame: pd.DataFrame) -> pd.DataFrame:
    """Return ``frame`` with every text :func:`~terrain.outputs.spreadsheets.guarded`."""
    text = [name for name in frame.columns if not pd.api.types.is_numeric_dtype(frame[name])]
    return frame.assign(**{name: frame[name].map(guarded) for name in text})


def evaluation_table(plan: Plan) -> pd.DataFrame:
    """Return reserve and pressure in long form: one row for each station and scored setup.

    Columns: ``station``, ``setup_number`` (row of the setup table, 1 is the first, as in the
    report), ``reserve_loaded`` and ``reserve_empty`` (ratio), ``pressure_kpa``,
    ``pressure_ratio``, ``cause`` (words), ``extrapolated``. Unknown figures are NaN.
    """
    answer = plan.evaluation
    station, setup = np.divmod(np.arange(answer.reserve_loaded.size), len(answer.setups) or 1)
    ranked = {name: row + 1 for row, name in enumerate(plan.ranking.setups["setup"])}
    number = np.array([ranked[name] for name in answer.setups], dtype=np.int32)
    return pd.DataFrame(
        {
            "station": plan.stations.index.to_numpy()[station],
            "setup_number": number[setup],
            "reserve_loaded": answer.reserve_loaded.ravel(),
            "reserve_empty": answer.reserve_empty.ravel(),
            "pressure_kpa": answer.pressure_kpa.ravel(),
            "pressure_ratio": answer.pressure_ratio.ravel(),
            "cause": [CAUSES[int(code)] for code in answer.cause.ravel()],
            "extrapolated": answer.extrapolated.ravel(),
        }
    )


def runs_table(plan: Plan) -> gpd.GeoDataFrame:
    """Return the stretches that the map draws: lines with the shown setup's figures.

    Columns: ``trail``, ``from_m``, ``to_m`` (along the trail as drawn), ``reserve_class``,
    ``worst_reserve`` (ratio), ``cause`` (words), ``pressure_kpa``, ``pressure_ratio`` (largest).
    """
    answer, column = plan.evaluation, plan.evaluation.column(plan.ranking.shown)
    reserve = answer.reserve[:, column]
    trails = keyed(plan.trails, "trail")
    lines = dict(zip(trails["trail"].astype(str), trails["geometry"], strict=True))
    rows, geometry = [], []
    for run in runs_of(plan.stations, classify(reserve, RESERVE_CLASSES)):
        known = bool(np.isfinite(reserve[run.rows]).any())
        worst = run.rows[int(np.nanargmin(reserve[run.rows]))] if known else run.rows[0]
        rows.append(
            {
                "trail": run.trail,
                "from_m": run.start_m,
                "to_m": run.end_m,
                "reserve_class": RESERVE_CLASSES[run.number].label,
                "worst_reserve": reserve[worst],
                "cause": CAUSES[int(answer.cause[worst, column])],
                "pressure_kpa": largest(answer.pressure_kpa[run.rows, column]),
                "pressure_ratio": largest(answer.pressure_ratio[run.rows, column]),
            }
        )
        geometry.append(substring(lines[run.trail], run.start_m, run.end_m))
    return gpd.GeoDataFrame(rows, geometry=geometry, crs=plan.dem.crs)


def write_tables(plan: Plan, folder: Path) -> None:
    """Write the CSV files, ``block.gpkg`` and ``plan.json`` into ``folder``, which exists.

    CSV is UTF-8 with a byte-order mark, comma-separated; text never starts a formula; an unknown
    value is an empty cell.
    """
    tables = {
        "stations": keyed(without_geometry(plan.stations), "station"),
        "trails": keyed(without_geometry(plan.trails), "trail"),
        "setups": plan.ranking.setups,
        "excluded": plan.ranking.excluded,
    }
    further = {
        "second_opinions": plan.second_opinions,
        "stretches": plan.bottlenecks,
        "remedies": plan.remedies,
        "seasons": plan.seasons,
        "trail_states": plan.trail_states,
    }
    tables |= {
        name: without_geometry(table) for name, table in further.items() if table is not None
    }
    for name, table in tables.items():
        guard_formulas(table).to_csv(
            folder / f"{name}.csv", index=False, encoding="utf-8-sig", lineterminator="\n"
        )
    _write_geopackage(plan, folder / "block.gpkg")
    text = json.dumps(plan_record(plan), ensure_ascii=False, indent=1, allow_nan=False)
    (folder / "plan.json").write_text(text + "\n", encoding="utf-8")


def plan_record(plan: Plan) -> dict[str, Any]:
    """Return everything that ``plan.json`` holds, ready for JSON; unknown values are None."""
    ranking = plan.ranking
    excluded = _records(ranking.excluded)
    for row in excluded:
        row["codes"] = list(code_list(row.get("codes")))
    return {
        "format": PLAN_FORMAT,
        "deferral": DEFERRAL,
        "block": plan.name,
        "invented": plan.invented,
        "invented_note": invented_words(plan) or None,
        "headline": ranking.headline,
        "candidate_for_the_manufacturers_approval": ranking.candidate,
        "shown_setup": ranking.shown,
        "setups": _records(ranking.setups),
        "excluded": excluded,
        "trails": _records(keyed(without_geometry(plan.trails), "trail")),
        "soil_disturbance_check": plain(check_sheet_record(plan)),
        "wet_ground": plain(wet_record(plan)),
        "decision": plain(decision_record(plan)),
        "slope_classes": list(plan.slope_labels),
        "settings": plain(asdict(plan.settings)),
        "machine": plain(asdict(plan.machine)),
        "working_crs": plan.dem.crs,
        "crs_note": plan.crs_note,
        "dem_cell_m": plain(plan.dem.cell_m),
        "inputs": [plain(asdict(file)) for file in plan.files],
        "findings": [plain(asdict(issue)) for issue in plan.issues],
        "not_assessed": list(plan.not_assessed),
        "standing_of_figures": [plain(asdict(row)) for row in plan.statuses],
        "cautions": list(CAUTIONS),
        "versions": {
            "rutwise": plan.version,
            **{name: metadata.version(name) for name in LIBRARIES},
        },
    }


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    rows = frame.astype(object).to_dict(orient="records")
    return [{str(key): plain(value) for key, value in row.items()} for row in rows]


def plain(value: Any) -> Any:
    """Turn a value into what JSON knows; NaN, NA and infinity become None."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(item) for item in value]
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    return str(value)


def _write_geopackage(plan: Plan, path: Path) -> None:
    import pyogrio

    layers: dict[str, pd.DataFrame] = {
        "stations": keyed(plan.stations, "station"),
        "trails": keyed(plan.trails, "trail"),
        "runs": runs_table(plan),
        "soils": keyed(plan.soils, "polygon"),
        "landings": keyed(plan.landings, "landing"),
    }
    if plan.boundary is not None:
        layers["boundary"] = plan.boundary.reset_index(drop=True)
    layers.update(wet_tables(plan))
    layers.update(decision_layers(plan))
    layers["setups"] = plan.ranking.setups
    layers["excluded"] = plan.ranking.excluded
    if plan.second_opinions is not None:
        layers["second_opinions"] = plan.second_opinions
    layers["evaluation"] = evaluation_table(plan)
    layers["columns"] = pd.DataFrame(
        [asdict(item) for items in TABLES.values() for item in items]
    ).astype({"low": float, "high": float})
    layers["notes"] = pd.DataFrame({"note": [DEFERRAL, *CAUTIONS, *plan.not_assessed]})
    for name, frame in layers.items():
        spatial = isinstance(frame, gpd.GeoDataFrame)
        pyogrio.write_dataframe(
            _writable(frame),
            path,
            layer=name,
            driver="GPKG",
            append=path.exists(),
            promote_to_multi=name in ("soils", "boundary") if spatial else None,
            layer_options={"SPATIAL_INDEX": "YES"} if spatial else None,
        )
    write_styles(path, _FIXED_DATE)
    _describe_columns(path, plan)
    _settle(path)


def _settle(path: Path) -> None:
    """Rewrite the database afresh, so that its counters tell nothing of how it was written."""
    fresh = path.with_suffix(".fresh")
    with closing(sqlite3.connect(path)) as base:
        base.execute("VACUUM INTO ?", (str(fresh),))
    fresh.replace(path)


def _writable(frame: pd.DataFrame) -> pd.DataFrame:
    """Return ``frame`` with column types that a GeoPackage keeps."""
    changed: dict[str, Any] = {}
    for name in frame.columns:
        column = frame[name]
        if name == "geometry":
            continue
        if column.dtype == "boolean" or column.dtype == "category":
            changed[name] = (
                column.astype(object)
                .where(column.notna(), None)
                .map(lambda value: None if value is None else str(value).lower())
            )
        elif column.dtype == object:
            changed[name] = column.map(lambda value: None if plain(value) is None else str(value))
    return frame.assign(**changed)


def _describe_columns(path: Path, plan: Plan) -> None:
    """Add the registry's descriptions (schema extension) and fix the date of last change."""
    with closing(sqlite3.connect(path)) as base, base:
        base.execute(
            "CREATE TABLE IF NOT EXISTS gpkg_data_columns (table_name TEXT NOT NULL, column_name "
            "TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, "
            "constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name))"
        )
        base.execute(
            "CREATE TABLE IF NOT EXISTS gpkg_data_column_constraints (constraint_name TEXT NOT "
            "NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive "
            "BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, CONSTRAINT "
            "gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
        )
        base.execute(
            "CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT, "
            "extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, "
            "CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))"
        )
        definition = "GeoPackage Encoding Standard, annex F.9, schema"
        for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
            base.execute(
                "INSERT OR IGNORE INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', ?, "
                "'read-write')",
                (table, definition),
            )
        for table, items in TABLES.items():
            present = {row[1] for row in base.execute(f'PRAGMA table_info("{table}")')}
            for item in items:
                if item.name in present:
                    unit = f" Unit: {item.unit}." if item.unit else ""
                    text = f"{item.meaning}{unit} Missing: {item.missing}."
                    base.execute(
                        "INSERT OR REPLACE INTO gpkg_data_columns VALUES (?, ?, NULL, NULL, ?, "
                        "NULL, NULL)",
                        (table, item.name, text),
                    )
        add_metadata(base, plan, _FIXED_DATE)
        base.execute("UPDATE gpkg_contents SET last_change = ?", (_FIXED_DATE,))
