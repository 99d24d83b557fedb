"""Grip and rolling of wheels and tracks against soil strength and slip (Brixius equations).

The primary model of Rutwise. Pull, thrust and resistance are ratios to the normal load of the
wheel; slip is a fraction; cone index in kPa. Cross-checks live in ``traction_checks``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "brixius_number",
    "contact_length_gain",
    "firm_rolling_ratio",
    "gross_traction_ratio",
    "motion_resistance_ratio",
    "net_traction_ratio",
    "slip_needed",
    "slip_term_gain",
    "towed_resistance_ratio",
    "track_number",
    "tractive_efficiency",
]

Floats = NDArray[np.float64]
Construction = Literal["bias", "radial"]

_SLIP_RATE = {"bias": 7.5, "radial": 9.5}
_OFFSET = {"bias": 0.04, "radial": 0.0325}
_ROLLING = {"bias": 1.0, "radial": 0.9}
"""Brixius 1987 for bias tyres (published); the radial values are from memory."""

SLIP_STEP = 1e-5
"""How exactly a slip is solved for, a fraction: far below what is shown."""


def brixius_number(
    cone_index_kpa: ArrayLike,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    load_kn: ArrayLike,
    deflection_ratio: ArrayLike,
) -> Floats:
    """Mobility number of a wheel, dimensionless.

    Parameters
    ----------
    cone_index_kpa : array_like
        Cone index, mean of the upper 15 cm, kPa.
    width_m, diameter_m : array_like
        Section width and unloaded diameter, metres.
    load_kn : array_like
        Load of **one wheel**, kN. Zero gives infinity, a negative load (lift-off) NaN.
    deflection_ratio : array_like
        Deflection over section height.

    Notes
    -----
    ``Bn = (CI b d / W) (1 + 5 delta/h) / (1 + 3 b/d)``: Brixius 1987, taken up in ASABE D497.
    Validity in ``terrain/data/relations.toml``: a loaded forest wheel is at its edge.

    Examples
    --------
    >>> round(float(brixius_number(900, 0.37, 1.45, 15, 0.2)), 1)
    36.5
    """
    width, diameter = np.asarray(width_m, float), np.asarray(diameter_m, float)
    load = np.asarray(load_kn, float)
    load = np.where(load < 0, np.nan, load)
    strength = np.asarray(cone_index_kpa, float) * width * diameter
    shape = (1 + 5 * np.asarray(deflection_ratio, float)) / (1 + 3 * width / diameter)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return strength / load * shape


def track_number(bn_wheel: ArrayLike, ngp_wheel_kpa: ArrayLike, ngp_track_kpa: ArrayLike) -> Floats:
    """Mobility number of a wheel or bogie under a track: ``Bn_wheel * NGP_wheel / NGP_track``.

    All for the same loads (mass of the track included), so that bare and tracked gear stand on
    one curve. Planning assumption of this project, not a published relation.
    """
    gain = np.asarray(ngp_wheel_kpa, float) / np.asarray(ngp_track_kpa, float)
    return np.asarray(bn_wheel, float) * gain


def contact_length_gain(
    length_m: ArrayLike, slip: ArrayLike, shear_modulus_m: float = 0.025
) -> Floats:
    """Share of the full thrust that a contact of this length develops at this slip (0 to 1).

    Parameters
    ----------
    length_m : array_like
        Contact length in metres.
    slip : array_like
        Slip, fraction; 0 gives 0.
    shear_modulus_m : float
        Shear deformation modulus K in metres; 0.025 is the value quoted by others after Wong for
        dry sand and sandy loam (0.006 to 0.010 on clays).

    Notes
    -----
    ``1 - K/(s L) (1 - exp(-s L / K))``: Janosi & Hanamoto 1961 integrated over a uniform contact,
    as in Wong's textbook.
    """
    x = np.asarray(slip, float) * np.asarray(length_m, float) / shear_modulus_m
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        long_form = 1.0 + np.expm1(-x) / x
    return np.where(np.abs(x) < 1e-6, x / 2, long_form)


def slip_term_gain(
    track_length_m: ArrayLike,
    wheel_length_m: ArrayLike,
    slip: ArrayLike,
    shear_modulus_m: float = 0.025,
) -> Floats:
    """How much faster a longer contact builds up thrust: ratio of the two contact-length gains.

    ``track_length_m`` and ``wheel_length_m`` (the tyre's radius as its nominal contact length) in
    metres; slip must be above 0 (at 0 the limit, the ratio of the lengths, is returned).
    """
    track, wheel = np.asarray(track_length_m, float), np.asarray(wheel_length_m, float)
    slip = np.asarray(slip, float)
    lower = contact_length_gain(wheel, slip, shear_modulus_m)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = contact_length_gain(track, slip, shear_modulus_m) / lower
    return np.where(slip > 0, ratio, track / wheel)


def gross_traction_ratio(
    bn: ArrayLike,
    slip: ArrayLike,
    construction: Construction = "bias",
    *,
    slip_term_gain: ArrayLike = 1.0,
    grip_factor: ArrayLike = 1.0,
) -> Floats:
    """Thrust of a driven wheel over its normal load.

    Parameters
    ----------
    bn : array_like
        Mobility number.
    slip : array_like
        Slip, fraction.
    construction : {"bias", "radial"}
        Tyre construction; the radial constants are from memory.
    slip_term_gain : array_like
        1 for wheels; for band tracks the ratio of contact-length gains, see
        :func:`slip_term_gain`. The slip term is held at 1 at most.
    grip_factor : array_like
        Factor on the 0.88 envelope for an aid, where it is credited (see
        :func:`terrain.mechanics.films.credited_grip_factor`); planning assumption.

    Notes
    -----
    ``0.88 (1 - exp(-0.1 Bn)) (1 - exp(-7.5 s)) + 0.04``: Brixius 1987 (radial 9.5 and 0.0325).
    """
    bn = np.asarray(bn, float)
    built_up = -np.expm1(-_SLIP_RATE[construction] * np.asarray(slip, float))
    built_up = np.minimum(built_up * np.asarray(slip_term_gain, float), 1.0)
    envelope = 0.88 * np.asarray(grip_factor, float) * -np.expm1(-0.1 * bn)
    return envelope * built_up + _OFFSET[construction]


def motion_resistance_ratio(
    bn: ArrayLike, slip: ArrayLike, construction: Construction = "bias"
) -> Floats:
    """Motion resistance of a driven wheel over its normal load.

    ``1 / Bn + 0.04 + 0.5 s / sqrt(Bn)``: Brixius 1987 (radial ``0.9 / Bn + 0.0325 + ...``, from
    memory). Arguments as in :func:`gross_traction_ratio`; ``Bn = 0`` (no strength) gives infinity.
    """
    bn = np.asarray(bn, float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        slip_part = 0.5 * np.asarray(slip, float) / np.sqrt(bn)
    # slip 0 on ground without strength is 0/0: the towed term is infinite there anyway
    slip_part = np.where(bn == 0, np.inf, slip_part)
    return towed_resistance_ratio(bn, construction) + slip_part


def towed_resistance_ratio(bn: ArrayLike, construction: Construction = "bias") -> Floats:
    """Motion resistance over load (ratio) of an undriven, unbraked wheel: ``1 / Bn + 0.04``."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return _ROLLING[construction] / np.asarray(bn, float) + _OFFSET[construction]


def firm_rolling_ratio(construction: Construction = "bias") -> float:
    """Rolling resistance over load (ratio) on ground too firm to sink into.

    The constant term of :func:`towed_resistance_ratio`: 0.04, Brixius 1987 (radial 0.0325, from
    memory).
    """
    return _OFFSET[construction]


def net_traction_ratio(
    bn: ArrayLike,
    slip: ArrayLike,
    construction: Construction = "bias",
    *,
    slip_term_gain: ArrayLike = 1.0,
    grip_factor: ArrayLike = 1.0,
) -> Floats:
    """Net pull over normal load: gross traction less motion resistance, may be negative.

    Arguments as in :func:`gross_traction_ratio`. On the level of this model it is also the
    steepest grade (ratio) that the wheel climbs at that slip.
    """
    gross = gross_traction_ratio(
        bn, slip, construction, slip_term_gain=slip_term_gain, grip_factor=grip_factor
    )
    return gross - motion_resistance_ratio(bn, slip, construction)


def tractive_efficiency(
    bn: ArrayLike, slip: ArrayLike, construction: Construction = "bias"
) -> Floats:
    """Drawbar over axle power, ratio: ``(1 - s) NTR / GTR``, GTR at that slip (no envelope)."""
    net = net_traction_ratio(bn, slip, construction)
    return (1 - np.asarray(slip, float)) * net / gross_traction_ratio(bn, slip, construction)


def slip_needed(
    reserve_at: Callable[[float, NDArray[np.intp]], Floats], places: int, slip_limit: float
) -> float:
    """Smallest slip at which a balance holds at every one of some places.

    Parameters
    ----------
    reserve_at : callable
        Takes a slip (fraction) and the positions of the places that are looked at, gives their
        reserve: what the machine gives less what is asked, as a ratio.
    places : int
        Number of places.
    slip_limit : float
        Largest slip that is looked at, a fraction.

    Returns
    -------
    float
        Slip from 0 to ``slip_limit``, at most :data:`SLIP_STEP` too large. NaN without a place, or
        where the balance does not hold everywhere at the limit: more than the limit is needed.

    Notes
    -----
    Grip is concave in slip, the friction circle keeps it so, resistance rises in a straight line
    and the driveline's cap is flat. So the reserve, where it is at least 0, is concave in slip, and
    a place that holds at the limit holds from one smallest slip on. It is found by halving; after
    each step only the places that can still ask for the most are looked at.

    Examples
    --------
    The slip at which a mobility number of 11.58 pulls 0.30 of its load:

    >>> round(slip_needed(lambda s, _: net_traction_ratio([11.58], s) - 0.30, 1, 0.25), 4)
    0.1506
    """
    rows = np.arange(places)
    if not places or not (reserve_at(slip_limit, rows) >= 0).all():
        return np.nan
    short = rows[~(reserve_at(0.0, rows) >= 0)]
    if not short.size:
        return 0.0
    low, high, rows = 0.0, slip_limit, short
    while high - low > SLIP_STEP:
        middle = (low + high) / 2
        short = rows[~(reserve_at(middle, rows) >= 0)]
        if short.size:
            low, rows = middle, short
        else:
            high = middle
    return high
