"""Rules that change a soil class or its strength: wetness, frost, vane and own readings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from terrain.models.soil import MoistureState
from terrain.sources import data_table

__all__ = ["FrostRule", "ReadingsRule", "ShearClasses", "WaterRule", "frost_rule"]


@dataclass(frozen=True, slots=True)
class WaterRule:
    """What a small depth-to-water does to a soil class.

    Ground counts as wet up to ``wet_up_to_m``. There the class is ``shift`` softer, yet never
    softer than ``softest_class`` by this rule, and not at all where the polygon's own class or
    drainage is wet by the rule of ``own_wetness_state``.
    """

    wet_up_to_m: float
    shift: int
    softest_class: int
    own_wetness_state: MoistureState
    source: str
    where: str
    wet_status: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class FrostRule:
    """Thinnest verified frost, metres, from which frozen ground is credited with anything."""

    least_depth_m: float
    source: str
    where: str
    status: str


@cache
def frost_rule() -> FrostRule:
    """The packaged rule of ``terrain/data/soil_classes.toml``."""
    row = data_table("soil_classes")["frost"]
    return FrostRule(**{name: row[name] for name in FrostRule.__dataclass_fields__})


@dataclass(frozen=True, slots=True)
class ShearClasses:
    """Undrained shear strengths (kPa) above which a soil is of class 1 and of class 2."""

    class_1_above_kpa: float
    class_2_above_kpa: float
    source: str
    where: str
    status: str


@dataclass(frozen=True, slots=True)
class ReadingsRule:
    """How much readings weigh against the class figure, counted in places probed."""

    prior_worth_places: float
    least_places_alone: int
    status: str
