"""How near water stands below the ground: depth-to-water, and a topographic wetness index.

Depth-to-water is a map of where ground is likely to be wet, not a measurement. On level ground it
is small far from any stream, and along a contour of a steep slope it is larger than the true rise,
because the path adds up the size of the slope and not its direction. Soil type leads and wetness
modifies: in a Swedish survey of ruts (Mohtashami et al. 2017) it was not significant by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.surfaces.flow import Channels, Flow, _as_dem, _mask, channels, route
from terrain.surfaces.gradient import horn, slope

__all__ = ["WetGround", "coarsen", "depth_to_water_m", "slope_m", "topographic_wetness_index"]

Form = Literal["target cell", "mean of both cells"]


@dataclass(frozen=True, slots=True)
class WetGround:
    """Depth-to-water for one flow-initiation area.

    ``depth_to_water_m`` has shape (rows, columns), float32: 0 at water, at most the cap (a value
    equal to the cap means "the cap or more"), NaN where the slope is not known.
    """

    depth_to_water_m: NDArray[np.float32]
    channels: Channels


def depth_to_water_m(
    elevation_m: ArrayLike,
    cell_m: float,
    flow_initiation_ha: float | Sequence[float],
    cap_m: float = 2.0,
    *,
    routed_m: ArrayLike | None = None,
    flow: Flow | None = None,
    open_water: ArrayLike | None = None,
    form: Form = "target cell",
) -> dict[float, WetGround]:
    """Depth-to-water for one or several flow-initiation areas in one run.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres as surveyed, northern row first, voids NaN. Slope is taken from it.
    cell_m : float
        Side of a cell in metres.
    flow_initiation_ha : float or sequence of float
        Catchments in hectares at which channels start. The smaller, the wetter the map.
    cap_m : float
        The search stops here. Ground is commonly called wet up to 1 m.
    routed_m : array, optional
        DEM to route the water on, with culverts carved or streams burnt; default ``elevation_m``.
    flow : Flow, optional
        Routing already done; then ``routed_m`` is not used.
    open_water : array of bool, optional
        Mapped streams and lakes: depth 0 in every state. Where the DEM is void under them, the
        first cell around the void counts as water too, because its slope cannot be known.
    form : {"target cell", "mean of both cells"}
        Slope of a step: that of the cell farther from water, as published, or the mean of both
        cells, as general cost-distance tools have it. They differ by less than half a cell's rise
        for each change of slope along the path.

    Returns
    -------
    dict
        :class:`WetGround` by flow-initiation area, in the order given.

    Raises
    ------
    ValueError
        If a size is not positive, shapes differ or the form is unknown.

    Notes
    -----
    The least sum, over all paths of neighbouring cells from water, of slope times step length;
    the slope is Horn's ratio on the unfilled DEM and diagonal steps count the square root of 2.
    Cells of unknown slope are barriers. Memory beyond the DEM: 12 bytes a cell for one area (10
    beside a ``flow`` that is given), and 5 for each further area.

    References
    ----------
    Murphy, Ogilvie and Arp 2009, Topographic modelling of soil moisture conditions: a comparison
    and verification of two models, European Journal of Soil Science 60.
    """
    from terrain.surfaces import _kernels

    areas = [float(area) for area in np.atleast_1d(flow_initiation_ha)]
    if not (cap_m > 0 and cell_m > 0 and areas):
        raise ValueError(f"cap ({cap_m} m), cell ({cell_m} m) and areas must be positive")
    if form not in ("target cell", "mean of both cells"):
        raise ValueError(f"unknown form {form!r}")
    elevation = _as_dem(elevation_m)
    if flow is None:
        flow = route(elevation if routed_m is None else routed_m, cell_m)
    if flow.direction.shape != elevation.shape or flow.cell_m != cell_m:
        raise ValueError("the routing was done on other cells than the elevation")
    found = {area: channels(flow, area) for area in sorted(areas, reverse=True)}
    del flow
    water = None
    if open_water is not None:
        water = _with_shore(_mask(open_water, elevation.shape, "open water"), elevation)
    steep = slope_m(elevation, cell_m)
    depth = np.full(elevation.shape, cap_m, dtype=np.float32)
    depth[np.isnan(steep)] = np.nan
    columns, mean = elevation.shape[1], form == "mean of both cells"
    result = {}
    # from dry to wet: each area's channels are among those of the next, which only adds sources
    for area, channel in found.items():
        source = channel.mask.copy() if water is None else channel.mask | water
        depth[source & np.isnan(steep) & (depth != 0)] = cap_m
        _kernels.spread(
            depth.ravel(), steep.ravel(), source.ravel().view(np.uint8), columns, cell_m, mean
        )
        last = area == min(areas)
        result[area] = WetGround(depth if last else depth.copy(), channel)
    return {area: result[area] for area in areas}


def slope_m(elevation_m: ArrayLike, cell_m: float) -> NDArray[np.float32]:
    """Horn's slope (ratio, float32) in strips, so that only the result takes memory."""
    elevation = _as_dem(elevation_m)
    rows, columns = elevation.shape
    steep = np.full(elevation.shape, np.nan, dtype=np.float32)
    strip = max(64, 2_000_000 // columns)
    for top in range(1, rows - 1, strip):
        bottom = min(top + strip, rows - 1)
        steep[top:bottom] = slope(*horn(elevation[top - 1 : bottom + 1], cell_m))[1:-1]
    return steep


def topographic_wetness_index(
    elevation_m: ArrayLike, cell_m: float, coarse_m: float = 16.0, least_slope: float = 0.001
) -> tuple[NDArray[np.float64], float]:
    """Topographic wetness index ln(a / tan b) on coarse cells.

    Parameters
    ----------
    elevation_m : array, shape (rows, columns)
        Elevation in metres, voids NaN.
    cell_m : float
        Side of a cell in metres.
    coarse_m : float
        Side of the coarse cells; the nearest whole number of cells is taken. Larson et al. 2022
        found the index best at 16 m and poor on cells finer than 4 m.
    least_slope : float
        Slopes below this ratio count as this (planning assumption): level ground has no index.

    Returns
    -------
    index : ndarray, shape (rows // n, columns // n)
        ln of specific catchment area (m2 of catchment per m of cell side) over slope; NaN where
        the coarse slope is not known. Cells left over in the south and east are dropped.
    coarse_cell_m : float
        Side of the coarse cells used.

    References
    ----------
    Beven and Kirkby 1979, A physically based, variable contributing area model of basin
    hydrology, Hydrological Sciences Bulletin 24. Larson et al. 2022, Hydrology and Earth System
    Sciences 26:4837.
    """
    if not (cell_m > 0 and coarse_m > 0 and least_slope > 0):
        raise ValueError("cell sizes and the least slope must be positive")
    factor = max(1, round(coarse_m / cell_m))
    coarse_cell_m = cell_m * factor
    coarse = coarsen(elevation_m, factor)
    specific_m = route(coarse, coarse_cell_m).catchment_m2 / coarse_cell_m
    return np.log(
        specific_m / np.maximum(slope_m(coarse, coarse_cell_m), least_slope)
    ), coarse_cell_m


def coarsen(elevation_m: ArrayLike, factor: int) -> NDArray[np.float32]:
    """Mean of blocks of ``factor`` x ``factor`` cells, NaN where a block holds a void."""
    elevation = _as_dem(elevation_m)
    rows, columns = elevation.shape[0] // factor, elevation.shape[1] // factor
    if factor < 1 or rows == 0 or columns == 0:
        raise ValueError(f"blocks of {factor} cells do not fit a grid of {elevation.shape}")
    whole = elevation[: rows * factor, : columns * factor]
    blocks = whole.reshape(rows, factor, columns, factor)
    return blocks.mean(axis=(1, 3), dtype=np.float64).astype(np.float32)


def _with_shore(water: NDArray[np.bool_], elevation: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Add the known cells beside water without elevation."""
    hidden = water & np.isnan(elevation)
    if not hidden.any():
        return water
    shore = water.copy()
    for row, column in np.argwhere(hidden):
        shore[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2] = True
    return shore & (water | ~np.isnan(elevation))
