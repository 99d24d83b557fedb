"""What the model lets pass and published work does not show, and what it leaves out altogether.

The traction model looks at grip. A cable skidder that drags a load was found to work on gentler
slopes than grip alone allows (Đuka et al. 2018): the metres beyond that are told, never judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.models.machine import Machine
from terrain.sources import data_table

__all__ = ["Beyond", "beyond_published", "left_out_sentences", "published_grades"]

_CRANES = ("forwarder", "harvester")


@dataclass(frozen=True, slots=True)
class Beyond:
    """Loaded travel that is steeper than published work with such a load.

    ``down`` and ``up`` are the published grades (ratios), ``down_m`` and ``up_m`` the metres that
    are steeper, ``passed_m`` those of them that the setup passes in the model. ``load_kg`` is the
    load, ``largest_kg`` the largest that was published.
    """

    down: float
    up: float
    down_m: float
    up_m: float
    passed_m: float
    load_kg: float
    largest_kg: float

    @property
    def metres(self) -> float:
        """All metres steeper than the published grades."""
        return self.down_m + self.up_m

    @property
    def words(self) -> str:
        """The finding in two sentences."""
        if not self.metres:
            return (
                "No loaded travel here is steeper than published work of a cable skidder with such "
                "a load (Đuka et al. 2018)."
            )
        steeper = " and ".join(
            f"{way} on {metres:.0f} m"
            for way, metres in (("climbs", self.up_m), ("descends", self.down_m))
            if metres
        )
        beyond = ""
        if self.load_kg > self.largest_kg:
            beyond = f"; the largest load published is {self.largest_kg:.0f} kg"
        return (
            f"With {self.load_kg:.0f} kg loaded travel {steeper} more steeply than published work "
            f"of a cable skidder with such a load (Đuka et al. 2018{beyond}). By grip alone the "
            f"model passes {self.passed_m:.0f} m of that: the published work stayed below, so do "
            "not read it as a permission."
        )


@cache
def _envelope(machine: str) -> dict[str, Any]:
    rows = data_table("operating_envelopes")["envelope"]
    return next(row for row in rows if row["machine"] == machine)


def published_grades(load_kg: float) -> tuple[float, float]:
    """Steepest descent and climb (ratios) of a cable skidder with this load, as published.

    Between two loads, and above the largest, the narrower figures of the neighbours count (planning
    assumption): none is made up. Đuka et al. 2018, ``terrain/data/operating_envelopes.toml``.

    Examples
    --------
    >>> published_grades(3500.0)
    (-0.34, 0.3)
    """
    masses, downs, ups = np.array(_envelope("skidder")["loads"]).T
    after = int(np.searchsorted(masses, load_kg))
    before = after if after < len(masses) and masses[after] == load_kg else after - 1
    near = sorted({max(before, 0), min(after, len(masses) - 1)})
    return float(downs[near].max()), float(ups[near].min())


def beyond_published(
    stations: pd.DataFrame, item: Carried, reserve_loaded: NDArray[np.float64]
) -> Beyond | None:
    """Loaded travel steeper than published work; None for anything but a skidder that drags.

    Parameters
    ----------
    stations : DataFrame
        ``grade`` (ratio, positive uphill in the direction of loaded travel), ``length_m``.
    item : Carried
        The load within its ratings is asked for.
    reserve_loaded : ndarray, shape (n_station,)
        The setup's reserve loaded toward the landing; NaN unknown.
    """
    load = item.load
    if item.machine.kind != "skidder" or load is None or load.carried_share >= 1:
        return None
    down, up = published_grades(load.mass_kg)
    grade = stations["grade"].to_numpy(dtype=float)
    length = stations["length_m"].to_numpy(dtype=float)
    steep_up, steep_down = grade > up, grade < down
    passed = (steep_up | steep_down) & (np.asarray(reserve_loaded, float) >= 0)
    largest = float(_envelope("skidder")["loads"][-1][0])
    return Beyond(
        down,
        up,
        float(length[steep_down].sum()),
        float(length[steep_up].sum()),
        float(length[passed].sum()),
        load.mass_kg,
        largest,
    )


def left_out_sentences(
    stations: pd.DataFrame, item: Carried, reserve_loaded: NDArray[np.float64]
) -> tuple[str, ...]:
    """Sentences for "what was not assessed": work of a crane, slopes beyond published work.

    Arguments as in :func:`beyond_published`, of the shown setup.
    """
    beyond = beyond_published(stations, item, reserve_loaded)
    said = [] if beyond is None or not beyond.metres else [beyond.words]
    return (*_crane(item.machine), *said)


def _crane(machine: Machine) -> tuple[str, ...]:
    if machine.crane is not None:
        return (
            "Crane work is computed for one reach and load, as a rigid machine that stands still "
            "with its frames locked and straight: jolts, a load that swings, slips or catches, "
            "support legs, the give of tyres and soil, holes and frames that swing are not in it, "
            "and where the machine will work with its crane is not known. The manufacturer's crane "
            "chart and stability rules decide.",
        )
    if machine.kind not in _CRANES:
        return (
            "Work with a crane or boom, if it has one, is not computed: the machine file has no "
            "[crane]. The manufacturer's crane chart and stability rules decide.",
        )
    return (
        "Crane work is not computed, the machine file has no [crane]: neither the load of a "
        "slewing or reaching crane on wheels and axles nor what it does to stability. The "
        "manufacturer's crane chart and stability rules decide.",
    )
