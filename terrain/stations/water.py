"""Where water stands and runs: the surfaces on which wet ground is read, made once for a block."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.grid import Grid
from terrain.inputs.loaded import LoadedWater
from terrain.models.settings import FlowSettings
from terrain.surfaces import flow as flows
from terrain.surfaces.masks import area_cells, crossing_cells, line_cells
from terrain.surfaces.wetness import depth_to_water_m, topographic_wetness_index

__all__ = ["AREAS_HA", "BASE_HA", "Water", "areas_of", "water_of_block"]

AREAS_HA = (4.0, 1.0, 0.25)
"""Flow-initiation areas of every run, hectares, driest first."""
BASE_HA = 4.0
"""Where no water is mapped, channels from this catchment (ha) stand for it."""
CULVERT_REACH_M = 16.0
"""A crossing drawn as a point looks so far for the low ground on either side of its bank.

Planning assumption: a forest road bank with its ditches is narrower.
"""


@dataclass(frozen=True, slots=True)
class Water:
    """Surfaces of water on the cells of ``dem``, the wide window.

    Attributes
    ----------
    dem : Grid
        Elevation in metres as surveyed, voids NaN.
    depth_to_water : dict
        Grid in metres by flow-initiation area in ha; a value at the cap means "the cap or more".
    channels : Grid
        Bool: catchment of at least 4 ha.
    edge_share : dict
        Share of the channel cells whose catchment touches the DEM's edge, by area; NaN without.
    hollow_m : Grid
        Depth below the spill level in the listed depressions (m), 0 elsewhere, NaN where void.
    hollow_number : Grid
        Number of the listed depression, 0 elsewhere.
    depressions : Depressions
    water : GeoDataFrame
        What distances and buffers are measured from: mapped lines and polygons, or centres of
        channel cells. May be empty.
    water_from : str
        Which of the two, in words.
    above_stream, wetness_index : Grid or None
        Only when asked for.
    """

    dem: Grid
    depth_to_water: dict[float, Grid]
    channels: Grid
    edge_share: dict[float, float]
    hollow_m: Grid
    hollow_number: Grid
    depressions: flows.Depressions
    water: gpd.GeoDataFrame
    water_from: str
    above_stream: Grid | None = None
    wetness_index: Grid | None = None


def areas_of(settings: FlowSettings) -> tuple[float, ...]:
    """Flow-initiation areas of a run in hectares, driest first."""
    return (16.0, *AREAS_HA) if settings.dry_16_ha else AREAS_HA


def water_of_block(
    dem: Grid, given: LoadedWater, settings: FlowSettings, stream_from_ha: float = BASE_HA
) -> Water:
    """Route the water and search the depth to it for every flow-initiation area.

    Parameters
    ----------
    dem : Grid
        The wide window, elevation in metres.
    given : LoadedWater
        Mapped streams, open water, crossings.
    settings : FlowSettings
    stream_from_ha : float
        Channels from this catchment in hectares count as streams in the height above stream.

    Notes
    -----
    Crossings are carved through banks, then mapped water is lowered by the burn depth if one is
    given; depressions are those of that surface. Slopes come from the DEM as surveyed. Mapped water
    has depth 0 in every state. Memory: about 40 bytes a cell of the wide window at the peak.
    """
    mapped = _mapped_cells(dem, given)
    routed = dem.values
    if given.crossings is not None and given.crossings["carved"].any():
        shapes = given.crossings.loc[given.crossings["carved"].to_numpy(bool)].geometry.values
        reach = max(2, round(CULVERT_REACH_M / dem.cell_m))
        routed = flows.carve(routed, crossing_cells(dem, shapes), reach)
    if settings.burn_depth_m is not None and mapped is not None:
        routed = flows.burn(routed, mapped, settings.burn_depth_m)
    flow = flows.route(routed, dem.cell_m)
    hollows = flows.depressions(
        routed,
        flow.filled_m,
        dem.cell_m,
        settings.depression_min_depth_m,
        settings.depression_min_area_m2,
    )
    depth = flow.filled_m - np.asarray(routed, dtype=np.float32)
    depth[(hollows.grid == 0) & ~np.isnan(depth)] = 0.0
    base = flows.channels(flow, BASE_HA)
    above = None
    if settings.above_stream:
        streams = flows.channels(flow, stream_from_ha).mask
        streams = streams if mapped is None else streams | mapped
        above = dem.with_values(flows.elevation_above_stream_m(flow, streams))
    found = depth_to_water_m(
        dem.values,
        dem.cell_m,
        areas_of(settings),
        settings.cap_m,
        flow=flow,
        open_water=mapped,
        form=settings.form,
    )
    features, words = _water_features(dem, given, base.mask)
    return Water(
        dem=dem,
        depth_to_water={a: dem.with_values(wet.depth_to_water_m) for a, wet in found.items()},
        channels=dem.with_values(base.mask),
        edge_share={a: wet.channels.edge_share for a, wet in found.items()},
        hollow_m=dem.with_values(depth),
        hollow_number=dem.with_values(hollows.grid),
        depressions=hollows,
        water=features,
        water_from=words,
        above_stream=above,
        wetness_index=_index(dem) if settings.wetness_index else None,
    )


def _mapped_cells(dem: Grid, given: LoadedWater) -> NDArray[np.bool_] | None:
    """Cells of mapped streams and open water; None where nothing is mapped."""
    mask = None
    if given.streams is not None:
        mask = line_cells(dem, given.streams.geometry.values)
    if given.open_water is not None:
        lakes = area_cells(dem, given.open_water.geometry.values)
        mask = lakes if mask is None else mask | lakes
    return mask


def _water_features(
    dem: Grid, given: LoadedWater, channels: NDArray[np.bool_]
) -> tuple[gpd.GeoDataFrame, str]:
    layers = [layer for layer in (given.streams, given.open_water) if layer is not None]
    if layers:
        shapes = np.concatenate([np.asarray(layer.geometry.values) for layer in layers])
        return gpd.GeoDataFrame(geometry=list(shapes), crs=dem.crs), "mapped water"
    row, column = np.nonzero(channels)
    x = dem.west_m + (column + 0.5) * dem.cell_m
    y = dem.north_m - (row + 0.5) * dem.cell_m
    words = f"channels computed from {BASE_HA:g} ha, because no water is mapped"
    return gpd.GeoDataFrame(geometry=list(shapely.points(x, y)), crs=dem.crs), words


def _index(dem: Grid) -> Grid | None:
    try:
        values, cell_m = topographic_wetness_index(dem.values, dem.cell_m)
    except ValueError:  # the window is smaller than one coarse cell
        return None
    return Grid(values, dem.west_m, dem.north_m, cell_m, dem.crs)
