"""Work against motion resistance and gravity, and what fuel that may mean.

The comparison of setups relative to bare tyres is the result; litres are only a range, because
published driving fuel differs by a factor of two between machines and sites.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["FuelRange", "driving_fuel_l", "resistance_work_mj", "specific_fuel_l_per_kwh"]

Floats = NDArray[np.float64]

MJ_PER_KWH = 3.6


class FuelRange(NamedTuple):
    """Litres of fuel: ``low``, ``likely``, ``high``; arrays of one shape."""

    low: Floats
    likely: Floats
    high: Floats


def resistance_work_mj(
    weight_kn: ArrayLike, resistance_ratio: ArrayLike, grade: ArrayLike, length_m: ArrayLike
) -> Floats:
    """Work at the wheels over a stretch, MJ.

    Parameters
    ----------
    weight_kn : array_like
        Weight of the machine with what it carries, kN.
    resistance_ratio : array_like
        Motion resistance over the normal load on ground that does not slope sideways: on a cross
        slope the resisting force times ``sqrt(1 + grade^2)`` over the weight.
    grade : array_like
        Ratio in the direction of travel, positive climbing.
    length_m : array_like
        **Horizontal** length of the stretch, metres. All broadcast.

    Notes
    -----
    ``W max(0, f + grade) length / 1000``: on a slope the normal load falls by the cosine by
    which the way grows, so the resistance term needs no angle. On a descent gravity pays for the
    rolling first; what is left over is held back by the driveline and returns nothing. Standard
    mechanics. With ``resistance_ratio`` 0 it is the grade work alone.
    """
    asked = np.asarray(resistance_ratio, float) + np.asarray(grade, float)
    force = np.asarray(weight_kn, float) * np.maximum(asked, 0.0)
    return force * np.asarray(length_m, float) / 1000.0


def driving_fuel_l(
    work_mj: ArrayLike,
    slip: ArrayLike = 0.0,
    specific_l_per_kwh: tuple[float, float, float] = (0.24, 0.27, 0.42),
    efficiency: tuple[float, float, float] = (0.75, 0.60, 0.50),
) -> FuelRange:
    """Range of fuel (litres) for work at the wheels.

    Parameters
    ----------
    work_mj : array_like
        Work at the wheels, MJ.
    slip : array_like
        Mean slip, fraction below 1.
    specific_l_per_kwh : tuple
        Specific fuel at the engine, litres per kWh: best, likely, worst. Planning assumption that
        spans part load (ASABE form) and modern diesel engines (from memory).
    efficiency : tuple
        Efficiency from engine to wheel, best, likely, worst; hydrostatic drive, from memory.

    Notes
    -----
    ``work / 3.6 / (efficiency (1 - slip)) * specific``. The likely value for resistance ratios of
    0.06 to 0.15 covers the driving fuel of 0.23 to 0.38 L per 100 m that Nordfjell, Athanassiadis
    & Talbot 2003 measured.
    """
    kwh = np.asarray(work_mj, float) / MJ_PER_KWH / (1 - np.asarray(slip, float))
    pairs = zip(specific_l_per_kwh, efficiency, strict=True)
    return FuelRange(*(kwh / drive * specific for specific, drive in pairs))


def specific_fuel_l_per_kwh(load_fraction: ArrayLike) -> Floats:
    """Specific fuel of a diesel engine at part load, litres per kWh.

    ``2.64 X + 3.91 - 0.203 sqrt(738 X + 173)`` with X the share of the engine's rated power in
    use: ASABE 2001, engines of that time.
    """
    share = np.asarray(load_fraction, float)
    return 2.64 * share + 3.91 - 0.203 * np.sqrt(738 * share + 173)
