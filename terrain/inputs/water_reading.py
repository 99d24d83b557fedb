"""The part of a block that is about water: the wider elevation window, its layers, the readings."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import geopandas as gpd

from terrain.grid import Grid
from terrain.inputs.loaded import LoadedWater
from terrain.inputs.metric_grid import Bounds, buffered_bounds
from terrain.inputs.readings import read_readings
from terrain.inputs.water_file import WaterRefs
from terrain.inputs.water_layers import read_areas, read_crossings, read_streams

__all__ = ["cropped", "read_water"]


def cropped(dem: Grid, bounds: Bounds, bounds_crs: Any, buffer_m: float) -> Grid:
    """Cells of ``dem`` within ``buffer_m`` metres of a box; a view, no copy.

    ``bounds`` are west, south, east, north in ``bounds_crs``. Water needs a wider window than the
    slopes under the trails do; both come from one reading.
    """
    from pyproj import CRS

    west, south, east, north = buffered_bounds(
        bounds, CRS.from_user_input(bounds_crs), CRS(dem.crs), buffer_m
    )
    rows, columns = dem.shape
    left = max(math.floor((west - dem.west_m) / dem.cell_m), 0)
    right = min(math.ceil((east - dem.west_m) / dem.cell_m), columns)
    top = max(math.floor((dem.north_m - north) / dem.cell_m), 0)
    bottom = min(math.ceil((dem.north_m - south) / dem.cell_m), rows)
    if right <= left or bottom <= top:
        return dem
    return Grid(
        dem.values[top:bottom, left:right],
        dem.west_m + left * dem.cell_m,
        dem.north_m - top * dem.cell_m,
        dem.cell_m,
        dem.crs,
    )


def read_water(
    refs: WaterRefs,
    crs: str,
    dem: Grid | None,
    soils: gpd.GeoDataFrame | None,
    keep: Callable[[Any], Any],
    max_file_mb: float,
) -> LoadedWater:
    """Read every layer about water that the block file names.

    Parameters
    ----------
    refs : WaterRefs
    crs : str
        Working CRS, metres.
    dem : Grid or None
        The wide window; None when it could not be read: the layers are then still checked.
    soils : GeoDataFrame or None
        Polygons that the readings fall into.
    keep : callable
        Takes a reader's answer (value, file, issues), notes file and issues, returns the value.
    max_file_mb : float
        Cap on a file's size in megabytes.
    """
    cap = {"max_file_mb": max_file_mb}
    found: dict[str, Any] = {}
    if refs.streams is not None:
        found["streams"] = keep(read_streams(refs.streams, crs, dem, **cap))
    for role in ("open_water", "buffers"):
        ref = getattr(refs, role)
        if ref is not None:
            found[role] = keep(read_areas(ref, crs, dem, role.replace("_", " "), **cap))
    if refs.crossings is not None:
        found["crossings"] = keep(read_crossings(refs.crossings, crs, dem, **cap))
    if refs.readings is not None and refs.readings_table is not None:
        found["readings"] = keep(read_readings(refs.readings, refs.readings_table, crs, soils))
    return LoadedWater(dem=dem, moisture_state=refs.moisture_state, **found)
