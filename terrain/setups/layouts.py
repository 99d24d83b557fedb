"""Small questions about what the wheels of a machine carry, asked by several rules."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TypeGuard

from terrain.models.aids import Aid, Mount, Setup
from terrain.models.machine import AxleGroup, Machine
from terrain.setups.combinations import axle_name

__all__ = [
    "all_aids",
    "axle_and_bogie",
    "carried",
    "groups_carrying",
    "is_known",
    "is_plain",
    "listed",
]


def all_aids(mount: Mount) -> tuple[Aid, ...]:
    """Every aid of both sides, each catalogue entry once, in order."""
    return tuple({aid.key: aid for aid in mount.left + mount.right}.values())


def groups_carrying(setup: Setup, machine: Machine, kind: str, group_kind: str) -> str:
    """Names of the groups of ``group_kind`` that carry an aid of ``kind``; empty when none."""
    return listed(
        axle_name(group)
        for mount, group in zip(setup.mounts, machine.groups, strict=True)
        if group.kind == group_kind and any(aid.kind == kind for aid in all_aids(mount))
    )


def listed(names: Iterable[str]) -> str:
    """Join axle names for a sentence."""
    return " and the ".join(names)


def carried(setup: Setup) -> tuple[Aid | None, Aid | None]:
    """The one aid of each end; None where an end is bare or mounted against the rules."""
    front, rear = (mount.aid if is_plain(mount) else None for mount in setup.mounts)
    return front, rear


def is_plain(mount: Mount) -> bool:
    """True when both sides carry the same and at most one aid."""
    return mount.left == mount.right and len(mount.left) <= 1


def axle_and_bogie(
    setup: Setup, machine: Machine
) -> tuple[tuple[AxleGroup, Aid | None], tuple[AxleGroup, Aid | None]] | None:
    """Single axle and bogie of six wheels with what each carries, whichever end they are at."""
    if machine.wheels != 6 or not all(is_plain(mount) for mount in setup.mounts):
        return None
    ends = sorted(
        zip(machine.groups, carried(setup), strict=True), key=lambda end: end[0].kind == "bogie"
    )
    return ends[0], ends[1]


def is_known(value: float | None) -> TypeGuard[float]:
    """True for a real figure: neither None nor NaN."""
    return value is not None and not math.isnan(value)
