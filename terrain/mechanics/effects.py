"""What each aid changes, as a table of figures, directions and their standing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from terrain.models.aids import AidKind
from terrain.sources import data_table

__all__ = ["Effect", "effects", "effects_of"]


@dataclass(frozen=True, slots=True)
class Effect:
    """One effect of one kind of aid.

    ``direction`` is the sign of the change of ``quantity``. ``low``, ``likely``, ``high`` are in
    ``unit``; None where no figure was read. ``status`` is a word of ``terrain.sources.STATUSES``;
    ``source`` is empty where common practice or an assumption is all there is.
    """

    aid: AidKind
    quantity: str
    direction: Literal["+", "-", "0"]
    unit: str
    status: str
    note: str
    source: str = ""
    where: str = ""
    low: float | None = None
    likely: float | None = None
    high: float | None = None


@cache
def effects() -> tuple[Effect, ...]:
    """Every row of the effects table, in the order of the file."""
    return tuple(Effect(**row) for row in data_table("effects")["effect"])


def effects_of(aid: AidKind) -> tuple[Effect, ...]:
    """The effects of one kind of aid."""
    return tuple(effect for effect in effects() if effect.aid == aid)
