"""A detour round a stretch: the best line across the surface, then looked at like any trail.

The search is a shortest way on a lattice of places with sixteen directions. Fewest wet metres come
first, then the shortest length: no exchange rate between the two is made up. The line found is then
drawn into the block in place of the trail and looked at anew; only what that look confirms is
offered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree
from shapely.ops import substring

from terrain.decision.evaluation import evaluate
from terrain.decision.look_along import look_along
from terrain.decision.remedy_case import Case, metres
from terrain.decision.reroute_ground import (
    Corridor,
    corridor_along,
    slope_limits,
)
from terrain.decision.situation import Situation
from terrain.errors import errors_in
from terrain.models.soil import NO_TRAFFIC_CLASS
from terrain.stations.network import build_network
from terrain.stations.routes import find_routes

__all__ = ["Detour", "Reroutes", "line_across"]

LEAD_M = 10.0
"""A detour leaves the trail so far before the stretch and returns so far behind it.

Planning assumption: about a machine's length.
"""
NODE_M = 4.0
"""Distance between the places at which a line may turn, metres (planning assumption)."""

_WET = 1e5  # a wet metre counts before any number of dry ones: first fewest wet, then shortest
_CORNER = 0.01  # of two lines of one length, the one with fewer corners
_FURTHEST = 25  # places that one straight piece may skip when the line is drawn straight
_REACH = 2.5  # the trail's ends are linked to places up to so many places off
_DIRECTIONS = np.array(
    [(r, c) for r in range(-2, 3) for c in range(-2, 3) if np.gcd(r, c) == 1], dtype=np.int64
)
_WALK = "Curves, stones and stumps are not looked at: walk the line before it is marked."


@dataclass(frozen=True, slots=True)
class Detour:
    """A confirmed line: ``line`` runs as the trail is drawn; lengths in metres, slopes ratios."""

    line: shapely.LineString
    replaced_m: float
    worst_reserve: float
    max_grade: float
    max_cross: float
    wet_m: float
    moved_m: float


class Reroutes:
    """Searches detours; a corridor and a line that were looked at once are kept."""

    def __init__(self, situation: Situation):
        self._situation = situation
        self._corridors: dict[tuple, Corridor] = {}
        self._found: dict[tuple, Detour | str] = {}

    def row(self, case: Case) -> tuple[dict[str, object], dict[str, object] | None]:
        """A row of the table ``remedies``, and one of ``reroutes`` where a detour is offered."""
        found = self.find(case)
        if isinstance(found, str):
            return case.row("reroute", found, "no", case.failing_m, 0.0), None
        length = float(found.line.length)
        added = length - found.replaced_m
        longer = f"{metres(abs(added))} {'longer' if added >= 0 else 'shorter'}"
        told = (
            f"Drive {metres(length)} of new line in place of {metres(found.replaced_m)} of "
            f"{case.trail}, {longer}."
        )
        solved = "yes" if found.moved_m == 0 else "partly"
        least = found.worst_reserve
        row = case.row(
            "reroute", told, solved, 0.0, found.moved_m, least, added_m=added, note=_WALK
        )
        return row, {
            "stretch": case.stretch,
            "setup": case.setup,
            "length_m": length,
            "replaced_m": found.replaced_m,
            "worst_reserve": found.worst_reserve,
            "max_grade": found.max_grade,
            "max_cross": found.max_cross,
            "wet_m": found.wet_m,
            "geometry": found.line,
        }

    def find(self, case: Case) -> Detour | str:
        """The detour for a case, or the reason in words why none is offered."""
        start_m, end_m = self._ends(case)
        key = (case.trail, start_m, end_m, case.setup)
        if key not in self._found:
            self._found[key] = self._search(case, start_m, end_m)
        return self._found[key]

    def _ends(self, case: Case) -> tuple[float, float]:
        """Chainages where the detour leaves and returns: beyond all that is short next to it."""
        stations = self._situation.along.stations
        own = np.flatnonzero((stations["trail"] == case.trail).to_numpy())
        chainage = stations["chainage_m"].to_numpy(dtype=float)
        own = own[np.argsort(chainage[own], kind="stable")]
        bad = case.failing[own]
        first = int(np.searchsorted(chainage[own], case.from_m))
        last = int(np.searchsorted(chainage[own], case.to_m)) - 1
        while first > 0 and bad[first - 1]:
            first -= 1
        while last < len(own) - 1 and bad[last + 1]:
            last += 1
        half = case.length_m / 2
        end = float(self._situation.block.trails.geometry.loc[case.trail].length)
        start_m = max(chainage[own[first]] - half[own[first]] - LEAD_M, 0.0)
        return float(start_m), float(min(chainage[own[last]] + half[own[last]] + LEAD_M, end))

    def _search(self, case: Case, start_m: float, end_m: float) -> Detour | str:
        situation = self._situation
        trail = situation.block.trails.geometry.loc[case.trail]
        part = substring(trail, start_m, end_m)
        if part.geom_type != "LineString" or part.length == 0:
            return "No other line: the trail is too short."
        key = (case.trail, start_m, end_m)
        if key not in self._corridors:
            like = situation.along.stations.iloc[case.rows[0]]
            self._corridors[key] = corridor_along(situation, part, like)
        heading = situation.along.stations["heading_deg"].to_numpy()[case.rows[0]]
        ahead = _points_on(trail, case.from_m, case.to_m)
        as_drawn = float(np.cos(np.radians(heading - _bearing(*ahead)))) >= 0
        ends = np.array([part.coords[0][:2], part.coords[-1][:2]])
        decision = situation.settings.decision
        width = metres(decision.reroute_corridor_m)
        reason = f"No line within {width} to each side passes."
        for least in (0.0, decision.thin_reserve):  # where a bare pass is not confirmed, ask more
            line = line_across(
                situation, case, self._corridors[key], ends if as_drawn else ends[::-1], least
            )
            if line is None:
                break
            drawn = line if as_drawn else line.reverse()
            found = _confirm(situation, case, drawn, start_m, end_m)
            if isinstance(found, Detour):
                return found
            reason = f"A line was found within {width}, but it is not offered: {found}."
        return reason


def line_across(
    situation: Situation,
    case: Case,
    corridor: Corridor,
    ends: NDArray[np.float64],
    least: float = 0.0,
) -> shapely.LineString | None:
    """The line from the first to the second of ``ends`` that the setup can be driven on, loaded.

    Parameters
    ----------
    situation : Situation
    case : Case
    corridor : Corridor
    ends : ndarray, shape (2, 2)
        Easting and northing of both ends, metres.
    least : float
        Reserve asked for, ratio.

    Returns
    -------
    LineString or None
        The best line, drawn straight where that still passes; None where there is no way.
    """
    search = _Search(situation, case, corridor, least)
    points = search.best_way(ends)
    return None if points is None else shapely.LineString(points[search.straightened(points)])


class _Search:
    """Shortest ways on the places of a corridor for one setup."""

    def __init__(self, situation: Situation, case: Case, corridor: Corridor, least: float):
        self.corridor = corridor
        self._ask = (case.item, situation, least)

    def best_way(self, ends: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """Coordinates of the turning places of the best way, both ends included; None without."""
        corridor = self.corridor
        every = max(1, round(NODE_M / corridor.place_m))
        row, column = (
            a.ravel() for a in np.mgrid[tuple(slice(0, n, every) for n in corridor.free.shape)]
        )
        free = corridor.free[row, column]
        row, column = row[free], column[free]
        if not len(row):
            return None
        xy = np.stack(
            [
                corridor.west_m + column * corridor.place_m,
                corridor.north_m - row * corridor.place_m,
            ],
            axis=1,
        )
        links = [self._between_places(row, column, every)]
        reach = _REACH * every * corridor.place_m
        for end, first in ((ends[0], True), (ends[1], False)):
            near = np.flatnonzero(np.hypot(*(xy - end).T) <= reach)
            here = np.broadcast_to(end, (len(near), 2))
            pair = (here, xy[near]) if first else (xy[near], here)
            good, wet = self.straight(*pair)
            number = np.full(int(good.sum()), len(row) + (0 if first else 1))
            length = np.hypot(*(pair[1] - pair[0]).T)[good]
            order = (number, near[good]) if first else (near[good], number)
            links.append((*order, length * (1 + _WET * wet[good]) + 1e-6))
        source, target, cost = (np.concatenate(part) for part in zip(*links, strict=True))
        size = len(row) + 2
        graph = coo_array((cost, (source, target)), shape=(size, size)).tocsr()
        distance, previous = dijkstra(graph, indices=size - 2, return_predecessors=True)
        if not np.isfinite(distance[size - 1]):
            return None
        way = [size - 1]
        while previous[way[-1]] >= 0:
            way.append(int(previous[way[-1]]))
        return np.concatenate([xy, ends])[way[::-1]]

    def _between_places(
        self, row: NDArray[np.int64], column: NDArray[np.int64], every: int
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
        """Links between neighbouring places (source, target, cost) in sixteen directions."""
        corridor = self.corridor
        rows, columns = corridor.free.shape
        number = np.full(corridor.free.shape, -1, dtype=np.int64)
        number[row, column] = np.arange(len(row))
        headings = np.degrees(np.arctan2(_DIRECTIONS[:, 1], -_DIRECTIONS[:, 0])) % 360.0
        place = row * columns + column
        allowed = corridor.passes(
            np.tile(place, len(headings)), np.repeat(headings, len(place)), *self._ask
        ).reshape(len(headings), -1)
        found = []
        for k, (down, right) in enumerate(_DIRECTIONS * every):
            r, c = row + down, column + right
            here = np.flatnonzero((r >= 0) & (r < rows) & (c >= 0) & (c < columns))
            there = number[r[here], c[here]]
            here, there = here[there >= 0], there[there >= 0]
            good = allowed[k, here] & allowed[k, there]
            parts = max(abs(down), abs(right))
            for part in range(1, parts):
                between = (
                    np.round(row[here] + down * part / parts).astype(np.int64),
                    np.round(column[here] + right * part / parts).astype(np.int64),
                )
                good &= corridor.free[between]
            here, there = here[good], there[good]
            length = float(np.hypot(down, right)) * corridor.place_m
            wet = corridor.wet[row[here], column[here]].astype(float)
            wet = (wet + corridor.wet[row[there], column[there]]) / 2
            found.append((here, there, length * (1 + _WET * wet)))
        source, target, cost = (np.concatenate(part) for part in zip(*found, strict=True))
        return source, target, cost

    def straight(
        self, start: NDArray[np.float64], end: NDArray[np.float64]
    ) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
        """Whether straight pieces pass all along, and which share of each is wet.

        ``start`` and ``end`` have shape (n, 2), metres.
        """
        corridor, step = self.corridor, end - start
        length = np.hypot(*step.T)
        count = np.maximum(np.ceil(length / corridor.place_m).astype(np.int64), 1) + 1
        piece = np.repeat(np.arange(len(count)), count)
        nth = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
        xy = start[piece] + (nth / (count[piece] - 1))[:, None] * step[piece]
        place, inside = corridor.index(xy[:, 0], xy[:, 1])
        good = inside & corridor.free.ravel()[place]
        heading = (np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360.0)[piece]
        good &= corridor.passes(place, heading, *self._ask)
        passes = np.bincount(piece, ~good, minlength=len(count)) == 0
        wet = np.bincount(piece, corridor.wet.ravel()[place], minlength=len(count)) / count
        return passes, wet

    def straightened(self, points: NDArray[np.float64]) -> list[int]:
        """Numbers of the points that stay when pieces are drawn straight that still pass.

        A piece between neighbours always counts: the search has found it passable.
        """
        n = len(points)
        pairs = np.array([(i, j) for i in range(n) for j in range(i + 1, min(n, i + _FURTHEST))])
        passes, wet = self.straight(points[pairs[:, 0]], points[pairs[:, 1]])
        length = np.hypot(*(points[pairs[:, 1]] - points[pairs[:, 0]]).T)
        cost = length * (1 + _WET * wet) + _CORNER
        best, back = [0.0] + [np.inf] * (n - 1), [0] * n
        for (i, j), passed, more in zip(pairs, passes, cost, strict=True):
            if (passed or j == i + 1) and best[i] + more < best[j]:
                best[j], back[j] = best[i] + float(more), int(i)
        way = [n - 1]
        while way[-1] > 0:
            way.append(back[way[-1]])
        return way[::-1]


def _confirm(
    situation: Situation, case: Case, line: shapely.LineString, start_m: float, end_m: float
) -> Detour | str:
    """Draw the line into the block, look along every trail anew and hold it against the rules."""
    block, snap_m = situation.block, situation.settings.terrain.snap_m
    old = block.trails.geometry.loc[case.trail]
    parts = [np.asarray(line.coords)[:, :2]]
    if start_m > 0:
        parts.insert(0, np.asarray(substring(old, 0.0, start_m).coords)[:-1, :2])
    if end_m < old.length - 1e-6:
        parts.append(np.asarray(substring(old, end_m, old.length).coords)[1:, :2])
    shapes = block.trails.geometry.copy()
    shapes.loc[case.trail] = shapely.LineString(np.concatenate(parts))
    changed = replace(block, trails=block.trails.set_geometry(shapes))
    network, issues = build_network(changed.trails, block.landings, snap_m)
    if not errors_in(issues):
        issues = find_routes(network, changed.trails, block.landings, snap_m)[1]
    if errors_in(issues):
        return "another trail that joins there would lose its way to the landing"
    along = look_along(changed, network, situation.surfaces, situation.water, situation.strength)
    stations = along.stations
    evaluation, _ = evaluate(stations, [case.item], situation.settings)
    reserve = evaluation.reserve[:, 0]
    middle = stations["chainage_m"].to_numpy(dtype=float)
    length = stations["length_m"].to_numpy(dtype=float)
    own = (stations["trail"] == case.trail).to_numpy()
    detour = own & (middle + length / 2 > start_m) & (middle - length / 2 < start_m + line.length)
    if np.isnan(reserve[detour]).any():
        return "not all of it is known"
    if (reserve[detour] < 0).any():
        return f"looked at as a trail, {metres(length[detour] @ (reserve[detour] < 0))} fall short"
    if stations["in_buffer"].fillna(False).to_numpy(dtype=bool)[detour].any():
        return "looked at as a trail, it touches a machine-free strip"
    if (stations["ground_class"].fillna(0) >= NO_TRAFFIC_CLASS).to_numpy(dtype=bool)[detour].any():
        return "looked at as a trail, it touches ground for no traffic"
    wet = stations["wet"].fillna(True).to_numpy(dtype=bool)
    limits = slope_limits(situation, case.item)
    grade, cross = (stations[n].to_numpy(dtype=float)[detour] for n in ("grade", "cross_slope"))
    if not limits.hold(grade, cross).all():
        return "looked at as a trail, it is steeper than the trails that are planned"
    # stations of the trail are spaced anew, so one may overlap metres that were short before
    old_short = situation.along.stations.loc[case.failing, ["x_m", "y_m"]].to_numpy()
    gap, _ = cKDTree(old_short).query(stations[["x_m", "y_m"]].to_numpy())
    moved = ~detour & (reserve < 0) & (gap > length)
    return Detour(
        line=line,
        replaced_m=end_m - start_m,
        worst_reserve=float(reserve[detour].min()),
        max_grade=float(np.abs(grade).max()),
        max_cross=float(np.abs(cross).max()),
        wet_m=float(length[detour] @ wet[detour]),
        moved_m=float(length @ moved),
    )


def _points_on(
    trail: shapely.LineString, start_m: float, end_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    ends = shapely.line_interpolate_point(trail, [start_m, end_m])
    found = shapely.get_coordinates(ends)
    return found[0], found[1]


def _bearing(start: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    return float(np.degrees(np.arctan2(end[0] - start[0], end[1] - start[1])))
