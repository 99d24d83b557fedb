"""One machine on the stations: its setups judged, evaluated in every moisture state, ranked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from terrain.decision.carried import Carried, carried
from terrain.decision.evaluation import evaluate, setup_facts
from terrain.decision.ranking import carry_over, measure_setups, rank_setups
from terrain.decision.results import Evaluation, Ranking
from terrain.models.aids import Aid, Setup
from terrain.models.machine import Machine
from terrain.models.settings import Settings
from terrain.setups.combinations import describe
from terrain.setups.rulebook import Judgement, Standing, judge_all

__all__ = ["Assessment", "assess", "in_state", "with_payload"]


@dataclass(frozen=True, slots=True)
class Assessment:
    """What one machine's setups do on the stations.

    Attributes
    ----------
    machine : Machine
    kept : tuple of (Setup, Judgement)
        Setups that are scored, in the order of ``items`` and of the evaluations' columns.
    items : tuple of Carried
    evaluation : Evaluation
        In the chosen moisture state.
    evaluations : dict of str to Evaluation
        By moisture state.
    ranking : Ranking
        In the chosen state.
    """

    machine: Machine
    kept: tuple[tuple[Setup, Judgement], ...]
    items: tuple[Carried, ...]
    evaluation: Evaluation
    evaluations: dict[str, Evaluation]
    ranking: Ranking

    def item(self, setup: str) -> Carried:
        """The worked-out setup of that id."""
        return self.items[self.evaluation.column(setup)]

    @property
    def usual(self) -> tuple[str, ...]:
        """Setups of usual practice, lightest first."""
        found = [
            (item.added_mass_kg, item.setup.id)
            for item, (_, judgement) in zip(self.items, self.kept, strict=True)
            if judgement.standing is Standing.USUAL
        ]
        return tuple(name for _, name in sorted(found))


def in_state(stations: pd.DataFrame, state_columns: pd.DataFrame) -> pd.DataFrame:
    """The stations with the ground of another moisture state."""
    return stations.assign(**{name: state_columns[name] for name in state_columns.columns})


def assess(
    machine: Machine,
    aids: Sequence[Aid],
    stations: pd.DataFrame,
    states: Mapping[str, pd.DataFrame],
    settings: Settings,
) -> Assessment:
    """Judge, evaluate and rank every setup of ``machine``.

    Parameters
    ----------
    machine : Machine
    aids : sequence of Aid
        The catalogue.
    stations : DataFrame
        With slope, ground of the chosen state and ``length_m``.
    states : mapping of str to DataFrame
        Ground columns by moisture state, on the stations' index.
    settings : Settings
    """
    judged = judge_all(machine, aids)
    kept = tuple((s, j) for s, j in judged if j.standing is not Standing.EXCLUDED)
    items = tuple(carried(setup, machine) for setup, _ in kept)
    evaluation, work_mj = evaluate(stations, items, settings)
    evaluations: dict[str, Evaluation] = {settings.ground.state: evaluation}
    for state, ground in states.items():
        if state not in evaluations:
            evaluations[state], _ = evaluate(in_state(stations, ground), items, settings)
    facts = setup_facts(items, work_mj)
    facts["description"] = [describe(setup, machine) for setup, _ in kept]
    facts["standing"] = [judgement.standing.words for _, judgement in kept]
    facts["standing_codes"] = [", ".join(judgement.codes) for _, judgement in kept]
    excluded = pd.DataFrame(
        [
            {
                "setup": setup.id,
                "description": describe(setup, machine),
                "codes": ", ".join(judgement.codes),
                "reasons": " ".join(judgement.reasons),
            }
            for setup, judgement in judged
            if judgement.standing is Standing.EXCLUDED
        ],
        columns=["setup", "description", "codes", "reasons"],
    )
    chosen, total_m = settings.ground.state, float(stations["length_m"].sum())
    measures = carry_over(
        {
            state: measure_setups(answer, stations, settings.decision)
            for state, answer in evaluations.items()
        }
    )[chosen]
    ranking = rank_setups(facts, measures, excluded, total_m, chosen)
    return Assessment(machine, kept, items, evaluation, evaluations, ranking)


def with_payload(machine: Machine, share: float) -> Machine:
    """The machine with a share (0 to 1) of its full load."""
    if machine.load is None:
        return machine
    return replace(machine, load=replace(machine.load, mass_kg=machine.load.mass_kg * share))
