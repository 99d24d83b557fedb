"""Slopes from which to check the stability with the maker's data: never a permission.

Rigid statics with a part of 0.6, a planning assumption for oscillating frames, obstacles and loads
that move. An aid can only lower a check slope here (its mass may shift the balance to the rear or
front); its low mass or its width never raises one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import loads, stability

__all__ = ["DIRECTIONS", "lift_off_m", "stability_checks"]

DIRECTIONS = ("across the slope", "front end uphill", "front end downhill")
"""What is looked at, in this order, loaded and empty."""


def stability_checks(stations: pd.DataFrame, items: Sequence[Carried]) -> pd.DataFrame:
    """Check slopes of every setup across, uphill and downhill, loaded and empty.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``length_m``, ``trail``, ``chainage_m``.
    items : sequence of Carried

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["stability_checks"]``; one row a setup, travel state and
        direction. Slopes are ratios, all positive.

    Notes
    -----
    The load is the machine's full load, also where the ratings leave a setup less: a smaller load
    is not credited. The front group leads both ways, so a loaded climb has the front end uphill and
    so has an empty trip that climbs away from the landing.
    """
    rows = []
    for item in items:
        for laden in (True, False):
            if laden and item.machine.load is None:
                continue
            for direction, tip in zip(DIRECTIONS, _tip_slopes(item, laden), strict=True):
                rows.append(
                    {"setup": item.setup.id, "state": "loaded" if laden else "empty"}
                    | _row(stations, direction, laden, tip)
                )
    return pd.DataFrame(rows, columns=list(columns_of("stability_checks")))


def lift_off_m(stations: pd.DataFrame, item: Carried) -> float:
    """Metres on which an axle group of the setup carries less than nothing, in either state.

    Nothing is assessed there. ``stations`` has ``grade``, ``cross_slope`` (ratios) and
    ``length_m``; metres without a known slope are not among them.
    """
    cross = stations["cross_slope"].to_numpy(float)
    lifts = np.zeros(len(stations), dtype=bool)
    for laden, way in ((True, 1.0), (False, -1.0)):
        load, _, _ = group_loads(item, laden, way * stations["grade"].to_numpy(float), cross)
        lifts |= (load < 0).any(axis=-1)
    return float(stations["length_m"].to_numpy(float)[lifts].sum())


def _tip_slopes(item: Carried, laden: bool) -> tuple[float, float, float]:
    """Rigid tipping slopes across, up and down: the smaller one of without and with the aids."""
    without, with_aids = _centre(item, laden, False), _centre(item, laden, True)
    found = []
    for mass, x, height in (without, with_aids):
        load = item.machine.load if laden else None
        drag = (0.0, 0.0, 0.0)
        if load is not None and mass > 0:
            on_ground = load.mass_kg * (1 - load.carried_share) / mass
            drag = (on_ground, load.drag_coefficient, load.pull_height_m)
        up, down = stability.longitudinal_tip_slopes(x, height, item.machine.wheelbase_m, *drag)
        across = stability.lateral_tip_slope(height, item.machine.track_gauge_m)
        found.append((float(across), float(up), float(down)))
    across, up, down = (min(pair) for pair in zip(*found, strict=True))
    return across, up, down


def _centre(item: Carried, laden: bool, aids: bool) -> tuple[float, float, float]:
    """Mass on the wheels (kg), its centre ahead of the rear group and its height (m)."""
    m = item.machine
    masses = [m.unladen_mass_kg]
    x = [m.unladen_front_kg / m.unladen_mass_kg * m.wheelbase_m]
    height = [m.cg_height_m]
    if aids:
        masses += [g.aid_mass_kg for g in item.groups]
        x += [m.wheelbase_m, 0.0]
        # at the height of the centre of gravity: mass that sits low is not credited
        height += [m.cg_height_m, m.cg_height_m]
    if laden and m.load is not None:
        masses.append(m.load.mass_kg * m.load.carried_share)
        x.append(m.load.centre_ahead_of_rear_m)
        height.append(m.load.centre_height_m)
    mass, centre, high = loads.combine(masses, x, height)
    return float(mass), float(centre), float(high)


def _row(stations: pd.DataFrame, direction: str, laden: bool, tip: float) -> dict[str, object]:
    grade = stations["grade"].to_numpy(float)
    travel = grade if laden else -grade
    slope = {
        DIRECTIONS[0]: np.abs(stations["cross_slope"].to_numpy(float)),
        DIRECTIONS[1]: travel,
        DIRECTIONS[2]: -travel,
    }[direction]
    check = stability.CHECK_PART * tip
    length = stations["length_m"].to_numpy(float)
    row: dict[str, object] = {
        "direction": direction,
        "check_slope": check,
        "tip_slope": tip,
        "reached_m": float(length[slope >= check].sum()),
        "unknown_m": float(length[np.isnan(slope)].sum()),
        "steepest_slope": np.nan,
        "trail": None,
        "chainage_m": np.nan,
    }
    if np.isfinite(slope).any() and np.nanmax(slope) > 0:
        at = int(np.nanargmax(slope))
        row |= {
            "steepest_slope": float(slope[at]),
            "trail": stations["trail"].iloc[at],
            "chainage_m": float(stations["chainage_m"].iloc[at]),
        }
    return row
