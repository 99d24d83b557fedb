"""Contact of wheel and track with the ground: deflection, nominal pressure, footprint.

*Nominal* ground pressure compares machines; it is not the stress in the soil, which peaks several
times higher. Loads are per wheel or per side, in kN; pressures in kPa; lengths in metres.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Footprint",
    "bogie_contact_length_m",
    "deflection_ratio",
    "grecenko_area_m2",
    "keller_footprint",
    "ngp_track_kpa",
    "ngp_track_mellgren_kpa",
    "ngp_wheel_kpa",
    "static_deflection_m",
    "stress_share_below_patch",
]

Floats = NDArray[np.float64]


def static_deflection_m(
    load_kn: ArrayLike, inflation_kpa: ArrayLike, offset_m: float = 0.0008
) -> Floats:
    """Static deflection of a forest tyre on hard ground, metres.

    Parameters
    ----------
    load_kn : array_like
        Load of one wheel, kN.
    inflation_kpa : array_like
        Cold inflation pressure, kPa.
        A negative load (the wheel has lifted) and a pressure that is not positive give NaN.
    offset_m : float
        Constant of the fit. Printed as 0.0008 where it could be seen; another recollection has
        0.008, which cannot be right at no load. Open until the original is on the desk.

    Notes
    -----
    ``delta = offset + 0.001 (0.365 + 170 / p) W``: Saarilahti 2002, equation 2.22, as quoted by
    others.
    """
    load, inflation = np.asarray(load_kn, float), np.asarray(inflation_kpa, float)
    load, inflation = np.where(load < 0, np.nan, load), np.where(inflation > 0, inflation, np.nan)
    return offset_m + 0.001 * (0.365 + 170.0 / inflation) * load


def deflection_ratio(
    load_kn: ArrayLike, inflation_kpa: ArrayLike, section_height_m: ArrayLike
) -> Floats:
    """Static deflection over section height (a ratio) of a tyre; see :func:`static_deflection_m`.

    ``load_kn`` per wheel, ``inflation_kpa`` cold, ``section_height_m`` in metres; broadcast.
    """
    return static_deflection_m(load_kn, inflation_kpa) / np.asarray(section_height_m, float)


def ngp_wheel_kpa(load_per_wheel_kn: ArrayLike, width_m: ArrayLike, radius_m: ArrayLike) -> Floats:
    """Nominal ground pressure of a wheel, kPa: ``W / (r b)``.

    ``load_per_wheel_kn`` in kN, ``width_m`` tyre section width (or width of a wheel track),
    ``radius_m`` unloaded radius in metres; they broadcast. The contact length equals the radius,
    which stands for a wheel that has sunk in by some 15 %. Concept of Mellgren 1980; reproduces
    the wheel of Uusitalo & Ala-Ilomäki 2013, table 2, within 2 %.

    Examples
    --------
    >>> round(float(ngp_wheel_kpa(7240 * 9.81 / 2000, 0.65, 0.727)), 1)
    75.2
    """
    return np.asarray(load_per_wheel_kn, float) / (
        np.asarray(width_m, float) * np.asarray(radius_m, float)
    )


def ngp_track_kpa(
    side_load_kn: ArrayLike, width_m: ArrayLike, contact_length_m: ArrayLike
) -> Floats:
    """Nominal ground pressure of a track, kPa: ``W_side / (b L)``.

    ``side_load_kn`` load of one side of the group in kN, ``width_m`` track width,
    ``contact_length_m`` contact length on hard ground in metres; they broadcast. Reproduces the
    tracked machines of Uusitalo & Ala-Ilomäki 2013, table 2. The rectangle under a band track is
    optimistic: the plates between the wheels carry less than those under them.
    """
    return np.asarray(side_load_kn, float) / (
        np.asarray(width_m, float) * np.asarray(contact_length_m, float)
    )


def bogie_contact_length_m(bogie_spacing_m: ArrayLike, diameter_m: ArrayLike) -> Floats:
    """Contact length on hard ground of a band track over a bogie, metres.

    ``L = spacing + min(0.25 m, 0.2 d)`` with the distance between the bogie's wheel centres and
    the unloaded tyre diameter ``d``, metres. Planning assumption: the published pressures of
    Uusitalo & Ala-Ilomäki 2013 imply lengths of about the bogie spacing plus 0 to 0.25 m. Where
    the supplier gives a contact length, use that.
    """
    return np.asarray(bogie_spacing_m, float) + np.minimum(
        0.25, 0.2 * np.asarray(diameter_m, float)
    )


def ngp_track_mellgren_kpa(
    side_load_kn: ArrayLike, width_m: ArrayLike, radius_m: ArrayLike, bogie_spacing_m: ArrayLike
) -> Floats:
    """Optimistic bound of a band track's nominal pressure, kPa: ``W_side / (b (1.25 r + s))``.

    Arguments as in :func:`ngp_track_kpa`, with wheel radius and bogie spacing ``s`` in metres.
    From memory (form of Mellgren 1980). The only published table that could be compared does not
    support it: it comes out 25 to 38 % too low there. Shown as a bound for deep soft ground only.
    """
    length = 1.25 * np.asarray(radius_m, float) + np.asarray(bogie_spacing_m, float)
    return ngp_track_kpa(side_load_kn, width_m, length)


class Footprint(NamedTuple):
    """Footprint of a tyre: ``length_m``, ``area_m2``, ``mean_kpa``, ``peak_kpa``, ``exponent``."""

    length_m: Floats
    area_m2: Floats
    mean_kpa: Floats
    peak_kpa: Floats
    exponent: Floats


def keller_footprint(
    load_kn: ArrayLike,
    inflation_kpa: ArrayLike,
    charted_inflation_kpa: ArrayLike,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
) -> Footprint:
    """Super-elliptic footprint of a tyre on soft soil after Keller 2005.

    Parameters
    ----------
    load_kn : array_like
        Wheel load, kN.
    inflation_kpa, charted_inflation_kpa : array_like
        Inflation and the pressure charted for that load, kPa.
    width_m, diameter_m : array_like
        Section width and unloaded diameter, metres. All broadcast.

    Returns
    -------
    Footprint
        Arrays of the broadcast shape.

    Notes
    -----
    ``length = 0.47 + 0.11 d^2 - 0.16 ln(p / p_charted)``, ``n = 2.1 (b d)^2 + 2``, area of
    ``|2x/L|^n + |2y/b|^n = 1`` (closed form with the gamma function), peak stress
    ``34.4 + 1.13 p + 0.72 W - 33.4 ln(p / p_charted)``. Fitted on farm tyres at low pressure: a
    forest tyre at 300 to 500 kPa is an extrapolation, so this stands as a cross-check only.
    """
    from scipy.special import gammaln

    load, p = np.asarray(load_kn, float), np.asarray(inflation_kpa, float)
    width, diameter = np.asarray(width_m, float), np.asarray(diameter_m, float)
    log_ratio = np.log(p / np.asarray(charted_inflation_kpa, float))
    length = 0.47 + 0.11 * diameter**2 - 0.16 * log_ratio
    n = 2.1 * (width * diameter) ** 2 + 2.0
    area = length * width * np.exp(2 * gammaln(1 + 1 / n) - gammaln(1 + 2 / n))
    peak = 34.4 + 1.13 * p + 0.72 * load - 33.4 * log_ratio
    return Footprint(length, area, load / area, peak, n)


def grecenko_area_m2(deflection_m: ArrayLike, width_m: ArrayLike, diameter_m: ArrayLike) -> Floats:
    """Contact area on hard ground, m2: ``pi delta sqrt(d b)`` (from memory, Grečenko 1995).

    ``deflection_m`` static deflection, ``width_m`` section width, ``diameter_m`` unloaded
    diameter, all metres. The lower end of the contact areas, beside ``r b`` at the upper end.
    """
    return (
        np.pi
        * np.asarray(deflection_m, float)
        * np.sqrt(np.asarray(diameter_m, float) * np.asarray(width_m, float))
    )


def stress_share_below_patch(
    depth_m: ArrayLike, patch_radius_m: ArrayLike, concentration: ArrayLike = 5.0
) -> Floats:
    """Vertical stress under the centre of a round patch over the patch's pressure (a ratio).

    Parameters
    ----------
    depth_m, patch_radius_m : array_like
        Depth below the ground (0 gives 1) and radius of the loaded patch, metres.
    concentration : array_like
        Froehlich's factor: 4 firm, 5 normal, 6 wet ground (from memory). A larger factor carries
        more stress down; copies with the opposite order are in circulation.

    Notes
    -----
    ``1 - cos(theta)^v`` with ``tan(theta) = R / z``: Froehlich 1934, Söhne 1953, from memory.
    """
    depth, radius = np.asarray(depth_m, float), np.asarray(patch_radius_m, float)
    cosine = depth / np.hypot(depth, radius)
    return 1.0 - cosine ** np.asarray(concentration, float)
