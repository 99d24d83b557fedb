"""Slopes at which a rigid machine would start to tip: for checking, never as permission.

Real machines tip earlier: frames oscillate and articulate, loads shift, wheels drop into holes,
turning changes the support. The maker's limits, site rules and a competent person decide. No
traction aid raises any of these limits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["lateral_check_slope", "lateral_tip_slope", "longitudinal_tip_slopes"]

Floats = NDArray[np.float64]


def lateral_tip_slope(cg_height_m: ArrayLike, track_gauge_m: ArrayLike) -> Floats:
    """Cross slope (ratio) at which the uphill wheels of a rigid machine carry nothing.

    ``t / (2 h)`` with the track gauge and the height of the centre of gravity in metres; standard
    statics. At this slope :func:`terrain.mechanics.loads.side_shares` gives 0 uphill.
    """
    return np.asarray(track_gauge_m, float) / (2 * np.asarray(cg_height_m, float))


def lateral_check_slope(
    cg_height_m: ArrayLike, track_gauge_m: ArrayLike, frame_factor: float = 0.6
) -> Floats:
    """Cross slope (ratio) from which the side stability must be checked with the maker's data.

    ``frame_factor`` stands for an oscillating or articulated frame, which rests on a triangle. Its
    value 0.6 is a planning assumption without a source. Lengths in metres.
    """
    return frame_factor * lateral_tip_slope(cg_height_m, track_gauge_m)


def longitudinal_tip_slopes(
    cg_ahead_of_rear_m: ArrayLike, cg_height_m: ArrayLike, wheelbase_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Grades (ratios, both positive) at which one group carries nothing, without any pull.

    Parameters
    ----------
    cg_ahead_of_rear_m, cg_height_m, wheelbase_m : array_like
        Centre of gravity ahead of the rear group, its height, distance of the groups, metres.

    Returns
    -------
    front_end_uphill, front_end_downhill : ndarray
        ``x / h`` where the front group lifts, ``(L - x) / h`` where the rear group lifts. Standard
        statics of a rigid machine; steering and braking are lost well before.
    """
    x, height = np.asarray(cg_ahead_of_rear_m, float), np.asarray(cg_height_m, float)
    return x / height, (np.asarray(wheelbase_m, float) - x) / height
