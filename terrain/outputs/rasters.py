"""Slope and wet ground as Cloud-Optimized GeoTIFFs for a desktop GIS.

The layout is that of OGC 21-026 (OGC Cloud Optimized GeoTIFF Standard, 2023): tiles, then reduced
copies, directory first. Class grids carry a colour table and the names of their classes. Equal
plans give equal bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from terrain.decision.ground import frost_is_verified
from terrain.decision.results import Plan
from terrain.grid import Grid
from terrain.mechanics.soil_strength import drainage_rank, wet_flag
from terrain.mechanics.wet_classes import effective_rule
from terrain.outputs.page_parts import SLOPE_COLOURS, invented_words, note_words
from terrain.outputs.wet_layers import WETNESS_CLASSES, wetness_grid
from terrain.outputs.wording import UNKNOWN
from terrain.units import percent_from_ratio

__all__ = ["UNKNOWN_CLASS", "VOID", "wet_classes", "write_rasters"]

VOID = -9999.0
"""What stands in a grid of figures where nothing is known; the file says so."""

UNKNOWN_CLASS = 255
"""What stands in the grid of wet ground where nothing is known; the file says so."""

_NOT_WET = "#f4f4f0"  # a colour table of TIFF knows nothing transparent but the void


@dataclass(frozen=True, slots=True)
class _Look:
    """Class numbers with name and colour ``#rrggbb``; the void has none and is transparent."""

    classes: Mapping[int, tuple[str, str]]


def write_rasters(plan: Plan, folder: Path) -> list[str]:
    """Write the rasters of ``plan`` into ``folder``, which exists; return their names.

    A plan whose water was not routed has no depth to water and no wet ground.
    """
    made = ["slope_percent.tif", "slope_class.tif"]
    tags = _tags(plan)
    percent = plan.slope.with_values(percent_from_ratio(plan.slope.values))
    side = f"least-squares plane of {plan.settings.terrain.machine_scale_m:g} m"
    _write_figures(folder / made[0], percent, f"slope, percent ({side})", "percent", tags)
    _write_classes(
        folder / made[1],
        plan.slope_class.with_values(plan.slope_class.values.astype(np.uint8)),
        "slope class",
        _slope_classes(plan.slope_labels),
        0,
        tags,
    )
    wet = plan.wet_ground
    if wet is None:
        return made
    state = plan.settings.ground.state
    tags = {**tags, "MOISTURE_STATE": state}
    verified = frost_is_verified(plan.settings.ground)
    area_ha = effective_rule(state, frost_verified=verified).flow_initiation_ha
    if area_ha in wet.depth_to_water:
        cap = f"search ends at {plan.settings.flow.cap_m:g} m"
        words = f"depth to water, metres (channels from {area_ha:g} ha, {cap})"
        made.append("depth_to_water.tif")
        _write_figures(folder / made[-1], wet.depth_to_water[area_ha], words, "metre", tags)
    looks = {
        0: (f"not wet, {state}", _NOT_WET),
        **{k + 1: item for k, item in enumerate(WETNESS_CLASSES)},
        UNKNOWN_CLASS: (UNKNOWN, ""),
    }
    made.append("wet_ground.tif")
    _write_classes(
        folder / made[-1],
        wet_classes(plan),
        f"wet ground, {state}",
        _Look(looks),
        UNKNOWN_CLASS,
        tags,
    )
    return made


def wet_classes(plan: Plan) -> Grid:
    """Wet ground in the state of the plan: 0 not, 1 by soil, 2 by water, 3 both, 255 not known.

    Not known is a cell without elevation, and a cell not shown wet whose soil or whose depth to
    water is unknown. ``plan.wet_ground`` must be there.
    """
    from rasterio.features import rasterize
    from rasterio.transform import from_origin

    wet, dem = plan.wet_ground, plan.dem
    if wet is None:
        raise ValueError("the plan's water was not routed")
    state = plan.settings.ground.state
    rule = effective_rule(state, frost_verified=frost_is_verified(plan.settings.ground))
    number = wetness_grid(plan, wet, state).values.copy()
    classes = plan.soils["soil_class"].fillna(0).to_numpy(dtype=np.int64)
    known = wet_flag(classes, drainage_rank(plan.soils["drainage"]), rule) >= 0
    soil = np.zeros(dem.shape, dtype=np.uint8)
    if known.any():
        rasterize(
            [(shape, 1) for shape in plan.soils.geometry.values[known]],
            out=soil,
            transform=from_origin(dem.west_m, dem.north_m, dem.cell_m, dem.cell_m),
        )
    if rule.wet_from_class is None and rule.wet_from_drainage is None:
        blind = np.zeros(dem.shape, dtype=bool)  # this state has no wet ground, whatever the soil
    else:
        blind = (soil == 0) | np.isnan(wet.depth_to_water[rule.flow_initiation_ha].values)
    number[(number == 0) & blind] = UNKNOWN_CLASS
    number[np.isnan(dem.values)] = UNKNOWN_CLASS
    return dem.with_values(number)


def _slope_classes(labels: Sequence[str]) -> _Look:
    looks = {0: ("not assessed", "")}
    for k, label in enumerate(labels):
        looks[k + 1] = (label, SLOPE_COLOURS[min(k, len(SLOPE_COLOURS) - 1)])
    return _Look(looks)


def _tags(plan: Plan) -> dict[str, str]:
    return {
        "TITLE": plan.name,
        "TIFFTAG_SOFTWARE": f"Rutwise {plan.version}",
        "NOTE": note_words(plan),
        "INVENTED": "yes" if invented_words(plan) else "no",
    }


def _write_figures(path: Path, grid: Grid, words: str, unit: str, tags: dict[str, str]) -> None:
    values = np.asarray(grid.values, dtype=np.float32)
    filled = np.where(np.isfinite(values), values, np.float32(VOID))
    options = {"nodata": VOID, "predictor": "YES", "overview_resampling": "AVERAGE"}
    _write(path, grid, filled, words, tags, {"unit": unit}, None, options)


def _write_classes(
    path: Path, grid: Grid, words: str, look: _Look, nodata: int, tags: dict[str, str]
) -> None:
    colours = {number: _rgba(colour) for number, (_, colour) in look.classes.items()}
    names = {f"CLASS_{number}": name for number, (name, _) in look.classes.items()}
    options = {"nodata": nodata, "overview_resampling": "MODE"}
    _write(path, grid, grid.values, words, tags, names, colours, options)


def _write(
    path: Path,
    grid: Grid,
    values: NDArray,
    words: str,
    tags: dict[str, str],
    band_tags: dict[str, str],
    colours: dict[int, tuple[int, int, int, int]] | None,
    options: dict[str, object],
) -> None:
    import rasterio
    from rasterio.transform import from_origin

    rows, columns = grid.shape
    with rasterio.open(
        path,
        "w",
        driver="COG",
        width=columns,
        height=rows,
        count=1,
        dtype=values.dtype.name,
        crs=grid.crs,
        transform=from_origin(grid.west_m, grid.north_m, grid.cell_m, grid.cell_m),
        compress="DEFLATE",
        blocksize=256,
        **options,
    ) as file:
        file.write(values, 1)
        file.set_band_description(1, words)
        if "unit" in band_tags:
            file.set_band_unit(1, band_tags["unit"])
        else:
            file.update_tags(1, **band_tags)
        if colours is not None:
            file.write_colormap(1, colours)
        file.update_tags(**tags)


def _rgba(colour: str) -> tuple[int, int, int, int]:
    if not colour:
        return 0, 0, 0, 0
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16), 255
