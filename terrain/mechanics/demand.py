"""Does the machine hold on this slope: grip that the axle groups give against what the slope asks.

One balance for both directions of force: driving (climbing, or pulling through soft ground) and
holding back on a descent. Everything is a ratio to the machine's normal load.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Binding",
    "GripBalance",
    "effort_at_radius_kn",
    "friction_demand",
    "grip_balance",
    "held_to",
]

Floats = NDArray[np.float64]


class Binding(IntEnum):
    """What leaves the least reserve."""

    UNKNOWN = -1
    GRIP_DRIVING = 0
    DRIVELINE = 1
    GRIP_HOLDING = 2
    CROSS_SLOPE = 3
    AXLE_LIFTS = 4
    SIDE_LIFTS = 5


class GripBalance(NamedTuple):
    """Result of :func:`grip_balance`; arrays of one shape, ratios to the normal load.

    Where :func:`held_to` found a nearer limit, capacity and demand are slopes (ratios).

    ``reserve_ratio = capacity_ratio - demand_ratio``; negative is short. ``binding`` holds the
    codes of :class:`Binding` (int8).
    """

    reserve_ratio: Floats
    capacity_ratio: Floats
    demand_ratio: Floats
    binding: NDArray[np.int8]


def grip_balance(
    load_kn: ArrayLike,
    gross_ratio: ArrayLike,
    resistance_ratio: ArrayLike,
    towed_ratio: ArrayLike,
    driven: ArrayLike,
    grade: ArrayLike,
    cross_slope: ArrayLike = 0.0,
    effort_cap_kn: ArrayLike = np.inf,
    drag_kn: ArrayLike = 0.0,
    braking_ratio: ArrayLike = 0.0,
) -> GripBalance:
    """Balance grip and demand of a machine at one slip, driving and holding back.

    Parameters
    ----------
    load_kn : array_like, shape (..., groups)
        Normal load of each axle group, kN. A negative load makes the result NaN: where a group
        lifts off, give :func:`terrain.mechanics.loads.resting_loads_kn` and see :func:`held_to`.
    gross_ratio : array_like, shape (..., groups)
        Gross traction ratio at the slip limit, film cap included.
    resistance_ratio, towed_ratio : array_like, shape (..., groups)
        Motion resistance ratio at that slip (driven groups) and when rolling free.
    driven : array_like of bool, shape (..., groups)
        An undriven group gives no gross traction and rolls with its towed resistance. It is not
        credited with brakes either.
    grade : array_like, shape (...)
        Ratio, positive where the travel climbs, whichever end of the machine leads.
    cross_slope : array_like, shape (...)
        Ratio, any sign.
    effort_cap_kn : array_like, shape (...)
        Largest thrust of the driveline in kN; infinity when unknown. Does not limit braking.
    drag_kn : array_like, shape (...)
        Pull of a dragged load, kN, positive against the travel. It adds to the driving demand.
        When holding back only a load that pushes (negative) counts, never one that helps.
    braking_ratio : array_like, shape (..., groups)
        Rolling resistance that is credited with holding back on a descent beside the grip. Only
        for a group that is not driven: that of firm ground
        (:func:`terrain.mechanics.traction.firm_rolling_ratio`), no more than a film lets it have.
        0 for a driven group: its gross ratio holds the same constant already, and the ground can
        give it once only. Sinkage is no brake that anybody may count on.

    Returns
    -------
    GripBalance
        The condition with the smaller reserve, with its capacity and demand.

    Notes
    -----
    ``G`` is the load-weighted gross ratio, ``c`` the cross slope: the friction circle leaves
    ``sqrt(G^2 - c^2)`` along the travel, taken as ``-sqrt(c^2 - G^2)`` where the cross slope alone
    asks for more than the grip. Driving asks for ``grade + f`` with the resistance at slip,
    holding back for ``-(grade + f_firm)`` with the firm-ground rolling of undriven groups alone. So
    stronger ground (more grip, less resistance at slip) never lowers the reserve. Both must hold at
    every point; the smaller reserve is continuous in grade, falls with it on climbs and with its
    size on descents.
    Adhesion demand of standard statics; weights along and across are taken per normal load. On
    ground that slopes both ways the exact plane asks for ``sqrt(1 + c^2 / (1 + g^2))`` as much
    along and ``1 / sqrt(1 + g^2)`` as much across: at 20 % both ways 2 % more along, at 30 % 4 %.
    The two partly cancel: with grip of 0.4 and more and neither slope over 30 % the reserve comes
    out at most 0.008 too high and 0.002 too low.
    """
    load = np.asarray(load_kn, float)
    load = np.where(load < 0, np.nan, load)
    driven = np.asarray(driven, bool)
    normal = load.sum(axis=-1)

    def weighted(ratio: ArrayLike) -> Floats:
        # a group without load neither grips nor resists, whatever its ratio
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            part = np.where(load == 0, 0.0, load * np.asarray(ratio, float))
            return part.sum(axis=-1) / normal

    grip = weighted(np.where(driven, np.asarray(gross_ratio, float), 0.0))
    resistance = weighted(np.where(driven, np.asarray(resistance_ratio, float), towed_ratio))
    rolling = weighted(braking_ratio)
    grade = np.asarray(grade, float)
    cross = np.abs(np.asarray(cross_slope, float))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        drag = np.asarray(drag_kn, float) / normal
        driveline = np.asarray(effort_cap_kn, float) / normal

    left = grip**2 - cross**2
    circle = np.sign(left) * np.sqrt(np.abs(left))
    drive_capacity = np.minimum(circle, driveline)
    drive_demand = grade + resistance + drag
    hold_demand = -(grade + rolling + np.minimum(drag, 0.0))

    drive_reserve, hold_reserve = drive_capacity - drive_demand, circle - hold_demand
    holding = hold_reserve < drive_reserve
    reserve = np.where(holding, hold_reserve, drive_reserve)
    capacity = np.where(holding, circle, drive_capacity)
    demand = np.where(holding, hold_demand, drive_demand)

    binding = np.where(holding, Binding.GRIP_HOLDING, Binding.GRIP_DRIVING)
    binding = np.where(~holding & (driveline < circle), Binding.DRIVELINE, binding)
    binding = np.where(left < 0, Binding.CROSS_SLOPE, binding)
    unknown = np.isnan(drive_reserve) | np.isnan(hold_reserve)
    return GripBalance(
        np.where(unknown, np.nan, reserve),
        np.where(unknown, np.nan, capacity),
        np.where(unknown, np.nan, demand),
        np.where(unknown, Binding.UNKNOWN, binding).astype(np.int8),
    )


def held_to(
    balance: GripBalance, limit: ArrayLike, slope: ArrayLike, binding: Binding
) -> GripBalance:
    """Hold a balance to a slope beyond which the machine no longer stands on its wheels.

    Parameters
    ----------
    balance : GripBalance
    limit, slope : array_like
        The slope (ratio) at which wheels carry nothing any longer, and the slope that is there,
        both counted positive toward that limit.
    binding : Binding
        What to name where this leaves less than the grip.

    Returns
    -------
    GripBalance
        The smaller reserve of the two: ``limit - slope`` is how much steeper the ground could be,
        as the reserve of the grip is how much steeper the trail could be. Negative beyond the
        limit, whatever the grip. Unknown stays unknown.
    """
    limit, slope = np.asarray(limit, float), np.asarray(slope, float)
    left = limit - slope
    with np.errstate(invalid="ignore"):
        nearer = left < balance.reserve_ratio
    return GripBalance(
        np.where(nearer, left, balance.reserve_ratio),
        np.where(nearer, limit, balance.capacity_ratio),
        np.where(nearer, slope, balance.demand_ratio),
        np.where(nearer, binding, balance.binding).astype(np.int8),
    )


def friction_demand(
    grade: ArrayLike, resistance_ratio: ArrayLike, cross_slope: ArrayLike = 0.0
) -> Floats:
    """Gross grip that a slope asks for, ratio to the normal load, all wheels driven.

    ``sqrt((grade + f)^2 + cross^2)`` with grade positive uphill and motion resistance ``f``;
    downhill ``grade`` is negative and the same form gives the braking demand. Standard statics.
    """
    along = np.asarray(grade, float) + np.asarray(resistance_ratio, float)
    return np.hypot(along, np.asarray(cross_slope, float))


def effort_at_radius_kn(
    max_effort_kn: ArrayLike, radius_m: ArrayLike, added_thickness_m: ArrayLike
) -> Floats:
    """Largest thrust at the ground after an aid has enlarged the rolling radius, kN.

    ``F r / (r + t)``: the axle torque stays. ``radius_m`` of the bare tyre and
    ``added_thickness_m`` under it in metres. Where the groups differ, use the larger thickness.
    """
    radius = np.asarray(radius_m, float)
    return np.asarray(max_effort_kn, float) * radius / (radius + np.asarray(added_thickness_m))
