"""The ground in a corridor beside a stretch: where a detour may run, and which way it may climb.

Places lie on a regular lattice of cell centres of the elevation model. Each is looked at like a
station of a trail: same gradients, soil, water and strength.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.decision.evaluation import evaluate
from terrain.decision.ground import ground_in_states
from terrain.decision.situation import Situation
from terrain.mechanics.loads import combine
from terrain.mechanics.stability import lateral_check_slope
from terrain.mechanics.wet_classes import wet_by_water
from terrain.models.soil import NO_TRAFFIC_CLASS
from terrain.stations.exposure import soil_at
from terrain.stations.profile import along_and_across
from terrain.stations.wet_ground import DEPTH_COLUMNS, wet_ground_at

__all__ = ["Corridor", "SlopeLimits", "corridor_along", "slope_limits"]

PLACE_M = 2.0
"""Least distance between places, metres (planning assumption: finer than the machine is long)."""

_GROUND = ("cone_index_kpa", "bearing_kpa")


@dataclass(frozen=True, slots=True)
class SlopeLimits:
    """Steepest slopes that a new line may have, ratios: along it and across it."""

    grade: float
    cross: float

    def hold(self, grade: NDArray[np.float64], cross: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether both slopes (ratios, any sign) keep within the limits; unknown never does."""
        return (np.abs(grade) <= self.grade) & (np.abs(cross) <= self.cross)


def slope_limits(situation: Situation, item: Carried) -> SlopeLimits:
    """No steeper than the steepest station of the trails as planned, along and across.

    Planning assumption: what people planned on this block marks what they accept there, and
    traction to spare is no leave to drive where a machine may tip. Across, the slope from which
    the side stability of the machine must be checked, loaded or empty, whichever is less
    (:func:`terrain.mechanics.stability.lateral_check_slope`) bounds it too. A site's own rule
    still has to be held against the line. Slopes up to the first slope band are always accepted.
    """
    stations, machine = situation.along.stations, item.machine
    first_band = situation.settings.terrain.slope_bands[0]
    grade, cross = (
        float(np.nanmax(np.abs(stations[name].to_numpy(dtype=float)), initial=first_band))
        for name in ("grade", "cross_slope")
    )
    masses, heights = [machine.unladen_mass_kg], [machine.cg_height_m]
    if item.load is not None:
        masses.append(item.load.mass_kg * item.load.carried_share)
        heights.append(item.load.centre_height_m)
    _, _, height_m = combine(masses, [0.0] * len(masses), heights)
    # a load that hangs low is not credited: the machine also goes there empty
    height_m = np.maximum(height_m, machine.cg_height_m)
    check = float(lateral_check_slope(height_m, machine.track_gauge_m))
    return SlopeLimits(grade, min(cross, check))


@dataclass(frozen=True, slots=True)
class Corridor:
    """Lattice of places, arrays of shape (rows, columns); row 0 is the northern one.

    Attributes
    ----------
    west_m, north_m : float
        Place of row 0, column 0.
    place_m : float
        Distance between places.
    free : ndarray of bool
        Inside the corridor, the elevation model and the block; not in a machine-free strip, on
        mapped water or on ground of the class without traffic; all of that known.
    wet : ndarray of bool
        Wet in the chosen moisture state, or not known to be dry.
    gradient_east, gradient_north : ndarray
        Uphill gradient at machine scale, ratios.
    ground : dict of str to ndarray
        Columns that the evaluation reads, flat, row by row.
    """

    west_m: float
    north_m: float
    place_m: float
    free: NDArray[np.bool_]
    wet: NDArray[np.bool_]
    gradient_east: NDArray[np.float64]
    gradient_north: NDArray[np.float64]
    ground: dict[str, NDArray]

    def index(
        self, x_m: NDArray[np.float64], y_m: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Flat number of the place nearest to each point, and whether it is in the window."""
        column = np.round((x_m - self.west_m) / self.place_m).astype(np.int64)
        row = np.round((self.north_m - y_m) / self.place_m).astype(np.int64)
        rows, columns = self.free.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return np.where(inside, row * columns + column, 0), inside

    def passes(
        self,
        place: NDArray[np.int64],
        heading_deg: NDArray[np.float64],
        item: Carried,
        situation: Situation,
        least: float = 0.0,
    ) -> NDArray[np.bool_]:
        """Whether ``item`` has reserve, loaded on the heading and empty against it.

        ``place`` holds flat numbers; headings are degrees clockwise from north; ``least`` is the
        reserve asked for (ratio). The slopes must keep :func:`slope_limits`. Unknown never passes.
        """
        grade, cross = along_and_across(
            self.gradient_east.ravel()[place], self.gradient_north.ravel()[place], heading_deg
        )
        rows = pd.DataFrame(
            {"grade": grade, "cross_slope": cross, "length_m": 1.0}
            | {name: values[place] for name, values in self.ground.items()}
        )
        found, _ = evaluate(rows, [item], situation.settings)
        return (found.reserve[:, 0] >= least) & slope_limits(situation, item).hold(grade, cross)


def corridor_along(situation: Situation, line: shapely.LineString, like: pd.Series) -> Corridor:
    """Look at the ground within the corridor's width on both sides of ``line``.

    Parameters
    ----------
    situation : Situation
    line : LineString
        Part of a trail, metres.
    like : Series
        Station of that trail: what a place cannot tell by itself (the surface film of the trail)
        is taken from it.
    """
    block, dem = situation.block, situation.block.dem
    width = situation.settings.decision.reroute_corridor_m
    step = max(1, round(PLACE_M / dem.cell_m))
    west, south, east, north = line.bounds
    row_n, column_w = dem.rows_columns(west - width, north + width)
    row_s, column_e = dem.rows_columns(east + width, south - width)
    rows, columns = dem.shape
    row = np.arange(max(int(row_n), 0), min(int(row_s), rows - 1) + 1, step)
    column = np.arange(max(int(column_w), 0), min(int(column_e), columns - 1) + 1, step)
    x = dem.west_m + (column + 0.5) * dem.cell_m
    y = dem.north_m - (row + 0.5) * dem.cell_m
    shape = (len(row), len(column))
    xs, ys = np.broadcast_to(x, shape).ravel(), np.repeat(y, len(column))
    points = shapely.points(xs, ys)
    shapely.prepare(line)
    inside = shapely.dwithin(points, line, width)
    if block.boundary is not None:
        area = shapely.union_all(np.asarray(block.boundary.geometry.values))
        shapely.prepare(area)
        inside &= shapely.intersects(area, points)
    places = gpd.GeoDataFrame(
        {"x_m": xs[inside], "y_m": ys[inside]}, geometry=points[inside], crs=dem.crs
    )
    seen = _look(situation, places)
    free = np.zeros(xs.size, dtype=bool)
    free[inside] = seen.pop("free")
    wet = np.ones(xs.size, dtype=bool)
    wet[inside] = seen.pop("wet")
    ground: dict[str, NDArray] = {}
    for name in _GROUND:
        ground[name] = np.full(xs.size, np.nan)
        ground[name][inside] = seen[name]
    for name in ("film", "film_grip_cap"):
        if name in like.index:
            ground[name] = np.full(xs.size, like[name])
    window = np.ix_(row, column)
    gradient = [np.asarray(part[window], dtype=float) for part in situation.surfaces.plane]
    free &= np.isfinite(gradient[0] + gradient[1]).ravel()
    return Corridor(
        west_m=float(x[0]) if x.size else np.nan,
        north_m=float(y[0]) if y.size else np.nan,
        place_m=step * dem.cell_m,
        free=free.reshape(shape),
        wet=wet.reshape(shape),
        gradient_east=gradient[0],
        gradient_north=gradient[1],
        ground=ground,
    )


def _look(situation: Situation, places: gpd.GeoDataFrame) -> dict[str, NDArray]:
    """Soil, water and strength at the places, by the functions that look along the trails."""
    settings, water = situation.settings, situation.block.water
    soil = soil_at(places, situation.block.soils)
    wet = wet_ground_at(places, situation.water, settings.flow.buffer_width_m, water.buffers)
    known = pd.concat([places, soil, wet], axis=1)
    # of the depths to water only "wet or not" counts, so places alike in it are looked at once
    depths = [wet_by_water(known[name].to_numpy(dtype=float)) for name in DEPTH_COLUMNS.values()]
    alike = pd.DataFrame({"polygon": soil["soil_polygon"].fillna("")}).assign(
        **{f"depth_{i}": flags for i, flags in enumerate(depths)}
    )
    group = alike.groupby(list(alike.columns), sort=False).ngroup().to_numpy()
    _, first = np.unique(group, return_index=True)
    of_group = ground_in_states(known.iloc[first], settings.ground, situation.strength)
    state = of_group[settings.ground.state].iloc[group]
    number = state["ground_class"].fillna(NO_TRAFFIC_CLASS).to_numpy(dtype=np.int64)
    free = (number < NO_TRAFFIC_CLASS) & ~wet["in_buffer"].fillna(False).to_numpy(dtype=bool)
    if water.streams is not None or water.open_water is not None:
        free &= ~(wet["to_water_m"].to_numpy(dtype=float) <= situation.block.dem.cell_m)
    return {
        "free": free,
        "wet": state["wet"].fillna(True).to_numpy(dtype=bool),
        **{name: state[name].to_numpy(dtype=float) for name in _GROUND},
    }
