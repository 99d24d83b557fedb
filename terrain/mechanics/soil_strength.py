"""Soil strength of the sensitivity classes and what a moisture state does to them.

Class 0 means unknown throughout; it gives NaN, never a number. The figures and their standing are
in ``terrain/data/soil_classes.toml``.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.models.soil import DRAINAGE_CLASSES, SoilClass, StateRule
from terrain.sources import data_table

__all__ = [
    "bearing_kpa",
    "cone_index_kpa",
    "drainage_rank",
    "shifted_class",
    "soil_classes",
    "state_rules",
    "wet_flag",
]

Which = Literal["low", "likely", "high"]
_WHICH = ("low", "likely", "high")
_UNKNOWN_CLASS = 0
_UNKNOWN_RANK = -1


@cache
def soil_classes() -> dict[int, SoilClass]:
    """The four sensitivity classes by number, 1 strong to 4 very soft, strengths in kPa."""
    classes = {}
    for row in data_table("soil_classes")["class"]:
        figures = [*row["cone_index"], *row["bearing"]]
        classes[row["number"]] = SoilClass(
            number=row["number"],
            name=row["name"],
            typical=row["typical"],
            cone_index_kpa=tuple(figure["kpa"] for figure in row["cone_index"]),
            bearing_kpa=tuple(figure["kpa"] for figure in row["bearing"]),
            statuses=tuple(figure["status"] for figure in figures),
            traffic=row["traffic"],
        )
    return classes


@cache
def state_rules() -> dict[str, StateRule]:
    """The rule of each moisture state by its word (``dry`` to ``frozen``)."""
    return {
        row["state"]: StateRule(
            state=row["state"],
            wet_from_drainage=row.get("wet_from_drainage"),
            wet_from_class=row.get("wet_from_class"),
            shift_all=row["shift_all"],
            shift_wet=row["shift_wet"],
            flow_initiation_ha=row["flow_initiation_ha"],
            status=row["status"],
            note=row["note"],
        )
        for row in data_table("soil_classes")["state"]
    }


def drainage_rank(drainage: Iterable[str | None]) -> NDArray[np.int64]:
    """Rank of drainage classes, 0 driest to 6 wettest, -1 for None or a word not in the list."""
    ranks = {name: rank for rank, name in enumerate(DRAINAGE_CLASSES)}
    return np.array(
        [ranks.get(name, _UNKNOWN_RANK) if isinstance(name, str) else -1 for name in drainage],
        dtype=np.int64,
    )


def wet_flag(soil_class: ArrayLike, drainage_rank: ArrayLike, rule: StateRule) -> NDArray[np.int64]:
    """Whether the ground counts as wet in a moisture state: 1 yes, 0 no, -1 unknown.

    Parameters
    ----------
    soil_class : array_like of int
        Mapped class 1 to 4, 0 unknown.
    drainage_rank : array_like of int
        Index into ``terrain.models.soil.DRAINAGE_CLASSES``, -1 unknown. Broadcasts.
    rule : StateRule
        The moisture state.

    Notes
    -----
    Either route is enough for wet, and either is a complete input: the forester's class alone says
    how soft the ground is, drainage alone how wet. Only where both are unknown, and the rule names
    a route at all, is the answer unknown.
    """
    soil, rank = np.broadcast_arrays(_as_class(soil_class), np.asarray(drainage_rank))
    wet = np.zeros(soil.shape, dtype=bool)
    if rule.wet_from_class is not None:
        wet |= soil >= rule.wet_from_class
    if rule.wet_from_drainage is not None:
        wet |= rank >= DRAINAGE_CLASSES.index(rule.wet_from_drainage)
    looks = rule.wet_from_class is not None or rule.wet_from_drainage is not None
    blind = (soil == _UNKNOWN_CLASS) & (rank < 0) & looks
    return np.where(wet, 1, np.where(blind, -1, 0))


def shifted_class(
    soil_class: ArrayLike, wet: ArrayLike, state_rule: StateRule, *, frost_verified: bool = False
) -> NDArray[np.int64]:
    """Soil class as it behaves in a moisture state, 1 to 4; 0 unknown.

    Parameters
    ----------
    soil_class : array_like of int
        Mapped class 1 to 4, 0 unknown (NaN counts as unknown).
    wet : array_like of int
        1 wet, 0 not, -1 unknown, as :func:`wet_flag` gives it.
    state_rule : StateRule
        The moisture state.
    frost_verified : bool
        A shift toward stronger ground (frozen) is credited only when somebody verified the depth
        of frost in the field; without it the class stays.

    Notes
    -----
    ``class + shift_all + shift_wet * wet``, held within 1 to 4. Unknown wetness makes the class
    unknown where the rule shifts by it.
    """
    soil, wet = np.broadcast_arrays(_as_class(soil_class), np.asarray(wet))
    shift_all = state_rule.shift_all
    if shift_all < 0 and not frost_verified:
        shift_all = 0
    shifted = np.clip(soil + shift_all + state_rule.shift_wet * (wet == 1), 1, 4)
    unknown = soil == _UNKNOWN_CLASS
    if state_rule.shift_wet != 0:
        unknown = unknown | (wet < 0)
    return np.where(unknown, _UNKNOWN_CLASS, shifted)


def cone_index_kpa(soil_class: ArrayLike, which: Which = "likely") -> NDArray[np.float64]:
    """Cone index in kPa of soil classes 1 to 4 (any shape); NaN for class 0.

    ``which`` is low, likely or high. Class card of Owende et al. 2002; its open ends and the
    midpoints are planning assumptions, marked figure by figure in the data.
    """
    return _looked_up(soil_class, "cone_index_kpa", which)


def bearing_kpa(soil_class: ArrayLike, which: Which = "likely") -> NDArray[np.float64]:
    """Bearing capacity in kPa of soil classes (any shape), as :func:`cone_index_kpa`.

    To be compared with the nominal ground pressure.
    """
    return _looked_up(soil_class, "bearing_kpa", which)


def _looked_up(soil_class: ArrayLike, field: str, which: str) -> NDArray[np.float64]:
    if which not in _WHICH:
        raise ValueError(f"which = {which!r}; allowed: {', '.join(_WHICH)}")
    position = _WHICH.index(which)
    table = np.full(5, np.nan)
    for number, row in soil_classes().items():
        table[number] = getattr(row, field)[position]
    return table[_as_class(soil_class)]


def _as_class(soil_class: ArrayLike) -> NDArray[np.int64]:
    values = np.asarray(soil_class, dtype=float)
    classes = np.where(np.isnan(values), _UNKNOWN_CLASS, values).astype(np.int64)
    if ((classes < 0) | (classes > 4)).any() or (classes != np.nan_to_num(values)).any():
        raise ValueError("soil classes are 1 to 4, or 0 for unknown")
    return classes
