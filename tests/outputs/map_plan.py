"""The small invented plan with water, crossings and signs, and with frost that nobody verified."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from terrain.decision.results import Plan
from terrain.mechanics.soil_strength import state_rules
from tests.outputs.field_plan import with_field_things
from tests.outputs.synthetic import make_plan, with_decision

__all__ = ["with_water", "without_frost"]


def without_frost(plan: Plan) -> Plan:
    """Drop frozen ground from the season table, as a run without verified frost does."""
    seasons = plan.seasons
    assert seasons is not None
    return replace(plan, seasons=seasons[seasons["state"] != "frozen"])


def with_water() -> Plan:
    """Return a decided plan whose T1 meets water at crossing X1 and T1 and T2 without one."""
    plan = without_frost(with_decision(make_plan()))
    made = replace(with_field_things(plan, "X1"), bottlenecks=plan.bottlenecks, states={})
    assert made.wet_ground is not None
    runs = pd.DataFrame(
        {
            "trail": ["T1", "T1", "T2"],
            "from_m": [70.0, 110.0, 40.0],
            "to_m": [80.0, 116.0, 52.0],
            "length_m": [10.0, 6.0, 12.0],
            "crossing": ["X1", "X2", None],
            "to_crossing_m": [2.0, 40.0, np.nan],
        }
    )
    depth = next(iter(made.wet_ground.depth_to_water.values()))
    by_area = {rule.flow_initiation_ha: depth for rule in state_rules().values()}
    wet = replace(made.wet_ground, water_runs=runs, depth_to_water=by_area)
    return replace(made, wet_ground=wet)
