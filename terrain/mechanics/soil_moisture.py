"""Soil strength from soil type and moisture content, where a polygon gives both: an option.

The class table is the primary source of strength; field readings beat both.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.sources import data_table
from terrain.units import PSI_KPA

__all__ = ["cone_index_from_moisture_kpa", "rating_cone_index_from_moisture_kpa", "soil_types"]

Floats = NDArray[np.float64]


def soil_types() -> tuple[str, ...]:
    """Symbols of the Unified Soil Classification System that have coefficients."""
    return tuple(sorted(data_table("soil_classes")["moisture_strength"]["types"]))


def cone_index_from_moisture_kpa(soil_type: str, moisture_percent: ArrayLike) -> Floats:
    """Cone index (kPa) at a gravimetric moisture content in percent of dry mass.

    Parameters
    ----------
    soil_type : str
        One of :func:`soil_types`.
    moisture_percent : array_like
        Moisture above 0, percent; any shape.

    Raises
    ------
    KeyError
        For a soil type without coefficients; names the known ones.

    Notes
    -----
    ``exp(a - b ln w)`` psi: coefficients of Frankenstein & Koenig 2004, table 5.2.1, after
    Sullivan et al. 1997; form and unit from memory. Wet range only.
    """
    return _strength_kpa(soil_type, "cone", moisture_percent)


def rating_cone_index_from_moisture_kpa(soil_type: str, moisture_percent: ArrayLike) -> Floats:
    """Rating cone index (kPa), held at the cone index at most: remoulding never strengthens.

    Arguments, errors and source as in :func:`cone_index_from_moisture_kpa`. The printed pairs
    cross: at low moisture for most soils, and above 41.5 % for OH, whose two columns may have been
    swapped in print. Held, neither strengthens.
    """
    rating = _strength_kpa(soil_type, "rating", moisture_percent)
    return np.minimum(rating, _strength_kpa(soil_type, "cone", moisture_percent))


def _strength_kpa(soil_type: str, column: str, moisture_percent: ArrayLike) -> Floats:
    types = data_table("soil_classes")["moisture_strength"]["types"]
    if soil_type not in types:
        raise KeyError(f"no moisture relation for {soil_type!r}; known: {', '.join(soil_types())}")
    a, b = types[soil_type][column]
    return np.exp(a - b * np.log(np.asarray(moisture_percent, float))) * PSI_KPA
