"""Where the weight goes: centre of gravity, axle loads on a grade, side loads on a cross slope.

Plain statics of a rigid machine standing or moving steadily on a plane. Grade is a ratio, positive
when the machine's **front end points uphill**: a forwarder that drives backwards up a slope has its
rear end uphill, so its grade here is negative although it climbs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "axle_loads_kn",
    "bogie_wheel_loads_kn",
    "combine",
    "downhill_side_kn",
    "drag_pull_kn",
    "group_thrust_kn",
    "normal_share",
    "payload_within_ratings_kg",
    "resting_loads_kn",
    "side_shares",
]

Floats = NDArray[np.float64]


def combine(masses_kg: ArrayLike, x_m: ArrayLike, height_m: ArrayLike) -> tuple[Floats, ...]:
    """Combine masses into one: total mass (kg) and its centre of gravity (m).

    Parameters
    ----------
    masses_kg, x_m, height_m : array_like, shape (..., parts)
        Mass in kg, distance ahead of the rear group in m (negative behind it), height in m above
        the ground of each part. They broadcast; the last axis is summed.

    Returns
    -------
    mass_kg, x_m, height_m : ndarray, shape (...)
        Position is NaN where the total mass is zero.

    Notes
    -----
    ``x = sum(m_i x_i) / sum(m_i)``, height likewise: moment equilibrium, standard statics.

    Examples
    --------
    >>> mass, x, height = combine([20000, 14000], [2.75, 0.2], [1.4, 2.2])
    >>> float(mass), round(float(x), 3), round(float(height), 3)
    (34000.0, 1.7, 1.729)
    """
    masses, x, height = np.broadcast_arrays(
        np.asarray(masses_kg, float), np.asarray(x_m, float), np.asarray(height_m, float)
    )
    total = masses.sum(axis=-1)
    divisor = np.where(total > 0, total, np.nan)
    return total, (masses * x).sum(axis=-1) / divisor, (masses * height).sum(axis=-1) / divisor


def normal_share(grade: ArrayLike, cross_slope: ArrayLike = 0.0) -> Floats:
    """Share of the weight that presses on the ground, ``cos(atan(hypot(grade, cross_slope)))``.

    Both slopes are ratios of any sign and broadcast; the result lies in (0, 1].
    """
    grade, cross = np.asarray(grade, float), np.asarray(cross_slope, float)
    return 1.0 / np.sqrt(1.0 + grade**2 + cross**2)


def axle_loads_kn(
    weight_kn: ArrayLike,
    cg_ahead_of_rear_m: ArrayLike,
    cg_height_m: ArrayLike,
    wheelbase_m: ArrayLike,
    grade: ArrayLike,
    pull_kn: ArrayLike = 0.0,
    pull_height_m: ArrayLike = 0.0,
    cross_slope: ArrayLike = 0.0,
) -> tuple[Floats, Floats]:
    """Loads of the front and the rear axle group normal to the ground, kN.

    Parameters
    ----------
    weight_kn : array_like
        Weight (mass times g) in kN of everything the wheels carry.
    cg_ahead_of_rear_m, cg_height_m : array_like
        Centre of gravity: metres ahead of the rear group, metres above the ground.
    wheelbase_m : array_like
        Distance between the group centres in metres.
    grade : array_like
        Ratio, positive when the front end points uphill (the machine's forward frame; a reversing
        machine that climbs has a negative grade here).
    pull_kn, pull_height_m : array_like
        Rearward pull along the ground behind the machine (dragged load) and its height in metres.
    cross_slope : array_like
        Ratio across the machine, any sign.

    Returns
    -------
    front_kn, rear_kn : ndarray
        Broadcast shape. A negative value is kept: it means that the group lifts off.

    Notes
    -----
    With N the total normal load, moments about the rear contact give
    ``front = (N x - W sin(atan(grade)) h - P h_p) / L`` and ``rear = N - front``. On a plane with a
    cross slope ``N = W / sqrt(1 + grade^2 + cross^2)`` and the weight along the travel line stays
    ``W sin(atan(grade))``. Standard statics, tractor form as in Liljedahl et al. 1989.
    """
    weight, grade = np.asarray(weight_kn, float), np.asarray(grade, float)
    normal = weight * normal_share(grade, cross_slope)
    along = weight * grade / np.sqrt(1.0 + grade**2)
    front = (
        normal * np.asarray(cg_ahead_of_rear_m, float)
        - along * np.asarray(cg_height_m, float)
        - np.asarray(pull_kn, float) * np.asarray(pull_height_m, float)
    ) / np.asarray(wheelbase_m, float)
    return front, normal - front


def resting_loads_kn(load_kn: ArrayLike) -> Floats:
    """Loads of the axle groups where none can pull on the ground, kN; last axis is the groups.

    The statics of :func:`axle_loads_kn` give a group that lifts off a negative load. It carries
    nothing then, and the other group all of the normal load. Their sum stays; NaN stays NaN.
    """
    load = np.asarray(load_kn, float)
    return np.minimum(np.maximum(load, 0.0), load.sum(axis=-1, keepdims=True))


def side_shares(
    cross_slope: ArrayLike, cg_height_m: ArrayLike, track_gauge_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Shares of the weight on the uphill and the downhill wheels, summing to ``cos(a)``.

    Parameters
    ----------
    cross_slope : array_like
        Ratio; only its size counts.
    cg_height_m, track_gauge_m : array_like
        Height of the centre of gravity and distance between the wheel centres of one axle, metres.

    Returns
    -------
    uphill, downhill : ndarray
        Ratios to the weight. From :func:`terrain.mechanics.stability.lateral_tip_slope` on the
        uphill wheels have lifted: theirs is 0 and the downhill wheels carry everything, never more.

    Notes
    -----
    ``uphill = max(0, cos(a) / 2 - (h / t) sin(a))``, ``downhill = cos(a) - uphill`` with
    ``a = atan(|cross_slope|)``; rigid machine, standard statics (Liljedahl et al. 1989).

    Examples
    --------
    >>> up, down = side_shares(np.tan(np.radians(30)), 0.8, 1.6)
    >>> round(float(down), 4)
    0.683
    """
    slope = np.abs(np.asarray(cross_slope, float))
    cosine = 1.0 / np.sqrt(1.0 + slope**2)
    tilt = np.asarray(cg_height_m, float) / np.asarray(track_gauge_m, float)
    uphill = cosine * np.maximum(0.5 - tilt * slope, 0.0)
    return uphill, cosine - uphill


def downhill_side_kn(
    group_kn: ArrayLike, cross_slope: ArrayLike, cg_height_m: ArrayLike, track_gauge_m: ArrayLike
) -> Floats:
    """Load of the downhill side of an axle group on a cross slope, kN.

    Parameters
    ----------
    group_kn : array_like
        Load of the whole group normal to the ground, both sides, kN.
    cross_slope : array_like
        Ratio; only its size counts.
    cg_height_m, track_gauge_m : array_like
        Height of the machine's centre of gravity, distance between the wheel centres, metres.

    Notes
    -----
    ``group min(1, 1/2 + (h / t) |cross|)``: the shares of :func:`side_shares` over their sum. A
    side never carries more than the whole group: there the uphill wheels have lifted. A rigid
    machine hands the moment to its groups in proportion to their loads (planning assumption; an
    axle that swings freely under the frame takes less of it, and the other group more).
    """
    tilt = np.asarray(cg_height_m, float) / np.asarray(track_gauge_m, float)
    share = 0.5 + tilt * np.abs(np.asarray(cross_slope, float))
    return np.asarray(group_kn, float) * np.minimum(share, 1.0)


def group_thrust_kn(
    load_kn: ArrayLike,
    resistance_ratio: ArrayLike,
    driven: ArrayLike,
    grade: ArrayLike,
    cross_slope: ArrayLike = 0.0,
    drag_kn: ArrayLike = 0.0,
    gross_limit: ArrayLike = np.inf,
) -> Floats:
    """Gross thrust of each driven group at steady travel on a slope, driving or braking, kN.

    Parameters
    ----------
    load_kn, resistance_ratio, driven, gross_limit : array_like, shape (..., groups)
        Normal load (kN), motion resistance over load, whether driven, and the gross traction ratio
        that the ground gives at most.
    grade, cross_slope : array_like, shape (...)
        Ratios, grade positive where the travel climbs.
    drag_kn : array_like, shape (...)
        Pull of a dragged load against the travel, kN; negative where the load pushes.

    Returns
    -------
    ndarray, shape (..., groups)
        kN, never negative: the larger of the thrust for driving and that for holding back. 0 for a
        group that is not driven or that lifts.

    Notes
    -----
    Driving asks for ``W sin(a) + sum(load f) + P``, holding back for ``-(W sin(a) + P)`` without
    any help from the motion resistance. The driven groups share it in proportion to their loads,
    each up to its limit of grip. Standard statics; the even sharing is a planning assumption.
    """
    load = np.maximum(np.asarray(load_kn, float), 0.0)
    driven = np.broadcast_to(np.asarray(driven, bool), load.shape)
    grade = np.asarray(grade, float)
    total = load.sum(axis=-1)
    along = total / normal_share(grade, cross_slope) * grade / np.sqrt(1.0 + grade**2)
    drag = np.asarray(drag_kn, float)
    resistance = (load * np.asarray(resistance_ratio, float)).sum(axis=-1)
    driving = along + resistance + np.maximum(drag, 0.0)
    holding = -(along + np.minimum(drag, 0.0))
    thrust = np.maximum(np.maximum(driving, holding), 0.0)
    bearing = np.where(driven, load, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        shared = thrust[..., None] * bearing / bearing.sum(axis=-1, keepdims=True)
        limit = np.asarray(gross_limit, float) * load
    return np.where(bearing > 0, np.minimum(shared, limit), np.where(np.isnan(load), np.nan, 0.0))


def drag_pull_kn(
    ground_weight_kn: ArrayLike, drag_coefficient: ArrayLike, grade: ArrayLike
) -> Floats:
    """Pull in kN that a load dragging on the ground needs, along the slope.

    ``ground_weight_kn`` is the part of the load's weight that rests on the ground, kN;
    ``drag_coefficient`` pull over normal weight; ``grade`` a ratio, positive when dragging uphill.
    ``P = W_g (mu cos(a) + sin(a))``. A negative result means that the load runs up on the machine:
    it is kept, the caller decides (it must not be counted as help).
    """
    grade = np.asarray(grade, float)
    return (
        np.asarray(ground_weight_kn, float)
        * (np.asarray(drag_coefficient, float) + grade)
        / np.sqrt(1.0 + grade**2)
    )


def bogie_wheel_loads_kn(
    side_load_kn: ArrayLike, thrust_kn: ArrayLike, radius_m: ArrayLike, bogie_spacing_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Loads of the leading and the trailing wheel of one side of a bogie, kN.

    Parameters
    ----------
    side_load_kn, thrust_kn : array_like
        Normal load of the side and thrust of its two wheels together, kN: gross thrust, positive
        when driving, negative when braking.
    radius_m, bogie_spacing_m : array_like
        Rolling radius (height of the bogie pivot above the ground) and distance between the wheel
        centres, metres.

    Returns
    -------
    leading_kn, trailing_kn : ndarray
        Seen in the direction of travel. A negative value means that the wheel lifts.

    Notes
    -----
    A bogie beam that pivots freely at axle height and takes up the drive torque of its wheels
    within itself shares the load equally but for the moment of the thrust at the ground about the
    pivot: ``trailing - leading = 2 * thrust * radius / spacing``. That is the worst case (no
    balancing gear). Where gearing leads a torque of the same size back through the pivot, the two
    cancel: pass ``thrust_kn = 0``. Planning assumption from plain statics; the two cases bound a
    real bogie.
    """
    load = np.asarray(side_load_kn, float)
    shift = np.asarray(thrust_kn, float) * np.asarray(radius_m, float)
    shift = shift / np.asarray(bogie_spacing_m, float)
    return load / 2 - shift, load / 2 + shift


def payload_within_ratings_kg(
    empty_front_kg: ArrayLike,
    empty_rear_kg: ArrayLike,
    load_ahead_of_rear_m: ArrayLike,
    wheelbase_m: ArrayLike,
    rated_front_kg: ArrayLike = np.inf,
    rated_rear_kg: ArrayLike = np.inf,
    rated_gross_kg: ArrayLike = np.inf,
    *,
    carried_share: ArrayLike = 1.0,
    drag_coefficient: ArrayLike = 0.0,
    pull_height_m: ArrayLike = 0.0,
) -> Floats:
    """Largest load in kg that keeps both groups and the whole machine within their ratings.

    Parameters
    ----------
    empty_front_kg, empty_rear_kg : array_like
        Masses on the groups without load but with the aids they carry, kg.
    load_ahead_of_rear_m, wheelbase_m : array_like
        Where the load bears, metres ahead of the rear group (negative behind it), and wheelbase.
    rated_front_kg, rated_rear_kg, rated_gross_kg : array_like
        Ratings in kg; infinity where a rating is unknown (then nothing is limited by it).
    carried_share, drag_coefficient, pull_height_m : array_like
        Of a load that drags: share of its weight that rests on the machine, pull over weight of the
        rest, and the height of the pull above the ground, m. By default everything is carried.

    Returns
    -------
    ndarray
        The whole load in kg, what drags included; 0 where the machine is over a rating before it is
        loaded. On level ground, pulled steadily. It is an upper bound: a tyre's rating holds at the
        charted pressure, and at a lower one the tyre carries less than was given here.

    Notes
    -----
    With ``q = x / L``, the carried share ``c`` and the level pull of the rest, whose moment shifts
    ``d = (1 - c) mu h_p / L`` of each kilogram from the front to the rear, the front takes
    ``(q c - d) m``, the rear ``((1 - q) c + d) m`` and the machine ``c m``. Each rating bounds
    ``m`` where its share is positive, and the smallest bound is returned. A load behind the rear
    group relieves the front, which then bounds nothing. Closed form of the level statics.
    """
    front, rear = np.asarray(empty_front_kg, float), np.asarray(empty_rear_kg, float)
    base, resting = np.asarray(wheelbase_m, float), np.asarray(carried_share, float)
    ahead = np.asarray(load_ahead_of_rear_m, float) / base * resting
    shifted = (1.0 - resting) * np.asarray(drag_coefficient, float) / base
    shifted = shifted * np.asarray(pull_height_m, float)
    bounds = [
        _bound(np.asarray(rated_front_kg, float) - front, ahead - shifted),
        _bound(np.asarray(rated_rear_kg, float) - rear, resting - ahead + shifted),
        _bound(np.asarray(rated_gross_kg, float) - front - rear, resting),
    ]
    smallest = np.minimum(np.minimum(bounds[0], bounds[1]), bounds[2])
    return np.maximum(smallest, 0.0)


def _bound(room_kg: Floats, share: Floats) -> Floats:
    room_kg, share = np.broadcast_arrays(room_kg, share)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        limited = room_kg / share
    # a group that the load does not press on limits nothing, unless it is over its rating empty
    free = np.where(room_kg < 0, 0.0, np.inf)
    return np.where(share > 0, limited, np.where(np.isnan(share + room_kg), np.nan, free))
