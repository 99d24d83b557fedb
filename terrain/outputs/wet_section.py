"""Wet ground for programs: the record of ``plan.json`` and the layers of ``block.gpkg``."""

from __future__ import annotations

from typing import Any

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.page_parts import keyed, rows_of, without_geometry

__all__ = ["wet_record", "wet_tables"]


def wet_record(plan: Plan) -> dict[str, Any] | None:
    """Wet ground for ``plan.json``, plain values; unknown ones are NaN here."""
    wet = plan.wet_ground
    if wet is None:
        return None
    return {
        "state": plan.settings.ground.state,
        "wet_metres_by_trail_and_state": rows_of(wet.wet_metres.rename_axis("trail").reset_index()),
        "share_of_channel_cells_cut_by_the_edge": {
            f"{a:g} ha": s for a, s in wet.edge_share.items()
        },
        "distances_from": wet.water_from,
        "machine_free_strip": wet.buffer_words,
        "stretches_in_the_strip": rows_of(wet.buffer_runs),
        "stretches_at_water": rows_of(wet.water_runs),
        "stretches_in_depressions": rows_of(wet.depression_runs),
        "depressions": rows_of(keyed(without_geometry(wet.depressions), "depression")),
        "strength_of_polygons": rows_of(wet.strength),
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
