"""The verdict of every draw: which setups meet the need, by the rule of the verdict itself.

The rule is that of :func:`terrain.decision.ranking.measure_setups` and ``carry_over``: a setup
meets the need where no metre is short that another listed setup passes, where the metres that none
passes are few, and where the same holds in every drier state.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.decision.critical_strength import (
    CriticalGrid,
    critical_inverse,
    grid_over,
    loads_drawn_kg,
)
from terrain.decision.doubt_draws import LEAST_CONE_INDEX_KPA, Varied, World, drawn_cone_index_kpa
from terrain.decision.results import Evaluation
from terrain.models.settings import Settings
from terrain.models.soil import drier_states
from terrain.stations.network import Network
from terrain.stations.routes import Routes, edges_to_landing
from terrain.stations.traffic import edge_of

__all__ = [
    "DrawnBlock",
    "TrailPieces",
    "drawn_block",
    "drawn_slopes",
    "grouped",
    "met_on_block",
    "pieces_of_trails",
]

Floats = NDArray[np.floating[Any]]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]
Case = tuple[Floats, int]
"""Standard normals of the soil, (n_polygon, n_draw), and the number of a moisture state."""

_CELLS_AT_A_TIME = 20_000_000
"""Answers (setup, state, draw, station) held in memory at once, one byte each."""


@dataclass(frozen=True, slots=True)
class Kinds:
    """Stations of one polygon with the same strength figures, in one state: drawn together.

    ``polygon`` (n_kind,), ``figures_kpa`` (3, n_kind) low, likely, high; ``kind_of`` (n_station,).
    """

    polygon: Counts
    figures_kpa: Floats
    kind_of: Counts

    def cone_kpa(self, soil: Floats) -> Floats:
        """Drawn cone index of every station, (n_draw, n_station), kPa."""
        low, likely, high = self.figures_kpa
        drawn = drawn_cone_index_kpa(low, likely, high, soil[self.polygon].T)
        return drawn.astype(np.float32)[:, self.kind_of]


@dataclass(frozen=True, slots=True)
class DrawnBlock:
    """Everything that the draws are compared with, for the stations that any draw can put short.

    Attributes
    ----------
    states : tuple of str
    items : tuple of Carried
    varied : Varied
    rows : ndarray of int, shape (n,)
        Which stations these are; every setup passes the others in all draws.
    length_m, grade, cross : ndarray, shape (n,)
    assessed : ndarray of bool, shape (n_setup, n, n_state)
        Where the verdict knows the setup's reserve.
    kinds : tuple of Kinds
        By state.
    few_m : float
        Metres that may stay short under every setup at most.
    room_m : ndarray, shape (n_setup, n_state)
        Metres that may stay short under every setup: what the few that may stay open leave beside
        those that are not assessed. Negative where nobody can tell.
    own : ndarray or None
        Reciprocal critical cone index (1/kPa) at the stations' own slopes, (n_setup, n), where
        only soil strength varies.
    grid : CriticalGrid or None
        Asked where slopes or loads vary.
    """

    states: tuple[str, ...]
    items: tuple[Carried, ...]
    varied: Varied
    rows: Counts
    length_m: Floats
    grade: Floats
    cross: Floats
    assessed: Flags
    kinds: tuple[Kinds, ...]
    few_m: float
    room_m: Floats
    own: Floats | None
    grid: CriticalGrid | None

    @property
    def polygon_of(self) -> Counts:
        """Number of each station's polygon."""
        return self.varied.polygon_of[self.rows]

    def short(self, world: World, part: slice, cases: Sequence[Case]) -> Flags:
        """Where setups are short, (n_setup, n_case, draws of ``part``, n).

        What is not assessed is never short. A station that a drawn slope or load makes unknown
        (an axle lifts) is short. Slopes and loads are those of ``world``.
        """
        cone = np.stack([self.kinds[state].cone_kpa(soil[:, part]) for soil, state in cases])
        assessed = np.stack([self.assessed[..., state] for _, state in cases], axis=1)
        short = np.empty((len(self.items), *cone.shape), dtype=bool)
        for k, inverse in enumerate(self._inverses(world, part)):
            np.greater_equal(cone * inverse, 1, out=short[k])
            np.logical_not(short[k], out=short[k])
            short[k] &= assessed[k, :, None]
        return short

    def _inverses(self, world: World, part: slice) -> Iterator[Floats]:
        if self.grid is None:
            assert self.own is not None
            yield from (row[None, :] for row in self.own.astype(np.float32))
            return
        loads = loads_drawn_kg(self.items, world.load_factor[part])
        slopes = drawn_slopes(self.grade, self.cross, self.varied, self.rows, world, part)
        corners = self.grid.corners(*slopes, loads.shape[1])
        for k in range(len(self.items)):
            yield self.grid.inverse(k, corners, loads[k])

    def drier(self, state: int) -> list[int]:
        """Numbers of the states drier than ``state``, in which a setup must not fall short."""
        names = drier_states(self.states[state])
        return [number for number, name in enumerate(self.states) if name in names]

    def portions(self, draws: int, cases: int) -> Iterator[slice]:
        """Cut the draws into parts that fit into memory."""
        yield from _portions(draws, len(self.items) * len(self.rows) * cases)


def _portions(draws: int, cells: int) -> Iterator[slice]:
    size = max(1, _CELLS_AT_A_TIME // max(1, cells))
    yield from (slice(k, min(k + size, draws)) for k in range(0, draws, size))


def drawn_slopes(
    grade: Floats, cross: Floats, varied: Varied, rows: Counts, world: World, part: slice
) -> tuple[Floats, Floats]:
    """Grade and cross slope (ratios), (draws, n), or (1, n) where they do not vary."""
    if not varied.slope_varies:
        return grade[None, :], cross[None, :]
    piece = varied.piece_of[rows]
    return grade + world.grade[:, part].T[:, piece], cross + world.cross[:, part].T[:, piece]


def drawn_block(
    stations: pd.DataFrame,
    states: Mapping[str, pd.DataFrame],
    evaluations: Mapping[str, Evaluation],
    items: Sequence[Carried],
    settings: Settings,
    varied: Varied,
    worlds: Sequence[World],
) -> DrawnBlock:
    """Prepare the comparison for all ``worlds`` that will be asked for.

    Parameters
    ----------
    stations : DataFrame
        With ``grade``, ``cross_slope``, ``length_m`` and the surface film.
    states : mapping of str to DataFrame
        Cone index low, likely, high by moisture state, on the stations' index.
    evaluations : mapping of str to Evaluation
        The verdict's own answers, which say what is assessed in a state.
    items : sequence of Carried
        In the order of the evaluations' columns.
    settings : Settings
    varied : Varied
    worlds : sequence of World
        Soils, slopes, payloads and densities of any of them may be put together later.
    """
    names = tuple(states)
    columns = ("cone_index_low_kpa", "cone_index_kpa", "cone_index_high_kpa")
    figures = np.stack([states[name][list(columns)].to_numpy(dtype=float).T for name in names])
    reserves = [evaluations[name].reserve for name in names]
    assessed = np.stack([np.isfinite(reserve).T for reserve in reserves], axis=-1)
    length, grade, cross = (
        stations[name].to_numpy(dtype=float) for name in ("length_m", "grade", "cross_slope")
    )
    low, likely, high = np.moveaxis(figures, 1, 0)
    weakest, strongest = (
        drawn_cone_index_kpa(low, likely, high, normal[varied.polygon_of])
        for normal in _extremes(worlds)
    )
    top = float(np.nanmax(strongest, initial=10 * LEAST_CONE_INDEX_KPA))
    own, grid = None, None
    if varied.slope_varies or varied.load_varies:
        everywhere = np.arange(len(stations))
        slopes = (
            drawn_slopes(grade, cross, varied, everywhere, world, part)
            for world in worlds
            for part in _portions(world.draws if varied.slope_varies else 1, 20 * len(stations))
        )
        factors = np.concatenate([a.payload * b.density for a in worlds for b in worlds])
        loads = loads_drawn_kg(items, factors)
        grid = grid_over(stations, items, settings, slopes, loads, (LEAST_CONE_INDEX_KPA, top))
        errors = [np.abs(e).max(initial=0.0) for w in worlds for e in (w.grade, w.cross)]
        least = grid.least_inverse(grade, cross, float(max(errors)))
    else:
        own = critical_inverse(stations, items, settings, LEAST_CONE_INDEX_KPA, top)
        least = own.min(axis=1)
    looked_at = np.asarray(assessed.any(axis=0), dtype=bool)
    sure = np.where(looked_at.T, weakest, 1e9).min(axis=0) * least >= 1
    rows = np.flatnonzero(~sure & looked_at.any(axis=1))
    if grid is not None:
        grid = grid.at_stations(rows)
    return DrawnBlock(
        states=names,
        items=tuple(items),
        varied=varied,
        rows=rows,
        length_m=length[rows],
        grade=grade[rows],
        cross=cross[rows],
        assessed=assessed[:, rows],
        kinds=tuple(_kinds(varied.polygon_of[rows], f[:, rows]) for f in figures),
        few_m=float(settings.decision.measures_share_max * length.sum()),
        room_m=_room(assessed, length, settings.decision.measures_share_max),
        own=None if own is None else own[rows].T,
        grid=grid,
    )


def _room(assessed: Flags, length: Floats, few_share: float) -> Floats:
    """Metres that may stay short under every setup, (n_setup, n_state); see :class:`DrawnBlock`."""
    room = few_share * length.sum() - np.einsum("kns,n->ks", ~assessed, length)
    return np.where(assessed.any(axis=1), room, -1.0)


def _extremes(worlds: Sequence[World]) -> tuple[Floats, Floats]:
    """Smallest and largest standard normal of each polygon in all worlds."""
    soils = np.concatenate([world.soil for world in worlds], axis=1)
    return soils.min(axis=1), soils.max(axis=1)


def _kinds(polygon_of: Counts, figures: Floats) -> Kinds:
    table = np.concatenate([polygon_of[None, :], figures]).T
    alike, kind_of = np.unique(table, axis=0, return_inverse=True)
    return Kinds(alike[:, 0].astype(np.int64), alike[:, 1:].T, kind_of.ravel())


@dataclass(frozen=True, slots=True)
class TrailPieces:
    """Pieces of trail between junctions, and which of them lie on a trail and on its way out.

    Attributes
    ----------
    trails : tuple of str
        In the order of the stations table.
    piece_of : ndarray of int, shape (n_station,)
        Number of each station's piece.
    own, with_way : ndarray of bool, shape (n_trail, n_piece)
        Pieces of the trail; and those that its timber passes on the way to the landing too.
    """

    trails: tuple[str, ...]
    piece_of: Counts
    own: Flags
    with_way: Flags


def pieces_of_trails(
    stations: pd.DataFrame, network: Network | None = None, routes: Routes | None = None
) -> TrailPieces:
    """Cut the trails into pieces; without a network a trail is one piece, and has no way out."""
    codes, names = pd.factorize(stations["trail"].astype(str))
    trails = tuple(str(name) for name in names)
    if network is None or routes is None:
        alone = np.eye(len(trails), dtype=bool)
        return TrailPieces(trails, np.asarray(codes, dtype=np.int64), alone, alone)
    number = {name: k for k, name in enumerate(trails)}
    own = np.zeros((len(trails), len(network.trail)), dtype=bool)
    with_way = own.copy()
    for edge, passed in enumerate(edges_to_landing(network, routes)):
        trail = number[str(network.trail[edge])]
        own[trail, edge] = True
        with_way[trail, list(passed)] = True
    return TrailPieces(trails, edge_of(stations, network), own, with_way)


def met_on_block(
    block: DrawnBlock, world: World, chosen: int, pieces: TrailPieces
) -> tuple[Flags, Counts, Counts]:
    """Which setups meet the need in each draw and state, and how often each passes each trail.

    Parameters
    ----------
    block : DrawnBlock
    world : World
    chosen : int
        Position of the state of the run, in which the trails are counted.
    pieces : TrailPieces

    Returns
    -------
    meets : ndarray of bool, shape (n_setup, n_state, n_draw)
    passed, with_way : ndarray of int, shape (n_trail, n_setup)
        Draws in which no assessed metre of the trail is short; and draws in which none is on the
        trail and on its way to the landing.
    """
    cases = [(world.soil, state) for state in range(len(block.states))]
    meets = np.zeros((len(block.items), len(cases), world.draws), dtype=bool)
    piece_of = pieces.piece_of[block.rows]
    order, starts = grouped(piece_of)
    hit = piece_of[order][starts]
    own, way = (lies[:, hit].T.astype(np.float32) for lies in (pieces.own, pieces.with_way))
    passed = np.full((len(pieces.trails), len(block.items)), world.draws, dtype=np.int64)
    with_way = passed.copy()
    for part in block.portions(world.draws, len(cases)):
        short = block.short(world, part, cases)
        unsolved = short.all(axis=0)
        unsolved_m = unsolved @ block.length_m
        falls = np.zeros((len(block.items), *unsolved_m.shape), dtype=bool)
        for k, of_setup in enumerate(short):
            solvable = (of_setup & ~unsolved).any(axis=-1)
            falls[k] = solvable | (unsolved_m > block.few_m)
            meets[k, :, part] = ~solvable & (unsolved_m <= block.room_m[k][:, None])
            shut = np.logical_or.reduceat(of_setup[chosen][:, order], starts, axis=1)
            times = shut.astype(np.float32)  # a product of floats is fast, one of flags is not
            passed[:, k] -= (times @ own > 0).sum(axis=0)
            with_way[:, k] -= (times @ way > 0).sum(axis=0)
        for state in range(len(block.states)):
            meets[:, state, part] &= ~falls[:, block.drier(state)].any(axis=1)
    return meets, passed, with_way


def grouped(number: Counts) -> tuple[Counts, Counts]:
    """Order in which equal numbers stand together, and where each group begins."""
    order = np.argsort(number, kind="stable")
    ordered = number[order]
    first = np.ones(len(ordered), dtype=bool)
    first[1:] = ordered[1:] != ordered[:-1]
    return order, np.flatnonzero(first)
