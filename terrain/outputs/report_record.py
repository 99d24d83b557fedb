"""What a run decides, for programs: stretches, remedies, seasons, doubt and the rest, metric."""

from __future__ import annotations

from typing import Any

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.page_parts import rows_of, without_geometry

__all__ = ["decision_record"]

_TABLES = (
    "bottlenecks", "stretch_setups", "seasons", "trail_states", "trail_loads", "remedies",
    "reroutes", "drop_it", "weights", "machines", "ratings", "rating_places", "stability_checks",
    "crane_checks", "footprints", "effects_used", "outside_range", "second_opinions",
)  # fmt: skip


def decision_record(plan: Plan) -> dict[str, Any]:
    """Return every decision table as rows, and the doubt; None for what a plan was made without.

    Keys of the rows are the columns of the registry, with metric units in their names; lines on the
    ground are left to the layers of ``block.gpkg``.
    """
    record: dict[str, Any] = {}
    for name in _TABLES:
        frame = getattr(plan, name)
        record[name] = None if frame is None else _rows(frame)
    doubt = plan.doubt
    record["doubt"] = None
    if doubt is not None:
        record["doubt"] = {
            "draws": doubt.draws,
            "seed": doubt.seed,
            "sentence": doubt.sentence,
            "measure_next": doubt.measure_next,
            "counted": list(doubt.counted),
            **{
                name: _rows(getattr(doubt, name))
                for name in ("block", "trails", "sources", "leaders")
            },
        }
    return record


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return rows_of(without_geometry(frame))
