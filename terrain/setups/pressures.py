"""What the machine file says of the pressures of tyres that a log names: charted, and permitted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from terrain.models.aids import AidKind
from terrain.models.machine import Machine
from terrain.setups.fit_pressure import permitted_kpa
from terrain.sources import data_table

__all__ = ["charted_by_axle", "permitted_by_axle", "under_bands"]

Floats = NDArray[np.float64]


def charted_by_axle(tyres: Sequence[str], machine: Machine) -> tuple[Floats, Floats, Floats]:
    """Return the charted range of each tyre and the charted figure, kPa, NaN where silent.

    A tyre belongs to an axle group when its name begins with ``front`` or ``rear``. The range is
    the charted pressure give or take what a hand gauge may be out (``fit_checks.toml``, row
    ``pressure``).
    """
    tolerance = data_table("fit_checks")["pressure"]["tolerance"]
    known = [group.tyre.charted_inflation_kpa for group in machine.groups]
    charted = _by_axle(tyres, machine, [math.nan if kpa is None else kpa for kpa in known])
    return charted * (1 - tolerance), charted * (1 + tolerance), charted


def permitted_by_axle(
    tyres: Sequence[str], machine: Machine, carries: tuple[AidKind | None, AidKind | None]
) -> Floats:
    """Return the lowest pressure that the machine file sets or permits for each tyre, kPa.

    ``carries`` is the kind of aid on the front and on the rear wheels, None where they are bare.
    NaN for a tyre whose name begins with neither ``front`` nor ``rear``.
    """
    ends = zip(machine.groups, carries, strict=True)
    return _by_axle(tyres, machine, [permitted_kpa(group.tyre, kind) for group, kind in ends])


def under_bands(
    tyres: Sequence[str], machine: Machine, carries: tuple[AidKind | None, AidKind | None]
) -> NDArray[np.bool_]:
    """Tell which tyres run under a band track; arguments as in :func:`permitted_by_axle`."""
    return _by_axle(tyres, machine, [float(kind == "band track") for kind in carries]) == 1.0


def _by_axle(tyres: Sequence[str], machine: Machine, kpa: Sequence[float]) -> Floats:
    """Give each tyre the figure of the axle group that its name begins with."""
    found = np.full(len(tyres), math.nan)
    for group, value in zip(machine.groups, kpa, strict=True):
        belongs = [name.strip().lower().startswith(group.name) for name in tyres]
        found[np.array(belongs, dtype=bool)] = value
    return found
