"""Columns of numbers as short texts: two letters a value, so that the map stays one small file.

A code is a whole number from 0 to 4095, written as two letters of a fixed alphabet. 0 is unknown.
A value stands for the step it lies in, so it never changes its side of an edge on a whole step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.units import PSI_KPA

__all__ = [
    "ALPHABET",
    "PASSES",
    "PRESSURE",
    "PRESSURE_US",
    "RATIO",
    "SLOPE",
    "Pack",
    "Scale",
    "elevation_scale",
]

ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
"""Letters of the digits 0 to 63; none of them needs escaping in a page."""

_LAST = 4095


@dataclass(frozen=True, slots=True)
class Scale:
    """Even steps from ``low`` upward, ``step`` wide; code 1 is the first of them.

    ``shift`` is the place inside a step that the page shows, 0 for its lower end and 0.5 for its
    middle. A middle rounds to the same whole number as the value itself wherever the rounding edge
    lies on a step.
    """

    low: float
    step: float
    shift: float = 0.5

    def _edges(self) -> NDArray[np.float64]:
        """Lower edges of all steps, as the nearest doubles to their decimal figures."""
        return np.round(self.low + self.step * np.arange(_LAST), 9)

    def codes(self, values: ArrayLike) -> NDArray[np.int64]:
        """Code of each value; 0 where it is not finite, the end steps where it lies beyond them.

        A value on an edge belongs to the step above it, compared as the doubles they are.
        """
        value = np.asarray(values, dtype=float)
        known = np.isfinite(value)
        number = np.searchsorted(self._edges(), np.where(known, value, 0.0), side="right")
        return np.where(known, np.clip(number, 1, _LAST), 0)


SLOPE = Scale(-1.0235, 0.0005)
"""Slopes and reserves, ratios from -1.02 to 1.02 in steps of 0.05 %."""

RATIO = Scale(0.0, 0.001)
"""Pressure ratios up to 4.09."""

PRESSURE = Scale(0.0, 0.1)
"""Pressures up to 409 kPa."""

PRESSURE_US = Scale(-0.01 * PSI_KPA, 0.02 * PSI_KPA)
"""Pressures in kPa up to 564 in steps of 0.02 psi, so that tenths of a psi are rounded rightly."""

PASSES = Scale(0.0, 1.0, 0.0)
"""Whole numbers up to 4094."""


def elevation_scale(elevation_m: ArrayLike, unit_m: float = 1.0) -> Scale:
    """Steps that hold all elevations, in metres.

    ``unit_m`` is the length in metres of the unit that is shown. Steps are 0.1 of it, 0.5 where the
    relief is above 409 of them, and doubled from there on.
    """
    known = np.asarray(elevation_m, dtype=float)
    known = known[np.isfinite(known)]
    if not len(known):
        return Scale(0.0, 0.1)
    low = float(np.floor(known.min() / unit_m))
    relief = known.max() / unit_m - low
    step = 0.1
    while relief / step >= _LAST - 1:
        step = 0.5 if step == 0.1 else step * 2
    return Scale(low * unit_m, step * unit_m)


class Pack:
    """Texts of columns, each kept once however often it is asked for."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._place: dict[str, int] = {}

    def add(self, codes: NDArray[np.int64]) -> int:
        """Keep ``codes`` (0 to 4095) and return the number of its text."""
        letters = np.array(list(ALPHABET))
        pairs = np.stack([letters[codes // 64], letters[codes % 64]], axis=-1)
        text = "".join(pairs.ravel())
        if text not in self._place:
            self._place[text] = len(self.texts)
            self.texts.append(text)
        return self._place[text]
