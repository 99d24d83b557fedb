"""What the doubt comes from, and how much of it a few more cone readings would take away.

Two worlds are drawn that have nothing in common. Mixing them gives pairs of draws that differ in
one source alone: how often the answer changes within such pairs is that source's weight (the total
effect of Homma and Saltelli 1996). Pairs that share what readings would reveal, and nothing else,
tell what would still be open after the readings (the first-order effect of Sobol). Each pair is
taken both ways round, which halves the noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.doubt_answers import DrawnBlock, grouped
from terrain.decision.doubt_draws import World
from terrain.mechanics.readings import readings_rule

__all__ = [
    "FEWEST_CHANGES",
    "KINDS",
    "MORE_READINGS",
    "no_sources",
    "sources_of_doubt",
    "worlds_for_pairs",
]

Floats = NDArray[np.floating[Any]]
Flags = NDArray[np.bool_]

KINDS = ("soil strength", "elevation", "load", "timber density")
"""Kinds of sources."""

MORE_READINGS = 3
"""Places that a further visit to a polygon with the cone is taken to bring."""

FEWEST_CHANGES = 20
"""With fewer draws in which two worlds disagree nothing is said about where the doubt lies."""


def no_sources() -> pd.DataFrame:
    """The table without a row, for a setup about which there is no doubt."""
    numbers = {"share": np.empty(0), "settled": np.empty(0)}
    words = {name: np.empty(0, dtype=object) for name in ("source", "kind", "polygon")}
    return pd.DataFrame({**words, **numbers})[["source", "kind", "share", "settled", "polygon"]]


def worlds_for_pairs(
    one: World, two: World, places_read: Floats
) -> tuple[World, World, World, World]:
    """The two worlds, and each again with soils that share with the other's what readings reveal.

    Parameters
    ----------
    one, two : World
        Independent ones.
    places_read : ndarray, shape (n_polygon,)
        Places where the cone was read already; NaN where readings do not count.

    Notes
    -----
    Readings count by the rule of :func:`terrain.mechanics.readings.shrunk`, read as weights: the
    class figure is worth so many places, each place read one. Three more take their weight among
    all of them from the variance of the polygon's strength (planning assumption), so that two
    draws that agree in what they reveal have soils that correlate by that weight.
    """
    worth = readings_rule().prior_worth_places + places_read
    revealed = np.nan_to_num(MORE_READINGS / (worth + MORE_READINGS))
    return one, two, one.with_soil_like(two, revealed), two.with_soil_like(one, revealed)


def sources_of_doubt(
    block: DrawnBlock,
    worlds: tuple[World, World, World, World],
    state: int,
    asked: Sequence[str],
    setups: Sequence[str],
    places_read: Floats,
) -> dict[str, pd.DataFrame]:
    """Shares of the doubt by source, for each setup that is asked about.

    Parameters
    ----------
    block : DrawnBlock
    worlds : tuple of World
        As :func:`worlds_for_pairs` makes them.
    state : int
        Number of the moisture state.
    asked, setups : sequence of str
        Setups to look at, and all of them in the order of ``block.items``.
    places_read : ndarray, shape (n_polygon,)
        Places where the cone was read already; NaN where readings do not count.

    Returns
    -------
    dict of str to DataFrame
        ``source`` in words, ``kind``, ``share`` of the doubt (ratios that sum to 1), ``settled``
        (share of the whole doubt that :data:`MORE_READINGS` more places would take away; NaN where
        readings do not help), ``polygon`` (empty but for soils). A setup about which the worlds
        hardly ever disagree is left out.
    """
    if not asked:
        return {}

    def met(made: _Parts) -> NDArray[np.bool_]:
        return _met_by_parts(made, block.room_m[:, state], block.few_m)

    one, two, one_alike, two_alike = worlds
    first, first_other_soil, first_alike = _parts_of_block(
        block, one, state, (one.soil, two.soil, one_alike.soil)
    )
    second, second_other_soil, second_alike = _parts_of_block(
        block, two, state, (two.soil, one.soil, two_alike.soil)
    )
    answers = met(first), met(second)
    disagree = (answers[0] != answers[1]).sum(axis=1)
    apart = 2 * disagree / one.draws

    rows = []
    for place, number in enumerate(first.polygons):
        name = block.varied.polygons[number]
        changed = sum(
            (answer != met(own.with_polygon(place, redrawn))).sum(axis=1)
            for answer, own, redrawn in (
                (answers[0], first, first_other_soil),
                (answers[1], second, second_other_soil),
            )
        )
        left = sum(
            (answer != met(other.with_polygon(place, alike))).mean(axis=1)
            for answer, other, alike in (
                (answers[0], second, second_alike),
                (answers[1], first, first_alike),
            )
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            settled = np.clip(1 - left / apart, 0.0, 1.0) + 0.0 * places_read[number]
        rows.append((f"soil strength of polygon {name}", KINDS[0], changed, settled, name))
    unknown = np.full(len(setups), np.nan)
    for words, kind, names in _other_sources(block):
        changed = 0
        for answer, here, there in ((answers[0], one, two), (answers[1], two, one)):
            mixed = replace(here, **{name: getattr(there, name) for name in names})
            changed = changed + (
                answer != met(_parts_of_block(block, mixed, state, (here.soil,))[0])
            ).sum(axis=1)
        rows.append((words, kind, changed, unknown, ""))
    return {
        setup: _table(rows, k)
        for k, setup in enumerate(setups)
        if setup in asked and disagree[k] >= FEWEST_CHANGES
    }


@dataclass(frozen=True, slots=True)
class _Parts:
    """The rule's two terms, polygon by polygon, in one state and the drier ones before it.

    ``polygons`` are the numbers of those that any draw can put short. ``solvable`` (n_state,
    n_setup, n_draw, n_polygon): short where another setup passes. ``unsolved_m`` (n_state, n_draw,
    n_polygon): metres that no setup passes. The state that is asked about stands last.
    """

    polygons: NDArray[np.int64]
    solvable: Flags
    unsolved_m: Floats

    def with_polygon(self, place: int, other: _Parts) -> _Parts:
        """These parts, but the polygon at that place from ``other``."""
        solvable, unsolved_m = self.solvable.copy(), self.unsolved_m.copy()
        solvable[..., place] = other.solvable[..., place]
        unsolved_m[..., place] = other.unsolved_m[..., place]
        return _Parts(self.polygons, solvable, unsolved_m)


def _parts_of_block(
    block: DrawnBlock, world: World, state: int, soils: Sequence[Floats]
) -> list[_Parts]:
    """Sum up by soil polygon up to one state: slopes and loads of ``world``, with each soil.

    ``soils`` are standard normals, (n_polygon, n_draw) each.
    """
    order, starts = grouped(block.polygon_of)
    chain = [*block.drier(state), state]
    cases = [(soil, number) for soil in soils for number in chain]
    size = (len(cases), world.draws, len(starts))
    solvable = np.zeros((size[0], len(block.items), *size[1:]), dtype=bool)
    unsolved_m = np.zeros(size)
    length = block.length_m[order]
    for part in block.portions(world.draws, len(cases)):
        short = block.short(world, part, cases)[..., order]
        unsolved = short.all(axis=0)
        unsolved_m[:, part] = np.add.reduceat(unsolved * length, starts, axis=-1)
        for k, of_setup in enumerate(short):
            solvable[:, k, part] = np.logical_or.reduceat(of_setup & ~unsolved, starts, axis=-1)
    polygons = block.polygon_of[order][starts]
    by_soil = [
        values.reshape(len(soils), len(chain), *values.shape[1:])
        for values in (solvable, unsolved_m)
    ]
    return [_Parts(polygons, *both) for both in zip(*by_soil, strict=True)]


def _met_by_parts(parts: _Parts, room_m: Floats, few_m: float) -> Flags:
    """The rule on the sum of the parts, (n_setup, n_draw)."""
    solvable = np.asarray(parts.solvable.any(axis=-1), dtype=bool)
    unsolved_m = parts.unsolved_m.sum(axis=-1)
    falls = solvable[:-1] | (unsolved_m[:-1, None] > few_m)
    return ~solvable[-1] & (unsolved_m[-1] <= room_m[:, None]) & ~falls.any(axis=0)


def _other_sources(block: DrawnBlock) -> list[tuple[str, str, tuple[str, ...]]]:
    """Sources beside the soils: words, kind, and the fields of a world that they fill."""
    varied = block.varied
    found: list[tuple[str, str, tuple[str, ...]]] = []
    if varied.slope_varies:
        found.append(("height errors of the elevation model", KINDS[1], ("grade", "cross")))
    if varied.payload_deviation > 0:
        found.append(("mass of the load", KINDS[2], ("payload",)))
    if varied.density_deviation > 0:
        found.append(("green density of the timber", KINDS[3], ("density",)))
    return found


def _table(rows: Sequence[tuple], k: int) -> pd.DataFrame:
    changed = np.array([float(row[2][k]) for row in rows])
    table = pd.DataFrame(
        {
            "source": [row[0] for row in rows],
            "kind": [row[1] for row in rows],
            "share": changed / max(changed.sum(), 1.0),
            "settled": [float(row[3][k]) for row in rows],
            "polygon": [row[4] for row in rows],
        }
    )
    return table.sort_values("share", ascending=False, kind="stable", ignore_index=True)
