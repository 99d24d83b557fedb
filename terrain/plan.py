"""The recipe: from a loaded block to a finished plan, in a straight line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from terrain import __version__
from terrain.columns import columns_of
from terrain.decision.check_sheet import check_sheet
from terrain.decision.evaluation import carried, evaluate, setup_facts
from terrain.decision.ground import frost_is_verified, ground_in_states
from terrain.decision.ranking import measure_setups, rank_setups
from terrain.decision.results import Plan
from terrain.decision.rut_columns import rut_columns, traffic_sentences, traffic_status_rows
from terrain.decision.ruts import evaluate_ruts
from terrain.decision.second_opinions import second_opinions
from terrain.decision.statuses import not_assessed_sentences, status_rows
from terrain.decision.strength import strength_of_polygons
from terrain.decision.summaries import trail_table
from terrain.decision.wet_statuses import wet_sentences, wet_status_rows
from terrain.decision.wet_summaries import trail_wetness, wet_ground_of
from terrain.errors import Issue, RutwiseError, refuse_errors
from terrain.inputs.block import inspect_block
from terrain.inputs.loaded import LoadedBlock
from terrain.mechanics.wet_classes import effective_rule
from terrain.setups.combinations import describe, split_catalogue
from terrain.setups.rulebook import Standing, judge_all
from terrain.stations.along import check_lengths, place_stations
from terrain.stations.exposure import soil_at
from terrain.stations.network import Network, build_network
from terrain.stations.profile import grade_between_ends, sample_surface
from terrain.stations.routes import find_routes
from terrain.stations.traffic import station_volumes, trail_volumes
from terrain.stations.water import water_of_block
from terrain.stations.wet_ground import wet_ground_at
from terrain.surfaces import gradient, slope_classes

__all__ = ["check_block", "make_plan", "plan_block"]

Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


def check_block(
    path: Path, *, state: str | None = None
) -> tuple[LoadedBlock | None, Network | None, list[Issue]]:
    """Read a block and list every problem, the network's included; never raises on bad input.

    Returns
    -------
    block, network
        None where errors in the inputs leave nothing to go on with.
    issues : list of Issue
        Errors first.
    """
    block, issues = inspect_block(path, state=state)
    network = None
    if block is not None:
        snap_m = block.settings.terrain.snap_m
        network, more = build_network(block.trails, block.landings, snap_m)
        _, assigned = find_routes(network, block.trails, block.landings, snap_m)
        more = [*more, *assigned]
        issues = [*issues, *more]
    severity = {"error": 0, "warning": 1, "note": 2}
    return block, network, sorted(issues, key=lambda issue: severity[issue.severity])


def plan_block(path: Path, *, state: str | None = None, say: Progress = _silent) -> Plan:
    """Read the block file at ``path`` and make its plan.

    Raises
    ------
    InputRefused
        With every problem at once when the inputs hold an error.
    """
    say("reading the inputs")
    block, network, issues = check_block(path, state=state)
    refuse_errors(issues)
    if block is None or network is None:  # cannot happen: without errors both are there
        raise RutwiseError("the block was not read, yet no error was found")
    return make_plan(block, network, issues, say)


def make_plan(
    block: LoadedBlock, network: Network, issues: list[Issue], say: Progress = _silent
) -> Plan:
    """Make the plan of a block that holds no errors.

    Stages only add columns to the stations table; none drops, sorts or merges its rows.
    """
    settings, dem, machine = block.settings, block.dem, block.machine
    ground = settings.terrain

    say("computing slopes")
    plane = gradient.plane(dem.values, dem.cell_m, ground.machine_scale_m)
    native_slope = gradient.slope(*gradient.horn(dem.values, dem.cell_m))
    slope = gradient.slope(*plane)
    classes = slope_classes.classify(slope, ground.slope_bands)

    say("placing stations along the trails")
    routes, _ = find_routes(network, block.trails, block.landings, ground.snap_m)
    stations = place_stations(block.trails, network, max(ground.step_m, dem.cell_m), routes)
    check_lengths(stations, block.trails)
    surface = sample_surface(stations, dem, plane, native_slope, classes)
    stations[list(surface.columns)] = surface
    stations["grade_profile"] = grade_between_ends(stations, block.trails, dem, machine.wheelbase_m)
    soil = soil_at(stations, block.soils)
    stations[list(soil.columns)] = soil

    say("routing water and searching the depth to it")
    verified = frost_is_verified(settings.ground)
    state = settings.ground.state
    stream_from_ha = effective_rule(state, frost_verified=verified).flow_initiation_ha
    water = water_of_block(block.water.dem or dem, block.water, settings.flow, stream_from_ha)
    wet = wet_ground_at(stations, water, settings.flow.buffer_width_m, block.water.buffers)
    stations[list(wet.columns)] = wet
    strength = strength_of_polygons(
        block.soils,
        block.water.readings,
        block.water.moisture_state,
        state,
        frost_verified=verified,
    )
    states = ground_in_states(stations, settings.ground, strength)
    stations[list(states[state].columns)] = states[state]
    volumes = trail_volumes(block.trails, settings.traffic, block.stand)
    traffic = station_volumes(stations, network, routes, volumes)
    stations["volume_m3"] = traffic.volume_m3

    say("judging the setups")
    judged = judge_all(machine, block.aids)
    kept = [(s, j) for s, j in judged if j.standing is not Standing.EXCLUDED]
    items = [carried(setup, machine) for setup, _ in kept]
    evaluation, work_mj = evaluate(stations, items, settings)

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
    measures = measure_setups(evaluation, stations, settings.decision)
    assessed_m = float(stations["length_m"].sum() - measures["not_assessed_m"].iloc[0])
    ranking = rank_setups(facts, measures, excluded, assessed_m)
    opinions = second_opinions(stations, items, evaluation, settings)
    opinions = opinions.set_index("setup").loc[ranking.setups["setup"]].reset_index()

    say("sending the timber to the landings")
    ruts = evaluate_ruts(stations, stations, items, traffic.volume_m3, settings)
    shown = items[evaluation.column(ranking.shown)]
    trodden = rut_columns(ruts, shown, stations.index)
    stations[list(trodden.columns)] = trodden
    stations = stations[[*columns_of("stations"), "geometry"]]
    sheet = check_sheet(
        block.trails,
        stations,
        block.soils,
        block.boundary,
        block.rule_profile,
        settings,
        items,
        evaluation,
        traffic,
        ruts,
        ranking.shown,
        states,
    )

    wetness = trail_wetness(stations, states, block.trails.index)
    wet_ground = wet_ground_of(
        stations, states, water, block.water, dem, block.trails, strength, settings.flow
    )

    return Plan(
        name=block.name,
        invented=block.invented,
        version=__version__,
        settings=settings,
        machine=machine,
        dem=dem,
        slope=dem.with_values(slope),
        slope_class=dem.with_values(classes),
        slope_labels=slope_classes.labels(ground.slope_bands),
        soils=block.soils,
        landings=block.landings,
        boundary=block.boundary,
        trails=trail_table(block.trails, stations, evaluation, ranking.shown, wetness),
        stations=stations,
        evaluation=evaluation,
        ranking=ranking,
        second_opinions=opinions,
        statuses=(
            *status_rows(stations, items, settings),
            *wet_status_rows(block, settings),
            *traffic_status_rows(sheet, settings),
        ),
        files=block.files,
        issues=tuple(issues),
        not_assessed=(
            *_left_out(block),
            *not_assessed_sentences(stations, settings),
            *wet_sentences(stations, wet_ground, settings),
            *traffic_sentences(sheet, settings),
        ),
        crs_note=block.crs_note,
        states=states,
        wet_ground=wet_ground,
        ruts=ruts,
        check_sheet=sheet,
    )


def _left_out(block: LoadedBlock) -> tuple[str, ...]:
    """Name the aids of the catalogue that are made for no axle of this machine."""
    aids = split_catalogue(block.machine, block.aids).left_out
    if not aids:
        return ()
    names = ", ".join(f"{aid.name} for {' or '.join(aid.fits_tyres)}" for aid in aids)
    return (f"Aids of the catalogue made for other tyres or axles were not looked at: {names}.",)
