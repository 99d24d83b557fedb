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
from terrain.decision.peaks import mean_maximum_kpa, peaks_relation
from terrain.mechanics import contact
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
_FULL_LOAD = "loaded only: the charted pressure is that of the full load"
_HEAVIER = "as if all axles pressed like the one that presses harder"
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
    farm tyres at low pressure: for forest tyres at 300 kPa and more it is an extrapolation. It asks
    for the pressure charted for the wheel load, which is known for the full load alone. The
    mean of the peaks is for a machine with the same gear on all wheels, see
    :func:`terrain.decision.peaks.mean_maximum_kpa`.
    """
    level = np.zeros(1)
    rows: list[dict[str, object]] = []
    for item in items:
        for laden in (True, False):
            if laden and item.load is None:
                continue
            group_kn, _, _ = group_loads(item, laden, level, level)
            full = laden or item.load is None
            start = {"setup": item.setup.id, "state": "loaded" if laden else "empty"}
            for i, g in enumerate(item.groups):
                place = start | {"group": axle_name(g.group)}
                rows += [place | row for row in _group_rows(g, float(group_kn[0, i]), full)]
            if form := peaks_relation(item):
                peak_kpa = mean_maximum_kpa(item, laden)
                row = _row("peaks", form, np.nan, np.nan, peak_kpa, _HEAVIER)
                rows.append(start | {"group": "whole machine"} | row)
    return pd.DataFrame(rows, columns=list(columns_of("footprints")))


def _group_rows(g: Mounted, load_kn: float, full: bool) -> list[dict[str, object]]:
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
    if tyre.charted_inflation_kpa is None or not full:
        note = _NO_CHART if full else _FULL_LOAD
        rows.append(_row("keller", "keller_footprint", np.nan, np.nan, note=note))
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
