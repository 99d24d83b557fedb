"""The map of the brief, drawn from the data: trails and stretches with their names, on paper.

Everything is drawn in the working CRS, so a figure of :func:`draw_map` fits its window exactly.
"""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from terrain.decision.results import Plan
from terrain.outputs.brief_ground import closed_stretches
from terrain.outputs.brief_labels import INK, LabelBoard, MapSheet
from terrain.outputs.brief_legend import (
    CLOSED,
    EMERGENCY,
    TRAIL,
    WATER,
    WEAK,
    draw_legend,
    legend_columns,
    legend_entries,
)
from terrain.outputs.brief_sheet import draw_furniture, draw_grid, draw_ground
from terrain.outputs.brief_words import short_name
from terrain.outputs.catalogue import Catalogue, catalogue
from terrain.outputs.geometry import middle_of
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
_NAME = 12


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
    axes: Axes, plan: Plan, window: Window, words: Catalogue, font_pt: float = 6.0
) -> None:
    """Draw the map over all of ``axes``, whose limits become ``window`` (metres, working CRS).

    Bottom to top: hillshade and contours, water and machine-free strips, boundary, trails with
    arrows in the direction of loaded travel, weak and closed stretches, crossings, landings,
    emergency point, names. Scale bar in metres and feet, arrow to grid north.
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
    sheet = MapSheet(axes, board, window, font_pt)
    draw_ground(axes, plan, window)
    _lines(sheet, plan)
    draw_furniture(axes, board, window, font_pt)
    _stretches(sheet, plan)
    _points(sheet, plan, words)
    _trail_names(sheet, plan)


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
    """Trails in black on a white casing, with arrows in the direction of loaded travel."""
    from matplotlib.path import Path

    for shape in plan.trails.geometry.values:
        for part in shapely.get_parts(shape):
            x, y = shapely.get_coordinates(part).T
            sheet.axes.plot(x, y, color="white", linewidth=3.0, zorder=4, solid_capstyle="round")
            sheet.axes.plot(x, y, color=TRAIL, linewidth=1.2, zorder=5, solid_capstyle="round")
    head = Path([(-0.6, -1.0), (0.0, 1.0), (0.6, -1.0), (0.0, -0.55), (-0.6, -1.0)])
    stations = plan.stations
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


def _stretches(sheet: MapSheet, plan: Plan) -> None:
    """Weak stretches as a broad band, closed ones dark with crosses; their names beside them."""
    table = plan.bottlenecks
    if table is None or not len(table):
        return
    closed = closed_stretches(plan)
    for row, shape in enumerate(table.geometry.values):
        shut = str(table["stretch"].iloc[row]) in closed
        coordinates = shapely.get_coordinates(shape)
        if not len(coordinates):
            continue
        colour = CLOSED if shut else WEAK
        x, y = coordinates.T
        sheet.axes.plot(x, y, color=INK, linewidth=5.6, zorder=6.5, solid_capstyle="butt")
        sheet.axes.plot(x, y, color=colour, linewidth=4.6, zorder=6.6, solid_capstyle="butt")
        if shut:
            middle = shape.interpolate(0.5, normalized=True)
            sheet.axes.plot(
                middle.x,
                middle.y,
                marker="x",
                markersize=1.3 * sheet.font_pt,
                markeredgewidth=2.0,
                color=CLOSED,
                zorder=7,
            )
            sheet.board.block(_square(sheet, middle.x, middle.y, 0.7 * sheet.font_pt))
    for row, shape in enumerate(table.geometry.values):
        shut = str(table["stretch"].iloc[row]) in closed
        middle = shape.interpolate(0.5, normalized=True)
        if not sheet.inside(middle.x, middle.y):
            continue
        sheet.label(
            short_name(str(table["stretch"].iloc[row]), _NAME),
            (middle.x, middle.y),
            sheet.around(middle.x, middle.y, 2.2 * sheet.font_pt),
            fill=CLOSED if shut else "#ffe9b8",
            ink="white" if shut else INK,
            edge=INK,
            bold=True,
            lead=True,
        )


def _points(sheet: MapSheet, plan: Plan, words: Catalogue) -> None:
    """Crossings, landings and the emergency point."""
    size = sheet.font_pt
    wet = plan.wet_ground
    if wet is not None and wet.crossings is not None:
        for name, shape in wet.crossings.geometry.items():
            at = middle_of(shape)
            _sign(sheet, at.x, at.y, str(name), "s", "white", WATER, INK)
    landings = keyed(plan.landings, "landing")
    for name, shape in zip(landings["landing"], plan.landings.geometry.values, strict=True):
        _sign(sheet, shape.x, shape.y, str(name), "^", INK, INK, INK, bold=True)
    point = plan.emergency
    if point is not None and sheet.inside(point.x_m, point.y_m):
        title = words.say("Emergency")
        _sign(sheet, point.x_m, point.y_m, title, "s", EMERGENCY, "white", INK, bold=True)
        sheet.axes.plot(
            point.x_m,
            point.y_m,
            marker="+",
            markersize=0.9 * size,
            markeredgewidth=1.5,
            color="white",
            zorder=9.5,
        )


def _sign(
    sheet: MapSheet,
    x_m: float,
    y_m: float,
    name: str,
    marker: str,
    fill: str,
    edge: str,
    ink: str,
    *,
    bold: bool = False,
) -> None:
    if not sheet.inside(x_m, y_m):
        return
    sheet.axes.plot(
        x_m,
        y_m,
        marker=marker,
        markersize=1.1 * sheet.font_pt,
        markerfacecolor=fill,
        markeredgecolor=edge,
        markeredgewidth=1.2,
        linestyle="none",
        zorder=9,
    )
    sheet.board.block(_square(sheet, x_m, y_m, 0.7 * sheet.font_pt))
    places = sheet.around(x_m, y_m, 1.7 * sheet.font_pt)
    sheet.label(short_name(name, _NAME), (x_m, y_m), places, ink=ink, bold=bold)


def _square(
    sheet: MapSheet, x_m: float, y_m: float, half_pt: float
) -> tuple[float, float, float, float]:
    x, y = sheet.on_board(x_m, y_m)
    return (x - half_pt, y - half_pt, x + half_pt, y + half_pt)


def _trail_names(sheet: MapSheet, plan: Plan) -> None:
    """A name on each trail, where nothing else is."""
    trails = keyed(plan.trails, "trail")
    for name, shape in zip(trails["trail"], plan.trails.geometry.values, strict=True):
        shares = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)
        on_line = [shape.interpolate(share, normalized=True) for share in shares]
        seen = [point for point in on_line if sheet.inside(point.x, point.y)]
        if not seen:
            continue
        places = [sheet.on_board(point.x, point.y) for point in seen]
        places += sheet.around(seen[0].x, seen[0].y, 1.6 * sheet.font_pt)
        sheet.label(
            short_name(str(name), _NAME), (seen[0].x, seen[0].y), places, edge=TRAIL, bold=True
        )
