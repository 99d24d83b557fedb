"""Every setup at every station: traction reserve and nominal ground pressure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried, group_loads
from terrain.decision.results import Evaluation
from terrain.decision.travel import Travel, surface_of, travel_over
from terrain.mechanics import demand
from terrain.models.settings import Settings

__all__ = ["evaluate", "setup_facts"]

Floats = NDArray[np.float64]


def evaluate(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> tuple[Evaluation, pd.Series]:
    """Fill the dense arrays for every station and setup.

    Parameters
    ----------
    stations : DataFrame
        With ``grade``, ``cross_slope``, ``cone_index_kpa``, ``bearing_kpa``, ``length_m``, and
        ``film`` with ``film_grip_cap`` as :func:`terrain.stations.surface_film.film_at` gives
        them. Without these two the block's film lies everywhere.
    items : sequence of Carried
        The kept setups.
    settings : Settings
        Slip limit, the block's surface film.

    Returns
    -------
    Evaluation
    Series
        Work against motion resistance of one loaded and one empty trip over all assessed metres,
        MJ, by setup. It rests on the towed resistance; grade work is left out because it differs
        between setups by their mass alone.

    Notes
    -----
    A setup passes where the machine holds loaded toward the landing and empty away from it. A
    machine without load is looked at with its one mass in both directions. The front group leads
    both ways. Where an axle group or the uphill wheels lift off in the statics the setup fails,
    whatever the grip: the reserve is the slope at which they lift less the slope that is there,
    where that is less than what the grip leaves; the lifting is named as the cause there even where
    the grip leaves less still. NaN is for unknown ground alone. Pressure is that
    of the downhill side on the cross slope, the larger of the groups and of the two states. A
    higher cone index never lowers the reserve: grip rises with it, the resistance falls, and a
    descent is credited with the resistance of firm ground only: once, within the gross traction of
    a driven group, and by itself where a group is not driven.
    """
    n = len(stations)
    bearing = stations["bearing_kpa"].to_numpy(dtype=float)
    length = stations["length_m"].to_numpy(dtype=float)
    surface = surface_of(stations, settings.ground)
    shape = (n, len(items))
    reserve = np.full((2, *shape), np.nan)
    cause = np.zeros((2, *shape), dtype=np.int8)
    lift_left = np.full((2, *shape), np.inf)
    pressure = np.full(shape, np.nan)
    outside = np.zeros(shape, dtype=bool)
    work = {}
    for k, item in enumerate(items):
        force = np.zeros(n)
        pressures = []
        for state, laden in enumerate((True, False)):
            way = travel_over(stations, item, laden, settings, surface)
            reserve[state, :, k] = way.balance.reserve_ratio
            cause[state, :, k] = _cause(way, laden)
            known = np.isfinite(way.balance.reserve_ratio)
            lift_left[state, :, k] = np.where(known, np.minimum(*way.lift_left), np.inf)
            pressures.append(way.pressure_kpa.max(axis=-1))
            for i, g in enumerate(item.groups):
                outside[:, k] |= g.outside_brixius(way.load_kn[:, i])
            force += (way.load_kn * way.towed).sum(axis=-1)
        pressure[:, k] = np.max(pressures, axis=0)
        assessed = np.isfinite(reserve[:, :, k]).all(axis=0)
        work[item.setup.id] = float((length * force)[assessed].sum() / 1000.0)
    lifts = (lift_left < 0).any(axis=0)
    smaller = np.argmin(np.where(lifts, lift_left, np.nan_to_num(reserve, nan=np.inf)), axis=0)
    result = Evaluation(
        setups=tuple(item.setup.id for item in items),
        reserve_loaded=reserve[0],
        reserve_empty=reserve[1],
        cause=np.where(smaller == 0, cause[0], cause[1]).astype(np.int8),
        pressure_kpa=pressure,
        pressure_ratio=pressure / bearing[:, None],
        extrapolated=outside,
    )
    return result, pd.Series(work, name="work_mj", dtype=float)


def _cause(way: Travel, laden: bool) -> NDArray[np.int8]:
    """Codes of :data:`terrain.decision.results.CAUSES` from what binds in one travel state.

    Where driving grip binds, the largest part of what is asked names the cause: the grade, the
    rolling resistance at slip, or the dragged load. Where wheels lift off that is the cause,
    whatever the grip leaves.
    """
    empty = 0 if laden else 1
    binding, normal = way.balance.binding, way.load_kn.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        drag = np.maximum(way.drag_kn, 0.0) / normal
    rolling = way.balance.demand_ratio - way.grade - drag
    along, across = way.lift_left
    return np.select(
        [
            binding == demand.Binding.UNKNOWN,
            (along < 0) & (along <= across),
            across < 0,
            binding == demand.Binding.CROSS_SLOPE,
            binding == demand.Binding.DRIVELINE,
            binding == demand.Binding.GRIP_HOLDING,
            binding == demand.Binding.AXLE_LIFTS,
            binding == demand.Binding.SIDE_LIFTS,
            (drag > rolling) & (drag > way.grade),
            rolling > way.grade,
        ],
        [
            0,
            12 + empty,
            14 + empty,
            5 + empty,
            7 + empty,
            2 + 2 * empty,
            12 + empty,
            14 + empty,
            11,
            9 + empty,
        ],
        default=1 + 2 * empty,
    ).astype(np.int8)


def setup_facts(items: Sequence[Carried], work_mj: pd.Series) -> pd.DataFrame:
    """What each setup weighs and presses with on the level, index setup, columns as registered."""
    level = np.zeros(1)
    rows = []
    for item in items:
        empty, _, _ = group_loads(item, False, level, level)
        laden, _, _ = group_loads(item, True, level, level)
        pressure = [
            float(item.groups[i].nominal_pressure_kpa(state[0, i]))
            for state in (empty, laden)
            for i in (0, 1)
        ]
        full = item.machine.payload_kg
        cap = item.effort_cap_kn
        rows.append(
            {
                "setup": item.setup.id,
                "added_mass_kg": item.added_mass_kg,
                "payload_kg": item.payload_kg,
                "payload_lost_kg": full - item.payload_kg,
                "ngp_front_empty_kpa": pressure[0],
                "ngp_rear_empty_kpa": pressure[1],
                "ngp_front_loaded_kpa": pressure[2],
                "ngp_rear_loaded_kpa": pressure[3],
                "effort_cap_kn": cap if np.isfinite(cap) else np.nan,
            }
        )
    table = pd.DataFrame(rows).set_index("setup")
    bare = [item.setup.id for item in items if item.setup.is_bare]
    base = work_mj[bare[0]] if bare else np.nan
    with np.errstate(divide="ignore", invalid="ignore"):
        table["work_ratio"] = work_mj / base if base and base > 0 else np.nan
    return table
