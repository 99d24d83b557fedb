"""Several machines and loads over the same trails, side by side in one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.assessment import Assessment, assess, with_payload
from terrain.decision.crane_places import crane_places, crane_warning
from terrain.decision.exposure import mass_driven_t
from terrain.decision.look_along import AlongTrails
from terrain.decision.ranking import FALLS_SHORT, OUTCOMES, carry_over, measure_setups
from terrain.decision.stability_checks import tip_places, tip_warning
from terrain.inputs.loaded import LoadedBlock
from terrain.models.machine import Machine
from terrain.models.settings import Settings
from terrain.models.soil import drier_states
from terrain.stations.traffic import passes_of

__all__ = ["compare_machines", "passed_by_ask_first"]


def compare_machines(
    block: LoadedBlock, along: AlongTrails, others: Sequence[Machine]
) -> pd.DataFrame:
    """One row for each machine and share of its load: table ``machines`` of the registry.

    The block's own machine comes first, then ``others``; each with every share of the full load in
    the decision settings, a machine without load once. Every machine has its own setups and its own
    hopeless metres, and is held to the drier states too. Setups that the catalogue holds no aid for
    are not there: a machine without a listed aid for its tyres is compared on bare wheels.
    """
    states = drier_states(block.settings.ground.state)
    drier: dict[str, pd.DataFrame] = {state: along.states[state] for state in states}
    rows = []
    for machine in (block.machine, *others):
        shares = block.settings.decision.payload_shares if machine.load else (1.0,)
        for share in shares:
            loaded = with_payload(machine, share)
            found = assess(loaded, block.aids, along.stations, drier, block.settings)
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
    warnings = (
        tip_warning(tip_places(along.stations, item)),
        crane_warning(crane_places(along.stations, item)),
    )
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
        "headline": " ".join([found.ranking.headline, *filter(None, warnings)]),
        "passed_by": passed_by_ask_first(found, along.stations, block.settings),
    }


def passed_by_ask_first(
    found: Assessment, stations: pd.DataFrame, settings: Settings
) -> str | None:
    """Name the setup to ask about that passes what no usual setup of this machine does.

    Such metres are not hopeless for the machine, so they count against its usual setups: a machine
    with a shorter catalogue may stand better on the same metres.

    Parameters
    ----------
    found : Assessment
    stations : DataFrame
        ``length_m``, ``trail`` and ``chainage_m``; rows as in the evaluation.
    settings : Settings

    Returns
    -------
    str or None
        None unless the machine does not suit and such a setup passes more than the usual ones. Of
        several the one that passes most of these metres is named, then the lightest.
    """
    usual = [found.evaluation.column(name) for name in found.usual]
    table = found.ranking.setups.set_index("setup")
    if not usual or table["outcome"].loc[found.ranking.shown] != FALLS_SHORT:
        return None
    reserve = found.evaluation.reserve
    missed = np.asarray((reserve[:, usual] < 0).all(axis=1), dtype=bool)
    passed_m = stations["length_m"].to_numpy(dtype=float)[missed] @ (reserve[missed] >= 0)
    if not (passed_m > 0).any():
        return None
    mass_kg = np.array([item.added_mass_kg for item in found.items])
    best = int(np.lexsort((mass_kg, -passed_m))[0])
    name = str(table["description"].loc[found.evaluation.setups[best]])
    words = (
        f"{name} (ask the manufacturer first): passes {passed_m[best]:.0f} m that no usual setup "
        "of this machine passes"
    )
    alone = _best_outcome(found, usual, stations, settings)
    if alone != FALLS_SHORT:
        words += f'; if no such setup were listed, the outcome would be "{alone}"'
    return f"{words}."


def _best_outcome(
    found: Assessment, kept: Sequence[int], stations: pd.DataFrame, settings: Settings
) -> str:
    """Best outcome that some of the setups would have if the others were not listed."""
    measured = {}
    for state, answer in found.evaluations.items():
        dense = {
            field.name: getattr(answer, field.name)[:, kept]
            for field in fields(answer)
            if field.name != "setups"
        }
        names = tuple(answer.setups[k] for k in kept)
        fewer = replace(answer, setups=names, **dense)
        measured[state] = measure_setups(fewer, stations, settings.decision)
    outcomes = carry_over(measured)[settings.ground.state]["outcome"]
    return min((str(word) for word in outcomes), key=OUTCOMES.index)
