"""The small invented plan with water and with metres over a rating, trail by trail."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from terrain.columns import columns_of
from terrain.decision.rating_places import ANY_RATING
from terrain.decision.results import Plan
from tests.outputs.map_plan import with_water

__all__ = ["REAR", "with_slopes"]

REAR = "tyres of the rear bogie"


def with_slopes() -> Plan:
    """Return the plan with water whose T1 exceeds a rating, T2 only if bogies pivot freely."""
    rows = [
        ("T1", ANY_RATING, 40.0, 60.0, 1.14, 33.0, 0.0),
        ("T1", REAR, 40.0, 60.0, 1.14, 33.0, 0.0),
        ("T1", "whole machine", 0.0, 0.0, 0.9, 5.0, 0.0),
        ("T2", ANY_RATING, 0.0, 25.0, 0.97, 12.0, 5.0),
        ("T2", REAR, 0.0, 25.0, 0.97, 12.0, 5.0),
        ("T3", ANY_RATING, 0.0, 0.0, 0.8, 1.0, 0.0),
    ]
    table = pd.DataFrame(rows, columns=list(columns_of("rating_places")))
    return replace(with_water(), rating_places=table)
