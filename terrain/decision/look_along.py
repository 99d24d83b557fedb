"""Everything that is known along the trails, in one go: slope, soil, water, states, timber.

The recipe calls it once; a remedy that changes trails or landings calls it again with the changed
block, on the same surfaces, so that both are looked at alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.ground import frost_is_verified, ground_in_states
from terrain.decision.strength import Strength
from terrain.inputs.loaded import LoadedBlock
from terrain.mechanics.wet_classes import effective_rule
from terrain.stations.along import check_lengths, place_stations
from terrain.stations.exposure import soil_at
from terrain.stations.network import Network
from terrain.stations.profile import grade_between_ends, sample_surface
from terrain.stations.routes import Routes, find_routes
from terrain.stations.surface_film import film_at
from terrain.stations.traffic import Traffic, station_volumes, trail_volumes
from terrain.stations.water import Water, water_of_block
from terrain.stations.wet_ground import wet_ground_at
from terrain.surfaces import gradient, slope_classes

__all__ = ["AlongTrails", "Surfaces", "look_along", "read_surfaces", "route_water"]


@dataclass(frozen=True, slots=True)
class Surfaces:
    """Grids of slope on the cells of the block's DEM.

    ``plane``: gradient toward east and north at machine scale (ratios); ``slope`` its steepest
    slope; ``native_slope`` the slope on the DEM's own cells; ``slope_class`` 0 is not assessed.
    """

    plane: tuple[NDArray, NDArray]
    slope: NDArray
    native_slope: NDArray
    slope_class: NDArray


@dataclass(frozen=True, slots=True)
class AlongTrails:
    """The stations table with what is known before any machine is looked at.

    ``states`` holds, by moisture state, the columns that change with it; those of the chosen state
    stand in ``stations`` too.
    """

    network: Network
    routes: Routes
    stations: gpd.GeoDataFrame
    states: dict[str, pd.DataFrame]
    traffic: Traffic


def read_surfaces(block: LoadedBlock) -> Surfaces:
    """Make the slope grids of the block's DEM."""
    ground, dem = block.settings.terrain, block.dem
    plane = gradient.plane(dem.values, dem.cell_m, ground.machine_scale_m)
    slope = gradient.slope(*plane)
    return Surfaces(
        plane=plane,
        slope=slope,
        native_slope=gradient.slope(*gradient.horn(dem.values, dem.cell_m)),
        slope_class=slope_classes.classify(slope, ground.slope_bands),
    )


def route_water(block: LoadedBlock) -> Water:
    """Route the block's water and search the depth to it."""
    settings = block.settings
    rule = effective_rule(settings.ground.state, frost_verified=frost_is_verified(settings.ground))
    return water_of_block(
        block.water.dem or block.dem, block.water, settings.flow, rule.flow_initiation_ha
    )


def look_along(
    block: LoadedBlock, network: Network, surfaces: Surfaces, water: Water, strength: Strength
) -> AlongTrails:
    """Place the stations along the block's trails and fill in what is known there.

    Stages only add columns to the stations table; none drops, sorts or merges its rows.
    """
    settings, dem = block.settings, block.dem
    ground = settings.terrain
    routes, _ = find_routes(network, block.trails, block.landings, ground.snap_m)
    stations = place_stations(block.trails, network, max(ground.step_m, dem.cell_m), routes)
    check_lengths(stations, block.trails)
    surface = sample_surface(
        stations, dem, surfaces.plane, surfaces.native_slope, surfaces.slope_class
    )
    stations[list(surface.columns)] = surface
    stations["grade_profile"] = grade_between_ends(
        stations, block.trails, dem, block.machine.wheelbase_m
    )
    soil = soil_at(stations, block.soils)
    stations[list(soil.columns)] = soil
    film = film_at(stations, block.trails, settings.ground)
    stations[list(film.columns)] = film
    wet = wet_ground_at(stations, water, settings.flow.buffer_width_m, block.water.buffers)
    stations[list(wet.columns)] = wet
    states = ground_in_states(stations, settings.ground, strength)
    chosen = states[settings.ground.state]
    stations[list(chosen.columns)] = chosen
    volumes = trail_volumes(block.trails, settings.traffic, block.stand)
    traffic = station_volumes(stations, network, routes, volumes)
    stations["volume_m3"] = np.asarray(traffic.volume_m3)
    return AlongTrails(network, routes, stations, states, traffic)
