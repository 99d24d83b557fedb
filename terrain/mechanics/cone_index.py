"""Screening by vehicle cone index: one pass and fifty passes on soft, fine-grained ground.

A second opinion beside the traction model. The method works in pounds, inches, horsepower, short
tons and psi; arguments and results here are metric, the US units stay inside. Chains move the
result by some 3 % only, because they grip at the surface: this is no measure of their worth.

References: US Army FM 5-430-00-1 (1994); Priddy & Willoughby 2006, Clarification of vehicle cone
index with reference to mean maximum pressure, Journal of Terramechanics 43:85-96.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.units import INCH_M, POUND_KG, PSI_KPA, SHORT_TON_KG

__all__ = [
    "deflection_correction",
    "mobility_index_tracks",
    "mobility_index_wheels",
    "rating_cone_index_kpa",
    "vci1_tracks_kpa",
    "vci1_wheels_kpa",
    "vci50_tracks_kpa",
    "vci50_wheels_kpa",
]

Floats = NDArray[np.float64]

HORSEPOWER_KW = 0.745699872
"""Mechanical horsepower in kW."""


def mobility_index_wheels(
    gross_mass_kg: ArrayLike,
    axles: int,
    tyres: int,
    width_m: ArrayLike,
    diameter_m: ArrayLike,
    clearance_m: ArrayLike,
    power_kw: ArrayLike,
    *,
    chains: bool = False,
    automatic: bool = True,
) -> Floats:
    """Mobility index of a wheeled vehicle with all axles driven, dimensionless.

    Parameters
    ----------
    gross_mass_kg : array_like
        Mass of the machine with load and aids, taken as equal on all axles.
    axles, tyres : int
        A bogie counts as two axles.
    width_m, diameter_m, clearance_m : array_like
        Tyre section width, unloaded diameter and ground clearance, metres.
    power_kw : array_like
        Engine power, kW.
    chains, automatic : bool
        Chains on all wheels; hydrostatic or automatic transmission.

    Notes
    -----
    ``[(CPF WF) / (TF GF) + WLF - CF] EF XF``: contact pressure W / (n b d/2); weight factor by
    axle load with the constant 0.553 below 2000 lb; tyre (10 + b)/100; grouser 1.05 with chains,
    else 1; wheel load in kips per axle / 2; clearance in inches / 10; engine 1 from 10 hp per
    short ton on, else 1.05; transmission 1, or 1.05 manual. As quoted by others.
    """
    pounds = np.asarray(gross_mass_kg, float) / POUND_KG
    width_in = np.asarray(width_m, float) / INCH_M
    diameter_in = np.asarray(diameter_m, float) / INCH_M
    axle_lb = pounds / axles
    contact_psi = pounds / (width_in * diameter_in / 2 * tyres)
    tyre_factor = (10 + width_in) / 100
    grouser_factor = 1.05 if chains else 1.0
    wheel_load = axle_lb / 2000
    pressure_term = contact_psi * _wheel_weight_factor(axle_lb) / (tyre_factor * grouser_factor)
    ground = pressure_term + wheel_load - _clearance_factor(clearance_m)
    return ground * _engine_factor(power_kw, gross_mass_kg) * (1.0 if automatic else 1.05)


def mobility_index_tracks(
    gross_mass_kg: ArrayLike,
    track_width_m: ArrayLike,
    contact_area_m2: ArrayLike,
    shoe_area_m2: ArrayLike,
    wheels_on_ground: int,
    clearance_m: ArrayLike,
    power_kw: ArrayLike,
    *,
    tall_grousers: bool = True,
    automatic: bool = True,
) -> Floats:
    """Mobility index of a tracked vehicle, dimensionless.

    Parameters
    ----------
    gross_mass_kg : array_like
        Mass of the machine with load and tracks, kg.
    track_width_m, contact_area_m2, shoe_area_m2 : array_like
        Width of a track, contact area of all tracks, area of one shoe; metres and square metres.
    wheels_on_ground : int
        Wheels that press on the tracks (the bogie wheels, all tracks together).
    clearance_m, power_kw : array_like
        Ground clearance in metres, engine power in kW.
    tall_grousers : bool
        Grousers of 1.5 in (38 mm) and more.
    automatic : bool
        Hydrostatic or automatic transmission.

    Notes
    -----
    ``[(CPF WF) / (TF GF) + BF - CF] EF XF`` with the weight factor 1.0 below 50,000 lb, 1.2 below
    70,000, 1.4 below 100,000, else 1.8; track width in inches / 100; grouser factor 1.1 or 1;
    bogie factor (W / 10) / (wheels x shoe area in square inches). As quoted by others.
    """
    pounds = np.asarray(gross_mass_kg, float) / POUND_KG
    contact_psi = pounds / (np.asarray(contact_area_m2, float) / INCH_M**2)
    weight_factor = np.select([pounds < 50e3, pounds < 70e3, pounds < 100e3], [1.0, 1.2, 1.4], 1.8)
    track_factor = np.asarray(track_width_m, float) / INCH_M / 100
    grouser_factor = 1.1 if tall_grousers else 1.0
    shoe_in2 = np.asarray(shoe_area_m2, float) / INCH_M**2
    bogie_factor = pounds / 10 / (wheels_on_ground * shoe_in2)
    pressure_term = contact_psi * weight_factor / (track_factor * grouser_factor)
    ground = pressure_term + bogie_factor - _clearance_factor(clearance_m)
    return ground * _engine_factor(power_kw, gross_mass_kg) * (1.0 if automatic else 1.05)


def deflection_correction(deflection_ratio: ArrayLike) -> Floats:
    """Factor (a ratio) on VCI, ``(0.15 / (delta/h))^0.25``: Priddy & Willoughby 2006."""
    return (0.15 / np.asarray(deflection_ratio, float)) ** 0.25


def vci1_wheels_kpa(mobility_index: ArrayLike, deflection_ratio: ArrayLike = 0.15) -> Floats:
    """Rating cone index (kPa) that a wheeled vehicle needs for one pass on level ground.

    ``11.48 + 0.2 MI - 39.2 / (MI + 3.74)`` psi up to MI 115, above it ``4.1 MI^0.446``, times
    the deflection correction (1 at a deflection of 15 % of the section height): Priddy &
    Willoughby 2006. The step of 0.4 % at MI 115 is in the source and stays. NaN where the index is
    0 or less: the form says nothing of so light a machine.
    """
    mi = _known_index(mobility_index)
    psi = np.where(mi <= 115, 11.48 + 0.2 * mi - 39.2 / (mi + 3.74), _branch(4.1, mi))
    return psi * PSI_KPA * deflection_correction(deflection_ratio)


def vci50_wheels_kpa(mobility_index: ArrayLike) -> Floats:
    """Rating cone index (kPa) that a wheeled vehicle needs for fifty passes on level ground.

    ``28.23 + 0.43 MI - 92.67 / (MI + 3.67)`` psi up to MI 115, above it ``9.0 MI^0.446``, as
    quoted by others. The step of 3 % at MI 115 is in the source and stays. NaN where the index is
    0 or less.
    """
    mi = _known_index(mobility_index)
    psi = np.where(mi <= 115, 28.23 + 0.43 * mi - 92.67 / (mi + 3.67), _branch(9.0, mi))
    return psi * PSI_KPA


def vci1_tracks_kpa(mobility_index: ArrayLike) -> Floats:
    """Rating cone index (kPa) a tracked vehicle needs for one pass, level ground.

    ``7.0 + 0.2 MI - 39.2 / (MI + 5.6)`` psi, as quoted by others. NaN where the index is 0 or less.
    """
    mi = _known_index(mobility_index)
    return (7.0 + 0.2 * mi - 39.2 / (mi + 5.6)) * PSI_KPA


def vci50_tracks_kpa(mobility_index: ArrayLike) -> Floats:
    """Rating cone index (kPa) a tracked vehicle needs for fifty passes, level ground.

    ``19.27 + 0.43 MI - 125.79 / (MI + 7.08)`` psi, from memory. NaN where the index is 0 or less.
    """
    mi = _known_index(mobility_index)
    return (19.27 + 0.43 * mi - 125.79 / (mi + 7.08)) * PSI_KPA


def rating_cone_index_kpa(cone_index_kpa: ArrayLike, remould_index: ArrayLike) -> Floats:
    """Rating cone index (kPa): cone index times remould index, the index held at 1 at most."""
    return np.asarray(cone_index_kpa, float) * np.minimum(np.asarray(remould_index, float), 1.0)


def _wheel_weight_factor(axle_lb: Floats) -> Floats:
    conditions = [axle_lb < 2000, axle_lb <= 13500, axle_lb <= 20000]
    kips = axle_lb / 1000
    values = [0.553 * kips, 0.033 * kips + 1.050, 0.142 * kips - 0.420]
    return np.select(conditions, values, 0.278 * kips - 3.115)


def _clearance_factor(clearance_m: ArrayLike) -> Floats:
    return np.asarray(clearance_m, float) / INCH_M / 10


def _engine_factor(power_kw: ArrayLike, gross_mass_kg: ArrayLike) -> Floats:
    horsepower = np.asarray(power_kw, float) / HORSEPOWER_KW
    tons = np.asarray(gross_mass_kg, float) / SHORT_TON_KG
    return np.where(horsepower / tons >= 10, 1.0, 1.05)


def _known_index(mobility_index: ArrayLike) -> Floats:
    mi = np.asarray(mobility_index, float)
    return np.where(mi > 0, mi, np.nan)


def _branch(factor: float, mobility_index: Floats) -> Floats:
    return factor * mobility_index**0.446
