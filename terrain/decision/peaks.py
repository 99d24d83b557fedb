"""Mean maximum pressure of a setup: that under the axle group which presses hardest."""

from __future__ import annotations

import numpy as np

from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import contact, peak_pressure

__all__ = ["mean_maximum_kpa", "peaks_relation"]


def peaks_relation(item: Carried) -> str:
    """Id of the form that applies; empty where axles differ in tyre size or gear, or none fits."""
    kinds = {g.aid.kind if g.aid else "bare" for g in item.groups}
    if item.machine.front.tyre.designation != item.machine.rear.tyre.designation:
        return ""
    if kinds in ({"bare"}, {"chains"}):
        return "mmp_wheel"
    return "mmp_band_track" if kinds == {"band track"} else ""


def mean_maximum_kpa(item: Carried, laden: bool) -> float:
    """Mean maximum pressure on level ground, kPa; NaN where :func:`peaks_relation` is empty.

    Parameters
    ----------
    item : Carried
    laden : bool
        With the load within the ratings; else empty.

    Notes
    -----
    The forms (:mod:`terrain.mechanics.peak_pressure`) speak of a machine whose axles carry alike.
    So each group is taken as if all axles carried what it does, on its own tyres with its own
    inflation, and the larger answer counts. NaN too under band tracks without a charted pressure.
    """
    form = peaks_relation(item)
    if not form:
        return np.nan
    machine, level = item.machine, np.zeros(1)
    group_kn, _, _ = group_loads(item, laden, level, level)
    axles = machine.wheels // 2
    driven = sum(g.group.wheels // 2 for g in item.groups if g.group.driven)
    found = []
    for i, g in enumerate(item.groups):
        tyre = g.group.tyre
        wheel_kn = float(group_kn[0, i]) / g.group.wheels
        deflection_m = contact.static_deflection_m(wheel_kn, g.inflation_kpa)
        if form == "mmp_wheel":
            kpa = peak_pressure.mean_maximum_pressure_wheel_kpa(
                wheel_kn * machine.wheels,
                axles,
                driven,
                tyre.width_m,
                tyre.diameter_m,
                deflection_m / tyre.section_height_m,
            )
        else:
            width_m = g.aid.width_m if g.aid and g.aid.width_m else tyre.width_m
            kpa = peak_pressure.mean_maximum_pressure_band_track_kpa(
                wheel_kn * machine.wheels, axles, width_m, tyre.diameter_m, deflection_m
            )
        found.append(float(kpa))
    return float(np.max(found))
