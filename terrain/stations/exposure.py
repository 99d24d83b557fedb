"""Which soil polygon a station stands on."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from terrain.inputs.loaded import softness

__all__ = ["soil_at"]


def soil_at(stations: gpd.GeoDataFrame, soils: gpd.GeoDataFrame) -> pd.DataFrame:
    """Polygon, mapped class and drainage at every station.

    Parameters
    ----------
    stations : GeoDataFrame
        Point geometry.
    soils : GeoDataFrame
        As in :class:`terrain.inputs.loaded.LoadedBlock`, same CRS.

    Returns
    -------
    DataFrame
        ``soil_polygon`` (string, NA outside), ``soil_class`` (Int64), ``drainage`` (string), on the
        stations' index. Where polygons overlap the softer class rules, and an unknown class counts
        as softer than any known one: the unknown is not hidden.
    """
    polygons = np.asarray(soils.geometry.values)
    station, polygon = shapely.STRtree(polygons).query(
        np.asarray(stations.geometry.values), predicate="intersects"
    )
    order = np.lexsort((-softness(soils)[polygon], station))  # per station the softest first
    station, polygon = station[order], polygon[order]
    first = np.concatenate([[True], np.diff(station) != 0]) if station.size else np.array([], bool)
    pick = pd.Series(-1, index=range(len(stations)), dtype=np.int64)
    pick.loc[station[first]] = polygon[first]
    found = pick.to_numpy()
    table = pd.DataFrame(
        {
            "soil_polygon": pd.array(soils.index.astype(str), dtype="string"),
            "soil_class": soils["soil_class"].astype("Int64").array,
            "drainage": pd.array(soils["drainage"], dtype="string"),
        }
    ).reindex(found)  # -1 is no row of the table, so it gives NA
    table.index = stations.index
    return table
