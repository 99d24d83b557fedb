"""Grip at the surface: what a slippery film takes from plain tyres and what bites through it.

The cone index describes the ground under the wheel. A film of snow, ice, wet clay or litter caps
the grip at the surface whatever lies below, unless chains or grousers bite through. A grip factor
of an aid is credited on top only on a film where a trial found that it helps, never on bare soil.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.models.soil import SurfaceFilm
from terrain.sources import data_table

__all__ = ["Film", "credited_grip_factor", "film_limited_gross_ratio", "films"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Film:
    """A surface film; ``grip_cap`` is None where no figure was published: the user's, or none.

    ``credits_grip_factor`` says whether an aid that bites through keeps its grip factor there, on
    the word of ``credit_source`` at ``credit_where``.
    """

    name: SurfaceFilm
    grip_cap: float | None
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


def film_limited_gross_ratio(
    gross_ratio: ArrayLike, grip_cap: ArrayLike | None, bites_through: ArrayLike = False
) -> Floats:
    """Gross traction ratio after the cap of a surface film.

    Parameters
    ----------
    gross_ratio : array_like
        Gross traction ratio of the ground below.
    grip_cap : array_like or None
        Cap of the film; infinity where there is no film. None or NaN: a film lies there, but its
        cap is not known.
    bites_through : array_like of bool
        True where the gear reaches through the film (chains, grousers): it keeps the grip of the
        ground below. What it may gain above that is in ``gross_ratio`` already
        (:func:`credited_grip_factor`).

    Returns
    -------
    ndarray
        NaN where the cap is not known, but for gear that bites through: unknown is never the best.
    """
    gross = np.asarray(gross_ratio, float)
    cap = np.asarray(np.nan if grip_cap is None else grip_cap, float)
    return np.where(np.asarray(bites_through, bool), gross, np.minimum(gross, cap))


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
