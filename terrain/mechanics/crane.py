"""A crane that is out: where it moves the weight, and what that takes of the room to tipping.

Plain statics of a rigid machine that stands still on a plane, its frames locked, on four points
under the centres of its axle groups. Jolts, a load that swings or catches, support legs, the give
of tyres and soil and frames that swing are not in it. For checking, never as permission.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.mechanics.loads import axle_loads_kn, normal_share
from terrain.models.machine import Crane

__all__ = ["end_parts", "side_part", "slopes_at_part", "swung_out"]

Floats = NDArray[np.float64]


def swung_out(
    mass_kg: ArrayLike, x_m: ArrayLike, height_m: ArrayLike, crane: Crane, angle_rad: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats]:
    """Swing the crane of a machine out with its load: mass (kg) and centre of gravity (m).

    Parameters
    ----------
    mass_kg, x_m, height_m : array_like
        All that rests on the wheels with the crane stowed, its centre ahead of the rear group and
        its height. The booms are in it.
    crane : Crane
    angle_rad : array_like
        0 points straight ahead, pi / 2 to the side that counts as positive, pi straight back.

    Returns
    -------
    mass_kg, x_m, y_m, height_m : ndarray
        Broadcast shape; ``y_m`` is the distance from the middle of the machine.

    Notes
    -----
    The booms go from their stowed place to their place at that reach; what hangs acts at the tip
    from which it hangs. ``x = sum(m_i x_i) / sum(m_i)``, the others likewise: standard statics.

    Examples
    --------
    >>> crane = Crane(2.0, 10.0, 500.0, 4.0, 1500.0, 4.0, 3.0, 0.0, 2.0)
    >>> mass, x, y, height = swung_out(19500.0, 3.0, 1.4, crane, np.pi / 2)
    >>> float(mass), round(float(x), 2), round(float(y), 2), round(float(height), 3)
    (20000.0, 3.12, 0.55, 1.54)
    """
    angle, mass = np.asarray(angle_rad, float), np.asarray(mass_kg, float)
    booms, lifted, column = crane.boom_mass_kg, crane.lifted_mass_kg, crane.column_ahead_of_rear_m
    total = mass + lifted
    out = booms * crane.boom_reach_m + lifted * crane.reach_m
    moment = (
        mass * np.asarray(x_m, float)
        + booms * (column - crane.boom_stowed_ahead_of_rear_m)
        + lifted * column
    )
    raised = booms * (crane.boom_height_m - crane.boom_stowed_height_m)
    height = (mass * np.asarray(height_m, float) + raised + lifted * crane.tip_height_m) / total
    x, y = (moment + out * np.cos(angle)) / total, out * np.sin(angle) / total
    total, x, y, height = np.broadcast_arrays(total, x, y, height)
    return total, x, y, height


def end_parts(
    x_m: ArrayLike,
    height_m: ArrayLike,
    level_x_m: ArrayLike,
    wheelbase_m: ArrayLike,
    grade: ArrayLike,
    cross_slope: ArrayLike = 0.0,
) -> tuple[Floats, Floats]:
    """Parts of the room to tipping over the rear and over the front end that are used up.

    Parameters
    ----------
    x_m, height_m : array_like
        Centre of gravity with the crane out, ahead of the rear group and above the ground, m.
    level_x_m : array_like
        The same with the crane stowed: the room is from there to the group that stays, m.
    wheelbase_m : array_like
        Distance of the groups, m.
    grade, cross_slope : array_like
        Ratios; grade positive where the front end points uphill.

    Returns
    -------
    over_rear, over_front : ndarray
        0 as the machine stands stowed on the level, 1 where the front (the rear) group carries
        nothing, negative where the weight has gone the other way, infinite without any room.

    Notes
    -----
    With the load ``F`` of :func:`terrain.mechanics.loads.axle_loads_kn` and the normal load ``N``
    the weight acts ``p = L F / N`` ahead of the rear: ``1 - p / x_level`` and
    ``1 - (L - p) / (L - x_level)``. With the crane stowed the first is the slope over the slope of
    :func:`terrain.mechanics.stability.lift_off_grades`.
    """
    base, level = np.asarray(wheelbase_m, float), np.asarray(level_x_m, float)
    front, _ = axle_loads_kn(1.0, x_m, height_m, base, grade, cross_slope=cross_slope)
    acts = base * front / normal_share(grade, cross_slope)
    return _used(acts, level), _used(base - acts, base - level)


def side_part(
    y_m: ArrayLike, height_m: ArrayLike, track_gauge_m: ArrayLike, cross_slope: ArrayLike = 0.0
) -> Floats:
    """Part of the room to tipping over the downhill side that is used up, crane out downhill.

    ``(y + h |cross|) / (t / 2)`` with the centre of gravity ``y_m`` beside the middle and
    ``height_m`` above the ground, and the track gauge in metres; cross slope a ratio of any sign.
    At 1 the uphill wheels carry nothing. With ``y_m = 0`` it is the cross slope over
    :func:`terrain.mechanics.stability.lateral_tip_slope`.
    """
    leans = np.asarray(height_m, float) * np.abs(np.asarray(cross_slope, float))
    return (np.asarray(y_m, float) + leans) / (np.asarray(track_gauge_m, float) / 2)


def slopes_at_part(
    part: float,
    x_m: tuple[float, float],
    y_m: float,
    height_m: float,
    level_x_m: float,
    wheelbase_m: float,
    track_gauge_m: float,
) -> tuple[float, float, float]:
    """Slopes (ratios) at which that part is used up: to the side, front uphill, front downhill.

    ``x_m`` are the centres with the crane straight back and straight ahead, ``y_m`` that with it
    straight to the side; the rest as in :func:`end_parts` and :func:`side_part`, of which these are
    the inverse on a slope in one direction. Negative where the level uses up more; NaN where the
    height is not positive.
    """
    if not height_m > 0:
        return np.nan, np.nan, np.nan
    left = 1.0 - part
    return (
        (part * track_gauge_m / 2 - y_m) / height_m,
        (x_m[0] - left * level_x_m) / height_m,
        (wheelbase_m - x_m[1] - left * (wheelbase_m - level_x_m)) / height_m,
    )


def _used(left_m: Floats, room_m: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        part = 1.0 - left_m / room_m
    return np.where(room_m > 0, part, np.where(np.isnan(room_m + left_m), np.nan, np.inf))
