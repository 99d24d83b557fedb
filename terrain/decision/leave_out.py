"""What happens when stretches are left out: who still reaches a landing, and which way.

The network is cut at the stations that are left out, without a look at map or water again: every
other station keeps its place and its ground, only its direction may turn round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.assessment import in_state
from terrain.decision.carried import Carried
from terrain.decision.evaluation import evaluate
from terrain.decision.results import Evaluation
from terrain.decision.situation import Situation
from terrain.stations.network import Network
from terrain.stations.routes import Routes, find_routes, ways_to_landing
from terrain.stations.traffic import edge_flow, edge_of

__all__ = ["Heading", "LeftOut", "evaluated_anew", "heading_along", "leave_out"]

_SLOPES = ("grade", "cross_slope", "grade_profile")
_FAR_OFF_M = 1e12  # loose ends of pieces lie at no landing, however near one is
_PIECE = "\x1f"  # parts a trail's name from the number of its piece; no name holds it
_FLOATS = ("reserve_loaded", "reserve_empty", "pressure_kpa", "pressure_ratio")

Parting = tuple[int, int]
"""An edge, and the number of the station along it before which it is parted."""


@dataclass(frozen=True, slots=True)
class Heading:
    """Which way each station is travelled loaded, arrays of shape (n_station,).

    ``as_drawn``: along the trail as drawn. ``to_landing_m``: metres to the landing. ``against``:
    some timber also comes the other way (trails that are assigned to a landing not their nearest).
    """

    as_drawn: NDArray[np.bool_]
    to_landing_m: NDArray[np.float64]
    against: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """The block without some stretches.

    Attributes
    ----------
    kept : ndarray of bool, shape (n_station,)
        Stations that are still driven: neither left out nor cut off.
    cut_off : ndarray of bool, shape (n_station,)
        Stations beyond, from which no landing is reached any more.
    turned, against : ndarray of bool, shape (n_station,)
        Kept stations that are now travelled the other way, or both ways.
    evaluation : Evaluation
        Of the setups asked for, on all stations; NaN where a station is not kept.
    short_m, new_short_m : ndarray, shape (n_setup,)
        Metres short on the kept stations, and those of them that were not short before.
    left_out_m, cut_off_m : float
        Metres of the stretches themselves, and of what is cut off beyond.
    stranded_m3 : float
        Known timber along both that reaches no landing, solid m3; NaN where none of it is known.
    unknown_trails : tuple of str
        Trails of which an unknown volume is stranded: then the figure is a lower bound.
    cut_off_trails : tuple of str
        Trails with metres that are cut off, in order.
    added_m : float
        Mean extra way to the landing over the kept stations that have one, one way, metres.
    """

    kept: NDArray[np.bool_]
    cut_off: NDArray[np.bool_]
    turned: NDArray[np.bool_]
    against: NDArray[np.bool_]
    evaluation: Evaluation
    short_m: NDArray[np.float64]
    new_short_m: NDArray[np.float64]
    left_out_m: float
    cut_off_m: float
    stranded_m3: float
    unknown_trails: tuple[str, ...]
    cut_off_trails: tuple[str, ...]
    added_m: float


def leave_out(
    situation: Situation,
    rows_list: Sequence[NDArray[np.int64]],
    setups: Sequence[str] | None = None,
    parted: Parting | None = None,
) -> LeftOut:
    """Take stretches out of the trails and send the timber the ways that are left.

    Parameters
    ----------
    situation : Situation
    rows_list : sequence of ndarray of int
        Positions of the stations of each stretch.
    setups : sequence of str, optional
        Setups to look at; all scored ones by default.
    parted : (int, int), optional
        Number of an edge, and of its stations along it the first beyond a place over which no
        timber goes any more: what is driven over it now has to go another way round.

    Notes
    -----
    A piece that can no longer reach the landing it is assigned to goes to the nearest. The timber
    along the stretch itself counts as stranded. Slopes, soil and water of the kept stations are
    those of the plan.
    """
    along, block = situation.along, situation.block
    stations, network = along.stations, along.network
    gone = np.zeros(len(stations), dtype=bool)
    for rows in rows_list:
        gone[rows] = True
    edge = edge_of(stations, network)
    pieces, piece_of, trail_of = _cut(stations, network, edge, gone, parted)
    trails = _pieces_frame(block.trails, trail_of)
    snap_m = block.settings.terrain.snap_m
    routes, _ = find_routes(pieces, trails, block.landings, snap_m)
    reached = np.isfinite(routes.forests[0].distance_m[pieces.from_node])
    cut_off = ~gone
    cut_off[~gone] = ~reached[piece_of[~gone]]
    kept = ~gone & ~cut_off
    pieces = _only(pieces, reached)
    number = np.cumsum(reached) - 1
    piece_of[kept], piece_of[~kept] = number[piece_of[kept]], -1
    before = heading_along(stations, edge, network, along.routes)
    turned, added_m = np.zeros(len(stations), dtype=bool), np.nan
    against = np.zeros(len(stations), dtype=bool)
    length = stations["length_m"].to_numpy(dtype=float)
    if kept.any():
        routes, _ = find_routes(pieces, trails, block.landings, snap_m)
        after = heading_along(stations[kept], piece_of[kept], pieces, routes)
        turned[kept] = after.as_drawn != before.as_drawn[kept]
        against[kept] = after.against & ~before.against[kept]
        further = after.to_landing_m - before.to_landing_m[kept]
        longer = further > 1e-6
        added_m = float(np.average(further[longer], weights=length[kept][longer])) if (
            longer.any()
        ) else 0.0  # fmt: skip
    plan = situation.assessment.evaluation
    names = plan.setups if setups is None else tuple(setups)
    columns = [plan.column(name) for name in names]
    items = [situation.assessment.items[k] for k in columns]
    evaluation = evaluated_anew(situation, items, turned, against, ~kept)
    short, was_short = evaluation.reserve < 0, plan.reserve[:, columns] < 0
    volume, unknown = _stranded(situation, ~kept, length)
    return LeftOut(
        kept=kept,
        cut_off=cut_off,
        turned=turned,
        against=against,
        evaluation=evaluation,
        short_m=length @ short,
        new_short_m=length @ (short & ~was_short),
        left_out_m=float(length[gone].sum()),
        cut_off_m=float(length[cut_off].sum()),
        stranded_m3=volume,
        unknown_trails=unknown,
        cut_off_trails=tuple(dict.fromkeys(stations["trail"].to_numpy()[cut_off])),
        added_m=added_m,
    )


def evaluated_anew(
    situation: Situation,
    items: Sequence[Carried],
    turned: NDArray[np.bool_],
    against: NDArray[np.bool_],
    without: NDArray[np.bool_],
    state: str | None = None,
) -> Evaluation:
    """The plan's evaluation of ``items`` with some stations travelled the other way.

    Parameters
    ----------
    situation : Situation
    items : sequence of Carried
        Scored setups of the plan.
    turned, against, without : ndarray of bool, shape (n_station,)
        Travelled the other way; travelled both ways (the smaller reserve counts); not travelled
        (NaN afterwards).
    state : str, optional
        Moisture state; the chosen one by default.
    """
    plan, stations = situation.assessment.evaluation, situation.along.stations
    if state is not None and state != situation.settings.ground.state:
        plan = situation.assessment.evaluations[state]
        stations = in_state(stations, situation.along.states[state])
    columns = np.array([plan.column(item.setup.id) for item in items], dtype=np.int64)
    new = {name: getattr(plan, name)[:, columns].copy() for name in (*_FLOATS, "cause")}
    outside = plan.extrapolated[:, columns].copy()
    rows = np.flatnonzero((turned | against) & ~without)
    if rows.size:
        other = stations.iloc[rows]
        other = other.assign(**{name: -other[name] for name in _SLOPES if name in other})
        found, _ = evaluate(other, items, situation.settings)
        smaller = found.reserve < plan.reserve[np.ix_(rows, columns)]
        take = turned[rows][:, None] & ~against[rows][:, None] | smaller
        for name, values in new.items():
            values[rows] = np.where(take, getattr(found, name), values[rows])
        worse = np.fmax(found.pressure_kpa, plan.pressure_kpa[np.ix_(rows, columns)])
        both = against[rows]
        new["pressure_kpa"][rows[both]] = worse[both]
        new["pressure_ratio"][rows[both]] = np.fmax(
            found.pressure_ratio, plan.pressure_ratio[np.ix_(rows, columns)]
        )[both]
        outside[rows] |= found.extrapolated
    for name in _FLOATS:
        new[name][without] = np.nan
    new["cause"][without] = 0
    return Evaluation(
        setups=tuple(item.setup.id for item in items), extrapolated=outside & ~without[:, None],
        **new,
    )  # fmt: skip


def heading_along(
    stations: pd.DataFrame, edge: NDArray[np.int64], network: Network, routes: Routes
) -> Heading:
    """Which way the stations are travelled on ``network`` under ``routes``.

    The rule is that of :func:`terrain.stations.along.place_stations`: toward the end of the edge
    from which the way to the landing is shorter, the rest of the edge included.
    """
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    back, ahead = ways_to_landing(network, routes, edge, chainage)
    as_drawn = ahead <= back
    against = np.zeros(len(edge), dtype=bool)
    if len(routes.forests) > 1:  # else everything goes the nearest way, and nothing meets
        to_end, to_start, _ = edge_flow(network, routes, network.length_m)
        against = np.where(as_drawn, to_start[edge], to_end[edge]) > 1e-6
    return Heading(as_drawn, np.minimum(ahead, back), against)


def _cut(
    stations: pd.DataFrame,
    network: Network,
    edge: NDArray[np.int64],
    gone: NDArray[np.bool_],
    parted: Parting | None,
) -> tuple[Network, NDArray[np.int64], dict[str, str]]:
    """The network in pieces without the stations that are ``gone``, ``parted`` at one more place.

    Returns the network, whose trails are pieces; the edge of each station (-1 gone); and the trail
    of every piece. A trail that loses nothing is one piece under its own name.
    """
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    half = stations["length_m"].to_numpy(dtype=float) / 2
    piece_of = np.full(len(stations), -1, dtype=np.int64)
    trail_of: dict[str, str] = {}
    hurt = set(np.unique(edge[gone])) | ({parted[0]} if parted else set())
    hurt_trails = {str(network.trail[number]) for number in hurt}
    rows_of = {number: np.flatnonzero(edge == number) for number in hurt}
    counter = dict.fromkeys(hurt_trails, 0)
    node = len(network.node_x_m)
    names, spans, nodes, source = [], [], [], []

    def add(name: str, trail: str, span: tuple, ends: tuple, number: int) -> None:
        trail_of[name] = trail
        names.append(name)
        spans.append(span)
        nodes.append(ends)
        source.append(number)

    for number in np.lexsort((network.start_m, network.trail.astype(str))):
        trail = str(network.trail[number])
        whole = (float(network.start_m[number]), float(network.end_m[number]))
        ends = (int(network.from_node[number]), int(network.to_node[number]))
        if number not in hurt:
            name = f"{trail}{_PIECE}{counter[trail]}" if trail in hurt_trails else trail
            add(name, trail, whole, ends, number)
            continue
        rows = rows_of[number]
        rows = rows[np.argsort(chainage[rows], kind="stable")]
        flags = np.concatenate([[False], ~gone[rows], [False]]).astype(np.int8)
        split = parted[1] if parted and parted[0] == number else -1
        for first, last in _runs(flags, split):
            start, end = rows[first], rows[last - 1]
            at_start = first == 0 and split != 0
            at_end = last == len(rows) and split != last
            counter[trail] += not at_start
            span = (
                whole[0] if at_start else chainage[start] - half[start],
                whole[1] if at_end else chainage[end] + half[end],
            )
            piece_ends = (ends[0] if at_start else node, ends[1] if at_end else node + 1)
            node += 2
            piece_of[rows[first:last]] = len(names)
            add(f"{trail}{_PIECE}{counter[trail]}", trail, span, piece_ends, number)
        counter[trail] += bool(gone[rows[-1]])
    place = {number: i for i, number in enumerate(source) if number not in hurt}
    whole_edges = ~np.isin(edge, list(hurt))
    piece_of[whole_edges] = [place[number] for number in edge[whole_edges]]
    extra = node - len(network.node_x_m)
    span_m, ends_of = np.array(spans).reshape(-1, 2), np.array(nodes, np.int64).reshape(-1, 2)
    cut = Network(
        trail=np.array(names, dtype=object),
        start_m=span_m[:, 0],
        end_m=span_m[:, 1],
        from_node=ends_of[:, 0],
        to_node=ends_of[:, 1],
        node_x_m=np.concatenate([network.node_x_m, np.full(extra, _FAR_OFF_M)]),
        node_y_m=np.concatenate([network.node_y_m, np.full(extra, _FAR_OFF_M)]),
        # only the landings themselves are read from these two; the routes measure the rest
        to_landing_m=np.concatenate(
            [np.where(network.to_landing_m == 0, 0.0, np.inf), np.full(extra, np.inf)]
        ),
        landing=np.concatenate([network.landing, np.full(extra, None, dtype=object)]),
    )
    return cut, piece_of, trail_of


def _runs(flags: NDArray[np.int8], split: int) -> list[tuple[int, int]]:
    """Runs of stations that stay (first, behind the last), one more end at ``split`` within one."""
    found = []
    for first, last in np.flatnonzero(np.diff(flags)).reshape(-1, 2).tolist():
        inside = first < split < last
        found += [(first, split), (split, last)] if inside else [(first, last)]
    return found


def _pieces_frame(trails: gpd.GeoDataFrame, trail_of: dict[str, str]) -> pd.DataFrame:
    """The column that assigns landings, for the pieces."""
    if "landing" not in trails:
        return pd.DataFrame(index=list(trail_of))
    own = trails["landing"].to_dict()
    return pd.DataFrame({"landing": {name: own[trail] for name, trail in trail_of.items()}})


def _only(network: Network, edges: NDArray[np.bool_]) -> Network:
    return replace(
        network,
        trail=network.trail[edges],
        start_m=network.start_m[edges],
        end_m=network.end_m[edges],
        from_node=network.from_node[edges],
        to_node=network.to_node[edges],
    )


def _stranded(
    situation: Situation, without: NDArray[np.bool_], length: NDArray[np.float64]
) -> tuple[float, tuple[str, ...]]:
    """Known m3 along the stations that are not driven, and the trails of unknown volume there."""
    stations = situation.along.stations
    total = situation.along.traffic.volumes["volume_m3"]
    trail = stations["trail"].to_numpy()
    of_trail = pd.Series(length).groupby(trail).sum()
    lost = pd.Series(length[without]).groupby(trail[without]).sum()
    volume = total.reindex(lost.index) * lost / of_trail.reindex(lost.index)
    unknown = tuple(str(name) for name in lost.index[volume.isna()])
    if len(unknown) == len(lost):
        return (0.0 if not len(lost) else np.nan), unknown
    return float(volume.sum()), unknown
