"""The list of relations: equation, source, standing, validity and check value of every formula.

Outside its validity a relation still gives a number. The number is flagged, and the flagged metres
are reported; nothing is cut off in silence.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.sources import data_table

__all__ = [
    "Check",
    "Relation",
    "checks_of",
    "for_construction",
    "outside_validity",
    "relation",
    "relations",
]

_UNITS = {
    "kn": "kN",
    "kpa": "kPa",
    "m": "m",
    "m2": "m2",
    "kg": "kg",
    "kw": "kW",
    "mj": "MJ",
    "l": "L",
    "rad": "rad",
    "degrees": "degrees",
    "percent": "%",
}
_SHORT_WORDS = {"bn": "mobility number", "cg": "centre of gravity", "ngp": "nominal pressure"}
_COMPOUND_UNITS = {"_l_per_kwh": "L/kWh"}
"""Ends of a name that are a unit, and how the unit is written."""


@dataclass(frozen=True, slots=True)
class Check:
    """A worked value of a relation, from ``terrain/data/check_values.toml``.

    Attributes
    ----------
    relation : str
        Id of the relation.
    inputs : dict
        Arguments of its function by name. A table with the key ``made_by`` is an object: that
        dotted path called with the rest of the table.
    expected : dict
        Results by name, in the order of the function's return; a part of them where it returns
        something with named fields.
    tolerance : dict
        ``rtol`` or ``atol``.
    origin : str
        ``published: KEY, where`` with a key of ``sources.toml``, or ``own arithmetic`` on the
        equation as it is printed, apart from the function.
    working : str
        The arithmetic in short, or ``""``.
    unit : str
        Unit of the results where their names do not hold it, or ``""``.
    test : str
        In place of all that, where a check cannot be written as data: file and name of the test
        that holds it.
    """

    relation: str
    inputs: dict[str, Any]
    expected: dict[str, Any]
    tolerance: dict[str, float]
    origin: str
    working: str
    unit: str
    test: str

    def in_words(self) -> str:
        """Tell the check in one line: inputs with their units, result, where it comes from."""
        if self.test:
            return f"by a test, {self.test}"
        given = ", ".join(_told(name, value) for name, value in self.inputs.items())
        gives = ", ".join(_told(name, value) for name, value in self.expected.items())
        if self.unit:
            gives += f" {self.unit}"
        mark = "; " if ":" in self.origin else ": "
        working = f"{mark}{self.working}" if self.working else ""
        return f"{given} -> {gives} ({self.origin}{working})"


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
        end is infinite. Empty where no range was read.
    valid_status : str
        Standing of the ranges.
    any_figures : bool
        True for pure geometry or equilibrium, which hold for any figures and need no range.
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
    any_figures: bool
    conditions: str

    def validity_words(self) -> str:
        """Tell the ranges with their standing, or that it needs none, or that none was read."""
        if self.any_figures:
            return "holds for any figures"
        if not self.valid:
            return "no range was read"
        told = []
        for name, (low, high) in self.valid.items():
            ends = f"{low:g} to {high:g}"
            if np.isinf(low):
                ends = f"up to {high:g}"
            elif np.isinf(high):
                ends = f"{low:g} and more"
            words, unit = _words_and_unit(name)
            told.append(f"{words} {ends}{unit and ' '}{unit}")
        return f"{'; '.join(told)} ({self.valid_status})"


@cache
def relations() -> dict[str, Relation]:
    """Every relation by id, in the order of ``terrain/data/relations.toml``."""
    found = {}
    for row in data_table("relations")["relation"]:
        ranges = {
            name: (float(ends.get("low", -np.inf)), float(ends.get("high", np.inf)))
            for name, ends in row.get("valid", {}).items()
        }
        found[row["id"]] = Relation(
            **{key: row.get(key, "") for key in _TEXT_FIELDS},
            valid=ranges,
            any_figures=row.get("any_figures", False),
        )
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


@cache
def _checks() -> dict[str, tuple[Check, ...]]:
    found: dict[str, tuple[Check, ...]] = {}
    for row in data_table("check_values")["check"]:
        check = Check(
            row["relation"],
            row.get("inputs", {}),
            row.get("expected", {}),
            {key: row[key] for key in ("rtol", "atol") if key in row},
            row.get("from", ""),
            row.get("working", ""),
            row.get("unit", ""),
            row.get("test", ""),
        )
        found[check.relation] = (*found.get(check.relation, ()), check)
    return found


def checks_of(relation_id: str) -> tuple[Check, ...]:
    """Worked values of a relation, with which a reader can check it; empty for an unknown id."""
    return _checks().get(relation_id, ())


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


def _told(name: str, value: Any) -> str:
    words, unit = _words_and_unit(name)
    return f"{words} {_figure(value)}{unit and ' '}{unit}"


def _words_and_unit(name: str) -> tuple[str, str]:
    """Part a name such as ``load_per_wheel_kn`` into its words and its unit."""
    stem, _, end = name.rpartition("_")
    unit = _UNITS.get(end, "") if stem else ""
    for tail, compound in _COMPOUND_UNITS.items():
        if name.endswith(tail):
            stem, unit = name.removesuffix(tail), compound
    parts = (stem if unit else name).split("_")
    return " ".join(_SHORT_WORDS.get(part, part) for part in parts), unit


def _figure(value: Any) -> str:
    if isinstance(value, dict):
        parts = (_told(name, part) for name, part in value.items() if name != "made_by")
        return f"({', '.join(parts)})"
    if isinstance(value, list):
        return f"[{', '.join(_figure(part) for part in value)}]"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return "unknown" if np.isnan(value) else f"{value:.7g}"
    return str(value)
