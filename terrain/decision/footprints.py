"""How hard each axle group presses by several published routes, side by side, on the level.

The nominal pressure is the figure that forest guides speak of. Beside it stand a footprint on hard
ground, one on soft ground, and the mean of the peaks. They measure different things and must not be
compared with each other's limits: they show how far the answers lie apart.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import contact, peak_pressure
from terrain.mechanics.mounted import Mounted
from terrain.mechanics.relations import relation
from terrain.setups.combinations import axle_name

__all__ = ["ROUTES", "footprints_table"]

ROUTES = {
    "nominal": "nominal: load over radius times width",
    "nominal track": "nominal: load over width times length on hard ground",
    "long": "nominal with a longer contact on soft ground: the optimistic end",
    "deflection": "hard ground: area from the tyre's deflection",
    "keller": "soft soil: footprint of a farm tyre (Keller 2005)",
    "peaks": "mean of the pressure peaks (Rowland)",
}
"""The routes, in the words of the table."""

_NO_CHART = "needs the charted pressure of the tyre in the machine file"
_DUAL = "the inner tyre with half of the wheel's load"


def footprints_table(items: Sequence[Carried]) -> pd.DataFrame:
    """Pressures of every setup by every route that applies, loaded and empty.

    Parameters
    ----------
    items : sequence of Carried

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["footprints"]``; one row a setup, axle group, travel
        state and route. A route that lacks an input has NaN and says which; one that does not apply
        (a tyre's footprint under a band track) has no row.

    Notes
    -----
    Chains leave the tyre's own footprint and add their mass. The footprint of Keller was fitted on
    farm tyres at low pressure: for forest tyres at 300 kPa and more it is an extrapolation. The
    mean of the peaks is for the whole machine with the same gear on all wheels.
    """
    level = np.zeros(1)
    rows: list[dict[str, object]] = []
    for item in items:
        for laden in (True, False):
            if laden and item.load is None:
                continue
            group_kn, _, _ = group_loads(item, laden, level, level)
            start = {"setup": item.setup.id, "state": "loaded" if laden else "empty"}
            for i, g in enumerate(item.groups):
                place = start | {"group": axle_name(g.group)}
                rows += [place | row for row in _group_rows(g, float(group_kn[0, i]))]
            rows += [
                start | {"group": "whole machine"} | row
                for row in _peaks(item, float(group_kn.sum()))
            ]
    return pd.DataFrame(rows, columns=list(columns_of("footprints")))


def _group_rows(g: Mounted, load_kn: float) -> list[dict[str, object]]:
    kind = g.aid.kind if g.aid else "bare"
    tyre = g.group.tyre
    track = kind in ("band track", "wheel track")
    mean = load_kn / g.area_m2
    rows = [
        _row("nominal track", "ngp_track", mean, g.area_m2)
        if track
        else _row("nominal", "ngp_wheel", mean, g.area_m2)
    ]
    if kind == "band track" and g.aid is not None and g.group.bogie_spacing_m:
        width = g.aid.width_m or tyre.width_m
        optimistic = float(
            contact.ngp_track_mellgren_kpa(
                load_kn / 2, width, tyre.radius_m, g.group.bogie_spacing_m
            )
        )
        rows.append(_row("long", "ngp_track_mellgren", optimistic, load_kn / optimistic))
    if track:
        return rows
    wheel_kn = load_kn / g.tyres
    note = _DUAL if kind == "dual tyres" else ""
    deflection = contact.static_deflection_m(wheel_kn, g.inflation_kpa)
    area = float(contact.grecenko_area_m2(deflection, tyre.width_m, tyre.diameter_m))
    rows.append(_row("deflection", "grecenko_area", wheel_kn / area, area * g.tyres, note=note))
    if tyre.charted_inflation_kpa is None:
        rows.append(_row("keller", "keller_footprint", np.nan, np.nan, note=_NO_CHART))
        return rows
    foot = contact.keller_footprint(
        wheel_kn, g.inflation_kpa, tyre.charted_inflation_kpa, tyre.width_m, tyre.diameter_m
    )
    rows.append(
        _row(
            "keller",
            "keller_footprint",
            float(foot.mean_kpa),
            float(foot.area_m2) * g.tyres,
            float(foot.peak_kpa),
            note,
        )
    )
    return rows


def _peaks(item: Carried, weight_kn: float) -> list[dict[str, object]]:
    """Mean of the peaks, for bare or chained wheels, or band tracks, all round on one tyre size."""
    machine = item.machine
    tyre = machine.rear.tyre
    kinds = {g.aid.kind if g.aid else "bare" for g in item.groups}
    if machine.front.tyre.designation != tyre.designation:
        return []
    wheel_kn = weight_kn / machine.wheels
    # the hardest tyre of all: a band asks for the charted pressure, a soft tyre earns nothing there
    inflation = max(g.inflation_kpa for g in item.groups)
    deflection = contact.static_deflection_m(wheel_kn, inflation)
    if kinds in ({"bare"}, {"chains"}):
        driven = sum(g.group.wheels // 2 for g in item.groups if g.group.driven)
        peak = peak_pressure.mean_maximum_pressure_wheel_kpa(
            weight_kn,
            machine.wheels // 2,
            driven,
            tyre.width_m,
            tyre.diameter_m,
            deflection / tyre.section_height_m,
        )
        return [_row("peaks", "mmp_wheel", np.nan, np.nan, float(peak))]
    if kinds == {"band track"}:
        width = min(g.aid.width_m or tyre.width_m for g in item.groups if g.aid)
        peak = peak_pressure.mean_maximum_pressure_band_track_kpa(
            weight_kn, machine.wheels // 2, width, tyre.diameter_m, deflection
        )
        return [_row("peaks", "mmp_band_track", np.nan, np.nan, float(peak))]
    return []


def _row(
    route: str,
    relation_id: str,
    mean_kpa: float,
    area_m2: float,
    peak_kpa: float = np.nan,
    note: str = "",
) -> dict[str, object]:
    known = relation(relation_id)
    return {
        "route": ROUTES[route],
        "mean_kpa": mean_kpa,
        "peak_kpa": peak_kpa,
        "area_m2": area_m2,
        "status": known.status,
        "holds_for": "; ".join(part for part in (note, known.conditions) if part),
    }
