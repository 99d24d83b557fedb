"""Soil sensitivity classes, moisture states and surface films: the words and their figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "DRAINAGE_CLASSES",
    "MOISTURE_STATES",
    "NO_FILM",
    "NO_TRAFFIC_CLASS",
    "SOFT_FROM_CLASS",
    "SURFACE_FILMS",
    "TEXTURE_GROUPS",
    "THAWED_STATES",
    "MoistureState",
    "SoilClass",
    "StateRule",
    "SurfaceFilm",
    "drier_states",
]

MoistureState = Literal["dry", "moist", "wet", "saturated", "frozen"]
THAWED_STATES: tuple[MoistureState, ...] = ("dry", "moist", "wet", "saturated")
"""Moisture states without frost, driest first."""


def drier_states(state: str) -> tuple[MoistureState, ...]:
    """Thawed states drier than ``state``, driest first; none for frozen ground."""
    return THAWED_STATES[: THAWED_STATES.index(state)] if state in THAWED_STATES else ()


MOISTURE_STATES: tuple[MoistureState, ...] = (*THAWED_STATES, "frozen")

SurfaceFilm = Literal[
    "bare mineral", "litter or sod over firm ground", "wet clay film", "packed snow", "ice"
]
NO_FILM: SurfaceFilm = "bare mineral"
"""The word for ground on which no film lies."""

SURFACE_FILMS: tuple[SurfaceFilm, ...] = (
    NO_FILM,
    "litter or sod over firm ground",
    "wet clay film",
    "packed snow",
    "ice",
)

DRAINAGE_CLASSES = (
    "excessively drained",
    "somewhat excessively drained",
    "well drained",
    "moderately well drained",
    "somewhat poorly drained",
    "poorly drained",
    "very poorly drained",
)
"""USDA natural drainage classes, driest first."""

SOFT_FROM_CLASS = 3
"""Sensitivity class from which ground is called soft: the third of the class table is soft."""

NO_TRAFFIC_CLASS = 4
"""Sensitivity class that the class table calls unsuitable for traffic."""

TEXTURE_GROUPS = ("coarse", "medium", "fine", "organic")
"""Texture groups of the USDA texture classes, plus organic soil."""


@dataclass(frozen=True, slots=True)
class SoilClass:
    """Strength of one sensitivity class: cone index and bearing capacity as low, likely, high.

    ``statuses`` gives the standing of each of the six figures, in the order cone index low,
    likely, high, bearing low, likely, high.
    """

    number: int
    name: str
    typical: str
    cone_index_kpa: tuple[float, float, float]
    bearing_kpa: tuple[float, float, float]
    statuses: tuple[str, str, str, str, str, str]
    traffic: bool = True


@dataclass(frozen=True, slots=True)
class StateRule:
    """How a moisture state changes the ground.

    A station counts as wet when its drainage class is ``wet_from_drainage`` or wetter, or its
    mapped soil class is ``wet_from_class`` or softer (None: never by that route). The mapped
    class is shifted by ``shift_all`` everywhere and by ``shift_wet`` more where the station is wet.
    ``flow_initiation_ha`` is the catchment at which channels start for depth-to-water.
    """

    state: MoistureState
    wet_from_drainage: str | None
    wet_from_class: int | None
    shift_all: int
    shift_wet: int
    flow_initiation_ha: float
    status: str
    note: str = ""
