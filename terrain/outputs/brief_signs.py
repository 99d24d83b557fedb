"""Signs on the map of the brief: landings, emergency point, crossings, stretches, names.

What forbids lies above everything else. Signs that would hide what they tell of stand beside it.
"""

from __future__ import annotations

import shapely

from terrain.decision.results import Plan
from terrain.outputs.brief_labels import INK, MapSheet
from terrain.outputs.brief_legend import CLOSED, EMERGENCY, SHUT, STOP, TRAIL, WATER, WEAK
from terrain.outputs.brief_shut import (
    IN_WATER,
    KEEP_OUT,
    ON_CLOSED,
    closed_trails,
    stretch_places,
    water_stops,
)
from terrain.outputs.brief_words import short_name
from terrain.outputs.catalogue import Catalogue
from terrain.outputs.geometry import middle_of
from terrain.outputs.page_parts import keyed

__all__ = ["draw_places", "draw_stretches", "draw_trail_names"]

_NAME = 12
_ABOVE_ALL = 9.6


def draw_places(sheet: MapSheet, plan: Plan, words: Catalogue) -> None:
    """Landings, then the emergency point, then crossings; each keeps its place free of names."""
    size = sheet.font_pt
    landings = keyed(plan.landings, "landing")
    marks = list(zip(landings["landing"].astype(str), plan.landings.geometry.values, strict=True))
    for _, shape in marks:
        _mark(sheet, shape, "^", INK, "white", 1.4)
    for name, shape in marks:
        _name(sheet, name, shape, bold=True)
    point = plan.emergency
    if point is not None and sheet.inside(point.x_m, point.y_m):
        _emergency(sheet, shapely.Point(point.x_m, point.y_m), words.say("Emergency"))
    wet = plan.wet_ground
    if wet is None or wet.crossings is None:
        return
    for name, shape in wet.crossings.geometry.items():
        at = middle_of(shape)
        if not sheet.inside(at.x, at.y):
            continue
        _mark(sheet, at, "s", "white", WATER, 0.5)
        places = sheet.around(at.x, at.y, 1.9 * size)
        sheet.label(short_name(str(name), _NAME), (at.x, at.y), places, edge=WATER, lead=True)


def _emergency(sheet: MapSheet, at: shapely.Point, title: str) -> None:
    """A green square with a white cross; where a sign stands already, a name with a line to it."""
    x, y = sheet.on_board(at.x, at.y)
    half = 0.6 * sheet.font_pt
    free = sheet.board.is_free((x - half, y - half, x + half, y + half))
    if free:
        _mark(sheet, at, "s", EMERGENCY, "white", 1.1)
        sheet.axes.plot(
            at.x,
            at.y,
            marker="+",
            markersize=0.9 * sheet.font_pt,
            markeredgewidth=1.5,
            color="white",
            zorder=9.2,
        )
    places = sheet.around(at.x, at.y, 2.2 * sheet.font_pt)
    sheet.label(
        title if free else f"+ {title}",
        (at.x, at.y),
        places,
        fill=EMERGENCY,
        ink="white",
        bold=True,
        lead=True,
    )


def draw_stretches(sheet: MapSheet, plan: Plan) -> None:
    """Weak stretches as a broad band, those to keep out of dark with crosses above everything.

    Water without a crossing has a sign of its own. Weak stretches on closed trails are left out:
    the whole trail is closed.
    """
    table, places = plan.bottlenecks, stretch_places(plan)
    stops = water_stops(plan)
    for stop in stops:
        if sheet.inside(stop.point.x, stop.point.y):
            _mark(sheet, stop.point, "X", STOP, INK, 1.6, above=True)
    named = []
    if table is not None:
        shown = [row for row, place in enumerate(places) if place != ON_CLOSED]
        for row in shown:
            _band(sheet, table.geometry.iloc[row], shut=places[row] == KEEP_OUT)
        for row in sorted(shown, key=lambda row: places[row] not in (KEEP_OUT, IN_WATER)):
            name, shape = str(table["stretch"].iloc[row]), table.geometry.iloc[row]
            _stretch_name(sheet, name, middle_of(shape), places[row])
            if places[row] == IN_WATER:
                named.append((str(table["trail"].iloc[row]), shape))
    for stop in stops:
        met = any(trail == stop.trail and shape.distance(stop.point) < 1 for trail, shape in named)
        if not met:
            _stretch_name(sheet, stop.name, stop.point, IN_WATER)


def _band(sheet: MapSheet, shape: shapely.Geometry, *, shut: bool) -> None:
    coordinates = shapely.get_coordinates(shape)
    if not len(coordinates):
        return
    x, y = coordinates.T
    level = _ABOVE_ALL - 0.2 if shut else 6.5
    colour = CLOSED if shut else WEAK
    sheet.axes.plot(x, y, color=INK, linewidth=5.6, zorder=level, solid_capstyle="butt")
    sheet.axes.plot(x, y, color=colour, linewidth=4.6, zorder=level + 0.1, solid_capstyle="butt")
    if shut:
        _mark(sheet, middle_of(shape), "X", CLOSED, "white", 1.7, above=True)


def _stretch_name(sheet: MapSheet, name: str, at: shapely.Point, place: str) -> None:
    if not sheet.inside(at.x, at.y):
        return
    fill, ink = {KEEP_OUT: (CLOSED, "white"), IN_WATER: (STOP, INK)}.get(place, ("#ffe9b8", INK))
    places = sheet.around(at.x, at.y, 2.2 * sheet.font_pt)
    name = short_name(name, _NAME)
    sheet.label(name, (at.x, at.y), places, fill=fill, ink=ink, edge=INK, bold=True, lead=True)


def _mark(
    sheet: MapSheet,
    at: shapely.Point,
    marker: str,
    fill: str,
    edge: str,
    size: float,
    *,
    above: bool = False,
) -> None:
    """Draw a sign of ``size`` letters and keep names off it."""
    if not sheet.inside(at.x, at.y):
        return
    sheet.axes.plot(
        at.x,
        at.y,
        marker=marker,
        markersize=size * sheet.font_pt,
        markerfacecolor=fill,
        markeredgecolor=edge,
        markeredgewidth=0.9,
        linestyle="none",
        zorder=_ABOVE_ALL if above else 9,
    )
    x, y = sheet.on_board(at.x, at.y)
    half = 0.6 * size * sheet.font_pt
    sheet.board.block((x - half, y - half, x + half, y + half))


def _name(sheet: MapSheet, name: str, at: shapely.Point, *, bold: bool) -> None:
    if sheet.inside(at.x, at.y):
        places = sheet.around(at.x, at.y, 1.9 * sheet.font_pt)
        sheet.label(short_name(name, _NAME), (at.x, at.y), places, bold=bold, edge=INK, lead=True)


def draw_trail_names(sheet: MapSheet, plan: Plan, words: Catalogue) -> None:
    """A name on each trail, where nothing else is; "closed" behind that of a closed one."""
    closed = set(closed_trails(plan))
    trails = keyed(plan.trails, "trail")
    for name, shape in zip(trails["trail"].astype(str), plan.trails.geometry.values, strict=True):
        shares = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)
        on_line = [shape.interpolate(share, normalized=True) for share in shares]
        seen = [point for point in on_line if sheet.inside(point.x, point.y)]
        if not seen:
            continue
        places = [sheet.on_board(point.x, point.y) for point in seen]
        places += sheet.around(seen[0].x, seen[0].y, 1.6 * sheet.font_pt)
        shut = name in closed
        text = short_name(name, _NAME)
        sheet.label(
            f"{text} {words.say('closed')}" if shut else text,
            (seen[0].x, seen[0].y),
            places,
            fill="#dedede" if shut else "white",
            edge=SHUT if shut else TRAIL,
            bold=True,
        )
