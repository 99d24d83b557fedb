"""Grip at the surface: what a slippery film takes from plain tyres and from gear that bites.

The cone index describes the ground under the wheel. A film of snow, ice, wet clay or litter caps
the grip at the surface whatever lies below. Chains and grousers bite through litter and a film of
clay to the ground below; into packed snow and ice they only bite, and what they hold there is the
planner's figure or unknown. A grip factor of an aid is credited on top only on a film where a trial
found that it helps, never on bare soil.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.models.soil import SurfaceFilm
from terrain.sources import data_table

__all__ = [
    "Film",
    "bite_words",
    "credited_grip_factor",
    "film_limited_gross_ratio",
    "films",
    "gear_grip_cap",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Film:
    """A surface film; ``grip_cap`` is None where no figure was published: the user's, or none.

    ``bites_through``: chains and grousers reach the ground below; else they only bite into the
    film. ``credits_grip_factor`` says whether an aid that bites through keeps its grip factor
    there, on the word of ``credit_source`` at ``credit_where``.
    """

    name: SurfaceFilm
    grip_cap: float | None
    bites_through: bool
    status: str
    source: str
    where: str
    note: str
    credits_grip_factor: bool = False
    credit_source: str = ""
    credit_where: str = ""


@cache
def films() -> dict[str, Film]:
    """The surface films by name, with the gross-traction cap of plain tyres where published."""
    rows = data_table("films")["film"]
    return {
        row["name"]: Film(
            row["name"],
            row.get("grip_cap"),
            row["bites_through"],
            row.get("status", ""),
            row.get("source", ""),
            row.get("where", ""),
            row["note"],
            row.get("credits_grip_factor", False),
            row.get("credit_source", ""),
            row.get("credit_where", ""),
        )
        for row in rows
    }


def gear_grip_cap(film: str, cap_with_aids: float | None) -> float:
    """Cap on the gross traction ratio of gear that bites (chains, grousers), on a film.

    Parameters
    ----------
    film : str
        Name of the film.
    cap_with_aids : float or None
        The planner's figure for such gear on it, a ratio; None where there is none.

    Returns
    -------
    float
        Infinity where gear bites through the film to the ground below. Where it only bites into
        the film the planner's figure, NaN without one: no figure was read, and the grip of the
        ground below is never lent to gear that does not reach it.
    """
    if films()[film].bites_through:
        return np.inf
    return np.nan if cap_with_aids is None else float(cap_with_aids)


def bite_words(bites: bool, gear_cap: float) -> str:
    """What a film does to the gear on it, in words; ``gear_cap`` as a ratio, infinite or NaN."""
    if not bites:
        return "it caps plain tyres."
    if np.isinf(gear_cap):
        return "the aid bites through it."
    held = "; what it holds there is not known." if np.isnan(gear_cap) else "."
    return f"the aid bites into it, not through it to the soil{held}"


def film_limited_gross_ratio(
    gross_ratio: ArrayLike,
    grip_cap: ArrayLike | None,
    bites: ArrayLike = False,
    gear_cap: ArrayLike = np.inf,
) -> Floats:
    """Gross traction ratio after the cap of a surface film.

    Parameters
    ----------
    gross_ratio : array_like
        Gross traction ratio of the ground below.
    grip_cap : array_like or None
        Cap of the film on plain tyres; infinity where there is no film. None or NaN: a film lies
        there, but its cap is not known.
    bites : array_like of bool
        True for gear that bites (chains, grousers).
    gear_cap : array_like
        Cap of the film on such gear, as :func:`gear_grip_cap` gives it: infinity where it reaches
        the ground below and keeps its grip, NaN where nothing is known. What it may gain above that
        is in ``gross_ratio`` already (:func:`credited_grip_factor`).

    Returns
    -------
    ndarray
        NaN where the cap that counts is not known: unknown is never the best.
    """
    gross = np.asarray(gross_ratio, float)
    plain = np.asarray(np.nan if grip_cap is None else grip_cap, float)
    cap = np.where(np.asarray(bites, bool), np.asarray(gear_cap, float), plain)
    return np.minimum(gross, cap)


def credited_grip_factor(
    grip_factor: ArrayLike, film_credits: ArrayLike, bites_through: ArrayLike
) -> Floats:
    """Factor on the gross traction envelope that an aid is credited with (dimensionless).

    Parameters
    ----------
    grip_factor : array_like
        The catalogue's factor of the aid; a planning assumption.
    film_credits : array_like of bool
        True under a film with a known cap where ``Film.credits_grip_factor`` holds.
    bites_through : array_like of bool
        True for gear that bites through the film.

    Returns
    -------
    ndarray
        The factor, or 1. On good bare soil chains brought little, on firm clay under sod or pine
        straw they helped (Vechinski et al. 2000, abstract); how much is not read. A factor below 1
        always counts: the doubt is never the machine's gain.
    """
    factor = np.asarray(grip_factor, float)
    credited = np.asarray(film_credits, bool) & np.asarray(bites_through, bool)
    return np.where(credited | (factor < 1), factor, 1.0)
