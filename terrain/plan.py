"""The recipe: from a loaded block to a finished plan, in a straight line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from terrain import __version__
from terrain.columns import columns_of
from terrain.decision.aid_effects import effects_table
from terrain.decision.assessment import assess
from terrain.decision.bottlenecks import (
    bottlenecks,
    stretch_name,
    stretch_rows,
    stretch_setups,
)
from terrain.decision.check_sheet import check_sheet
from terrain.decision.contact_checks import contact_issues
from terrain.decision.crane_checks import crane_checks
from terrain.decision.crane_places import crane_places, crane_used, crane_warning
from terrain.decision.doubt import doubt_of
from terrain.decision.doubt_words import chance_words
from terrain.decision.drop_it import drop_it, reach_words
from terrain.decision.footprints import footprints_table
from terrain.decision.ground import frost_is_verified
from terrain.decision.look_along import look_along, read_surfaces, route_water
from terrain.decision.machines import compare_machines
from terrain.decision.outside_range import outside_range
from terrain.decision.published_practice import left_out_sentences
from terrain.decision.rating_places import ratings_by_trail
from terrain.decision.ratings import rating_checks
from terrain.decision.remedies import remedies
from terrain.decision.results import Plan
from terrain.decision.rut_columns import rut_columns, traffic_sentences, traffic_status_rows
from terrain.decision.ruts import evaluate_ruts
from terrain.decision.seasons import seasons, trail_states
from terrain.decision.second_opinions import second_opinions
from terrain.decision.situation import Situation
from terrain.decision.stability_checks import stability_checks, tip_places, tip_warning
from terrain.decision.statuses import not_assessed_sentences, status_rows
from terrain.decision.strength import strength_of_polygons
from terrain.decision.summaries import trail_table
from terrain.decision.trail_loads import trail_loads
from terrain.decision.weights import weights
from terrain.decision.wet_statuses import wet_sentences, wet_status_rows
from terrain.decision.wet_summaries import trail_wetness, wet_ground_of
from terrain.errors import Issue, RutwiseError, by_severity, refuse_errors
from terrain.inputs.block import inspect_block
from terrain.inputs.loaded import LoadedBlock
from terrain.setups.combinations import split_catalogue
from terrain.stations.network import Network, build_network
from terrain.stations.routes import find_routes
from terrain.surfaces import slope_classes

__all__ = ["check_block", "look_at", "make_plan", "plan_block"]

Progress = Callable[[str], None]

MOST_EASED = 40
"""Remedies are worked out for the most pressing stretches, so many at most."""


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
        catalogue = next((file.name for file in block.files if file.role == "aids"), "aids")
        contacts = {
            issue: None
            for machine in (block.machine, *block.other_machines)
            for issue in contact_issues(machine, block.aids, catalogue)
        }
        issues = [*issues, *more, *assigned, *contacts]
    return block, network, by_severity(issues)


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


def look_at(block: LoadedBlock, network: Network, say: Progress = _silent) -> Situation:
    """Surfaces, trails and the machine's setups of a block that holds no errors.

    Everything that the plan and every question of the kind "what if" start from.
    """
    say("computing slopes")
    surfaces = read_surfaces(block)
    say("routing water and searching the depth to it")
    water = route_water(block)
    settings = block.settings
    strength = strength_of_polygons(
        block.soils,
        block.water.readings,
        block.water.moisture_state,
        settings.ground.state,
        frost_verified=frost_is_verified(settings.ground),
    )
    say("looking along the trails")
    along = look_along(block, network, surfaces, water, strength)
    say("judging the setups")
    found = assess(block.machine, block.aids, along.stations, along.states, settings)
    return Situation(block, surfaces, water, strength, along, found)


def make_plan(
    block: LoadedBlock, network: Network, issues: list[Issue], say: Progress = _silent
) -> Plan:
    """Make the plan of a block that holds no errors.

    Stages only add columns to the stations table; none drops, sorts or merges its rows.
    """
    settings, dem, machine = block.settings, block.dem, block.machine
    situation = look_at(block, network, say)
    surfaces, water, strength = situation.surfaces, situation.water, situation.strength
    along, found = situation.along, situation.assessment
    stations, states, traffic = along.stations, along.states, along.traffic
    items, evaluation, ranking = found.items, found.evaluation, found.ranking
    opinions = second_opinions(stations, items, evaluation, settings)
    opinions = opinions.set_index("setup").loc[ranking.setups["setup"]].reset_index()

    say("looking for what forces the choice, and what would ease it")
    stretches = stretch_rows(stations, found, settings)
    forcing = bottlenecks(block.trails, stations, found, settings, stretches)
    fares = stretch_setups(stations, found, stretches)
    eased, detours = remedies(situation, forcing.head(MOST_EASED), fares)
    names = [stretch_name(stations, rows) for _, rows in stretches]
    lighter = drop_it(situation, stretches, names, eased)
    words = f"{ranking.headline} {reach_words(lighter)}".strip()
    ranking = replace(ranking, headline=words)

    say("drawing what is not known exactly")
    doubt = doubt_of(situation)
    described = ranking.setups.set_index("setup")["description"].to_dict()
    shown = found.item(ranking.shown)
    tipping = tip_places(stations, shown)
    reaching = crane_places(stations, shown)
    said = (
        tip_warning(tipping),
        crane_warning(reaching),
        chance_words(doubt, ranking.candidate, described),
    )
    ranking = replace(ranking, headline=" ".join([ranking.headline, *filter(None, said)]))

    say("sending the timber to the landings")
    ruts = evaluate_ruts(stations, stations, items, traffic.volume_m3, settings)
    trodden = rut_columns(ruts, shown, stations.index)
    stations[list(trodden.columns)] = trodden
    stations["crane_used"] = crane_used(stations, shown)
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

    loads = trail_loads(stations, along.network, along.routes, shown, settings)
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
        slope=dem.with_values(surfaces.slope),
        slope_class=dem.with_values(surfaces.slope_class),
        slope_labels=slope_classes.labels(settings.terrain.slope_bands),
        soils=block.soils,
        landings=block.landings,
        boundary=block.boundary,
        trails=trail_table(block.trails, stations, evaluation, ranking.shown, wetness, loads),
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
            *_left_out(block, issues),
            *not_assessed_sentences(stations, settings, shown, items),
            *left_out_sentences(
                stations, shown, evaluation.reserve_loaded[:, evaluation.column(shown.setup.id)]
            ),
            *wet_sentences(stations, wet_ground, settings),
            *traffic_sentences(sheet, settings),
        ),
        crs_note=block.crs_note,
        states=states,
        wet_ground=wet_ground,
        ruts=ruts,
        check_sheet=sheet,
        evaluations=found.evaluations,
        bottlenecks=forcing,
        stretch_setups=fares,
        remedies=eased,
        reroutes=detours,
        drop_it=lighter,
        doubt=doubt,
        seasons=seasons(along, found, settings),
        trail_states=trail_states(block.trails, along, found, settings, wet_ground.water_runs),
        trail_loads=loads,
        weights=weights(ranking.setups),
        machines=compare_machines(block, along, block.other_machines),
        ratings=rating_checks(stations, items, settings),
        rating_places=ratings_by_trail(stations, shown, settings),
        stability_checks=stability_checks(stations, items),
        tip_places=tipping,
        crane_checks=crane_checks(stations, items),
        crane_places=reaching,
        footprints=footprints_table(items),
        effects_used=effects_table(items),
        outside_range=outside_range(stations, items, settings),
        emergency=block.emergency,
        shown_setup=shown.setup,
    )


def _left_out(block: LoadedBlock, issues: list[Issue]) -> tuple[str, ...]:
    """Name the aids that were not looked at: made for no axle of this machine, or not listed."""
    said = []
    if not any(issue.code == "AID08" for issue in issues):
        said.append(
            "The catalogue of aids is the block's own. What is not in it was not looked at: metres "
            "that none of its setups passes count as hopeless, though another aid may pass them."
        )
    aids = split_catalogue(block.machine, block.aids).left_out
    if not aids:
        return tuple(said)
    names = ", ".join(f"{aid.name} for {' or '.join(aid.fits_tyres)}" for aid in aids)
    said.append(f"Aids of the catalogue made for other tyres or axles were not looked at: {names}.")
    return tuple(said)
