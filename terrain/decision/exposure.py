"""What the ground has to bear: mass driven over, trail area, and what part loads would change."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray

from terrain.decision.carried import Carried
from terrain.decision.evaluation import setup_facts
from terrain.known import largest
from terrain.models.settings import TrafficSettings
from terrain.stations.traffic import passes_of, payload_m3

__all__ = ["TrailArea", "mass_driven_t", "part_loads", "trail_area", "trail_widths"]

PART_LOADS = (1.0, 0.75, 0.5)
"""Shares of the payload that are compared."""


@dataclass(frozen=True, slots=True)
class TrailArea:
    """Area of the trails inside the block.

    ``trail_m2`` counts the metres with a known width only; ``unknown_m`` are those without.
    ``block_m2`` and ``share`` are NaN without a boundary; ``share`` is a lower bound where a width
    is unknown. ``outside_m`` of trail lie outside the boundary and are not counted.
    """

    trail_m2: float
    block_m2: float
    share: float
    unknown_m: float
    outside_m: float


def trail_widths(trails: pd.DataFrame, settings: TrafficSettings) -> pd.Series:
    """Width of each trail in metres: its own figure, else that of the settings, else NaN."""
    own = trails["width_m"].astype(float)
    return own if settings.trail_width_m is None else own.fillna(settings.trail_width_m)


def trail_area(
    trails: gpd.GeoDataFrame, width_m: pd.Series, boundary: gpd.GeoDataFrame | None
) -> TrailArea:
    """Length times width of the trails over the block; overlaps at junctions count twice.

    ``trails`` has lines in metres on the index of ``width_m`` (metres, NaN unknown).
    """
    lines = np.asarray(trails.geometry.values)
    total = shapely.length(lines)
    inside, block_m2 = total, np.nan
    if boundary is not None:
        area = shapely.union_all(np.asarray(boundary.geometry.values))
        block_m2 = float(area.area)
        inside = shapely.length(shapely.intersection(lines, area))
    width = width_m.reindex(trails.index).to_numpy(dtype=float)
    trail_m2 = float(np.nansum(inside * width))
    unknown = float(inside[np.isnan(width)].sum())
    return TrailArea(
        trail_m2=trail_m2,
        block_m2=block_m2,
        share=trail_m2 / block_m2 if unknown < inside.sum() or not inside.sum() else np.nan,
        unknown_m=unknown,
        outside_m=float((total - inside).sum()),
    )


def mass_driven_t(item: Carried, loads: ArrayLike) -> NDArray[np.float64]:
    """Mass that rolls over a station while ``loads`` are fetched, tonnes (empty in, loaded out).

    The harvester is not in it, because its mass is not known here; of a dragged load only the
    share on the wheels counts.
    """
    both_ways_kg = 2 * item.empty_mass_kg + item.resting_load_kg
    return np.asarray(loads, dtype=float) * both_ways_kg / 1000.0


def part_loads(item: Carried, volume_m3: ArrayLike, settings: TrafficSettings) -> pd.DataFrame:
    """What part loads would change at the busiest station.

    Parameters
    ----------
    item : Carried
    volume_m3 : array_like
        Volume that leaves each station, m3; NaN unknown.
    settings : TrafficSettings

    Returns
    -------
    DataFrame
        One row a share of the payload: ``payload_share``, ``payload_kg``, ``payload_m3``,
        ``loads``, ``passes`` (of the busiest known station), ``mass_driven_t`` there, and
        ``ngp_rear_loaded_kpa``, ``ngp_front_loaded_kpa`` on the level. Fewer kilograms a pass, more
        passes: a trial found half loads to compact somewhat less, not to rut less.
    """
    busiest = largest(volume_m3)
    rows = []
    for share in PART_LOADS if item.load is not None else ():
        smaller = item.carrying(item.payload_kg * share)
        facts = setup_facts([smaller], pd.Series({item.setup.id: np.nan})).iloc[0]
        cubic = payload_m3(smaller.payload_kg, settings.green_density_kg_m3)
        passes = passes_of(busiest, smaller.payload_kg, settings)
        rows.append(
            {
                "payload_share": share,
                "payload_kg": smaller.payload_kg,
                "payload_m3": float(cubic),
                "loads": float(passes.loads),
                "passes": float(passes.all),
                "mass_driven_t": float(mass_driven_t(smaller, passes.loads)),
                "ngp_front_loaded_kpa": facts["ngp_front_loaded_kpa"],
                "ngp_rear_loaded_kpa": facts["ngp_rear_loaded_kpa"],
            }
        )
    return pd.DataFrame(rows)
