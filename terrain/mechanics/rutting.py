"""Sinkage of a wheel at the first pass and its growth with passes: an index with a wide band.

The rut regressions fitted in forests could not be read, so none is shipped. What stands here comes
from mobility research and is from memory; results are for classes, never for centimetres. Above a
cone index of some 1500 kPa trials found no relation of rut depth to strength: no figure there.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "STRENGTH_LIMIT_KPA",
    "RutBand",
    "first_pass_maclaurin_m",
    "first_pass_willoughby_turnage_m",
    "multi_pass_m",
    "pass_exponents",
    "rut_band_m",
    "willoughby_turnage_number",
]

Floats = NDArray[np.float64]

STRENGTH_LIMIT_KPA = 1500.0
"""Cone index above which no rut is predicted; planning assumption after a trial on dry ground."""

_EXPONENTS = {1: (4.0, 5.0), 2: (3.0, 4.0), 3: (2.0, 3.0), 4: (2.0, 3.0)}
"""Multi-pass exponent, strongest growth first, by soil class. Firm, medium and weak ground from
memory; putting them to the soil classes is a planning assumption."""


class RutBand(NamedTuple):
    """Rut depth in metres: ``low``, ``likely``, ``high``; NaN where nothing is predicted."""

    low: Floats
    likely: Floats
    high: Floats


def first_pass_maclaurin_m(turnage: ArrayLike, diameter_m: ArrayLike) -> Floats:
    """Sinkage at the first pass, metres: ``0.224 d / N^1.25``.

    ``turnage`` clay-tyre number of the wheel, ``diameter_m`` unloaded diameter, metres. Maclaurin
    1990, as quoted by Saarilahti 2002; from memory.
    """
    return 0.224 * np.asarray(diameter_m, float) / np.asarray(turnage, float) ** 1.25


def willoughby_turnage_number(
    rating_cone_index_kpa: ArrayLike,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    load_kn: ArrayLike,
    deflection_ratio: ArrayLike,
    slip: ArrayLike,
) -> Floats:
    """Wheel number of the rut relation, dimensionless (from memory).

    ``RCI b d / (W (1 - delta/h)^1.5 s^0.2)`` with kPa, metres, kN of one wheel, slip a fraction
    above 0.
    """
    size = np.asarray(width_m, float) * np.asarray(diameter_m, float)
    strength = np.asarray(rating_cone_index_kpa, float) * size / np.asarray(load_kn, float)
    flat = (1 - np.asarray(deflection_ratio, float)) ** 1.5
    return strength / (flat * np.asarray(slip, float) ** 0.2)


def first_pass_willoughby_turnage_m(number: ArrayLike, diameter_m: ArrayLike) -> Floats:
    """Sinkage at the first pass, metres: ``5 d / N^(5/3)`` (from memory).

    ``number`` from :func:`willoughby_turnage_number`, diameter in metres. Of three relations this
    kind was the most accurate for a 7 t truck (Vennik et al. 2017).
    """
    return 5.0 * np.asarray(diameter_m, float) / np.asarray(number, float) ** (5.0 / 3.0)


def multi_pass_m(first_pass_m: ArrayLike, passes: ArrayLike, exponent: ArrayLike) -> Floats:
    """Rut depth after ``passes`` wheel passes, metres: ``z1 passes^(1/a)``.

    ``first_pass_m`` in metres; exponent ``a`` 2 to 3 on weak, 3 to 4 on medium, 4 to 5 on firm
    ground (Abebe et al. 1989, from memory). No passes give 0.
    """
    growth = np.asarray(passes, float) ** (1.0 / np.asarray(exponent, float))
    return np.asarray(first_pass_m, float) * growth


def pass_exponents(soil_class: ArrayLike) -> tuple[Floats, Floats]:
    """Multi-pass exponents (weak end, firm end) of soil classes 1 to 4; NaN for 0, unknown."""
    numbers = np.asarray(soil_class, dtype=np.int64)
    table = np.full((5, 2), np.nan)
    for number, pair in _EXPONENTS.items():
        table[number] = pair
    return table[numbers, 0], table[numbers, 1]


def rut_band_m(
    first_pass_a_m: ArrayLike,
    first_pass_b_m: ArrayLike,
    passes: ArrayLike,
    soil_class: ArrayLike,
    cone_index_kpa: ArrayLike,
) -> RutBand:
    """Band of rut depth (metres) from two first-pass estimates.

    Parameters
    ----------
    first_pass_a_m, first_pass_b_m : array_like
        First-pass sinkage by the two relations, metres.
    passes : array_like
        Passes of a wheel (an eight-wheeled machine makes four a trip in each track).
    soil_class : array_like of int
        Class 1 to 4 as it behaves in the moisture state, 0 unknown.
    cone_index_kpa : array_like
        Cone index; above :data:`STRENGTH_LIMIT_KPA` the result is NaN.

    Returns
    -------
    RutBand
        Smaller estimate with the firm exponent, geometric mean of both estimates with the middle
        exponent, larger estimate with the weak exponent.
    """
    first, second = np.asarray(first_pass_a_m, float), np.asarray(first_pass_b_m, float)
    weak, firm = pass_exponents(soil_class)
    hidden = np.where(np.asarray(cone_index_kpa, float) > STRENGTH_LIMIT_KPA, np.nan, 0.0)
    return RutBand(
        multi_pass_m(np.minimum(first, second), passes, firm) + hidden,
        multi_pass_m(np.sqrt(first * second), passes, (weak + firm) / 2) + hidden,
        multi_pass_m(np.maximum(first, second), passes, weak) + hidden,
    )
