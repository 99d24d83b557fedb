"""The map of the brief, drawn from the data: trails and stretches with their names, on paper.

Everything is drawn in the working CRS, so a figure of :func:`draw_map` fits its window exactly.
"""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from terrain.decision.results import Plan
from terrain.outputs.brief_labels import INK, Box, LabelBoard, MapSheet
from terrain.outputs.brief_legend import (
    SHUT,
    SHUT_DASH,
    TRAIL,
    draw_legend,
    legend_columns,
    legend_entries,
)
from terrain.outputs.brief_sheet import draw_furniture, draw_grid, draw_ground
from terrain.outputs.brief_shut import closed_trails
from terrain.outputs.brief_signs import draw_places, draw_stretches, draw_trail_names, mark_ground
from terrain.outputs.catalogue import Catalogue, catalogue
from terrain.outputs.page_parts import keyed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["brief_map", "brief_map_svg", "draw_map", "map_window"]

Window = tuple[float, float, float, float]
_STYLE: dict[str, Any] = {
    "svg.hashsalt": "rutwise",
    "svg.fonttype": "none",
    "font.family": "DejaVu Sans",
    "text.parse_math": False,
    "text.color": INK,
    "hatch.linewidth": 0.4,
}
_MM = 1 / 25.4
_LEFT_MM, _BOTTOM_MM, _LEGEND_ROW_MM = 3.8, 3.8, 3.1


def map_window(plan: Plan, aspect: float, margin: float = 0.06) -> Window:
    """West, south, east, north of a window with ``aspect`` (width over height) round the trails.

    Landings and the emergency point are inside when they lie within half the trails' extent of
    them; a point far away would make the trails too small to read.
    """
    west, south, east, north = plan.trails.total_bounds
    reach = 0.5 * max(east - west, north - south)
    points = [(point.x, point.y) for point in plan.landings.geometry.values]
    if plan.emergency is not None:
        points.append((plan.emergency.x_m, plan.emergency.y_m))
    for x, y in points:
        if west - reach <= x <= east + reach and south - reach <= y <= north + reach:
            west, south, east, north = min(west, x), min(south, y), max(east, x), max(north, y)
    wide, high = max(east - west, 20.0), max(north - south, 20.0)
    wide, high = wide * (1 + 2 * margin), high * (1 + 2 * margin)
    wide, high = max(wide, high * aspect), max(high, wide / aspect)
    x, y = (west + east) / 2, (south + north) / 2
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def draw_map(
    axes: Axes,
    plan: Plan,
    window: Window,
    words: Catalogue,
    font_pt: float = 6.0,
    covered: tuple[Box, ...] = (),
) -> None:
    """Draw the map over all of ``axes``, whose limits become ``window`` (metres, working CRS).

    Bottom to top: hillshade and contours, water and machine-free strips, boundary, trails with
    arrows in the direction of loaded travel, weak stretches, crossings, landings, emergency point,
    water without a crossing, stretches to keep out of, names. Scale bar in metres and feet, arrow
    to grid north. ``covered`` are boxes in shares of width and height that something else will lie
    on: no name is put there.
    """
    from matplotlib.figure import Figure

    west, south, east, north = window
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    place = axes.get_position()
    size_in = figure.get_size_inches()
    board = LabelBoard(72 * size_in[0] * place.width, 72 * size_in[1] * place.height)
    for left, bottom, right, top in covered:
        board.block(
            (
                left * board.width_pt,
                bottom * board.height_pt,
                right * board.width_pt,
                top * board.height_pt,
            )
        )
    sheet = MapSheet(axes, board, window, font_pt)
    draw_ground(axes, plan, window)
    _lines(sheet, plan)
    draw_furniture(axes, board, window, font_pt)
    mark_ground(sheet, plan)
    draw_places(sheet, plan, words)
    draw_stretches(sheet, plan)
    draw_trail_names(sheet, plan, words)


def brief_map(
    plan: Plan,
    language: str = "en",
    width_mm: float = 105.0,
    height_mm: float = 120.0,
    font_pt: float = 6.0,
) -> Figure:
    """Return the map with grid ticks and legend as a figure of the given size."""
    import matplotlib
    from matplotlib.figure import Figure

    words = catalogue(language)
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_STYLE)  # type: ignore[arg-type]
        figure = Figure(figsize=(width_mm * _MM, height_mm * _MM))
        grow = font_pt / 6.0
        entries = legend_entries(plan, words, font_pt)
        labels = [label for _, label in entries]
        rows = -(-len(labels) // legend_columns(labels, width_mm * _MM * 72, font_pt))
        left, legend = _LEFT_MM * grow, rows * _LEGEND_ROW_MM * grow
        bottom = _BOTTOM_MM * grow + legend
        box = (
            left / width_mm,
            bottom / height_mm,
            (width_mm - left - 0.4) / width_mm,
            (height_mm - bottom - 0.4) / height_mm,
        )
        axes = figure.add_axes(box)
        aspect = box[2] * width_mm / (box[3] * height_mm)
        window = map_window(plan, aspect)
        draw_map(axes, plan, window, words, font_pt)
        draw_grid(axes, window, font_pt)
        draw_legend(figure, entries, font_pt)
    return figure


def brief_map_svg(
    plan: Plan,
    language: str = "en",
    width_mm: float = 105.0,
    height_mm: float = 120.0,
    font_pt: float = 6.0,
) -> str:
    """Return :func:`brief_map` as an SVG document; the same plan gives the same bytes."""
    import matplotlib

    figure = brief_map(plan, language, width_mm, height_mm, font_pt)
    buffer = io.StringIO()
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_STYLE)  # type: ignore[arg-type]
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure.savefig(buffer, format="svg", dpi=170, metadata=nothing)
    text = buffer.getvalue()
    return text[text.index("<svg") :]


def _lines(sheet: MapSheet, plan: Plan) -> None:
    """Trails in black on a white casing, with arrows in the direction of loaded travel.

    Closed trails are grey and hatched and have no arrows: nobody drives there.
    """
    closed = set(closed_trails(plan))
    trails = keyed(plan.trails, "trail")
    for name, shape in zip(trails["trail"].astype(str), plan.trails.geometry.values, strict=True):
        shut = name in closed
        for part in shapely.get_parts(shape):
            x, y = shapely.get_coordinates(part).T
            sheet.axes.plot(x, y, color="white", linewidth=3.4, zorder=4, solid_capstyle="round")
            if shut:
                sheet.axes.plot(x, y, color=SHUT, linewidth=2.8, linestyle=SHUT_DASH, zorder=4.5)
            else:
                sheet.axes.plot(x, y, color=TRAIL, linewidth=1.2, zorder=5)
    _arrows(sheet, plan.stations[~plan.stations["trail"].astype(str).isin(closed)])


def _arrows(sheet: MapSheet, stations: pd.DataFrame) -> None:
    """Heads in the direction of loaded travel, evenly along each trail."""
    from matplotlib.path import Path

    head = Path([(-0.6, -1.0), (0.0, 1.0), (0.6, -1.0), (0.0, -0.55), (-0.6, -1.0)])
    step = max(60.0, 0.16 * (sheet.window[2] - sheet.window[0]))
    for _, part in stations.groupby(stations["trail"].astype(str), sort=False):
        chainage = part["chainage_m"].to_numpy(dtype=float)
        length = float(part["length_m"].sum())
        count = max(1, int(length // step))
        for wanted in (np.arange(count) + 0.5) / count * length:
            row = part.iloc[int(np.argmin(np.abs(chainage - wanted)))]
            heading = float(row["heading_deg"])
            if not np.isfinite(heading):
                continue
            turned = np.radians(-heading)
            turn = np.array([[np.cos(turned), -np.sin(turned)], [np.sin(turned), np.cos(turned)]])
            sheet.axes.plot(
                row["x_m"],
                row["y_m"],
                marker=Path(head.vertices @ turn.T, head.codes),
                markersize=1.5 * sheet.font_pt,
                color=INK,
                markeredgecolor="white",
                markeredgewidth=0.5,
                linestyle="none",
                zorder=6,
            )
