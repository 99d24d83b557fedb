"""Slope along and across the trail at every station."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.grid import Grid
from terrain.stations.along import points_along

__all__ = ["along_and_across", "grade_between_ends", "sample_surface"]


def along_and_across(
    gradient_east: ArrayLike, gradient_north: ArrayLike, heading_deg: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Split the uphill gradient into grade along and slope across a heading.

    Parameters
    ----------
    gradient_east, gradient_north : array_like
        Uphill gradient, ratio, any common shape.
    heading_deg : array_like
        Direction of travel, degrees clockwise from north.

    Returns
    -------
    grade, cross_slope : ndarray
        Ratios. Grade is positive climbing; cross slope is positive where the ground rises to the
        left. ``grade**2 + cross_slope**2`` equals the squared slope.

    Notes
    -----
    The apparent-dip relation of structural geology, tan(psi) = tan(alpha) cos(theta), with theta
    the angle between the heading and the steepest ascent.
    """
    east, north = np.asarray(gradient_east, float), np.asarray(gradient_north, float)
    a = np.radians(np.asarray(heading_deg, float))
    return east * np.sin(a) + north * np.cos(a), -east * np.cos(a) + north * np.sin(a)


def sample_surface(
    stations: gpd.GeoDataFrame,
    dem: Grid,
    plane: tuple[NDArray, NDArray],
    native_slope: NDArray,
    slope_class: NDArray,
) -> pd.DataFrame:
    """Read the surface grids at the stations.

    Parameters
    ----------
    stations : GeoDataFrame
        With ``x_m``, ``y_m``, ``heading_deg``.
    dem : Grid
        Elevation, metres.
    plane : tuple of ndarray
        Gradient toward east and north at machine scale, on the cells of ``dem``.
    native_slope : ndarray
        Slope on the DEM's own cells, ratio.
    slope_class : ndarray of int
        Class of the slope at machine scale, 0 not assessed.

    Returns
    -------
    DataFrame
        Columns ``elevation_m`` to ``cross_slope`` and ``slope_class`` of the registry, on the
        stations' index. Gradients are those of the cell under the station, never interpolated.
    """
    x, y = stations["x_m"].to_numpy(), stations["y_m"].to_numpy()
    east = dem.with_values(plane[0]).at(x, y)
    north = dem.with_values(plane[1]).at(x, y)
    grade, cross = along_and_across(east, north, stations["heading_deg"].to_numpy())
    return pd.DataFrame(
        {
            "elevation_m": dem.bilinear(x, y),
            "gradient_east": east,
            "gradient_north": north,
            "slope": np.hypot(east, north),
            "slope_native": dem.with_values(native_slope).at(x, y),
            "grade": grade,
            "cross_slope": cross,
            "slope_class": dem.with_values(slope_class).at(x, y, outside=0).astype(np.int64),
        },
        index=stations.index,
    )


def grade_between_ends(
    stations: gpd.GeoDataFrame, trails: gpd.GeoDataFrame, dem: Grid, baseline_m: float
) -> pd.Series:
    """Rise over run between the two ends of a baseline centred on each station.

    Parameters
    ----------
    stations, trails : GeoDataFrame
    dem : Grid
        Elevation, metres.
    baseline_m : float
        Length along the trail between the two points, metres; shorter at a trail's ends.

    Returns
    -------
    Series
        ``grade_profile``, ratio, positive uphill in the direction of loaded travel; NaN on voids.
        The run is the straight horizontal distance between the two points.
    """
    trail = stations["trail"].to_numpy()
    chainage = stations["chainage_m"].to_numpy()
    end = trails.length.loc[list(trail)].to_numpy()
    xa, ya = points_along(trails, trail, np.clip(chainage - baseline_m / 2, 0, end))
    xb, yb = points_along(trails, trail, np.clip(chainage + baseline_m / 2, 0, end))
    run = np.hypot(xb - xa, yb - ya)
    rise = dem.bilinear(xb, yb) - dem.bilinear(xa, ya)
    a = np.radians(stations["heading_deg"].to_numpy())
    forward = np.sign((xb - xa) * np.sin(a) + (yb - ya) * np.cos(a))
    with np.errstate(divide="ignore", invalid="ignore"):
        grade = np.where(run > 0, forward * rise / run, np.nan)
    return pd.Series(grade, index=stations.index, name="grade_profile")
