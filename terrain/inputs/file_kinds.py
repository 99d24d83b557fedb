"""Tell the hand-written files apart by what they hold, so that a mix-up is said in one sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Mixup", "told_by_content"]


@dataclass(frozen=True, slots=True)
class Mixup:
    """What a file that was given in the place of another is ``called``, and ``advice``."""

    called: str
    advice: str


@dataclass(frozen=True, slots=True)
class _Kind:
    """How a kind of file is called, the parts that mark it, and the part that names it."""

    called: str
    marks: tuple[str, ...]
    named_under: str = ""


_KINDS = {
    "block file": _Kind("a block file", ("block", "dem", "soils", "trails", "landings")),
    "machine file": _Kind("a machine file", ("front", "rear", "load"), "machine"),
    "aid catalogue": _Kind("a catalogue of aids", ("aid",), "aids"),
    "profile file": _Kind("a file of rule profiles", ("profile",), "site_rules"),
}


def told_by_content(table: Mapping[str, Any], role: str) -> Mixup | None:
    """Say what a parsed file is when it is clearly not of the kind ``role``.

    Parameters
    ----------
    table : mapping
        As :mod:`tomllib` gives it.
    role : str
        ``block file``, ``machine file``, ``aid catalogue`` or ``profile file``; any other role
        is never a mix-up.

    Returns
    -------
    Mixup or None
        None while a single part of the wanted kind stands in the file: then its faults are better
        told key by key.
    """
    wanted = _KINDS.get(role)
    if wanted is None or set(wanted.marks) & set(table):
        return None
    for name, kind in _KINDS.items():
        if set(kind.marks) & set(table):
            return Mixup(kind.called, _advice(table, role, wanted, name))
    return None


def _advice(table: Mapping[str, Any], role: str, wanted: _Kind, given: str) -> str:
    """Which file to give, by name where the block file that was given names it."""
    named = table.get(wanted.named_under) if given == "block file" else None
    file = named.get("file") if isinstance(named, Mapping) else None
    if isinstance(file, str):
        return f"Give the {role}: in this block file it is {file}."
    parts = ", ".join(f"[{part}]" for part in wanted.marks)
    return f"Give the {role}: the one with {parts}."
