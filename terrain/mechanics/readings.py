"""Own readings against the class figure: the more places were probed, the more they count.

The rule is plain on purpose. The readings' median counts with weight n / (n + n0) and the class
figure with the rest, n0 being the number of places that the class figure is worth. Without readings
the class figure stands; with very many the readings do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.mechanics.soil_strength import soil_classes
from terrain.models.soil import MOISTURE_STATES
from terrain.models.soil_rules import ReadingsRule, ShearClasses
from terrain.sources import data_table

__all__ = [
    "Summary",
    "bearing_from_cone_index_kpa",
    "carried_over",
    "class_from_shear",
    "readings_rule",
    "shear_classes",
    "shrunk",
    "summarise",
]

MAD_TO_DEVIATION = 1.4826
"""Median absolute deviation times this is the standard deviation of a normal distribution."""

Figures = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Summary:
    """``n`` places, their ``median_kpa`` and robust ``spread_kpa`` (NaN with fewer than three)."""

    n: int
    median_kpa: float
    spread_kpa: float


@cache
def readings_rule() -> ReadingsRule:
    """The packaged rule: places that the class figure is worth (a number)."""
    row = data_table("soil_classes")["readings_rule"]
    return ReadingsRule(**{name: row[name] for name in ReadingsRule.__dataclass_fields__})


@cache
def shear_classes() -> ShearClasses:
    """Shear strengths (kPa) that part the classes on the published card."""
    row = data_table("soil_classes")["shear_classes"]
    return ShearClasses(**{name: row[name] for name in ShearClasses.__dataclass_fields__})


def summarise(values_kpa: ArrayLike, place: ArrayLike | None = None) -> Summary:
    """Number of places, median and robust spread (all kPa) of readings.

    Parameters
    ----------
    values_kpa : array_like, shape (n,)
        Readings, all finite.
    place : array_like of int, shape (n,), optional
        Number of the place of each reading. Readings at one place, for example at several depths,
        are no independent evidence: each place counts once, with its median.
    """
    values = np.asarray(values_kpa, dtype=float)
    if place is not None and values.size:
        number = np.asarray(place)
        values = np.array([np.median(values[number == k]) for k in np.unique(number)])
    if not values.size:
        return Summary(0, np.nan, np.nan)
    median = float(np.median(values))
    spread = float(MAD_TO_DEVIATION * np.median(np.abs(values - median)))
    return Summary(int(values.size), median, spread if values.size >= 3 else np.nan)


def shrunk(prior_kpa: Figures, summary: Summary, prior_worth: float | None = None) -> Figures:
    """Low, likely and high strength after the readings, kPa.

    Parameters
    ----------
    prior_kpa : tuple of float
        Low, likely, high of the class; NaN where the class is unknown.
    summary : Summary
    prior_worth : float, optional
        Places that the class figure is worth; default the packaged rule's.

    Returns
    -------
    tuple of float
        ``w * readings + (1 - w) * prior`` with ``w = n / (n + prior_worth)``. The readings' low
        and high are median minus and plus spread, not below 0; with fewer than three places they
        borrow the prior's own distances from its likely figure. With an unknown class the readings
        stand alone from three places on; fewer leave it unknown.
    """
    rule = readings_rule()
    worth = rule.prior_worth_places if prior_worth is None else prior_worth
    low, likely, high = prior_kpa
    if summary.n == 0:
        return prior_kpa
    median, spread = summary.median_kpa, summary.spread_kpa
    if np.isnan(likely):
        if summary.n < rule.least_places_alone:
            return prior_kpa
        return max(median - spread, 0.0), median, median + spread
    down, up = (likely - low, high - likely) if np.isnan(spread) else (spread, spread)
    weight = summary.n / (summary.n + worth)
    read = (max(median - down, 0.0), median, median + up)
    mixed = [weight * r + (1 - weight) * p for r, p in zip(read, prior_kpa, strict=True)]
    return mixed[0], mixed[1], mixed[2]


def carried_over(prior_kpa: Figures, posterior_kpa: Figures, read_in: str, wanted: str) -> Figures:
    """What readings of the moisture state ``read_in`` say about the state ``wanted``, kPa.

    Strength does not rise with moisture. So in a wetter state than that of the readings they can
    only lower the class figure, and in a drier one only raise it; never the other way.
    """
    read, goal = MOISTURE_STATES.index(read_in), MOISTURE_STATES.index(wanted)  # type: ignore[arg-type]
    if read == goal or np.isnan(prior_kpa[1]):
        return posterior_kpa if read == goal else prior_kpa
    pick = min if goal > read else max
    figures = [pick(p, q) for p, q in zip(prior_kpa, posterior_kpa, strict=True)]
    return figures[0], figures[1], figures[2]


def class_from_shear(shear_kpa: float) -> int:
    """Class 1 to 3 that a vane reading (undrained shear strength, kPa) points to on the card.

    The card parts class 4 from 3 by "far below" only, so a reading never points to class 4.
    Source: Owende et al. 2002, quick reference card.
    """
    limits = shear_classes()
    if shear_kpa > limits.class_1_above_kpa:
        return 1
    return 2 if shear_kpa >= limits.class_2_above_kpa else 3


def bearing_from_cone_index_kpa(cone_index_kpa: ArrayLike) -> NDArray[np.float64]:
    """Bearing capacity (kPa) that belongs to a cone index (kPa, any shape) on the class card.

    Straight lines between the card's pairs and the open ends that the class table assumes; beyond
    the last pair its ratio is kept. For a class's own cone index it gives the class's own bearing.
    """
    pairs = sorted(
        {
            pair
            for row in soil_classes().values()
            for pair in zip(row.cone_index_kpa, row.bearing_kpa, strict=True)
        }
    )
    cone, bearing = np.array(pairs).T
    value = np.asarray(cone_index_kpa, dtype=float)
    inside = np.interp(value, cone, bearing)
    return np.where(
        np.isnan(value), np.nan, np.where(value > cone[-1], value * bearing[-1] / cone[-1], inside)
    )
