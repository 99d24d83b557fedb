"""What a run knows about wet ground at its end, beside the columns of the stations."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from terrain.grid import Grid

__all__ = ["WetGround"]


@dataclass(frozen=True, slots=True)
class WetGround:
    """Surfaces, layers and tables about wet ground, for map and report.

    Attributes
    ----------
    depth_to_water : dict
        Grid in metres by flow-initiation area in ha, on the cells of ``Plan.dem``.
    edge_share : dict
        Share of channel cells whose catchment is cut by the DEM's edge, by area in ha; NaN where
        there is no channel.
    routed_ha : float
        Area of the window on which water was routed.
    water_from : str
        What distances and buffers are measured from, in words.
    buffer_words : str
        How the machine-free strip was stated.
    streams, open_water, crossings : GeoDataFrame or None
        As read.
    buffers : GeoDataFrame or None
        Polygons of the machine-free strip near the trails, drawn or made from the width.
    depressions : GeoDataFrame
        Listed depressions near the trails: index ``depression``; ``depth_m``, ``area_m2``,
        ``volume_m3``, ``trail_m``, ``trails`` (str), Point ``geometry`` at the deepest cell.
    wet_metres : DataFrame
        Index trail, columns moisture states and ``length_m``: metres with wet-soil exposure.
    buffer_runs, water_runs : DataFrame
        Stretches in the strip, and stretches that meet water: ``trail``, ``from_m``, ``to_m``,
        ``length_m``, ``crossing`` (nearest mapped one, or None), ``to_crossing_m`` (NaN: none).
    depression_runs : DataFrame
        Stretches in listed depressions: ``trail``, ``from_m``, ``to_m``, ``length_m``,
        ``depression``, ``depth_m``.
    strength : DataFrame
        ``terrain.columns.TABLES["strength"]``.
    readings : GeoDataFrame or None
        Readings that counted.
    """

    depth_to_water: dict[float, Grid]
    edge_share: dict[float, float]
    routed_ha: float
    water_from: str
    buffer_words: str
    streams: gpd.GeoDataFrame | None
    open_water: gpd.GeoDataFrame | None
    crossings: gpd.GeoDataFrame | None
    buffers: gpd.GeoDataFrame | None
    depressions: gpd.GeoDataFrame
    wet_metres: pd.DataFrame
    buffer_runs: pd.DataFrame
    water_runs: pd.DataFrame
    depression_runs: pd.DataFrame
    strength: pd.DataFrame
    readings: gpd.GeoDataFrame | None
