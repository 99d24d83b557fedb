"""Remedies on the machine and in time: load, inflation, another aid, a drier state, brash."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.decision.brash import brash_need, brash_supply_kg_m2
from terrain.decision.carried import Carried, carried
from terrain.decision.exposure import trail_widths
from terrain.decision.remedy_case import Case, Outcome, metres, tonnes
from terrain.decision.situation import Situation
from terrain.decision.travel import surface_of, travel_over
from terrain.models.soil import THAWED_STATES
from terrain.setups.combinations import axle_name, describe
from terrain.setups.rulebook import Standing
from terrain.stations.traffic import passes_of

__all__ = [
    "HARDLY",
    "PAYLOAD_STEP_KG",
    "brash_mat",
    "drier_state",
    "heavier_aid",
    "largest_payload_kg",
    "lower_inflation",
    "smaller_payload",
    "verified_frost",
]

PAYLOAD_STEP_KG = 250.0
"""Loads are tried in steps of a quarter of a tonne (planning assumption: a driver can judge it)."""


def largest_payload_kg(situation: Situation, case: Case) -> float:
    """Largest load in kg, by steps below the full one, that passes every station of the stretch.

    NaN where none does, not even an empty machine. Passing need not go down steadily with load (a
    load also presses on the wheels that pull), so every step is looked at, from the full load down.
    """
    item, settings = case.item, situation.settings
    stations = situation.along.stations.iloc[case.rows]
    if item.load is None or not _empty_passes(situation, case):
        return np.nan
    surface = surface_of(stations, settings.ground)
    bearing = stations["bearing_kpa"].to_numpy(dtype=float)
    for kg in np.arange(0.0, item.payload_kg, PAYLOAD_STEP_KG)[::-1]:
        way = travel_over(stations, item.carrying(kg), True, settings, surface)
        good = bool((way.balance.reserve_ratio >= 0).all())
        if good and case.by_pressure:
            good = bool((way.pressure_kpa.max(axis=-1) <= bearing).all())
        if good:
            return float(kg)
    return np.nan


def _empty_passes(situation: Situation, case: Case) -> bool:
    """Whether the empty trip holds: it does not change with the load, and both trips must hold."""
    stations, settings = situation.along.stations.iloc[case.rows], situation.settings
    way = travel_over(stations, case.item, False, settings, surface_of(stations, settings.ground))
    holds = bool((way.balance.reserve_ratio >= 0).all())
    if not case.by_pressure:
        return holds
    bearing = stations["bearing_kpa"].to_numpy(dtype=float)
    return holds and bool((way.pressure_kpa.max(axis=-1) <= bearing).all())


LEAST_WORTHWHILE = 0.5
"""Share of the full load below which a smaller load is told but not counted as an answer (planning
assumption)."""


HARDLY = "hardly a way to work"
"""How the note of so small a load says it."""


def smaller_payload(situation: Situation, case: Case) -> dict[str, object] | None:
    """Load less: the largest payload that passes, and the loads it adds; None without a load."""
    item = case.item
    if item.load is None or item.payload_kg <= 0:
        return None
    remedy, best = "smaller payload", largest_payload_kg(situation, case)
    if not best > 0:
        why = (
            "Only the empty machine passes: no load is small enough."
            if best == 0
            else "No load is small enough: the machine fails here even empty."
        )
        return case.row(remedy, why, "no", case.failing_m, 0.0, payload_kg=0.0)
    left_m, moved_m, solved, least = case.recomputed(situation, item.carrying(best))
    extra = _extra_loads(situation, case, best)
    told = f"Load {tonnes(best)} instead of {tonnes(item.payload_kg)}: "
    note = None
    if np.isnan(extra):
        told += "how many more loads is not known."
        note = "Volume over the stretch or density of fresh timber is not known."
    else:
        more = f"{extra:.0f} more {'load' if extra == 1 else 'loads'}"
        told += f"{more if extra else 'as many loads as now'} over this stretch."
    if solved == "yes" and best < LEAST_WORTHWHILE * item.payload_kg:
        solved, note = "partly", f"It passes, but so small a load is {HARDLY}."
    return case.row(
        remedy, told, solved, left_m, moved_m, least, payload_kg=best, extra_loads=extra, note=note
    )


def _extra_loads(situation: Situation, case: Case, payload_kg: float) -> float:
    volume = situation.along.stations["volume_m3"].to_numpy(dtype=float)[case.rows].max()
    sizes_kg = [case.item.payload_kg, payload_kg]
    loads = passes_of(volume, sizes_kg, situation.settings.traffic).loads
    return float(loads[1] - loads[0])


def drier_state(situation: Situation, case: Case) -> dict[str, object]:
    """Wait: the wettest state, drier than the chosen one, in which the stretch passes."""
    remedy, chosen = "drier state", situation.settings.ground.state
    evaluations = situation.assessment.evaluations
    if chosen not in THAWED_STATES or chosen == THAWED_STATES[0]:
        return case.row(
            remedy, f"No drier state than {chosen} is looked at.", "no", case.failing_m, 0.0
        )
    outcome, state = Outcome(np.nan, np.nan, "", np.nan), chosen
    for state in reversed(THAWED_STATES[: THAWED_STATES.index(chosen)]):
        evaluation = evaluations[state]
        outcome = case.outcome(evaluation, evaluation.column(case.setup))
        if outcome.solves == "yes":
            break
    left_m, moved_m, solved, least = outcome
    if solved == "yes":
        told = f"Wait until the ground is {state}: every metre of the stretch passes then."
    else:
        told = f"Even {state}, {metres(left_m)} of the stretch are not solved."
    return case.row(remedy, told, solved, left_m, moved_m, least)


def verified_frost(situation: Situation, case: Case) -> dict[str, object] | None:
    """Frost is credited only when it is verified in the block; None where it is in use already."""
    if situation.settings.ground.state == "frozen":
        return None
    return case.row(
        "verified frost",
        "Wait for frost: not computed until somebody has verified its depth on the trail.",
        "named only",
        note="Frost must be verified: state frozen, depth and name in the block file.",
    )


def brash_mat(situation: Situation, case: Case) -> dict[str, object]:
    """A brash mat: how much is asked for and what the stand can give, no more.

    No publication that was read gives a factor for traction or bearing capacity on a mat that
    holds from stand to stand, and surveys disagree, so nothing is recomputed.
    """
    need = brash_need()
    settings, trails = situation.settings, situation.block.trails
    width = float(trail_widths(trails, settings.traffic).loc[case.trail])
    told = f"Lay {need.low:g} to {need.high:g} kg of brash on each square metre"
    if np.isfinite(width):
        area_m2 = case.stretch_m * width
        low, high = need.low * area_m2 / 1000, need.high * area_m2 / 1000
        told += f" of the {metres(case.stretch_m)}: {low:.1f} to {high:.1f} t in all"
    said = ["What a mat adds to traction or bearing is not computed: trials and surveys disagree."]
    brash = settings.brash
    if brash is not None:
        spacing = brash.spacing_m or settings.traffic.served_width_m or np.nan
        supply = float(
            brash_supply_kg_m2(brash.residue_kg_per_ha, width, spacing, brash.share_on_trail)
        )
        if np.isfinite(supply):
            enough = "enough" if supply >= need.low else "too little"
            said.append(f"The stand gives about {supply:.0f} kg/m2 here: {enough}.")
        else:
            said.append("What the stand can give here is not known (width or spacing is missing).")
    return case.row("brash", told + ".", "named only", note=" ".join(said))


def lower_inflation(situation: Situation, case: Case) -> dict[str, object]:
    """Softer tyres, down to what the machine file permits; never under tracks or chains.

    A tyre that carries a band track, a wheel track or chains keeps its pressure (practice of the
    trade, no source): only bare and dual tyres are let down.
    """
    remedy, item = "lower inflation", case.item
    groups, said, under_aid = [], [], False
    for mounted in item.groups:
        group, tyre = mounted.group, mounted.group.tyre
        lowest = tyre.lowest_inflation_kpa
        if lowest is not None and lowest < tyre.inflation_kpa:
            if mounted.aid is None or mounted.aid.kind == "dual tyres":
                said.append(f"{lowest:.0f} kPa instead of {tyre.inflation_kpa:.0f} kPa on the "
                            f"{axle_name(group)}")  # fmt: skip
                group = replace(group, tyre=replace(tyre, inflation_kpa=lowest))
            else:
                under_aid = True
        groups.append(group)
    if not said:
        why = (
            "Tyres under tracks or chains keep their pressure."
            if under_aid
            else "No permitted lower pressure in the machine file."
        )
        return case.row(remedy, "Lower the inflation where permitted.", "named only", note=why)
    machine = replace(item.machine, groups=(groups[0], groups[1]))
    outcome = case.recomputed(situation, carried(item.setup, machine))
    return case.row(
        remedy,
        f"Inflate to {' and '.join(said)}. The rated load of a tyre falls with its pressure: ask "
        "for the load table.",
        outcome.solves,
        outcome.left_m,
        outcome.moved_m,
        outcome.reserve_after,
        note="Only where the tyre's chart allows it at this load and speed.",
    )


def heavier_aid(situation: Situation, case: Case) -> dict[str, object]:
    """Another aid on one axle group alone, heavier there, that passes the stretch.

    Of several the lightest of usual practice is named, else the lightest to ask about first.
    """
    remedy, assessment = "heavier aid on one axle group", situation.assessment
    options = []
    for k, (item, (_, judgement)) in enumerate(zip(assessment.items, assessment.kept, strict=True)):
        group = _heavier_on_one(case.item, item)
        if group is None:
            continue
        outcome = case.outcome(assessment.evaluation, k)
        if outcome.left_m == 0 and outcome.solves != "cannot tell":
            ask = judgement.standing is not Standing.USUAL
            words = judgement.standing.words
            options.append((ask, item.added_mass_kg, item.setup.id, item, outcome, words))
    if not options:
        why = "No listed setup with a heavier aid on one axle group alone passes here."
        return case.row(remedy, why, "no", case.failing_m, 0.0)
    _, _, _, item, outcome, words = min(options, key=lambda option: option[:3])
    return case.row(
        remedy,
        f"Carry {describe(item.setup, item.machine)} ({words}).",
        outcome.solves,
        outcome.left_m,
        outcome.moved_m,
        outcome.reserve_after,
        payload_kg=item.payload_kg,
        note=f"Setup {item.setup.id}.",
    )


def _heavier_on_one(base: Carried, other: Carried) -> int | None:
    """Number of the one axle group on which ``other`` carries more; None where it is not so."""
    differs = [i for i in (0, 1) if base.setup.mounts[i] != other.setup.mounts[i]]
    if len(differs) != 1:
        return None
    group = differs[0]
    more = other.groups[group].aid_mass_kg > base.groups[group].aid_mass_kg
    return group if more else None
