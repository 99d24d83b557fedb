"""The list of relations: equation, source, standing and validity of every formula in mechanics.

Outside its validity a relation still gives a number. The number is flagged, and the flagged metres
are reported; nothing is cut off in silence.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.sources import data_table

__all__ = ["Relation", "for_construction", "outside_validity", "relation", "relations"]


@dataclass(frozen=True, slots=True)
class Relation:
    """One relation.

    Attributes
    ----------
    id, title, equation : str
        Short key, name, and the equation in plain text.
    source, where, status : str
        Key in ``sources.toml``, place in it, word of ``terrain.sources.STATUSES``.
    function : str
        Dotted path of the function that computes it.
    role : str
        ``primary``, ``cross-check``, ``option`` or ``helper``.
    valid : dict
        Name of a quantity (unit in the name) to its inclusive range ``(low, high)``; a missing
        end is infinite. Empty where no range was published.
    valid_status : str
        Standing of the ranges.
    conditions : str
        What else must hold, in words, and what to expect outside.
    """

    id: str
    title: str
    equation: str
    source: str
    where: str
    status: str
    function: str
    role: str
    valid: dict[str, tuple[float, float]]
    valid_status: str
    conditions: str


@cache
def relations() -> dict[str, Relation]:
    """Every relation by id, in the order of ``terrain/data/relations.toml``."""
    found = {}
    for row in data_table("relations")["relation"]:
        ranges = {
            name: (float(ends.get("low", -np.inf)), float(ends.get("high", np.inf)))
            for name, ends in row.get("valid", {}).items()
        }
        found[row["id"]] = Relation(**{key: row.get(key, "") for key in _TEXT_FIELDS}, valid=ranges)
    return found


_TEXT_FIELDS = (
    "id",
    "title",
    "equation",
    "source",
    "where",
    "status",
    "function",
    "role",
    "valid_status",
    "conditions",
)


def relation(relation_id: str) -> Relation:
    """Return one relation; raise KeyError naming the known ids when there is none."""
    try:
        return relations()[relation_id]
    except KeyError:
        known = ", ".join(sorted(relations()))
        raise KeyError(f"unknown relation {relation_id!r}; known: {known}") from None


def for_construction(relation_id: str, construction: str) -> str:
    """Id of the relation in the form of a tyre's construction (``bias`` or ``radial``).

    Relations that have no form of their own for radial tyres keep their id.
    """
    own = f"{relation_id}_{construction}"
    return own if own in relations() else relation_id


def outside_validity(relation_id: str, **values: ArrayLike) -> NDArray[np.bool_]:
    """Where a relation is used outside its validity (extrapolated).

    Parameters
    ----------
    relation_id : str
        Id of the relation.
    **values : array_like
        Quantities by the names of ``Relation.valid``; they broadcast. Those not given are not
        looked at.

    Returns
    -------
    ndarray of bool
        True where at least one value lies outside its range or is NaN (it cannot be shown to lie
        inside).

    Raises
    ------
    KeyError
        For an unknown relation, or a quantity that has no range there.

    Examples
    --------
    >>> outside_validity("brixius_number", load_over_size_kpa=[30, 60]).tolist()
    [False, True]
    """
    ranges = relation(relation_id).valid
    unknown = sorted(set(values) - set(ranges))
    if unknown:
        raise KeyError(f"{relation_id} has no range for {unknown}; it has: {sorted(ranges)}")
    outside = np.zeros((), dtype=bool)
    for name, value in values.items():
        low, high = ranges[name]
        array = np.asarray(value, float)
        outside = outside | ~((array >= low) & (array <= high))
    return np.asarray(outside)
