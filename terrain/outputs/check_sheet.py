"""The soil-disturbance check: its words, and its record for programs."""

from __future__ import annotations

from typing import Any

from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.models.site_rules import DATED_COPY
from terrain.outputs.page_parts import rows_of

__all__ = ["FIELD_TESTS", "NOT_IN_IT", "check_sheet_record", "water_conflicts", "without_crossing"]

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
        "setups": rows_of(sheet.setups),
        "trails": rows_of(sheet.trails),
        "stretches": rows_of(sheet.stretches),
        "states": rows_of(sheet.states),
        "part_loads": rows_of(sheet.part_loads),
        "arrivals_m3": sheet.traffic.arrivals_m3,
        "trail_area_share": sheet.area.share,
        "water": water_conflicts(plan),
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


def water_conflicts(plan: Plan) -> dict[str, Any] | None:
    """Stretches in the machine-free strip and stretches that meet water; None when not routed."""
    wet = plan.wet_ground
    if wet is None:
        return None
    return {
        "strip": wet.buffer_words,
        "strip_runs": len(wet.buffer_runs),
        "strip_m": float(wet.buffer_runs["length_m"].sum()),
        "met": len(wet.water_runs),
        "without": [f"{trail} at {start:.0f} m" for trail, start in without_crossing(plan)],
    }


def without_crossing(plan: Plan) -> list[tuple[str, float]]:
    """Trail and chainage (m) of every stretch that meets water where no crossing is mapped.

    A crossing that is mapped farther off is none of this stretch.
    """
    if plan.wet_ground is None:
        return []
    runs = rows_of(plan.wet_ground.water_runs)
    return [(str(row["trail"]), float(row["from_m"])) for row in runs if not has_crossing(row)]
