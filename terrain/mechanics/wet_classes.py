"""What computed wetness does to a soil class: soil type leads and wetness modifies.

Depth-to-water never condemns a trail by itself. In a survey of ruts (Mohtashami et al. 2017) soil
type and traffic counted and depth-to-water alone did not; the rule and its standing are in
``terrain/data/soil_classes.toml``.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.mechanics.soil_strength import shifted_class, state_rules, wet_flag
from terrain.models.soil import StateRule
from terrain.models.soil_rules import WaterRule
from terrain.sources import data_table

__all__ = ["class_in_state", "effective_rule", "water_rule", "wet_by_water", "wet_in_state"]


@cache
def water_rule() -> WaterRule:
    """The packaged rule; depths in metres, classes 1 to 4."""
    row = data_table("soil_classes")["water_rule"]
    return WaterRule(**{name: row[name] for name in WaterRule.__dataclass_fields__})


def effective_rule(state: str, *, frost_verified: bool = False) -> StateRule:
    """Rule of a moisture state; frozen ground that nobody verified is taken as moist: no credit.

    The class shifts of the rule are in classes (1 to 4).
    """
    rules = state_rules()
    return rules["moist"] if state == "frozen" and not frost_verified else rules[state]


def wet_by_water(depth_to_water_m: ArrayLike) -> NDArray[np.int64]:
    """1 where depth-to-water (m, any shape) is small enough to count as wet, 0 not, -1 unknown."""
    depth = np.asarray(depth_to_water_m, dtype=float)
    wet = np.where(depth <= water_rule().wet_up_to_m, 1, 0)
    return np.where(np.isnan(depth), -1, wet).astype(np.int64)


def wet_in_state(
    soil_class: ArrayLike, drainage_rank: ArrayLike, by_water: ArrayLike, rule: StateRule
) -> NDArray[np.int64]:
    """Wet-soil exposure by either route: 1 wet, 0 not, -1 unknown.

    Parameters
    ----------
    soil_class : array_like of int
        Mapped class 1 to 4, 0 unknown.
    drainage_rank : array_like of int
        As :func:`terrain.mechanics.soil_strength.drainage_rank`.
    by_water : array_like of int
        As :func:`wet_by_water`; broadcasts.
    rule : StateRule
        As :func:`effective_rule` gives it.

    Notes
    -----
    Soil or water is enough for wet; dry needs both to be known. Frozen ground (a rule that looks
    at neither class nor drainage) is never wet.
    """
    by_soil = wet_flag(soil_class, drainage_rank, rule)
    by_soil, water = np.broadcast_arrays(by_soil, np.asarray(by_water))
    if rule.wet_from_class is None and rule.wet_from_drainage is None:
        return by_soil.copy()
    wet = (by_soil == 1) | (water == 1)
    return np.where(wet, 1, np.where((by_soil < 0) | (water < 0), -1, 0))


def class_in_state(
    soil_class: ArrayLike,
    drainage_rank: ArrayLike,
    by_water: ArrayLike,
    rule: StateRule,
    *,
    frost_verified: bool = False,
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Soil class as it behaves in a moisture state, and where computed water softened it.

    Parameters are those of :func:`wet_in_state`.

    Returns
    -------
    ground_class : ndarray of int
        1 to 4, 0 unknown. Wetness that is unknown makes the class unknown where it would count.
    by_water : ndarray of bool
        True where depth-to-water made the class softer than soil and moisture state alone do.

    Notes
    -----
    First the moisture state's own shift, with wetness by class and drainage. Then, where
    depth-to-water is small, one class more: never beyond class 3, not where the polygon's own
    class or drainage is wet already, and not where the state's shift for wetness has been given.
    """
    water_says = water_rule()
    soil, rank, water = np.broadcast_arrays(
        np.asarray(soil_class), np.asarray(drainage_rank), np.asarray(by_water)
    )
    by_soil = wet_flag(soil, rank, rule)
    base = shifted_class(soil, by_soil, rule, frost_verified=frost_verified)
    frozen = rule.wet_from_class is None and rule.wet_from_drainage is None
    own = wet_flag(soil, rank, state_rules()[water_says.own_wetness_state]) == 1
    given = (by_soil == 1) & (rule.shift_wet > 0)
    softened = np.maximum(base, np.minimum(base + water_says.shift, water_says.softest_class))
    may = (base > 0) & ~own & ~given & (softened > base) & (not frozen)
    result = np.where(may & (water == 1), softened, np.where(may & (water < 0), 0, base))
    return result.astype(np.int64), may & (water == 1)
