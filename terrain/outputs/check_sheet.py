"""The soil-disturbance check as a section of the report."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from terrain.decision.brash import brash_need
from terrain.decision.results import Plan
from terrain.models.site_rules import DATED_COPY, rule_texts
from terrain.outputs.page_parts import USUAL, environment
from terrain.outputs.wording import UNKNOWN, count
from terrain.sources import all_sources, data_table

__all__ = ["FIELD_TESTS", "NOT_IN_IT", "check_sheet_html", "check_sheet_record"]

FIELD_TESTS: tuple[tuple[str, str], ...] = (
    (
        "Look behind the first machine",
        "Type 1: a print in firm soil. Type 2: shoulders pushed up at the sides, the bottom still "
        "holds. Type 3: soil flows out like mud.",
    ),
    (
        "Throw a lump of soil",
        "A lump of mineral soil that stays whole when thrown: the ground holds. One that is easily "
        "kneaded: drive with care and watch the type of rut. Mud: stop.",
    ),
    (
        "Decide",
        "Type 1: go on. Type 2: lighter loads or lower pressure within the chart, and look again. "
        "Type 3: stop at once. Water that flows in the trail: stop.",
    ),
    (
        "Measure",
        "Depth from the surface that the rule names, not from the shoulder; length along the "
        "trail; note the type. Read the records back with rutwise survey.",
    ),
)
"""What settles it in the field: rut types after Lüscher 2010, sheet of the Bavarian forest."""

NOT_IN_IT: tuple[str, ...] = (
    "Depth in centimetres: the relations give a class with a wide band.",
    "Soil strength between the mapped polygons, and its change while the work goes on.",
    "Wheel slip, turning, braking and steering on the spot.",
    "Compaction below the surface that leaves no rut.",
    "Traffic off the trails, on landings, and before this harvest.",
)
"""What this check leaves out, whatever the block."""

_MOST_STRETCHES = 15


def check_sheet_html(plan: Plan) -> Markup:
    """Return the section, empty for a plan whose traffic was not looked at."""
    sheet = plan.check_sheet
    if sheet is None:
        return Markup("")
    setups = _with_descriptions(plan, sheet.setups)
    usual = set(plan.ranking.setups.loc[plan.ranking.setups["standing"] == USUAL, "setup"])
    lead = [row for row in setups if row["setup"] in usual or row["setup"] == sheet.shown]
    sources = all_sources()
    profile = sheet.profile
    rule_source = ""
    if profile is not None:
        known = sources.get(profile.source)
        rule_source = (known.citation if known else profile.source).rstrip(".")
    text = (
        environment()
        .get_template("check_sheet.html")
        .render(
            sheet=sheet,
            profile=profile,
            rule_source=rule_source,
            dated=DATED_COPY,
            setups=lead,
            following=len(setups) - len(lead),
            shown=next((row for row in setups if row["setup"] == sheet.shown), None),
            trails=_rows(sheet.trails),
            stretches=_rows(sheet.stretches)[:_MOST_STRETCHES],
            more_stretches=max(len(sheet.stretches) - _MOST_STRETCHES, 0),
            states=_by_state(plan),
            parts=_rows(sheet.part_loads),
            need=brash_need(),
            evidence=[
                {**row, "citation": sources[row["source"]].citation}
                for row in data_table("brash")["evidence"]
            ],
            texts=[
                {"row": row, "citation": sources[row.source].citation}
                for row in rule_texts().values()
            ],
            tests=FIELD_TESTS,
            not_in_it=NOT_IN_IT,
            water=_water_conflicts(plan),
            half_loads=sources["half_loading_wsl"].citation.rstrip("."),
            origins=_origins(sheet.trails),
            number=_number,
            percent=_percent,
        )
    )
    return Markup(text)


def check_sheet_record(plan: Plan) -> dict[str, Any] | None:
    """Return the check for ``plan.json``: rule, tables and balance as plain values."""
    sheet = plan.check_sheet
    if sheet is None:
        return None
    brash = sheet.brash
    return {
        "rule": None
        if sheet.profile is None
        else {"key": sheet.profile.key, "title": sheet.profile.title, "note": DATED_COPY},
        "shown_setup": sheet.shown,
        "setups": _rows(sheet.setups),
        "trails": _rows(sheet.trails),
        "stretches": _rows(sheet.stretches),
        "states": _rows(sheet.states),
        "part_loads": _rows(sheet.part_loads),
        "arrivals_m3": sheet.traffic.arrivals_m3,
        "trail_area_share": sheet.area.share,
        "water": _water_conflicts(plan),
        "brash": None
        if brash is None
        else {
            "need_m": float(brash.need_m.sum()),
            "short_m": float(brash.short_m.sum()),
            "missing_t": brash.missing_t,
            "beyond_m": brash.beyond_m,
            "covered_m": brash.covered_m,
        },
    }


def _with_descriptions(plan: Plan, table: pd.DataFrame) -> list[dict[str, Any]]:
    ranked = plan.ranking.setups.set_index("setup")
    order = {name: number for number, name in enumerate(ranked.index)}
    rows = [
        {**row, "description": str(ranked.loc[row["setup"], "description"])} for row in _rows(table)
    ]
    return sorted(rows, key=lambda row: order[row["setup"]])


def _water_conflicts(plan: Plan) -> dict[str, Any] | None:
    """Stretches in the machine-free strip and stretches that meet water; None when not routed."""
    wet = plan.wet_ground
    if wet is None:
        return None
    without = wet.water_runs["crossing"].isna()
    return {
        "strip": wet.buffer_words,
        "strip_runs": len(wet.buffer_runs),
        "strip_m": float(wet.buffer_runs["length_m"].sum()),
        "met": len(wet.water_runs),
        "without": [
            f"{row['trail']} at {row['from_m']:.0f} m"
            for row in _rows(wet.water_runs[without.to_numpy(dtype=bool)])
        ],
    }


def _origins(trails: pd.DataFrame) -> str:
    """Return how many trails have their volume from where."""
    counts = trails["volume_from"].value_counts(sort=False)
    return "; ".join(f"{words}, {count(number, 'trail')}" for words, number in counts.items())


def _by_state(plan: Plan) -> list[dict[str, Any]]:
    sheet = plan.check_sheet
    if sheet is None:
        return []
    return [
        {**row, "description": row_description}
        for row, row_description in (
            (row, "shown" if row["setup"] == sheet.shown else "bare wheels")
            for row in _rows(sheet.states)
        )
    ]


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    plain = frame.astype(object).where(frame.notna(), np.nan)
    return [{str(key): value for key, value in row.items()} for row in plain.to_dict("records")]


def _number(value: Any, digits: int = 0, unit: str = "") -> str:
    """Return a figure with its unit; unknown in words."""
    if value is None or not math.isfinite(float(value)):
        return UNKNOWN
    text = f"{float(value):,.{digits}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return f"{text} {unit}".rstrip()


def _percent(value: Any) -> str:
    """Return a share in percent; unknown in words, infinity as not bounded."""
    if value is None or math.isnan(float(value)):
        return UNKNOWN
    return "no upper end" if math.isinf(float(value)) else f"{float(value) * 100:.1f} %"
