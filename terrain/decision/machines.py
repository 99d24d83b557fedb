"""Several machines and loads over the same trails, side by side in one table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.assessment import Assessment, assess, with_payload
from terrain.decision.exposure import mass_driven_t
from terrain.decision.look_along import AlongTrails
from terrain.inputs.loaded import LoadedBlock
from terrain.models.machine import Machine
from terrain.stations.traffic import passes_of

__all__ = ["compare_machines"]


def compare_machines(
    block: LoadedBlock, along: AlongTrails, others: Sequence[Machine]
) -> pd.DataFrame:
    """One row for each machine and share of its load: table ``machines`` of the registry.

    The block's own machine comes first, then ``others``; each with every share of the full load in
    the decision settings, a machine without load once. Every machine has its own setups and its own
    hopeless metres. Setups that the catalogue holds no aid for are not there: a machine without a
    listed aid for its tyres is compared on bare wheels.
    """
    rows = []
    for machine in (block.machine, *others):
        shares = block.settings.decision.payload_shares if machine.load else (1.0,)
        for share in shares:
            loaded = with_payload(machine, share)
            found = assess(loaded, block.aids, along.stations, {}, block.settings)
            rows.append(_row(block, along, found, machine.name, share))
    return pd.DataFrame(rows, columns=list(columns_of("machines")))


def _row(
    block: LoadedBlock, along: AlongTrails, found: Assessment, name: str, share: float
) -> dict[str, object]:
    row = found.ranking.setups.set_index("setup").loc[found.ranking.shown]
    item = found.item(found.ranking.shown)
    known = np.array(list(along.traffic.arrivals_m3.values()), dtype=float)
    has_load = item.payload_kg > 0
    arrived = known if has_load else np.full(known.shape, np.nan)
    passes = passes_of(arrived, item.payload_kg, block.settings.traffic)
    loads = float(passes.loads.sum()) if known.size else np.nan
    return {
        "machine": name,
        "payload_share": share,
        "payload_kg": item.payload_kg,
        "setup": found.ranking.shown,
        "outcome": row["outcome"],
        "short_m": row["short_m"],
        "unsolved_m": row["unsolved_m"],
        "over_bearing_m": row["over_bearing_m"],
        "not_assessed_m": row["not_assessed_m"],
        "added_mass_kg": row["added_mass_kg"],
        "loads": loads,
        "driven_t": float(mass_driven_t(item, loads)),
        "ngp_max_loaded_kpa": row[["ngp_front_loaded_kpa", "ngp_rear_loaded_kpa"]].max(),
        "headline": found.ranking.headline,
    }
