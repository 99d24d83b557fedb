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
    closed_crossings,
    closed_trails,
    stretch_places,
    water_stops,
)
from terrain.outputs.brief_words import short_name
from terrain.outputs.catalogue import Catalogue
from terrain.outputs.geometry import middle_of
from terrain.outputs.page_parts import keyed

__all__ = ["draw_places", "draw_stretches", "draw_trail_names", "mark_ground"]

_NAME = 12
_ABOVE_ALL = 9.6
_URGENT = {KEEP_OUT: 0, IN_WATER: 0}
_CROSS = 1.05
"""Size of the crosses in letters: no larger, or they would hide a crossing beside them."""


def mark_ground(sheet: MapSheet, plan: Plan) -> None:
    """Tell the board where trails and shown stretches lie, so that names keep off them."""
    trails = keyed(plan.trails, "trail")
    for name, shape in zip(trails["trail"].astype(str), plan.trails.geometry.values, strict=True):
        sheet.board.mark_ground(_steps(sheet, shape, 5.0), name)
    if plan.bottlenecks is None:
        return
    for name, shape, place in zip(
        plan.bottlenecks["trail"].astype(str),
        plan.bottlenecks.geometry,
        stretch_places(plan),
        strict=True,
    ):
        if place != ON_CLOSED and not shape.is_empty:
            sheet.board.mark_ground(_steps(sheet, shape, 2.5), "" if place == KEEP_OUT else name)


def _steps(sheet: MapSheet, shape: shapely.Geometry, step_pt: float) -> list[tuple[float, float]]:
    """Points along a line, ``step_pt`` apart, on the board."""
    count = max(2, int(shape.length * sheet.points_per_m / step_pt) + 1)
    found = [shape.interpolate(k / (count - 1), normalized=True) for k in range(count)]
    return [sheet.on_board(point.x, point.y) for point in found]


def draw_places(sheet: MapSheet, plan: Plan, words: Catalogue) -> None:
    """Landings, emergency point, crosses and crossings, then the names that are not of stretches.

    Every sign keeps its place free of names. A crossing in use lies above the crosses: beside
    water to stay out of, it is the way that is left. One of closed trails only is grey.
    """
    size = sheet.font_pt
    landings = keyed(plan.landings, "landing")
    marks = list(zip(landings["landing"].astype(str), plan.landings.geometry.values, strict=True))
    for _, shape in marks:
        _mark(sheet, shape, "^", INK, "white", 1.4)
    stops, shut = [stop.point for stop in water_stops(plan)], _shut_places(plan)
    for fill, edge, points in ((STOP, INK, stops), (CLOSED, "white", shut)):
        for at in points:
            _mark(sheet, at, "X", fill, edge, _CROSS, level=_ABOVE_ALL)
    wet = plan.wet_ground
    found: dict[str, shapely.Point] = {}
    if wet is not None and wet.crossings is not None:
        found = {str(name): middle_of(shape) for name, shape in wet.crossings.geometry.items()}
        found = {name: at for name, at in found.items() if sheet.inside(at.x, at.y)}
    unused = closed_crossings(plan)
    for name, at in found.items():
        edge, level = (SHUT, 9.0) if name in unused else (WATER, _ABOVE_ALL + 0.2)
        _mark(sheet, at, "s", "white", edge, 0.8, level=level)
    signs = [(at.x, at.y) for at in (*found.values(), *stops, *shut)]
    for name, at in found.items():
        places = sheet.around(at.x, at.y, 1.9 * size, signs)
        edge = SHUT if name in unused else WATER
        sheet.label(short_name(name, _NAME), (at.x, at.y), places, edge=edge, lead=True)
    for name, shape in marks:
        _name(sheet, name, shape, bold=True)
    point = plan.emergency
    if point is not None and sheet.inside(point.x_m, point.y_m):
        _emergency(sheet, shapely.Point(point.x_m, point.y_m), words.say("Emergency"))


def _shut_places(plan: Plan) -> list[shapely.Point]:
    """Middles of the stretches to keep out of."""
    shapes = [] if plan.bottlenecks is None else list(plan.bottlenecks.geometry)
    return [
        middle_of(shape)
        for shape, place in zip(shapes, stretch_places(plan), strict=True)
        if place == KEEP_OUT and not shape.is_empty
    ]


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
    """Weak stretches as a broad band, those to keep out of in dark red, and their names.

    Weak stretches on closed trails are left out: the whole trail is closed. Neighbours of one look
    share a name: the second one gives its metres only.
    """
    table, places = plan.bottlenecks, stretch_places(plan)
    named = []
    if table is not None:
        shown = [row for row, place in enumerate(places) if place != ON_CLOSED]
        for row in shown:
            _band(sheet, table.geometry.iloc[row], shut=places[row] == KEEP_OUT)
        for rows in _neighbours(plan, sorted(shown, key=lambda row: _URGENT.get(places[row], 1))):
            _stretch_name(sheet, *_joint_name(plan, rows), places[rows[0]])
            if places[rows[0]] == IN_WATER:
                named += [(str(table["trail"].iloc[k]), table.geometry.iloc[k]) for k in rows]
    for stop in water_stops(plan):
        met = any(trail == stop.trail and shape.distance(stop.point) < 1 for trail, shape in named)
        if not met:
            _stretch_name(sheet, short_name(stop.name, _NAME), stop.point, IN_WATER)


def _neighbours(plan: Plan, rows: list[int]) -> list[list[int]]:
    """Rows of stretches in their order, each with the rows that go on where it ends."""
    table, places = plan.bottlenecks, stretch_places(plan)
    assert table is not None
    starts = {
        (str(table["trail"].iloc[row]), round(float(table["from_m"].iloc[row])), places[row]): row
        for row in rows
    }
    follower = {
        row: starts.get(
            (str(table["trail"].iloc[row]), round(float(table["to_m"].iloc[row])), places[row])
        )
        for row in rows
    }
    later = {row for row in follower.values() if row is not None}
    found = []
    for row in rows:
        if row in later:
            continue
        chain = [row]
        while (after := follower[chain[-1]]) is not None and after not in chain:
            chain.append(after)
        found.append(chain)
    return found


def _joint_name(plan: Plan, rows: list[int]) -> tuple[str, shapely.Point]:
    """One name for neighbours (``T2-804+809``), and where it points to."""
    table = plan.bottlenecks
    assert table is not None
    names = [short_name(str(table["stretch"].iloc[row]), _NAME) for row in rows]
    text = "+".join([names[0], *(name.rpartition("-")[2] for name in names[1:])])
    if len(rows) == 1:
        return text, middle_of(table.geometry.iloc[rows[0]])
    middle = 0.5 * (table["from_m"].iloc[rows[0]] + table["to_m"].iloc[rows[-1]])
    trails = keyed(plan.trails, "trail")["trail"].astype(str).to_list()
    line = plan.trails.geometry.values[trails.index(str(table["trail"].iloc[rows[0]]))]
    return text, line.interpolate(float(middle))


def _band(sheet: MapSheet, shape: shapely.Geometry, *, shut: bool) -> None:
    coordinates = shapely.get_coordinates(shape)
    if not len(coordinates):
        return
    x, y = coordinates.T
    level = _ABOVE_ALL - 0.2 if shut else 6.5
    colour = CLOSED if shut else WEAK
    sheet.axes.plot(x, y, color=INK, linewidth=5.6, zorder=level, solid_capstyle="butt")
    sheet.axes.plot(x, y, color=colour, linewidth=4.6, zorder=level + 0.1, solid_capstyle="butt")


def _stretch_name(sheet: MapSheet, name: str, at: shapely.Point, place: str) -> None:
    if not sheet.inside(at.x, at.y):
        return
    fill, ink = {KEEP_OUT: (CLOSED, "white"), IN_WATER: (STOP, INK)}.get(place, ("#ffe9b8", INK))
    places = sheet.around(at.x, at.y, 2.2 * sheet.font_pt)
    sheet.label(name, (at.x, at.y), places, fill=fill, ink=ink, edge=INK, bold=True, lead=True)


def _mark(
    sheet: MapSheet,
    at: shapely.Point,
    marker: str,
    fill: str,
    edge: str,
    size: float,
    *,
    level: float = 9.0,
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
        zorder=level,
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
            owner=name,
            along=shape,
        )
