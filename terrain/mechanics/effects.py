"""What each aid changes, as a table of figures, directions and their standing.

The generic figures are those of ``terrain/data/effects.toml``. A figure in the user's aid catalogue
takes the place of the generic one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from terrain.models.aids import AidKind
from terrain.sources import data_table

__all__ = [
    "TOLD",
    "Effect",
    "Quantity",
    "effects",
    "effects_of",
    "quantities",
]

TOLD = "told, not computed"
"""Said of every figure that the computation does not use."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something that an aid can change.

    ``field`` is the figure of :class:`terrain.models.aids.Aid` that an ``[[aid.effect]]`` of a
    catalogue sets; ``entered_as`` the key of the catalogue for quantities that have a key of their
    own. ``low`` and ``high`` bound a plausible figure, in ``unit``; both None where the quantity
    has no figure. ``used_for`` says what a catalogue's figure does in the computation.
    """

    name: str
    unit: str
    field: str = ""
    entered_as: str = ""
    low: float | None = None
    high: float | None = None
    used_for: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """One effect of one kind of aid.

    ``direction`` is the sign of the change of ``quantity``. ``low``, ``likely``, ``high`` are in
    ``unit``; None where no figure was read. ``status`` is a word of ``terrain.sources.STATUSES``;
    ``source`` is empty where common practice or an assumption is all there is. ``used_for`` is
    empty where the generic figure is told, not computed.
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
    used_for: str = ""


@cache
def quantities() -> dict[str, Quantity]:
    """Every quantity that an aid can change, by name, in the order of the file."""
    return {row["name"]: Quantity(**row) for row in data_table("effects")["quantity"]}


@cache
def effects() -> tuple[Effect, ...]:
    """Every row of the effects table, in the order of the file."""
    return tuple(Effect(**row) for row in data_table("effects")["effect"])


def effects_of(aid: AidKind) -> tuple[Effect, ...]:
    """The effects of one kind of aid."""
    return tuple(effect for effect in effects() if effect.aid == aid)
