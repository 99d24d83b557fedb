"""One row a trail: how steep, how wet, how it fares with the shown setup."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.results import Evaluation
from terrain.models.soil import NO_TRAFFIC_CLASS

__all__ = ["trail_table"]


def trail_table(
    trails: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    evaluation: Evaluation,
    shown: str,
    wetness: pd.DataFrame,
    loads: pd.DataFrame | None = None,
) -> gpd.GeoDataFrame:
    """Summarise the stations by trail, weighted by ``length_m``.

    Parameters
    ----------
    trails, stations : GeoDataFrame
    evaluation : Evaluation
    shown : str
        Setup whose reserve and pressure are summed.
    wetness : DataFrame
        Index trail, as :func:`terrain.decision.wet_summaries.trail_wetness` gives it (metres).
    loads : DataFrame, optional
        Table ``trail_loads``; without it no load is known.

    Returns
    -------
    GeoDataFrame
        Columns as ``terrain.columns.TABLES["trails"]``, line geometry, in the order of ``trails``.
        A steepest figure is NaN where no assessed station goes that way, not 0.
    """
    k = evaluation.column(shown)
    length = stations["length_m"]
    reserve = pd.Series(evaluation.reserve[:, k], index=stations.index)
    over = pd.Series(evaluation.pressure_ratio[:, k] > 1, index=stations.index)
    assessed = reserve.notna()
    grade = stations["grade"]
    ground_class = stations["ground_class"].fillna(0)  # unknown: counted as not assessed
    parts = pd.DataFrame(
        {
            "trail": stations["trail"],
            "length_m": length,
            "steepest_up": grade.where(grade > 0),
            "steepest_down": (-grade).where(grade < 0),
            "steepest_cross": stations["cross_slope"].abs(),
            "steepest_native": stations["slope_native"],
            "wet_m": length.where(stations["wet"].fillna(False).astype(bool), 0.0),
            "no_traffic_m": length.where(ground_class == NO_TRAFFIC_CLASS, 0.0),
            "not_assessed_m": length.where(~assessed, 0.0),
            "short_m": length.where(assessed & (reserve < 0), 0.0),
            "over_bearing_m": length.where(assessed & over, 0.0),
        }
    )
    grouped = parts.groupby("trail")
    sums = ["length_m", "wet_m", "no_traffic_m", "not_assessed_m", "short_m", "over_bearing_m"]
    tops = ["steepest_up", "steepest_down", "steepest_cross", "steepest_native"]
    table = grouped[sums].sum().join(grouped[tops].max())
    table["worst_reserve"] = reserve.groupby(stations["trail"]).min()
    table = table.join(wetness).reindex(trails.index).rename_axis("trail").reset_index()
    table["trail_class"] = trails["trail_class"].to_numpy()
    table["load_kg"] = np.nan
    if loads is not None and len(loads):
        table["load_kg"] = table["trail"].astype(str).map(loads.set_index("trail")["load_kg"])
    if not np.isclose(table["length_m"].sum(), length.sum()):
        raise AssertionError("the trail table lost metres")
    return gpd.GeoDataFrame(
        table[list(columns_of("trails"))], geometry=trails.geometry.to_numpy(), crs=trails.crs
    )
