"""Every combination of aids that a catalogue offers for the two axle groups of a machine.

Nothing is left out here: a combination that cannot be mounted is enumerated too, so that the
rulebook can list it as excluded and say why.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

from terrain.models.aids import BARE, Aid, Mount, Setup
from terrain.models.machine import AxleGroup, Machine
from terrain.models.tyre_size import with_decimal_point

__all__ = [
    "CatalogueSplit",
    "axle_name",
    "describe",
    "enumerate_setups",
    "made_for",
    "options_for",
    "same_tyre_size",
    "setup_id",
    "split_catalogue",
    "tyre_named",
]

_KIND_ORDER = ("chains", "wheel track", "band track", "dual tyres")
_BARE_WORD = "bare"
_JOINER = " + "


def axle_name(group: AxleGroup) -> str:
    """Name an axle group for people: ``front bogie``, ``rear single axle``."""
    return f"{group.name} {'bogie' if group.kind == 'bogie' else 'single axle'}"


def options_for(group: AxleGroup, aids: Iterable[Aid]) -> tuple[Mount, ...]:
    """Return what ``group`` could carry: nothing first, then aids, alike on both sides.

    Parameters
    ----------
    group : AxleGroup
        Catalogue rows made up for the other kind of axle group, or for other tyre sizes only, are
        no option here. Everything else is one, also what this group cannot carry: the rules then
        exclude it and say why.
    aids : iterable of Aid
        In any order; the result is ordered by kind, then by key.

    Raises
    ------
    ValueError
        When two aids share a key, or a key would make ids ambiguous.
    """
    return (BARE, *(Mount.both_sides(aid) for aid in _in_order(aids) if made_for(aid, group)))


def made_for(aid: Aid, group: AxleGroup) -> bool:
    """False when the row names the other kind of group, or other tyre sizes only."""
    size = group.tyre.designation
    return aid.axle_kind in (None, group.kind) and tyre_named(aid, size) is not False


def enumerate_setups(machine: Machine, aids: Iterable[Aid]) -> tuple[Setup, ...]:
    """Return every setup: the full product of the options of both groups, bare first.

    The order depends on the aids alone, not on the order in which they are given.
    """
    ordered = _in_order(aids)
    front, rear = (options_for(group, ordered) for group in machine.groups)
    return tuple(Setup(setup_id(f, r), (f, r)) for f, r in product(front, rear))


def setup_id(front: Mount, rear: Mount) -> str:
    """Return the stable id of a setup, front first: ``chains-26 + bare``; ``bare`` for no aid."""
    if front.is_bare and rear.is_bare:
        return _BARE_WORD
    return _JOINER.join(_mount_id(mount) for mount in (front, rear))


def describe(setup: Setup, machine: Machine) -> str:
    """Say in plain words what the wheels carry, for example in a report or an operator brief."""
    if setup.is_bare:
        return "no traction aid on any wheel"
    front, rear = (axle_name(group) for group in machine.groups)
    if setup.front == setup.rear and setup.front.left == setup.front.right:
        kinds = {group.kind for group in machine.groups}
        both = {"bogie": "both bogies", "single": "both axles"}
        where = both[kinds.pop()] if len(kinds) == 1 else f"the {front} and on the {rear}"
        return f"{_aids_in_words(setup.front.left)} on {where}"
    parts = []
    for mount, where in zip(setup.mounts, (front, rear), strict=True):
        if mount.left == mount.right:
            parts.append(f"{_aids_in_words(mount.left)} on the {where}")
        else:
            left, right = _aids_in_words(mount.left), _aids_in_words(mount.right)
            parts.append(f"{left} left and {right} right on the {where}")
    return "; ".join(parts)


def tyre_named(aid: Aid, designation: str) -> bool | None:
    """Tell whether the catalogue names the tyre size ``designation`` for ``aid``.

    None when the catalogue names no size at all; see :func:`same_tyre_size`.
    """
    if not aid.fits_tyres:
        return None
    return any(same_tyre_size(designation, size) for size in aid.fits_tyres)


def same_tyre_size(one: str, other: str) -> bool:
    """Tell whether two designations stand for one size.

    Upper and lower case, blanks, a decimal comma, a closing zero of the rim and marks after the
    size (ply rating, ``TL``) do not matter, nor does ``-`` or ``R`` before the rim: the
    construction does not change the size.
    """
    return _plain_size(one) == _plain_size(other)


@dataclass(frozen=True, slots=True)
class CatalogueSplit:
    """The aids worth enumerating for a machine, and those made for other tyres only."""

    kept: tuple[Aid, ...]
    left_out: tuple[Aid, ...]


def split_catalogue(machine: Machine, aids: Iterable[Aid]) -> CatalogueSplit:
    """Set apart the aids that are an option on no axle of ``machine``, to say what was left out."""
    kept: list[Aid] = []
    left_out: list[Aid] = []
    for aid in _in_order(aids):
        fits = any(made_for(aid, group) for group in machine.groups)
        (kept if fits else left_out).append(aid)
    return CatalogueSplit(tuple(kept), tuple(left_out))


def _in_order(aids: Iterable[Aid]) -> tuple[Aid, ...]:
    aids = tuple(aids)
    counts = Counter(aid.key for aid in aids)
    repeated = sorted(key for key, count in counts.items() if count > 1)
    if repeated:
        raise ValueError(f"aid keys must be unique; repeated: {', '.join(repeated)}")
    unusable = sorted(key for key in counts if not key or key == _BARE_WORD or "+" in key)
    if unusable:
        raise ValueError(
            f"an aid key must not be empty or {_BARE_WORD!r} and must not contain '+': {unusable}"
        )
    return tuple(
        sorted(aids, key=lambda aid: (_KIND_ORDER.index(aid.kind), aid.band_kind or "", aid.key))
    )


def _mount_id(mount: Mount) -> str:
    left, right = (
        " and ".join(aid.key for aid in side) or _BARE_WORD for side in (mount.left, mount.right)
    )
    return left if left == right else f"{left} left, {right} right"


def _aids_in_words(aids: tuple[Aid, ...]) -> str:
    return " and ".join(aid.name for aid in aids) or "nothing"


def _plain_size(designation: str) -> str:
    """The size alone, in one spelling: ``710/45-26.5`` for `` 710/45 R 26.50 20PR TL``."""
    text = with_decimal_point(designation).lower().replace("×", "x").replace("*", "x")
    found = re.match(r"\s*([\d./x]+?)\s*(l?)\s*[-rdb]\s*(\d+(?:\.\d+)?)(?:\s|$)", text)
    return f"{found[1]}{found[2]}-{float(found[3]):g}" if found else "".join(text.split())
