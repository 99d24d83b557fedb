"""The road and the trails of the fictional block, laid over its ground like a planner would.

Each line is given by a few chosen points; between them a least-cost search keeps to bearable grades
and cross slopes. Ends are snapped to a vertex of the line they join.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely import LineString, Point

from terrain.grid import Grid

__all__ = ["DRAWN_UPHILL", "LANDINGS", "ROAD", "TRAILS", "PlannedTrail", "lay_trails", "trace"]

Places = Sequence[tuple[float, float]]

SEARCH_CELL_M = 6.0
MOVES = [
    (a, b) for a in range(-3, 4) for b in range(-3, 4) if (a or b) and np.gcd(abs(a), abs(b)) == 1
]


@dataclass(frozen=True, slots=True)
class PlannedTrail:
    """One trail from its far end toward the landing.

    ``joins`` is the trail or landing where its loads go on. ``places`` are points in metres east
    and north of the south-western corner of the invented country; a ``straight`` trail follows them
    as they are, others avoid steep ground between them. ``volume_m3`` is the timber loaded along
    the trail itself.
    """

    trail: str
    trail_class: str
    joins: str
    volume_m3: float
    places: Places
    straight: bool = False


LANDINGS = {"L1": (608.0, 168.0), "L2": (1000.0, 176.0)}
ROAD: Places = ((190.0, 350.0), LANDINGS["L1"], (786.0, 300.0), LANDINGS["L2"], (1045.0, 182.0))

_T = PlannedTrail
DRAWN_UPHILL = ("T7", "T18")
"""Trails that are digitised away from the landing, as happens."""

TRAILS = (
    _T("T1", "main trail", "L1", 300, ((430, 900), (395, 720), (445, 560), (505, 390), (540, 260))),
    _T(
        "T2",
        "main trail",
        "L2",
        320,
        ((1335, 800), (1290, 600), (1130, 440), (1010, 335), (925, 236)),
    ),
    _T("T3", "base trail", "L1", 330, ((760, 920), (720, 740), (715, 560), (700, 380), (640, 240))),
    _T(
        "T4",
        "base trail",
        "T3",
        260,
        ((1090, 660), (990, 634), (905, 620), (815, 612), (720, 590)),
        straight=True,
    ),
    _T("T5", "base trail", "T1", 180, ((330, 850), (345, 690), (445, 560))),
    _T("T6", "base trail", "T2", 210, ((1060, 920), (1190, 850), (1330, 740))),
    _T("T7", "base trail", "T3", 260, ((590, 920), (590, 760), (640, 610), (705, 450))),
    _T("T8", "base trail", "L2", 150, ((1290, 152), (1170, 170), (1070, 172)), straight=True),
    _T("T9", "strip trail", "T5", 130, ((286, 610), (350, 622), (405, 594))),
    _T("T10", "strip trail", "T9", 60, ((268, 420), (272, 520), (286, 610)), straight=True),
    _T("T11", "strip trail", "T7", 80, ((480, 660), (620, 640))),
    _T("T12", "strip trail", "T2", 110, ((836, 376), (900, 352), (1010, 335)), straight=True),
    _T("T13", "strip trail", "L2", 80, ((850, 52), (925, 105)), straight=True),
    _T("T14", "strip trail", "T8", 80, ((1190, 48), (1150, 178)), straight=True),
    _T("T15", "strip trail", "T8", 120, ((1250, 365), (1238, 235), (1225, 150)), straight=True),
    _T("T16", "strip trail", "T4", 130, ((940, 880), (900, 760), (905, 625))),
    _T("T17", "strip trail", "T4", 110, ((1070, 820), (1050, 720), (1040, 648))),
    _T("T18", "strip trail", "T2", 100, ((1320, 400), (1200, 420), (1140, 440))),
    _T("T19", "strip trail", "T3", 100, ((880, 900), (790, 780), (725, 740))),
    _T("T20", "strip trail", "T3", 80, ((792, 470), (740, 380), (680, 310))),
)


def trace(
    ground: Grid, places: Places, *, grade: float, cross: float = 0.12
) -> NDArray[np.float64]:
    """Trace a line from place to place that avoids steep grades and cross slopes.

    Parameters
    ----------
    ground : Grid
        Elevation in metres.
    places : sequence of (east_m, north_m)
        Where the line must pass, in the coordinates of ``ground``.
    grade, cross : float
        Grade along and slope across the line (ratios) at which a metre costs twice as much.

    Returns
    -------
    ndarray, shape (n, 2)
        Points of the line in metres, rounded corners, first and last place kept.
    """
    west, south, east, north = ground.bounds
    columns = int((east - west) / SEARCH_CELL_M)
    rows = int((north - south) / SEARCH_CELL_M)
    x: NDArray = np.asarray(west + (np.arange(columns) + 0.5) * SEARCH_CELL_M)
    y: NDArray = np.asarray(south + (np.arange(rows) + 0.5) * SEARCH_CELL_M)
    mesh_x, mesh_y = np.meshgrid(x, y)
    z = ground.bilinear(mesh_x, mesh_y)
    along_y, along_x = np.asarray(np.gradient(z, SEARCH_CELL_M))
    index = np.arange(z.size).reshape(z.shape)
    tails, heads, costs = [], [], []
    for a, b in MOVES:
        here = (slice(max(0, -b), rows - max(0, b)), slice(max(0, -a), columns - max(0, a)))
        there = (slice(max(0, b), rows + min(0, b)), slice(max(0, a), columns + min(0, a)))
        step = SEARCH_CELL_M * float(np.hypot(a, b))
        rise = np.abs(z[there] - z[here]) / step
        unit_x, unit_y = a * SEARCH_CELL_M / step, b * SEARCH_CELL_M / step
        across = np.abs(along_x[here] * unit_y - along_y[here] * unit_x)
        tails.append(index[here].ravel())
        heads.append(index[there].ravel())
        costs.append((step * (1 + (rise / grade) ** 3 + (across / cross) ** 2)).ravel())
    links = (np.concatenate(tails), np.concatenate(heads))
    graph = coo_array((np.concatenate(costs), links), shape=(z.size, z.size)).tocsr()
    cells = [
        round((n - y[0]) / SEARCH_CELL_M) * columns + round((e - x[0]) / SEARCH_CELL_M)
        for e, n in places
    ]
    points = [places[0]]
    for start, goal, place in zip(cells[:-1], cells[1:], places[1:], strict=True):
        _cost, before = dijkstra(graph, indices=start, return_predecessors=True)
        leg = []
        while goal != start:
            leg.append((x[goal % columns], y[goal // columns]))
            goal = int(before[goal])
        points += [*leg[:0:-1], place]
    return round_corners(np.array(points))


def round_corners(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Even out a line (n, 2): equal steps, each vertex drawn to its neighbours, corners cut."""
    line = LineString(points)
    count = max(4, int(line.length / 9.0))
    even = np.array(
        [line.interpolate(d).coords[0] for d in np.linspace(0, line.length, count)], dtype=float
    )
    for _ in range(4):
        even[1:-1] = 0.25 * even[:-2] + 0.5 * even[1:-1] + 0.25 * even[2:]
    return np.round(np.array(LineString(even).simplify(0.4).coords), 2)


def join(lines: dict[str, NDArray[np.float64]], name: str, place: tuple[float, float]) -> tuple:
    """Return the point of line ``name`` nearest to ``place``, made a vertex of that line."""
    points = lines[name]
    line = LineString(points)
    distance = line.project(Point(place))
    vertex_at = np.array([line.project(Point(p)) for p in points])
    nearest = int(np.argmin(np.abs(vertex_at - distance)))
    if abs(vertex_at[nearest] - distance) > 2.0:
        new = np.round(line.interpolate(distance).coords[0], 2)
        nearest = int(np.searchsorted(vertex_at, distance))
        lines[name] = points = np.insert(points, nearest, new, axis=0)
    return tuple(points[nearest])


def lay_trails(ground: Grid) -> dict[str, NDArray[np.float64]]:
    """Lay every planned trail; keys are trail ids, values (n, 2) points toward the landing."""
    lines: dict[str, NDArray[np.float64]] = {}
    for plan in TRAILS:
        if plan.joins in LANDINGS:
            end = LANDINGS[plan.joins]
        else:
            end = join(lines, plan.joins, plan.places[-1])
        places = [*plan.places[: None if plan.joins in LANDINGS else -1], end]
        if plan.straight:
            lines[plan.trail] = round_corners(np.array(places, dtype=float))
        else:
            lines[plan.trail] = trace(ground, places, grade=0.14)
    return lines
