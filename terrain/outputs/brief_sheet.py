"""The paper under the map of the brief: relief, water, grid ticks, scale bar, north."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from terrain.decision.results import Plan
from terrain.outputs.brief_labels import LabelBoard
from terrain.outputs.brief_legend import CONTOUR, EDGE, EDGE_DASH, LEAST_RELIEF_M
from terrain.outputs.overlays import hillshade
from terrain.outputs.wording import grouped
from terrain.units import FOOT_M

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_furniture", "draw_grid", "draw_ground", "nice_step"]

Window = tuple[float, float, float, float]
_INK, _WATER, _STRIP = "#10151c", "#0072b2", "#cfe6f5"
_MOST_CELLS = 700
_MOST_CONTOURS = 14


def nice_step(about: float) -> float:
    """Return the largest of 1, 2 and 5 times a power of ten that is not above ``about``."""
    power = 10.0 ** np.floor(np.log10(about))
    return float(next(step * power for step in (5, 2, 1) if step * power <= about * (1 + 1e-9)))


def draw_ground(axes: Axes, plan: Plan, window: Window) -> None:
    """Draw hillshade and contours in light grey, then water, machine-free strips and boundary.

    Relief is drawn as far as the elevation model reaches; the rest stays white. Contours are on a
    thinned grid, on round heights, and some carry their height in metres.
    """
    _relief(axes, plan, window)
    wet, frame = plan.wet_ground, shapely.box(*window)
    if wet is not None:
        if wet.buffers is not None:
            for shape in wet.buffers.geometry.values:
                _area(axes, shape, frame, _STRIP, "////")
        if wet.open_water is not None:
            for shape in wet.open_water.geometry.values:
                _area(axes, shape, frame, "#9ccbe8", "")
        if wet.streams is not None:
            for shape in wet.streams.geometry.values:
                _path(axes, shapely.intersection(shape, frame), _WATER, 1.0, "-")
    if plan.boundary is not None:
        for shape in plan.boundary.geometry.values:
            _path(axes, shapely.boundary(shape), EDGE, 0.8, EDGE_DASH)


def _relief(axes: Axes, plan: Plan, window: Window) -> None:
    dem = plan.dem
    west, south, east, north = window
    rows, columns = dem.shape
    top = max(0, int((dem.north_m - north) // dem.cell_m))
    bottom = min(rows, int((dem.north_m - south) // dem.cell_m) + 1)
    left = max(0, int((west - dem.west_m) // dem.cell_m))
    right = min(columns, int((east - dem.west_m) // dem.cell_m) + 1)
    thin = max(1, -(-max(bottom - top, right - left) // _MOST_CELLS))
    heights = dem.values[top:bottom:thin, left:right:thin].astype(float)
    if min(heights.shape, default=0) < 3:
        return
    cell = dem.cell_m * thin
    x_edge, y_edge = dem.west_m + left * dem.cell_m, dem.north_m - top * dem.cell_m
    shade = np.round(hillshade(heights, cell) * 24) / 24
    axes.imshow(
        shade,
        cmap="gray",
        vmin=-1.9,
        vmax=1.0,
        interpolation="nearest",
        aspect="auto",
        zorder=1,
        extent=(
            x_edge,
            x_edge + heights.shape[1] * cell,
            y_edge - heights.shape[0] * cell,
            y_edge,
        ),
    )
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    low, high = np.nanmin(heights), np.nanmax(heights)
    if not np.isfinite(low) or high - low < LEAST_RELIEF_M:
        return
    step = nice_step(2 * (high - low) / _MOST_CONTOURS)
    levels = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    coarse = max(1, max(heights.shape) // 200)
    grid = heights[::coarse, ::coarse]
    x = x_edge + (np.arange(0, heights.shape[1], coarse) + 0.5) * cell
    y = y_edge - (np.arange(0, heights.shape[0], coarse) + 0.5) * cell
    lines = axes.contour(x, y, grid, levels=levels, colors=CONTOUR, linewidths=0.35, zorder=2)
    axes.clabel(lines, levels[1::3], fontsize=4.5, fmt="%.0f", inline_spacing=1)


def _area(
    axes: Axes, shape: shapely.Geometry, frame: shapely.Geometry, fill: str, hatch: str
) -> None:
    for part in shapely.get_parts(shapely.intersection(shape, frame)):
        if part.geom_type == "Polygon" and not part.is_empty:
            x, y = shapely.get_coordinates(part.exterior).T
            axes.fill(
                x,
                y,
                facecolor=fill,
                edgecolor=_WATER,
                hatch=hatch,
                linewidth=0.4,
                alpha=0.8,
                zorder=3,
            )


def _path(axes: Axes, shape: shapely.Geometry, colour: str, width: float, dash: object) -> None:
    for part in shapely.get_parts(shape):
        coordinates = shapely.get_coordinates(part)
        if len(coordinates) > 1:
            x, y = coordinates.T
            axes.plot(x, y, color=colour, linewidth=width, linestyle=dash, zorder=3.5)  # type: ignore[arg-type]


def draw_grid(axes: Axes, window: Window, font_pt: float) -> None:
    """Ticks on round metres of the working CRS, written in full: eastings below, northings left."""
    west, south, east, north = window
    step = nice_step((east - west) / 3.2)
    for values, low, high, horizontal in (
        (np.arange(np.ceil(west / step), np.floor(east / step) + 1) * step, south, north, True),
        (np.arange(np.ceil(south / step), np.floor(north / step) + 1) * step, west, east, False),
    ):
        edge = 0.06 * (east - west)  # a tick this near to the corner keeps its line, not its text
        ends = (west, east) if horizontal else (south, north)
        texts = [
            grouped(value) if ends[0] + edge <= value <= ends[1] - edge else "" for value in values
        ]
        if horizontal:
            axes.set_xticks(values, texts)
            axes.vlines(values, low, high, colors=_INK, linewidths=0.25, alpha=0.5, zorder=3.2)
        else:
            axes.set_yticks(values, texts, rotation=90, va="center")
            axes.hlines(values, low, high, colors=_INK, linewidths=0.25, alpha=0.5, zorder=3.2)
    axes.tick_params(labelsize=0.8 * font_pt, length=2, width=0.5, pad=1)
    for spine in axes.spines.values():
        spine.set_linewidth(0.6)


def draw_furniture(axes: Axes, board: LabelBoard, window: Window, font_pt: float) -> None:
    """Scale bar in metres and feet at the lower left, arrow to grid north at the upper right."""
    from matplotlib.patches import Rectangle

    west, south, east, north = window
    metre = board.width_pt / (east - west)
    unit = font_pt / metre  # one font size, in metres of the map
    bar_m = nice_step((east - west) / 4)
    bar_ft = nice_step((east - west) / 4 / FOOT_M)
    x, y = west + 0.8 * unit, south + 0.8 * unit
    wide = max(bar_m, bar_ft * FOOT_M) + 5.5 * unit
    axes.add_patch(
        Rectangle((x, y), wide, 3.2 * unit, facecolor="white", edgecolor=_INK, lw=0.4, zorder=11)
    )
    board.block((0.0, 0.0, (wide + 1.2 * unit) * metre, 4.4 * unit * metre))
    for length_m, text, height in (
        (bar_m, f"{bar_m:.0f} m", 2.1 * unit),
        (bar_ft * FOOT_M, f"{bar_ft:.0f} ft", 0.6 * unit),
    ):
        for k, colour in enumerate((_INK, "white")):
            axes.add_patch(
                Rectangle(
                    (x + 0.5 * unit + k * length_m / 2, y + height),
                    length_m / 2,
                    0.45 * unit,
                    facecolor=colour,
                    edgecolor=_INK,
                    lw=0.4,
                    zorder=12,
                )
            )
        axes.text(
            x + 0.9 * unit + length_m,
            y + height + 0.2 * unit,
            text,
            fontsize=0.85 * font_pt,
            va="center",
            zorder=12,
        )
    x, y = east - 1.6 * unit, north - 3.4 * unit
    axes.fill(
        [x, x - 0.7 * unit, x, x + 0.7 * unit],
        [y + 2.4 * unit, y, y + 0.6 * unit, y],
        facecolor=_INK,
        edgecolor="white",
        linewidth=0.5,
        zorder=12,
    )
    axes.text(
        x,
        y - 0.8 * unit,
        "N",
        fontsize=1.1 * font_pt,
        fontweight="bold",
        ha="center",
        va="center",
        zorder=12,
    )
    right, top = board.width_pt, board.height_pt
    board.block((right - 3 * font_pt, top - 5.5 * font_pt, right, top))
