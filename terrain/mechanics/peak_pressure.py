"""Mean maximum pressure of wheels and tracks, and the cone index that just carries them.

The mean of the pressure peaks under the wheels, not the nominal ground pressure: for wheels it is
about five times as large. The two scales are never mixed. All of it is from memory (Rowland 1972,
Larminie 1988, Maclaurin 1997) and serves as a cross-check of ranking.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "limiting_cone_index_from_pressure_kpa",
    "limiting_cone_index_wheel_kpa",
    "mean_maximum_pressure_band_track_kpa",
    "mean_maximum_pressure_link_track_kpa",
    "mean_maximum_pressure_wheel_kpa",
]

Floats = NDArray[np.float64]

_WHEEL_FACTORS = {
    (2, 2): 3.65,
    (3, 3): 3.90,
    (4, 4): 4.10,
    (2, 1): 4.40,
    (3, 2): 4.35,
    (3, 1): 5.25,
    (4, 3): 4.44,
    (4, 2): 4.95,
    (4, 1): 6.05,
}
"""Factor by number of axles and of driven axles, from memory (Larminie 1988)."""


def mean_maximum_pressure_wheel_kpa(
    vehicle_weight_kn: ArrayLike,
    axles: int,
    driven_axles: int,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    deflection_ratio: ArrayLike,
) -> Floats:
    """Mean maximum pressure of a wheeled vehicle, kPa.

    Parameters
    ----------
    vehicle_weight_kn : array_like
        Weight of the whole vehicle, kN, taken as equal on all axles (a bogie is two axles).
    axles, driven_axles : int
        2 to 4 axles with two wheels each, and how many are driven.
    width_m, diameter_m : array_like
        Tyre section width and unloaded diameter, metres.
    deflection_ratio : array_like
        Deflection over **section height**. Copies that print deflection over diameter give about
        twice the pressure and contradict the limiting cone index.

    Raises
    ------
    ValueError
        For a number of axles without a factor.

    Notes
    -----
    ``K W / (2 m b^0.85 d^1.15 sqrt(delta/h))``, K from 3.65 to 6.05; from memory.
    """
    try:
        factor = _WHEEL_FACTORS[axles, driven_axles]
    except KeyError:
        known = ", ".join(f"{n} of {m}" for m, n in sorted(_WHEEL_FACTORS))
        raise ValueError(
            f"no factor for {driven_axles} of {axles} axles driven; known: {known}"
        ) from None
    size = np.asarray(width_m, float) ** 0.85 * np.asarray(diameter_m, float) ** 1.15
    per_wheel = np.asarray(vehicle_weight_kn, float) / (2 * axles)
    return factor * per_wheel / (size * np.sqrt(np.asarray(deflection_ratio, float)))


def mean_maximum_pressure_link_track_kpa(
    vehicle_weight_kn: ArrayLike,
    road_wheels_a_side: int,
    width_m: ArrayLike,
    pitch_m: ArrayLike,
    road_wheel_diameter_m: ArrayLike,
    plate_area_ratio: ArrayLike = 1.0,
) -> Floats:
    """Mean maximum pressure of a link track on rigid road wheels, kPa.

    Weight of the vehicle in kN; track width, pitch and road wheel diameter in metres; the plate
    area ratio is link area over pitch times width. ``1.26 W / (2 m A b sqrt(pitch D))``: Rowland
    1972, as quoted by others with ``A = 1``.
    """
    root = np.sqrt(np.asarray(pitch_m, float) * np.asarray(road_wheel_diameter_m, float))
    plates = np.asarray(plate_area_ratio, float) * np.asarray(width_m, float)
    per_wheel = np.asarray(vehicle_weight_kn, float) / (2 * road_wheels_a_side)
    return 1.26 * per_wheel / (plates * root)


def mean_maximum_pressure_band_track_kpa(
    vehicle_weight_kn: ArrayLike,
    wheels_a_side: int,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    deflection_m: ArrayLike,
) -> Floats:
    """Mean maximum pressure of band tracks over pneumatic wheels, kPa (from memory).

    Weight of the vehicle in kN; track width, wheel diameter and wheel deflection in metres.
    ``0.5 W / (2 m b sqrt(D f))``.
    """
    root = np.sqrt(np.asarray(diameter_m, float) * np.asarray(deflection_m, float))
    per_wheel = np.asarray(vehicle_weight_kn, float) / (2 * wheels_a_side)
    return 0.5 * per_wheel / (np.asarray(width_m, float) * root)


def limiting_cone_index_from_pressure_kpa(mean_maximum_pressure_kpa: ArrayLike) -> Floats:
    """Cone index (kPa) that a vehicle just passes once: ``0.827 MMP`` (from memory)."""
    return 0.827 * np.asarray(mean_maximum_pressure_kpa, float)


def limiting_cone_index_wheel_kpa(
    load_kn: ArrayLike, width_m: ArrayLike, diameter_m: ArrayLike, deflection_m: ArrayLike
) -> Floats:
    """Cone index (kPa) that a wheel just passes once (from memory, Maclaurin 1997).

    ``1.85 W / (b^0.8 d^0.8 delta^0.4)`` with the load of one wheel in kN and metres.
    """
    size = (np.asarray(width_m, float) * np.asarray(diameter_m, float)) ** 0.8
    return 1.85 * np.asarray(load_kn, float) / (size * np.asarray(deflection_m, float) ** 0.4)
