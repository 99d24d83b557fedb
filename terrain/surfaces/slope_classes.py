"""Slope classes: which band a slope falls in, and what the band is called.

The bands are the user's: upper edges as ratios, ascending, the last class open. The default edges
of :class:`terrain.models.settings.TerrainSettings` (10, 20, 33 and 50 %) are a five-band scheme in
common forestry use; no national scheme is claimed. Classes are decided on the ratio itself. The
percent and degrees of a label are rounded for reading and decide nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.units import degrees_from_ratio, percent_from_ratio

__all__ = ["EDGE_TOLERANCE", "classify", "labels"]

EDGE_TOLERANCE = 1e-6
"""A slope this close above an edge (ratio, 0.0001 % of slope) counts as lying on it.

Far below what any DEM resolves; it keeps the rounding of a float32 DEM from lifting an exact
20 % plane out of its class.
"""

_MOST_EDGES = 126  # classes are numbered in int8


def classify(slope: ArrayLike, bands: Sequence[float]) -> NDArray[np.int8]:
    """Number of the slope class of each value.

    Parameters
    ----------
    slope : array, any shape
        Slope as a ratio, not negative; NaN where unknown.
    bands : sequence of float, n edges
        Upper edges of the classes as ratios, positive and ascending.

    Returns
    -------
    ndarray of int8, shape of ``slope``
        0 where the slope is NaN (not assessed), 1 up to the first edge, ... , n + 1 over the last.
        A slope equal to an edge belongs to the class below it: 20 % is still "10-20 %".

    Raises
    ------
    ValueError
        If the bands are not positive and ascending, or a slope is negative.
    """
    edges = _checked(bands)
    slope = np.asarray(slope)
    if np.any(slope < 0):
        raise ValueError("slope is a magnitude and cannot be negative; pass abs(grade) for a grade")
    classes = np.searchsorted(edges + EDGE_TOLERANCE, slope, side="left").astype(np.int8) + np.int8(
        1
    )
    return np.where(np.isnan(slope), np.int8(0), classes)


def labels(bands: Sequence[float]) -> tuple[str, ...]:
    """Names of the classes 1 to n + 1, percent and degrees together.

    ``(0.10, 0.20)`` gives ``"0-10 % (0-6 degrees)"``, ``"10-20 % (6-11 degrees)"`` and
    ``"over 20 % (over 11 degrees)"``. Percent carry at most one decimal and degrees none, unless
    two edges would then read alike; in that case all of them get the decimals that tell them apart.

    Raises
    ------
    ValueError
        If the bands are not positive and ascending.
    """
    edges = np.concatenate([[0.0], _checked(bands)])
    percent = _distinct(percent_from_ratio(edges), decimals=1)
    degrees = _distinct(degrees_from_ratio(edges), decimals=0)
    closed = [
        f"{percent[k]}-{percent[k + 1]} % ({degrees[k]}-{degrees[k + 1]} degrees)"
        for k in range(len(edges) - 1)
    ]
    return (*closed, f"over {percent[-1]} % (over {degrees[-1]} degrees)")


def _checked(bands: Sequence[float]) -> NDArray[np.float64]:
    """Return the edges as an array; raise ValueError when they cannot be bands."""
    edges = np.asarray(bands, dtype=np.float64)
    if edges.ndim != 1 or not 1 <= edges.size <= _MOST_EDGES:
        raise ValueError(f"slope bands need 1 to {_MOST_EDGES} edges, not {edges.size}")
    steps = np.diff(edges, prepend=0.0)
    if not (np.isfinite(edges).all() and (steps > 2 * EDGE_TOLERANCE).all()):
        shown = ", ".join(f"{edge:g}" for edge in edges)
        raise ValueError(f"slope bands must be positive ratios in ascending order, not {shown}")
    return edges


def _distinct(values: NDArray[np.float64], decimals: int) -> list[str]:
    """Write the values with the fewest decimals, from ``decimals`` up, that keep them apart."""
    for places in range(decimals, 9):
        texts = [_plain(value, places) for value in values]
        if len(set(texts)) == len(texts):
            return texts
    raise ValueError("slope bands lie too close together to be named apart")


def _plain(value: float, places: int) -> str:
    """Fixed-point text without trailing zeros: 10.0 is "10", 1.80 is "1.8"."""
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
