"""How sure the answer is: seeded draws of soil strength, slope errors and load masses.

Each draw is one possible block. The verdict's own rule is put to it, and what is told is the share
of the draws in which a setup meets the need: a statement about the inputs' spread, no promise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.assessment import Assessment
from terrain.decision.doubt_answers import (
    DrawnBlock,
    TrailPieces,
    drawn_block,
    met_on_block,
    pieces_of_trails,
)
from terrain.decision.doubt_draws import Varied, make_world, varied_along
from terrain.decision.doubt_results import Doubt
from terrain.decision.doubt_sources import (
    MORE_READINGS,
    no_sources,
    sources_of_doubt,
    worlds_for_pairs,
)
from terrain.decision.doubt_words import (
    SetupWords,
    counted_sentences,
    doubt_sentence,
    measure_next_sentence,
)
from terrain.decision.ground import frost_is_verified
from terrain.decision.intervals import share_interval
from terrain.decision.situation import Situation
from terrain.decision.strength import Strength
from terrain.models.settings import Settings

__all__ = ["doubt_about", "doubt_of"]

Flags = NDArray[np.bool_]

HOPELESS = 0.05
"""A lighter setup with less chance than this is not spoken of."""


def doubt_of(situation: Situation) -> Doubt:
    """Draw what is not known exactly and put the verdict's rule to every draw.

    What is varied, and by how much, stands in the settings of the run (:class:`DoubtSettings`) and
    is told in ``counted`` of the result.
    """
    along = situation.along
    return doubt_about(
        along.stations,
        along.states,
        situation.assessment,
        situation.settings,
        situation.block.dem.cell_m,
        situation.strength,
        pieces_of_trails(along.stations, along.network, along.routes),
    )


def doubt_about(
    stations: pd.DataFrame,
    states: Mapping[str, pd.DataFrame],
    assessment: Assessment,
    settings: Settings,
    cell_m: float,
    strength: Strength | None = None,
    pieces: TrailPieces | None = None,
) -> Doubt:
    """As :func:`doubt_of`, from the parts of a situation.

    Parameters
    ----------
    stations : DataFrame
    states : mapping of str to DataFrame
        Ground columns by moisture state. Frozen ground is left out unless the frost was verified.
    assessment : Assessment
    settings : Settings
    cell_m : float
        Cell of the DEM, metres.
    strength : Strength, optional
        Tells how many places of each polygon were probed already.
    pieces : TrailPieces, optional
        Tells which way the timber of each trail takes; without it the trails are looked at alone.
    """
    doubt = settings.doubt
    verified = frost_is_verified(settings.ground)
    kept = {name: table for name, table in states.items() if name != "frozen" or verified}
    chosen_state = settings.ground.state
    if chosen_state not in kept:  # unverified frost counts as moist ground
        kept[chosen_state] = states[chosen_state]
    has_load = assessment.machine.load is not None
    varied = varied_along(
        stations, doubt, cell_m, settings.terrain.machine_scale_m, has_load=has_load
    )
    places = _places_read(varied, strength, chosen_state)
    if chosen_state == "frozen" and verified:
        places = np.full(len(places), np.nan)  # readings of thawed ground do not count there
    one, two = (make_world(varied, doubt.draws, doubt.seed, number) for number in (0, 1))
    worlds = worlds_for_pairs(one, two, places)
    block = drawn_block(
        stations, kept, assessment.evaluations, assessment.items, settings, varied, worlds
    )
    chosen = block.states.index(chosen_state)
    pieces = pieces_of_trails(stations) if pieces is None else pieces
    meets, *passed = met_on_block(block, one, chosen, pieces)
    setups = assessment.evaluation.setups
    by_setup = _block_table(block, setups, meets)
    leaders = _leaders(assessment, meets[:, chosen])
    if (block.room_m[:, chosen] < 0).all():
        leaders["chance"] = np.nan
    here = by_setup[by_setup["state"] == chosen_state].set_index("setup")["chance"]
    shown = assessment.ranking.shown
    lightest = _lightest_open(assessment, here)
    asked = [n for n in dict.fromkeys((shown, lightest)) if n is not None and 0 < here[n] < 1]
    found = sources_of_doubt(block, worlds, chosen, asked, setups, places)
    reserve = assessment.evaluations[chosen_state].reserve
    assessed = np.isfinite(reserve)
    own = assessment.evaluation.column(shown)
    blind_m = float(stations["length_m"].to_numpy()[~assessed[:, own]].sum())
    table = assessment.ranking.setups
    by_trail = _trail_table(pieces, setups, passed, assessed, doubt.draws)
    setup_words = SetupWords(
        names={str(k): str(v) for k, v in zip(table["setup"], table["description"], strict=True)},
        chance={str(name): float(share) for name, share in here.items()},
        sources=found,
        draws=doubt.draws,
        few_m=block.few_m,
    )
    return Doubt(
        draws=doubt.draws,
        seed=doubt.seed,
        block=by_setup,
        trails=by_trail,
        sources=found.get(shown, no_sources()),
        leaders=leaders,
        sentence=doubt_sentence(setup_words, shown, lightest, assessment.usual, leaders, by_trail),
        measure_next=measure_next_sentence(setup_words, shown, lightest, MORE_READINGS)
        if np.isfinite(places).any()
        else "",
        counted=counted_sentences(settings, varied, blind_m, has_load),
        state=chosen_state,
    )


def _block_table(block: DrawnBlock, setups: tuple[str, ...], meets: Flags) -> pd.DataFrame:
    """Chances by setup and state, NaN where too much is not assessed to tell."""
    draws = meets.shape[2]
    count = meets.sum(axis=2).astype(float)  # (setup, state)
    count[block.room_m < 0] = np.nan
    low, high = share_interval(count / draws, draws)
    return pd.DataFrame(
        {
            "setup": np.repeat(np.array(setups, dtype=object), len(block.states)),
            "state": np.tile(np.array(block.states, dtype=object), len(setups)),
            "chance": (count / draws).ravel(),
            "low": low.ravel(),
            "high": high.ravel(),
        }
    )


def _trail_table(
    pieces: TrailPieces,
    setups: tuple[str, ...],
    passed: Sequence[NDArray[np.int64]],
    assessed: Flags,
    draws: int,
) -> pd.DataFrame:
    """Shares of the draws in which no metre of a trail, nor of its way to the landing, is short.

    ``alone`` is that of the trail by itself. NaN where a metre that is looked at could not be
    assessed, unless the rest is short in every draw.
    """
    blind = np.zeros((pieces.own.shape[1], len(setups)), dtype=bool)
    np.logical_or.at(blind, pieces.piece_of, ~assessed)
    alone, chance = (
        np.where((lies @ blind) & (count > 0), np.nan, count / draws).ravel()
        for lies, count in zip((pieces.own, pieces.with_way), passed, strict=True)
    )
    return pd.DataFrame(
        {
            "trail": np.repeat(np.array(pieces.trails, dtype=object), len(setups)),
            "setup": np.tile(np.array(setups, dtype=object), len(pieces.trails)),
            "chance": chance,
            "alone": alone,
        }
    )


def _leaders(assessment: Assessment, meets: Flags) -> pd.DataFrame:
    """How often each usual setup is the candidate of the draw; ``none`` where no setup is.

    Of those that meet the need the lightest is the candidate; among equally heavy ones the order of
    the ranking decides, at the likely strengths.
    """
    table = assessment.ranking.setups.set_index("setup")
    tied = ["added_mass_kg", "over_bearing_m", "payload_lost_kg", "work_ratio"]
    order = table.loc[list(assessment.usual), tied].fillna(np.inf).reset_index()
    names = order.sort_values([*tied, "setup"])["setup"].tolist()
    columns = [assessment.evaluation.column(name) for name in names]
    none = np.ones((1, meets.shape[1]), dtype=bool)
    first = np.concatenate([meets[columns], none]).argmax(axis=0)
    share = np.bincount(first, minlength=len(names) + 1) / meets.shape[1]
    table = pd.DataFrame({"setup": [*names, "none"], "chance": share})
    return table.sort_values("chance", ascending=False, kind="stable", ignore_index=True)


def _lightest_open(assessment: Assessment, chance: pd.Series) -> str | None:
    """Lightest usual setup that is neither sure nor hopeless."""
    return next((name for name in assessment.usual if HOPELESS <= chance[name] < 1), None)


def _places_read(varied: Varied, strength: Strength | None, state: str) -> NDArray[np.float64]:
    """Places of each polygon where the cone was read in this state."""
    made = [strength.special.get((state, name)) if strength else None for name in varied.polygons]
    return np.array([m.cone_read.n if m and m.cone_state == state else 0 for m in made], float)
