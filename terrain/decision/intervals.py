"""How far a share that was counted may be off: the interval that belongs to it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

__all__ = ["share_interval"]

Floats = NDArray[np.float64]


def share_interval(
    share: ArrayLike, count: ArrayLike, confidence: float = 0.95
) -> tuple[Floats, Floats]:
    """Confidence interval of a share (fraction) seen in ``count`` independent places or draws.

    The score interval ``(p + z^2/2n -+ z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n)`` (Wilson
    1927), which keeps within 0 and 1. Arguments broadcast; NaN where nothing was counted.
    """
    p, n = np.broadcast_arrays(np.asarray(share, dtype=float), np.asarray(count, dtype=float))
    n = np.where(n >= 1, n, np.nan)
    z = float(norm.ppf(0.5 + confidence / 2))
    middle = p + z**2 / (2 * n)
    half = z * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
    low, high = (middle - half) / (1 + z**2 / n), (middle + half) / (1 + z**2 / n)
    return np.where(p == 0, 0.0 * n, low), np.where(p == 1, 1.0 + 0.0 * n, high)
