"""Wet ground summed up: by trail and state, in buffers, at water, in depressions."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from terrain.decision.strength import Strength
from terrain.decision.wet_results import WetGround
from terrain.grid import Grid
from terrain.inputs.loaded import LoadedWater
from terrain.known import largest
from terrain.models.settings import FlowSettings
from terrain.models.soil import THAWED_STATES
from terrain.stations.runs import runs_of
from terrain.stations.water import Water
from terrain.units import HECTARE_M2

__all__ = ["stretches", "trail_wetness", "wet_ground_of", "wet_metres"]

NEAR_TRAIL_M = 15.0
"""A depression whose deepest cell lies this near to a trail is shown though no station is in it."""


def wet_metres(stations: pd.DataFrame, states: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Metres with wet-soil exposure: rows are trails, columns moisture states and ``length_m``.

    Unknown wetness counts as no wet metre here; it is summed apart (``wetness_unknown_m``).
    """
    length = stations["length_m"]
    parts = pd.DataFrame(
        {
            state: length.where(frame["wet"].fillna(False).astype(bool), 0.0)
            for state, frame in states.items()
        }
    )
    parts["length_m"] = length
    return parts.groupby(stations["trail"], sort=False).sum()


def trail_wetness(
    stations: pd.DataFrame, states: Mapping[str, pd.DataFrame], trails: pd.Index
) -> pd.DataFrame:
    """Columns about wet ground of the trails table, one row for each of ``trails``."""
    length, name = stations["length_m"], stations["trail"]
    metres = wet_metres(stations, states)
    table = pd.DataFrame({f"wet_in_{state}_m": metres[state] for state in THAWED_STATES})
    table["wetness_unknown_m"] = length.where(stations["wet"].isna(), 0.0).groupby(name).sum()
    strip = stations["in_buffer"]
    inside = length.where(strip.fillna(False).astype(bool), 0.0).groupby(name).sum()
    table["buffer_m"] = inside if strip.notna().any() else np.nan
    table["least_to_water_m"] = stations["to_water_m"].groupby(name).min()
    table["depressions"] = stations["depression"].groupby(name).nunique()
    hollow = length.where(stations["depression"].notna(), 0.0)
    table["depression_m"] = hollow.groupby(name).sum()
    return table.reindex(trails)


def stretches(stations: pd.DataFrame, inside: NDArray[np.bool_]) -> pd.DataFrame:
    """Unbroken stretches of a trail where ``inside`` holds, in metres along the trail as drawn.

    Returns columns ``trail``, ``from_m``, ``to_m``, ``length_m`` and ``rows``: the positions of
    the stations of each stretch.
    """
    found = [
        (run.trail, run.start_m, run.end_m, run.length_m, run.rows)
        for run in runs_of(stations, inside)
        if run.number
    ]
    return pd.DataFrame(found, columns=["trail", "from_m", "to_m", "length_m", "rows"])


def wet_ground_of(
    stations: gpd.GeoDataFrame,
    states: Mapping[str, pd.DataFrame],
    water: Water,
    given: LoadedWater,
    dem: Grid,
    trails: gpd.GeoDataFrame,
    strength: Strength,
    settings: FlowSettings,
) -> WetGround:
    """Gather what map and report show about wet ground; grids are cut to the cells of ``dem``."""
    points = np.asarray(stations.geometry.values)
    strip = stations["in_buffer"].fillna(False).to_numpy(dtype=bool)
    # a straight passage over water has a station within half its length of it
    reach = stations["length_m"].to_numpy(dtype=float) / 2 + dem.cell_m / 2
    meets = np.nan_to_num(stations["to_water_m"].to_numpy(dtype=float), nan=np.inf) <= reach
    number = stations["depression"].fillna(0).to_numpy(dtype=np.int64)
    hollows = []
    for value in np.unique(number[number > 0]):
        part = stretches(stations, number == value)
        part["depression"] = int(value)
        deepest = stations["depression_depth_m"].to_numpy(dtype=float)
        part["depth_m"] = [largest(deepest[rows]) for rows in part["rows"]]
        hollows.append(part)
    columns = ["trail", "from_m", "to_m", "length_m", "depression", "depth_m"]
    depression_runs = pd.concat(hollows)[columns] if hollows else pd.DataFrame(columns=columns)
    return WetGround(
        depth_to_water={a: _cut(grid, dem) for a, grid in water.depth_to_water.items()},
        edge_share=dict(water.edge_share),
        routed_ha=water.dem.values.size * dem.cell_m**2 / HECTARE_M2,
        water_from=water.water_from,
        buffer_words=_buffer_words(given, water, settings),
        streams=given.streams,
        open_water=given.open_water,
        crossings=given.crossings,
        buffers=_buffers(given, water, dem, settings),
        depressions=_depressions(water, trails, depression_runs, dem.crs),
        wet_metres=wet_metres(stations, states),
        buffer_runs=_with_crossing(stretches(stations, strip), points, given),
        water_runs=_with_crossing(stretches(stations, meets), points, given),
        depression_runs=depression_runs.reset_index(drop=True),
        strength=strength.table,
        readings=given.readings,
    )


def _cut(grid: Grid, dem: Grid) -> Grid:
    """Cells of ``grid`` on the smaller ``dem``; both have the same cells."""
    left = round((dem.west_m - grid.west_m) / dem.cell_m)
    top = round((grid.north_m - dem.north_m) / dem.cell_m)
    rows, columns = dem.shape
    return dem.with_values(grid.values[top : top + rows, left : left + columns].copy())


def _buffer_words(given: LoadedWater, water: Water, settings: FlowSettings) -> str:
    if given.buffers is not None:
        return "as drawn in the buffer layer"
    if settings.buffer_width_m is not None:
        return f"{settings.buffer_width_m:g} m on each side of {water.water_from}"
    return "not stated"


def _buffers(
    given: LoadedWater, water: Water, dem: Grid, settings: FlowSettings
) -> gpd.GeoDataFrame | None:
    if given.buffers is not None:
        return given.buffers
    if settings.buffer_width_m is None or water.water.empty:
        return None
    width = settings.buffer_width_m
    west, south, east, north = dem.bounds
    near = shapely.box(west - width, south - width, east + width, north + width)
    shapes = np.asarray(water.water.geometry.values)
    shapes = shapes[shapely.intersects(shapes, near)]
    if not len(shapes):
        return None
    strip = shapely.union_all(
        shapely.buffer(shapely.intersection(shapes, near), width, quad_segs=4)
    )
    strip = shapely.simplify(strip, dem.cell_m / 4)
    return gpd.GeoDataFrame(geometry=list(shapely.get_parts(strip)), crs=dem.crs)


def _depressions(
    water: Water, trails: gpd.GeoDataFrame, runs: pd.DataFrame, crs: str
) -> gpd.GeoDataFrame:
    found, dem = water.depressions, water.dem
    x = dem.west_m + (found.column + 0.5) * dem.cell_m
    y = dem.north_m - (found.row + 0.5) * dem.cell_m
    numbers = np.arange(1, len(found.depth_m) + 1)
    metres = runs.groupby("depression")["length_m"].sum() if len(runs) else pd.Series(dtype=float)
    names = (
        runs.groupby("depression")["trail"].agg(lambda t: ", ".join(dict.fromkeys(t)))
        if len(runs)
        else pd.Series(dtype=object)
    )
    table = gpd.GeoDataFrame(
        {
            "depth_m": found.depth_m,
            "area_m2": found.area_m2,
            "volume_m3": found.volume_m3,
            "trail_m": metres.reindex(numbers).fillna(0.0).to_numpy(dtype=float),
            "trails": names.reindex(numbers).fillna("").to_numpy(dtype=object),
        },
        index=pd.Index(numbers, name="depression"),
        geometry=list(shapely.points(x, y)),
        crs=crs,
    )
    lines = trails.geometry.union_all()
    near = (table["trail_m"] > 0) | (table.geometry.distance(lines) <= NEAR_TRAIL_M)
    return table[near.to_numpy(dtype=bool)]


def _with_crossing(runs: pd.DataFrame, points: NDArray, given: LoadedWater) -> pd.DataFrame:
    """Add the nearest mapped crossing of each stretch and its distance in metres."""
    runs = runs.assign(crossing=None, to_crossing_m=np.nan)
    if given.crossings is not None and len(given.crossings) and len(runs):
        shapes = np.asarray(given.crossings.geometry.values)
        for k, rows in enumerate(runs["rows"]):
            distance = shapely.distance(points[rows][:, None], shapes[None, :])
            nearest = int(distance.min(axis=0).argmin())
            runs.loc[k, "crossing"] = str(given.crossings.index[nearest])
            runs.loc[k, "to_crossing_m"] = float(distance[:, nearest].min())
    return runs.drop(columns="rows")
