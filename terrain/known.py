"""The largest and the smallest of what is known: NaN is left out, never taken as 0."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["largest", "smallest"]


def largest(values: ArrayLike) -> float:
    """Return the largest known value, NaN where none is known."""
    figures = np.asarray(values, dtype=float)
    known = figures[~np.isnan(figures)]
    return float(known.max()) if known.size else float("nan")


def smallest(values: ArrayLike) -> float:
    """Return the smallest known value, NaN where none is known."""
    return -largest(-np.asarray(values, dtype=float))
