"""Slopes at which a rigid machine would start to tip: for checking, never as permission.

Real machines tip earlier: frames oscillate and articulate, loads shift, wheels drop into holes,
turning changes the support. The maker's limits, site rules and a competent person decide. No
traction aid raises any of these limits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "CHECK_PART",
    "lateral_check_slope",
    "lateral_tip_slope",
    "lift_off_grades",
    "longitudinal_tip_slopes",
]

Floats = NDArray[np.float64]

CHECK_PART = 0.6
"""Part of a rigid tipping slope from which to check; planning assumption without a source."""


def lateral_tip_slope(cg_height_m: ArrayLike, track_gauge_m: ArrayLike) -> Floats:
    """Cross slope (ratio) at which the uphill wheels of a rigid machine carry nothing.

    ``t / (2 h)`` with the track gauge and the height of the centre of gravity in metres; standard
    statics. At this slope :func:`terrain.mechanics.loads.side_shares` gives 0 uphill. NaN where a
    length is not positive: no such machine stands anywhere.
    """
    gauge, height = np.asarray(track_gauge_m, float), np.asarray(cg_height_m, float)
    return np.where(gauge > 0, gauge, np.nan) / np.where(height > 0, 2 * height, np.nan)


def lateral_check_slope(
    cg_height_m: ArrayLike, track_gauge_m: ArrayLike, frame_factor: float = CHECK_PART
) -> Floats:
    """Cross slope (ratio) from which the side stability must be checked with the maker's data.

    ``frame_factor`` stands for an oscillating or articulated frame, which rests on a triangle. Its
    value 0.6 is a planning assumption without a source. Lengths in metres.
    """
    return frame_factor * lateral_tip_slope(cg_height_m, track_gauge_m)


def longitudinal_tip_slopes(
    cg_ahead_of_rear_m: ArrayLike,
    cg_height_m: ArrayLike,
    wheelbase_m: ArrayLike,
    ground_share: ArrayLike = 0.0,
    drag_coefficient: ArrayLike = 0.0,
    pull_height_m: ArrayLike = 0.0,
) -> tuple[Floats, Floats]:
    """Grades (ratios) at which the front or the rear group carries nothing.

    Parameters
    ----------
    cg_ahead_of_rear_m, cg_height_m, wheelbase_m : array_like
        Centre of gravity of all that rests on the wheels, ahead of the rear group, its height,
        distance of the groups, metres.
    ground_share : array_like
        Weight of a dragged load that lies on the ground over the weight on the wheels; 0 without.
    drag_coefficient : array_like
        Pull over weight of that dragging part, ratio.
    pull_height_m : array_like
        Height of the pull above the ground, metres.

    Returns
    -------
    front_end_uphill, front_end_downhill : ndarray
        ``(x - w mu h_p) / (h + w h_p)`` where the front group lifts on the way up, never below 0;
        ``(L - x) / h`` where the rear group lifts on the way down. A drag that steadies the machine
        on the way down is not credited. Standard statics of a rigid machine (Liljedahl et al.
        1989); steering and braking are lost well before. No rule about the least load that an
        axle needs for steering was read, so none is applied.

    Notes
    -----
    The front load is zero where ``W cos(a) x = W sin(a) h + P h_p`` with the pull
    ``P = w W (mu cos(a) + sin(a))`` of the part on the ground.
    """
    x, height = np.asarray(cg_ahead_of_rear_m, float), np.asarray(cg_height_m, float)
    lever = np.asarray(ground_share, float) * np.asarray(pull_height_m, float)
    uphill = (x - lever * np.asarray(drag_coefficient, float)) / (height + lever)
    downhill = (np.asarray(wheelbase_m, float) - x) / height
    return np.maximum(uphill, 0.0), np.maximum(downhill, 0.0)


def lift_off_grades(
    cg_ahead_of_rear_m: ArrayLike,
    cg_height_m: ArrayLike,
    wheelbase_m: ArrayLike,
    grade: ArrayLike = 0.0,
    cross_slope: ArrayLike = 0.0,
    ground_share: ArrayLike = 0.0,
    drag_coefficient: ArrayLike = 0.0,
    pull_height_m: ArrayLike = 0.0,
) -> tuple[Floats, Floats]:
    """Grades (ratios) at which a group carries nothing, as the axle loads are computed.

    Unlike :func:`longitudinal_tip_slopes`, which is for checking and credits nothing, these are the
    very zeros of :func:`terrain.mechanics.loads.axle_loads_kn` with the pull of
    :func:`terrain.mechanics.loads.drag_pull_kn` where that is positive.

    Parameters
    ----------
    cg_ahead_of_rear_m, cg_height_m, wheelbase_m : array_like
        Of all that rests on the wheels, metres.
    grade, cross_slope : array_like
        Ratios of the place. The cross slope lightens every wheel; how much is taken at this grade.
    ground_share, drag_coefficient, pull_height_m : array_like
        As in :func:`longitudinal_tip_slopes`.

    Returns
    -------
    front_lifts, rear_lifts : ndarray
        Signed, positive where the front end points uphill. The machine rests on both groups where
        ``rear_lifts <= grade <= front_lifts``. NaN where the height is not positive.

    Notes
    -----
    With ``k = sqrt(1 + cross^2 / (1 + grade^2))`` the front is nil at
    ``(x / k - w mu h_p) / (h + w h_p)`` and the rear at ``-(L - x) / (k h)``; where the drag pulls
    there still (or pushes already), the other form of the pull is put in.
    """
    height = np.asarray(cg_height_m, float)
    height = np.where(height > 0, height, np.nan)
    drag = np.asarray(drag_coefficient, float)
    lever = np.asarray(ground_share, float) * np.asarray(pull_height_m, float)
    lighter = np.sqrt(
        1.0 + np.asarray(cross_slope, float) ** 2 / (1.0 + np.asarray(grade, float) ** 2)
    )

    def zero(arm_m: ArrayLike) -> Floats:
        arm = np.asarray(arm_m, float) / lighter
        pulled, free = (arm - lever * drag) / (height + lever), arm / height
        return np.where(free >= -drag, pulled, free)  # the pull is nil at a grade of -drag

    ahead = np.asarray(cg_ahead_of_rear_m, float)
    return zero(ahead), zero(ahead - np.asarray(wheelbase_m, float))
