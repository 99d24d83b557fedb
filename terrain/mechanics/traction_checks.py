"""Second opinions on traction: Turnage with Maclaurin, Wismer and Luth, thrust along a contact.

They stand beside the Brixius model so that the spread can be shown. None of them decides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.mechanics.traction import (
    Construction,
    contact_length_gain,
    firm_rolling_ratio,
    gross_traction_ratio,
    motion_resistance_ratio,
)

__all__ = [
    "contact_length_net_ratio",
    "maclaurin_gross_ratio",
    "maclaurin_net_ratio",
    "maclaurin_number",
    "maclaurin_resistance_ratio",
    "turnage_number",
    "wismer_luth_gross_ratio",
    "wismer_luth_net_ratio",
    "wismer_luth_number",
    "wismer_luth_resistance_ratio",
    "wong_track_thrust_ratio",
]

Floats = NDArray[np.float64]


def turnage_number(
    cone_index_kpa: ArrayLike,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    load_kn: ArrayLike,
    deflection_ratio: ArrayLike,
) -> Floats:
    """Clay-tyre mobility number, dimensionless.

    Arguments as in :func:`terrain.mechanics.traction.brixius_number` (load of one wheel, kN).
    ``N = (CI b d / W) sqrt(delta/h) / (1 + b / (2 d))``: Turnage 1972, as quoted by others; for
    fine-grained, nearly saturated soils and pneumatic tyres.
    """
    width, diameter = np.asarray(width_m, float), np.asarray(diameter_m, float)
    number = wismer_luth_number(cone_index_kpa, width, diameter, load_kn)
    return number * np.sqrt(np.asarray(deflection_ratio, float)) / (1 + width / (2 * diameter))


def maclaurin_resistance_ratio(turnage: ArrayLike) -> Floats:
    """Motion resistance ratio, ``0.017 + 0.453 / N``: Maclaurin 1990, from memory."""
    return 0.017 + 0.453 / np.asarray(turnage, float)


def maclaurin_net_ratio(turnage: ArrayLike) -> Floats:
    """Net traction ratio at 20 % slip, ``0.80 - 3.2 / (N + 1.91)``: Maclaurin 1990, from memory."""
    return 0.80 - 3.2 / (np.asarray(turnage, float) + 1.91)


def maclaurin_gross_ratio(turnage: ArrayLike) -> Floats:
    """Gross traction ratio at 20 % slip: net ratio plus resistance (Maclaurin 1990, from memory).

    ``0.817 - 3.2 / (N + 1.91) + 0.453 / N`` with the clay-tyre number ``N``.
    """
    return maclaurin_net_ratio(turnage) + maclaurin_resistance_ratio(turnage)


def maclaurin_number(
    cone_index_kpa: ArrayLike,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    load_kn: ArrayLike,
    deflection_m: ArrayLike,
) -> Floats:
    """Mobility number ``CI b^0.8 d^0.8 delta^0.4 / W`` (kPa, m, kN): Maclaurin 1997, from memory.

    ``load_kn`` is the load of one wheel, ``deflection_m`` its static deflection in metres. The
    limiting cone index of a wheel belongs to the value 1.85.
    """
    size = (np.asarray(width_m, float) * np.asarray(diameter_m, float)) ** 0.8
    deflection = np.asarray(deflection_m, float) ** 0.4
    return np.asarray(cone_index_kpa, float) * size * deflection / np.asarray(load_kn, float)


def wismer_luth_number(
    cone_index_kpa: ArrayLike, width_m: ArrayLike, diameter_m: ArrayLike, load_kn: ArrayLike
) -> Floats:
    """Wheel numeric ``CI b d / W`` (kPa, m, kN of one wheel): Wismer & Luth 1973.

    Examples
    --------
    >>> round(float(wismer_luth_number(800, 0.45, 1.40, 12.0)), 6)
    42.0
    """
    strength = np.asarray(cone_index_kpa, float) * np.asarray(width_m, float)
    return strength * np.asarray(diameter_m, float) / np.asarray(load_kn, float)


def wismer_luth_resistance_ratio(number: ArrayLike) -> Floats:
    """Towed motion resistance ratio, ``1.2 / Cn + 0.04``: Wismer & Luth 1973."""
    return 1.2 / np.asarray(number, float) + 0.04


def wismer_luth_gross_ratio(number: ArrayLike, slip: ArrayLike) -> Floats:
    """Gross traction ratio, ``0.75 (1 - exp(-0.3 Cn s))``; the coefficients are from memory.

    ``number`` is the wheel numeric Cn, ``slip`` a fraction. Holds for b/d about 0.3 and
    deflection about a fifth of the section height only.
    """
    return -0.75 * np.expm1(-0.3 * np.asarray(number, float) * np.asarray(slip, float))


def wismer_luth_net_ratio(number: ArrayLike, slip: ArrayLike) -> Floats:
    """Net traction ratio at a slip (fraction): gross ratio less towed resistance."""
    return wismer_luth_gross_ratio(number, slip) - wismer_luth_resistance_ratio(number)


def contact_length_net_ratio(
    bn: ArrayLike,
    length_m: ArrayLike,
    slip: ArrayLike,
    construction: Construction = "bias",
    *,
    shear_modulus_m: float = 0.025,
) -> Floats:
    """Net traction ratio of a track whose thrust builds up along its contact.

    Parameters
    ----------
    bn : array_like
        Mobility number under the track (:func:`terrain.mechanics.traction.track_number`).
    length_m : array_like
        Contact length in metres.
    slip : array_like
        Slip, fraction.
    construction : {"bias", "radial"}
        Construction of the tyres in the track: sets the constant rolling term.
    shear_modulus_m : float
        Shear deformation modulus K in metres. After Wong, as quoted by others, 0.025 on dry sand
        and sandy loam, 0.010 on a clayey soil and 0.006 on heavy and lean clay: 0.025 and 0.006
        are the ends of the range. Its snow (0.04) is left out.

    Notes
    -----
    ``0.88 (1 - exp(-0.1 Bn)) (1 - K/(s L) (1 - exp(-s L / K)))`` plus the constant rolling term,
    less the primary model's resistance. The build-up is Janosi & Hanamoto 1961 over a uniform
    contact; that it grows to the full thrust of the primary model is a planning assumption of this
    project, made because cohesion and friction of the soil classes were not read.
    """
    constant = firm_rolling_ratio(construction)
    full = gross_traction_ratio(bn, np.inf, construction) - constant  # endless slip: all of it
    thrust = full * contact_length_gain(length_m, slip, shear_modulus_m) + constant
    return thrust - motion_resistance_ratio(bn, slip, construction)


def wong_track_thrust_ratio(
    load_kn: ArrayLike,
    width_m: ArrayLike,
    length_m: ArrayLike,
    slip: ArrayLike,
    cohesion_kpa: ArrayLike,
    friction_degrees: ArrayLike,
    shear_modulus_m: float,
) -> Floats:
    """Thrust of a flat track over its load, uniform pressure.

    Parameters
    ----------
    load_kn : array_like
        Load of one track, kN.
    width_m, length_m : array_like
        Track width and contact length, metres.
    slip : array_like
        Slip, fraction.
    cohesion_kpa, friction_degrees : array_like
        Cohesion in kPa and friction angle in degrees of the soil.
    shear_modulus_m : float
        Shear deformation modulus K, metres.

    Notes
    -----
    ``(A c / W + tan(phi)) (1 - K/(s L) (1 - exp(-s L / K)))`` with ``A = b L``: Janosi &
    Hanamoto 1961, as in Wong's textbook. Only the thrust is used here: the pressure-sinkage
    resistance that goes with it is far too small for forest ruts.
    """
    area = np.asarray(width_m, float) * np.asarray(length_m, float)
    strength = area * np.asarray(cohesion_kpa, float) / np.asarray(load_kn, float)
    strength = strength + np.tan(np.radians(np.asarray(friction_degrees, float)))
    return strength * contact_length_gain(length_m, slip, shear_modulus_m)
