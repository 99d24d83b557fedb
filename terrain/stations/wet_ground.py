"""Wet ground at every station: depth to water, distance to it, buffers and depressions."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from terrain.stations.water import Water

__all__ = ["DEPTH_COLUMNS", "distance_m", "in_buffer", "wet_ground_at"]

DEPTH_COLUMNS = {
    16.0: "depth_to_water_16ha_m",
    4.0: "depth_to_water_4ha_m",
    1.0: "depth_to_water_1ha_m",
    0.25: "depth_to_water_025ha_m",
}
"""Column of depth-to-water by flow-initiation area in hectares."""


def distance_m(points: NDArray, shapes: NDArray) -> NDArray[np.float64]:
    """Distance in metres from each point to the nearest shape; NaN where there is no shape."""
    distance = np.full(len(points), np.nan)
    if len(shapes):
        (place, _), found = shapely.STRtree(shapes).query_nearest(
            points, return_distance=True, all_matches=False
        )
        distance[place] = found
    return distance


def in_buffer(
    points: NDArray,
    to_water_m: NDArray[np.float64],
    width_m: float | None,
    drawn: gpd.GeoDataFrame | None,
) -> pd.Series:
    """Whether a point lies in the machine-free strip, drawn or ``width_m`` metres from water.

    Returns a boolean series, NA throughout where neither a width nor a layer is given. Where no
    water is known, no point lies in a strip along it.
    """
    if drawn is not None:
        inside = np.zeros(len(points), dtype=bool)
        shapes = np.asarray(drawn.geometry.values)
        inside[shapely.STRtree(shapes).query(points, predicate="intersects")[0]] = True
        return pd.Series(inside, dtype="boolean")
    if width_m is None:
        return pd.Series(pd.NA, index=range(len(points)), dtype="boolean")
    return pd.Series(to_water_m <= width_m, dtype="boolean")


def wet_ground_at(
    stations: gpd.GeoDataFrame,
    water: Water,
    buffer_width_m: float | None = None,
    drawn_buffers: gpd.GeoDataFrame | None = None,
) -> pd.DataFrame:
    """Read the surfaces of water at the stations, each from the cell under the station.

    Parameters
    ----------
    stations : GeoDataFrame
        With ``x_m``, ``y_m`` and point geometry.
    water : Water
        Surfaces in metres.
    buffer_width_m : float, optional
        Width of the machine-free strip in metres.
    drawn_buffers : GeoDataFrame, optional
        Polygons; then the width is not used.

    Returns
    -------
    DataFrame
        On the stations' index: depth to water by flow-initiation area, ``above_stream_m``,
        ``wetness_index``, ``to_water_m`` (NaN: no water known), ``in_buffer`` (boolean),
        ``depression`` (Int64, NA outside), ``depression_depth_m``. Unknown is NaN, never 0.
    """
    x, y = stations["x_m"].to_numpy(dtype=float), stations["y_m"].to_numpy(dtype=float)
    points = np.asarray(stations.geometry.values)
    columns: dict[str, object] = {}
    for area, name in DEPTH_COLUMNS.items():
        grid = water.depth_to_water.get(area)
        columns[name] = np.full(len(x), np.nan) if grid is None else grid.at(x, y).astype(float)
    for name, grid in (
        ("above_stream_m", water.above_stream),
        ("wetness_index", water.wetness_index),
    ):
        columns[name] = np.full(len(x), np.nan) if grid is None else grid.at(x, y).astype(float)
    to_water = distance_m(points, np.asarray(water.water.geometry.values))
    columns["to_water_m"] = to_water
    columns["in_buffer"] = in_buffer(points, to_water, buffer_width_m, drawn_buffers).array
    number = pd.array(water.hollow_number.at(x, y, 0).astype(np.int64), dtype="Int64")
    number[number == 0] = pd.NA
    columns["depression"] = number
    columns["depression_depth_m"] = water.hollow_m.at(x, y).astype(float)
    return pd.DataFrame(columns, index=stations.index)
