"""The report's section on wet ground: metres by state, buffers, water, depressions, strength."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.decision.results import Plan
from terrain.mechanics.soil_strength import state_rules
from terrain.mechanics.wet_classes import water_rule

__all__ = ["wet_record", "wet_section", "wet_tables"]

NEAR_CROSSING_M = 15.0
"""A mapped crossing this near to a stretch is named beside it, farther ones with their distance."""


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    plain = frame.astype(object).where(frame.notna(), np.nan)
    return [{str(key): value for key, value in row.items()} for row in plain.to_dict("records")]


def _plain(depressions: gpd.GeoDataFrame) -> pd.DataFrame:
    """Depressions without geometry, their number as first column."""
    return pd.DataFrame(depressions.drop(columns="geometry")).reset_index()


def wet_section(plan: Plan) -> dict[str, Any] | None:
    """Everything that ``wet_ground.html`` shows; None for a plan whose water was not routed."""
    wet = plan.wet_ground
    if wet is None:
        return None
    states = [name for name in plan.states if name != "frozen"]
    if plan.settings.ground.frost_depth_m is not None:
        states.append("frozen")
    metres = wet.wet_metres
    chosen = plan.settings.ground.state
    trails = plan.trails.drop(columns="geometry") if "geometry" in plan.trails else plan.trails
    facts = pd.DataFrame(trails if "trail" not in trails else trails.set_index("trail"))
    by_trail: list[dict[str, Any]] = []
    for name in metres.index:
        row: dict[str, Any] = {"trail": str(name), "length_m": float(metres.loc[name, "length_m"])}
        row["metres"] = [float(metres.loc[name, state]) for state in states]
        row["least_to_water_m"] = float(facts.loc[name, "least_to_water_m"])
        row["buffer_m"] = float(facts.loc[name, "buffer_m"])
        row["unknown_m"] = float(facts.loc[name, "wetness_unknown_m"])
        by_trail.append(row)
    strength = _rows(wet.strength)
    return {
        "states": states,
        "chosen": chosen,
        "areas": {state: state_rules()[state].flow_initiation_ha for state in states},  # type: ignore[index]
        "by_trail": [row for row in by_trail if any(row["metres"]) or row["unknown_m"]],
        "dry_trails": len(
            [row for row in by_trail if not any(row["metres"]) and not row["unknown_m"]]
        ),
        "totals": [float(metres[state].sum()) for state in states],
        "length_m": float(metres["length_m"].sum()),
        "edges": [
            {"area": area, "share": None if np.isnan(share) else share}
            for area, share in sorted(wet.edge_share.items(), reverse=True)
        ],
        "routed_ha": wet.routed_ha,
        "water_from": wet.water_from,
        "buffer_words": wet.buffer_words,
        "buffer_runs": [_with_words(row) for row in _rows(wet.buffer_runs)],
        "water_runs": [_with_words(row) for row in _rows(wet.water_runs)],
        "depression_runs": _rows(wet.depression_runs),
        "depressions": _rows(_plain(wet.depressions)),
        "strength": [row for row in strength if row["places"] or isinstance(row["note"], str)],
        "plain_polygons": len({r["polygon"] for r in strength})
        - len({r["polygon"] for r in strength if r["places"] or isinstance(r["note"], str)}),
        "wet_up_to_m": water_rule().wet_up_to_m,
        "cap_m": plan.settings.flow.cap_m,
    }


def _with_words(row: dict[str, Any]) -> dict[str, Any]:
    """Add the nearest crossing in words."""
    name, distance = row["crossing"], row["to_crossing_m"]
    if not isinstance(name, str):
        words = "no crossing is mapped"
    elif distance <= NEAR_CROSSING_M:
        words = f"at crossing {name}"
    else:
        words = f"none here; nearest is {name}, {distance:.0f} m away"
    return {**row, "crossing_words": words}


def wet_record(plan: Plan) -> dict[str, Any] | None:
    """Wet ground for ``plan.json``, plain values; unknown ones are NaN here."""
    wet = plan.wet_ground
    if wet is None:
        return None
    return {
        "state": plan.settings.ground.state,
        "wet_metres_by_trail_and_state": _rows(wet.wet_metres.rename_axis("trail").reset_index()),
        "share_of_channel_cells_cut_by_the_edge": {
            f"{a:g} ha": s for a, s in wet.edge_share.items()
        },
        "distances_from": wet.water_from,
        "machine_free_strip": wet.buffer_words,
        "stretches_in_the_strip": _rows(wet.buffer_runs),
        "stretches_at_water": _rows(wet.water_runs),
        "stretches_in_depressions": _rows(wet.depression_runs),
        "depressions": _rows(_plain(wet.depressions)),
        "strength_of_polygons": _rows(wet.strength),
    }


def wet_tables(plan: Plan) -> dict[str, pd.DataFrame]:
    """Layers and tables about wet ground for ``block.gpkg``, by name; only those that hold rows."""
    wet = plan.wet_ground
    if wet is None:
        return {}
    states = pd.concat(
        [frame.reset_index().assign(state=state) for state, frame in plan.states.items()]
    )
    tables: dict[str, pd.DataFrame | None] = {
        "streams": wet.streams,
        "open_water": wet.open_water,
        "crossings": None if wet.crossings is None else wet.crossings.reset_index(),
        "buffers": wet.buffers,
        "depressions": wet.depressions.reset_index(),
        "readings": wet.readings,
        "states": states,
        "wet_metres": wet.wet_metres.rename_axis("trail").reset_index(),
        "buffer_stretches": wet.buffer_runs,
        "water_stretches": wet.water_runs,
        "depression_stretches": wet.depression_runs,
        "strength": wet.strength,
    }
    return {name: table for name, table in tables.items() if table is not None and len(table)}
