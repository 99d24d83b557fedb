"""The ground under each station in every moisture state: wet or not, class, strength."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.strength import PolygonStrength, Strength
from terrain.mechanics import soil_strength, wet_classes
from terrain.mechanics.readings import bearing_from_cone_index_kpa
from terrain.models.settings import GroundSettings
from terrain.models.soil import MOISTURE_STATES, THAWED_STATES, SoilClass
from terrain.models.soil_rules import frost_rule
from terrain.stations.wet_ground import DEPTH_COLUMNS

__all__ = ["STATE_COLUMNS", "frost_is_verified", "ground_in_state", "ground_in_states"]

STATE_COLUMNS = (
    "wet",
    "wet_by_soil",
    "wet_by_water",
    "ground_class",
    "cone_index_kpa",
    "cone_index_low_kpa",
    "cone_index_high_kpa",
    "bearing_kpa",
    "bearing_low_kpa",
    "bearing_high_kpa",
    "depth_to_water_m",
)
"""Columns of the stations table that change with the moisture state."""

_WHICH = ("low", "likely", "high")
_STRENGTHS = tuple(name for name in STATE_COLUMNS if name.endswith("_kpa"))


def frost_is_verified(ground: GroundSettings) -> bool:
    """Whether somebody verified frost in the field, of the least depth that is credited or more."""
    depth = ground.frost_depth_m
    return ground.state == "frozen" and depth is not None and depth >= frost_rule().least_depth_m


def ground_in_states(
    stations: pd.DataFrame, ground: GroundSettings, strength: Strength | None = None
) -> dict[str, pd.DataFrame]:
    """Ground columns in all five moisture states, on the stations' index.

    Parameters
    ----------
    stations : DataFrame
        With ``soil_polygon``, ``soil_class``, ``drainage`` and the depths to water.
    ground : GroundSettings
        Frozen ground is credited only with a verified depth of frost; else it is as moist.
    strength : Strength, optional
        Polygons with readings, or with soil type and moisture.

    Returns
    -------
    dict
        Columns :data:`STATE_COLUMNS` by state.

    Notes
    -----
    Strength does not rise with moisture: a figure is held at that of the next drier state.
    """
    verified = frost_is_verified(ground)
    frames: dict[str, pd.DataFrame] = {
        state: ground_in_state(stations, state, strength or Strength(), frost_verified=verified)
        for state in MOISTURE_STATES
    }
    for drier, wetter in pairwise(THAWED_STATES):
        for name in _STRENGTHS:
            before, here = frames[drier][name].to_numpy(), frames[wetter][name].to_numpy()
            frames[wetter][name] = np.where(np.isnan(before), here, np.minimum(here, before))
    if not verified:
        frames["frozen"] = frames["moist"].copy()
    return frames


def ground_in_state(
    stations: pd.DataFrame, state: str, strength: Strength, *, frost_verified: bool = False
) -> pd.DataFrame:
    """Ground columns in one moisture state by itself; see :func:`ground_in_states`."""
    rule = wet_classes.effective_rule(state, frost_verified=frost_verified)
    soil_class = stations["soil_class"].fillna(0).to_numpy(dtype=np.int64)
    drainage = [None if pd.isna(word) else str(word) for word in stations["drainage"]]
    rank = soil_strength.drainage_rank(drainage)
    depth = stations[DEPTH_COLUMNS[rule.flow_initiation_ha]].to_numpy(dtype=float)
    by_water = wet_classes.wet_by_water(depth)
    wet = wet_classes.wet_in_state(soil_class, rank, by_water, rule)
    number, softened = wet_classes.class_in_state(
        soil_class, rank, by_water, rule, frost_verified=frost_verified
    )
    number, cone, bearing = _strengths(stations, number, softened, state, strength)
    known = pd.array(np.where(number > 0, number, 1), dtype="Int64")
    known[number <= 0] = pd.NA
    frozen = rule.wet_from_class is None and rule.wet_from_drainage is None
    return pd.DataFrame(
        {
            "wet": _flags(wet),
            "wet_by_soil": _flags(soil_strength.wet_flag(soil_class, rank, rule)),
            "wet_by_water": _flags(np.zeros_like(by_water) if frozen else by_water),
            "ground_class": known,
            "cone_index_kpa": cone["likely"],
            "cone_index_low_kpa": cone["low"],
            "cone_index_high_kpa": cone["high"],
            "bearing_kpa": bearing["likely"],
            "bearing_low_kpa": bearing["low"],
            "bearing_high_kpa": bearing["high"],
            "depth_to_water_m": depth,
        },
        index=stations.index,
    )


def _flags(values: NDArray[np.int64]) -> pd.arrays.BooleanArray:
    flags = pd.array(values == 1, dtype="boolean")
    flags[values < 0] = pd.NA
    return flags


def _strengths(
    stations: pd.DataFrame,
    number: NDArray[np.int64],
    softened: NDArray[np.bool_],
    state: str,
    strength: Strength,
) -> tuple[NDArray[np.int64], dict[str, NDArray], dict[str, NDArray]]:
    """Class, cone index and bearing capacity; polygons with readings get their own figures.

    Where computed water softened a station below its polygon, readings may lower its strength,
    never raise it: they were hardly taken in the wettest spots.
    """
    cone = {w: soil_strength.cone_index_kpa(number, w) for w in _WHICH}  # type: ignore[arg-type]
    bearing = {w: soil_strength.bearing_kpa(number, w) for w in _WHICH}  # type: ignore[arg-type]
    number = number.copy()
    polygon = stations["soil_polygon"].astype("string").fillna("")
    unknown_soil = stations["soil_class"].isna().to_numpy()
    for (of_state, name), made in strength.special.items():
        if of_state != state:
            continue
        here = (polygon == name).to_numpy(dtype=bool)
        if made.vane_class:
            raised = here & ((number > 0) | unknown_soil) & (number < made.vane_class)
            number[raised] = made.vane_class
        wetter = here & softened & (number > made.vane_class)
        plain = here & ~wetter & ((number > 0) | unknown_soil)
        class_figures = own_class.cone_index_kpa if (own_class := _own_class(made)) else made.cone
        for k, which in enumerate(_WHICH):
            cone[which][plain] = made.cone[k]
            bearing[which][plain] = made.bearing[k]
            cone[which][wetter] *= _lowering(made.cone[k], class_figures[k])
            bearing[which][wetter] = bearing_from_cone_index_kpa(cone[which][wetter]) * _lowering(
                made.bearing[k], made.bearing_prior[k]
            )
        # the relation from soil type and moisture, or readings, must not cross over
        for figures in (cone, bearing):
            figures["low"][here] = np.fmin(figures["low"][here], figures["likely"][here])
            figures["high"][here] = np.fmax(figures["high"][here], figures["likely"][here])
    return number, cone, bearing


def _own_class(made: PolygonStrength) -> SoilClass | None:
    """Class of the polygon in that state before computed wetness; None where it is unknown."""
    return soil_strength.soil_classes().get(max(made.base_class, made.vane_class))


def _lowering(after: float, before: float) -> float:
    """Ratio of two figures where it lowers, else 1."""
    return float(np.clip(after / before, 0.0, 1.0)) if before > 0 else 1.0
