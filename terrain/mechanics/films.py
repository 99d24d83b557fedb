"""Grip at the surface: what a slippery film takes from plain tyres and what bites through it.

The cone index describes the ground under the wheel. A film of snow, ice, wet clay or litter caps
the grip at the surface whatever lies below, unless chains or grousers bite through.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.models.soil import SurfaceFilm
from terrain.sources import data_table

__all__ = ["Film", "film_limited_gross_ratio", "films"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Film:
    """A surface film; ``grip_cap`` is None where no figure was published: the user's, or none."""

    name: SurfaceFilm
    grip_cap: float | None
    status: str
    source: str
    where: str
    note: str


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
        Cap of the film; None or NaN means that no cap is known, and none is applied.
    bites_through : array_like of bool
        True where the gear reaches through the film (chains, grousers): it keeps the grip of the
        ground below and gains nothing above it.
    """
    gross = np.asarray(gross_ratio, float)
    cap = np.asarray(np.nan if grip_cap is None else grip_cap, float)
    capped = np.fmin(gross, cap)
    capped = np.where(np.isnan(gross), np.nan, capped)
    return np.where(np.asarray(bites_through, bool), gross, capped)
