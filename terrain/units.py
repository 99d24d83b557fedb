"""The one place where units are converted. Everything inside is SI with kN, kPa and ratios.

A slope is stored as a ratio (rise over horizontal run, 0.20 = 20 %). Percent and degrees are made
only where something is shown.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "BAR_KPA",
    "FOOT_M",
    "GRAVITY_M_S2",
    "HECTARE_M2",
    "INCH_M",
    "POUND_KG",
    "PSI_KPA",
    "SHORT_TON_KG",
    "US_SURVEY_FOOT_M",
    "degrees_from_ratio",
    "kn_from_kg",
    "pressure_words",
    "percent_from_ratio",
]

GRAVITY_M_S2 = 9.81
HECTARE_M2 = 10_000.0
FOOT_M = 0.3048
US_SURVEY_FOOT_M = 1200.0 / 3937.0
INCH_M = 0.0254
POUND_KG = 0.45359237
SHORT_TON_KG = 2000 * POUND_KG
PSI_KPA = 6.894757
BAR_KPA = 100.0

Floats = NDArray[np.float64]


def percent_from_ratio(ratio: ArrayLike) -> Floats:
    """Turn a slope ratio (any shape) into percent."""
    return np.asarray(ratio, dtype=float) * 100.0


def degrees_from_ratio(ratio: ArrayLike) -> Floats:
    """Turn a slope ratio (any shape) into degrees from the horizontal."""
    return np.degrees(np.arctan(np.asarray(ratio, dtype=float)))


def kn_from_kg(mass_kg: ArrayLike) -> Floats:
    """Weight in kN of a mass in kg (any shape), with g = 9.81 m/s2."""
    return np.asarray(mass_kg, dtype=float) * GRAVITY_M_S2 / 1000.0


def pressure_words(pressure_kpa: float, system: str = "metric") -> str:
    """Write a pressure in its own system, others in brackets: ``240 kPa (2.40 bar, 35 psi)``."""
    psi = pressure_kpa / PSI_KPA
    if system == "us":
        return f"{psi:.0f} psi ({pressure_kpa:.0f} kPa)"
    return f"{pressure_kpa:.0f} kPa ({pressure_kpa / BAR_KPA:.2f} bar, {psi:.0f} psi)"
