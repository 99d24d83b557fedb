"""Doubt over 5,000 stations, 20 setups, 5 moisture states, 200 draws: under 15 s and 2 GB.

Run: python -m tests.bench.bench_doubt

First with soil strength alone, then with elevation, payload and density errors too. The block is
invented; both runs include the sources of doubt.
"""

from __future__ import annotations

import resource
import sys
import time
from dataclasses import replace

import numpy as np
import pandas as pd

from cli.console import say
from terrain.decision.assessment import Assessment, in_state
from terrain.decision.carried import carried
from terrain.decision.doubt import doubt_about
from terrain.decision.evaluation import evaluate, setup_facts
from terrain.decision.ranking import measure_setups, rank_setups
from terrain.models.settings import DoubtSettings, GroundSettings, Settings
from terrain.setups.rulebook import Standing, judge_all
from tests.builders import AIDS, forwarder, stations

STATIONS, SETUPS, DRAWS = 5000, 20, 200
LIKELY_KPA = {"dry": 900.0, "moist": 700.0, "wet": 450.0, "saturated": 300.0, "frozen": 420.0}
MOST_SECONDS, MOST_BYTES = 15.0, 2e9


def block() -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """Gentle trails with soils of different strength in 30 polygons."""
    rng = np.random.default_rng(3)
    table = stations(grade=rng.normal(0, 0.08, STATIONS), cross_slope=rng.normal(0, 0.06, STATIONS))
    table["trail"] = [f"T{i // 50}" for i in range(STATIONS)]
    table["chainage_m"] = (np.arange(STATIONS) % 50 + 0.5) * 5.0
    polygon = np.arange(STATIONS) * 30 // STATIONS
    table["soil_polygon"] = [f"S{number}" for number in polygon]
    factor = rng.uniform(0.8, 1.2, 30)[polygon]
    states = {
        state: pd.DataFrame(
            {
                "cone_index_kpa": likely * factor,
                "cone_index_low_kpa": 0.7 * likely * factor,
                "cone_index_high_kpa": 1.4 * likely * factor,
                "bearing_kpa": 100.0,
            }
        )
        for state, likely in LIKELY_KPA.items()
    }
    return table, states


def assessment_of(table, states, settings, machine=None, setups=SETUPS) -> Assessment:
    """The first ``setups`` setups of a machine, all taken as usual practice."""
    machine = machine or forwarder()
    judged = judge_all(machine, AIDS)
    usual = [
        (s, replace(j, standing=Standing.USUAL))
        for s, j in judged
        if j.standing is not Standing.EXCLUDED
    ]
    kept = tuple(usual[:setups])
    items = tuple(carried(setup, machine) for setup, _ in kept)
    found = {
        state: evaluate(in_state(table, ground), items, settings)
        for state, ground in states.items()
    }
    evaluation, work_mj = found[settings.ground.state]
    facts = setup_facts(items, work_mj).assign(
        description=[setup.id for setup, _ in kept],
        standing=Standing.USUAL.words,
        standing_codes="",
    )
    measures = measure_setups(evaluation, table, settings.decision)
    ranking = rank_setups(facts, measures, pd.DataFrame(), float(table["length_m"].sum()))
    evaluations = {state: pair[0] for state, pair in found.items()}
    return Assessment(machine, kept, items, evaluation, evaluations, ranking)


def main() -> int:
    """Time both runs and print them; exit code 1 above the bounds."""
    ground = GroundSettings("frozen", frost_depth_m=0.3)  # with it all five states are looked at
    soil = Settings(ground=ground, doubt=DoubtSettings(draws=DRAWS))
    everything = replace(
        soil.doubt,
        dem_error_m=0.08,
        dem_error_range_m=10.0,
        payload_spread_percent=8.0,
        density_spread_percent=5.0,
    )
    table, states = block()
    found = assessment_of(table, states, soil)
    say(f"{len(table)} stations, {len(found.items)} setups, {len(states)} states, {DRAWS} draws")
    slowest = 0.0
    for words, settings in (
        ("soil strength alone", soil),
        ("all sources", replace(soil, doubt=everything)),
    ):
        clock, cpu = time.perf_counter(), time.process_time()
        doubt = doubt_about(table, states, found, settings, 1.0)
        seconds, used = time.perf_counter() - clock, time.process_time() - cpu
        slowest = max(slowest, seconds)
        say(f"  {words:<20} {seconds:6.2f} s ({used:.2f} s of processor)")
        say(f"    {doubt.sentence}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    say(f"  peak memory          {peak / 1e9:6.2f} GB")
    return int(slowest > MOST_SECONDS or peak > MOST_BYTES)


if __name__ == "__main__":
    sys.exit(main())
