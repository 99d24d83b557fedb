"""What the map's script works with: trails, figures along them for every setup and state, verdicts.

Everything is plain data. Figures are coded by :mod:`terrain.outputs.map_codes`; stations follow one
another along their trail, trail by trail.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from terrain.decision.results import CAUSES, Evaluation, Plan
from terrain.models.soil import MOISTURE_STATES
from terrain.outputs.geometry import to_degrees
from terrain.outputs.load_words import load_words
from terrain.outputs.map_classes import NOT_JUDGED, MapClass, View, casing, views
from terrain.outputs.map_codes import (
    ALPHABET,
    PASSES,
    PRESSURE,
    PRESSURE_US,
    RATIO,
    SLOPE,
    Pack,
    Scale,
    elevation_scale,
)
from terrain.outputs.map_place import grid_table
from terrain.outputs.map_slopes import (
    OWN_ONLY,
    rating_items,
    rating_rows,
    rating_words,
    steep_items,
    steep_rows,
)
from terrain.outputs.map_trails import (
    latlon,
    one_way,
    stretch_items,
    trail_rows,
    trail_use,
    unknown_use,
    water_words,
)
from terrain.outputs.map_ways import ways_of
from terrain.outputs.page_parts import USUAL, keyed
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN, outcome_mark
from terrain.units import FOOT_M

__all__ = ["NO_FROST", "NO_VERDICT", "evaluations_of", "map_data", "states_judged", "verdict_words"]

NO_VERDICT = "The plan holds no answer for this setup in this state."
"""Said where neither the season table nor the ranking has the pair."""

NO_FROST = (
    " Frost counts only where somebody verified its depth; until then plan for the ground without "
    "it. Wet ground is drawn as it is in moist ground."
)
"""Added to it for frozen ground."""

_CARRIED_OVER = "falls short in "
"""How the season table begins where a drier state decides: no trails follow."""


def map_data(plan: Plan, shown: Shown = METRIC) -> dict[str, Any]:
    """Return everything that the map's panel, profile and search need, ready for JSON.

    Figures that change with the moisture state are given for the states with an answer only.
    """
    pack = Pack()
    order = _order(plan.stations)
    evaluations = evaluations_of(plan)
    setups = _setup_order(plan)
    judged = states_judged(plan)
    columns = [plan.evaluation.column(str(row["setup"])) for row in setups]
    pressure = PRESSURE_US if shown.is_us else PRESSURE
    figures = {
        name: {
            state: [pack.add(codes(answer, k)) for k in columns]
            for state, answer in evaluations.items()
            if name == "passes" or state in judged
        }
        for name, codes in _followers(plan, order, pressure).items()
    }
    elevation = elevation_scale(plan.stations["elevation_m"], FOOT_M if shown.is_us else 1.0)
    fixed = {
        name: pack.add(scale.codes(_numbers(plan.stations, column)[order]))
        for name, column, scale in (
            ("elevation", "elevation_m", elevation),
            ("grade", "grade", SLOPE),
            ("cross", "cross_slope", SLOPE),
            ("demand", "slope", SLOPE),
        )
    }
    if plan.machine.crane is not None and "crane_used" in plan.stations:
        fixed["crane"] = pack.add(RATIO.codes(_numbers(plan.stations, "crane_used")[order]))
    soil, polygons = pd.factorize(plan.stations["soil_polygon"].iloc[order])
    fixed["soil"] = pack.add(np.clip(np.asarray(soil) + 1, 0, 4095))
    return {
        "alphabet": ALPHABET,
        "packs": pack.texts,
        "scales": {
            name: {"low": scale.low, "step": scale.step, "shift": scale.shift}
            for name, scale in _scales(elevation, pressure).items()
        },
        "figures": figures,
        "fixed": fixed,
        "polygons": [str(name) for name in polygons],
        "causes": [CAUSES[k] for k in sorted(CAUSES)],
        "states": list(evaluations),
        "judged": [state for state in evaluations if state in judged],
        "state": plan.settings.ground.state,
        "setups": [
            {
                "id": str(row["setup"]),
                "words": str(row["description"]),
                "standing": str(row["standing"]),
                "usual": row["standing"] == USUAL,
            }
            for row in setups
        ],
        "setup": [str(row["setup"]) for row in setups].index(plan.ranking.shown),
        "verdicts": {
            state: [verdict_words(plan, str(row["setup"]), state, shown) for row in setups]
            for state in evaluations
        },
        "trails": _trails(plan, order, shown),
        "useKnown": plan.trail_states is not None,
        "unknownUse": unknown_use(),
        "stretches": stretch_items(plan, shown),
        "ratings": {
            "words": rating_words(plan, shown),
            "items": rating_items(plan, shown),
            "ownOnly": OWN_ONLY,
        },
        "steep": steep_items(plan, shown),
        "views": [_view(view) for view in views(plan)],
        "notJudged": _look(NOT_JUDGED),
        "grid": _grid(plan),
        "unknown": UNKNOWN,
        "units": {
            "length": {"factor": shown.value(1, "m"), "word": shown.unit("m")},
            "pressure": {
                "factor": shown.value(1, "kPa"),
                "word": shown.unit("kPa"),
                "digits": 1 if shown.is_us else 0,
            },
            "thousands": "," if shown.is_us else "\N{NARROW NO-BREAK SPACE}",
        },
    }


def evaluations_of(plan: Plan) -> dict[str, Evaluation]:
    """Answers by moisture state, dry to frozen; only the plan's own state where others lack."""
    known = dict(plan.evaluations)
    known[plan.settings.ground.state] = plan.evaluation
    return {state: known[state] for state in MOISTURE_STATES if state in known}


def states_judged(plan: Plan) -> set[str]:
    """Moisture states for which the plan holds an answer: its own, and those of the season table.

    Frozen ground is not among them unless somebody verified the frost.
    """
    seasons = set() if plan.seasons is None else set(plan.seasons["state"].astype(str))
    return {plan.settings.ground.state} | seasons


def _order(stations: pd.DataFrame) -> NDArray[np.int64]:
    """Rows of the stations, trail by trail in order of appearance, along each trail."""
    number, _ = pd.factorize(stations["trail"].astype(str))
    return np.lexsort((stations["chainage_m"].to_numpy(dtype=float), number))


def _numbers(table: pd.DataFrame, column: str) -> NDArray[np.float64]:
    return pd.to_numeric(table[column], errors="coerce").to_numpy(dtype=float)


def _setup_order(plan: Plan) -> list[pd.Series]:
    """Rows of the ranking that were scored, usual practice first, else in order."""
    table = plan.ranking.setups
    table = table[table["setup"].isin(plan.evaluation.setups)]
    usual = table["standing"] == USUAL
    return [row for part in (table[usual], table[~usual]) for _, row in part.iterrows()]


def _scales(elevation: Scale, pressure: Scale) -> dict[str, Scale]:
    return {
        "elevation": elevation, "grade": SLOPE, "cross": SLOPE, "demand": SLOPE, "reserve": SLOPE,
        "ratio": RATIO, "pressure": pressure, "passes": PASSES, "cause": PASSES, "soil": PASSES,
        "crane": RATIO,
    }  # fmt: skip


def _followers(
    plan: Plan, order: NDArray[np.int64], pressure: Scale
) -> dict[str, Callable[[Evaluation, int], NDArray[np.int64]]]:
    """Figures that follow setup and state: how to code column ``k`` of an answer."""
    passes = _passes(plan)
    return {
        "reserve": lambda answer, k: SLOPE.codes(answer.reserve[order, k]),
        "ratio": lambda answer, k: RATIO.codes(answer.pressure_ratio[order, k]),
        "pressure": lambda answer, k: pressure.codes(answer.pressure_kpa[order, k]),
        "cause": lambda answer, k: PASSES.codes(answer.cause[order, k]),
        "passes": lambda _, k: PASSES.codes(passes[order, k]),
    }


def _passes(plan: Plan) -> NDArray[np.float64]:
    """Passes by station and scored setup; unknown but for the shown one where traffic lacks."""
    setups = plan.evaluation.setups
    table = np.full((len(plan.stations), len(setups)), np.nan)
    if plan.ruts is None:
        table[:, setups.index(plan.ranking.shown)] = _numbers(plan.stations, "passes")
        return table
    for k, setup in enumerate(setups):
        if setup in plan.ruts.setups:
            table[:, k] = plan.ruts.passes[:, plan.ruts.column(setup)]
    return table


def verdict_words(plan: Plan, setup: str, state: str, shown: Shown = METRIC) -> list[str]:
    """Mark, outcome and the figures behind it, for ``setup`` in ``state``."""
    row = _verdict_row(plan, setup, state)
    if row is None:
        words = NO_VERDICT + (NO_FROST if state == "frozen" else "")
        return [outcome_mark(""), "not judged", words]
    outcome = str(row["outcome"])
    if np.isnan(row["short_m"]):
        said = [f"metres short of traction {UNKNOWN}"]
    else:
        said = [f"{shown.length(row['short_m'])} short of traction"]
    if row["unsolved_m"] > 0:
        said.append(f"{shown.length(row['unsolved_m'])} that no listed setup passes")
    if row["not_assessed_m"] > 0:
        said.append(f"{shown.length(row['not_assessed_m'])} not assessed")
    said.append(f"{shown.length(row['over_bearing_m'])} over the bearing capacity")
    decides = row.get("decides")
    words = "; ".join(said) + "."
    if isinstance(decides, str) and decides.startswith(_CARRIED_OVER):
        words += f" {decides[0].upper()}{decides[1:]}."
    elif isinstance(decides, str) and decides:
        words += f" Short metres by trail: {one_way(shown.sentence(decides), shown)}."
    return [outcome_mark(outcome), outcome, words]


def _verdict_row(plan: Plan, setup: str, state: str) -> pd.Series | None:
    if plan.seasons is not None and len(plan.seasons):
        seasons = plan.seasons
        found = seasons[(seasons["setup"] == setup) & (seasons["state"] == state)]
        if len(found):
            return found.iloc[0]
    if state != plan.settings.ground.state:
        return None
    found = plan.ranking.setups[plan.ranking.setups["setup"] == setup]
    return found.iloc[0] if len(found) else None


def _trails(plan: Plan, order: NDArray[np.int64], shown: Shown) -> list[dict[str, Any]]:
    """Trails in the order of their stations: line with chainages, ends of stations, figures."""
    moved = to_degrees(plan.dem.crs)
    table = keyed(plan.trails, "trail")
    rows = {str(row["trail"]): row for _, row in table.iterrows()}
    stations, use = plan.stations.iloc[order], trail_use(plan, shown)
    ratings, steep, water = rating_rows(plan, shown), steep_rows(plan, shown), water_words(plan)
    ways, loads = ways_of(plan), load_words(plan, shown)
    groups = list(stations.groupby(stations["trail"].astype(str), sort=False))
    number = {str(name): k for k, (name, _) in enumerate(groups)}
    items = []
    for name, here in groups:
        line = rows[str(name)]["geometry"]
        points = shapely.get_coordinates(line)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        items.append(
            {
                "id": str(name),
                "p": latlon(moved(line)),
                "m": along.round(1).tolist(),
                "e": here["length_m"].cumsum().round(2).tolist(),
                "flow": _flow(here),
                "rows": trail_rows(rows[str(name)], shown),
                "wet": _wet_metres(plan, here, shown),
                "use": use.get(str(name), {}),
                "way": [
                    [number[trail], round(start, 1), round(end, 1)]
                    for trail, start, end in ways[str(name)]
                    if trail in number
                ],
                "water": water.get(str(name), ""),
                "ratings": ratings.get(str(name), []),
                "load": loads.get(str(name), ""),
                "steep": steep.get(str(name), []),
            }
        )
    return items


def _flow(here: pd.DataFrame) -> int:
    """1 where the load travels with the drawing, -1 against it, 0 where it does both or neither."""
    step = np.diff(here["to_landing_m"].to_numpy(dtype=float))
    step = np.sign(step[np.isfinite(step)])
    return -int(step[0]) if len(step) and (step == step[0]).all() else 0


def _wet_metres(plan: Plan, here: pd.DataFrame, shown: Shown) -> dict[str, str]:
    """Wet metres of a trail by moisture state, in words."""
    made: dict[str, str] = {}
    for state in MOISTURE_STATES:
        table = plan.states.get(state)
        source = plan.stations if table is None and state == plan.settings.ground.state else table
        if source is None:
            continue
        wet = source.loc[here.index, "wet"].astype("boolean")
        length = here["length_m"].to_numpy(dtype=float)
        known = shown.length(float(length[wet.fillna(False).to_numpy()].sum()))
        unknown = float(length[wet.isna().to_numpy()].sum())
        made[state] = known if unknown == 0 else f"{known}, {shown.length(unknown)} {UNKNOWN}"
    return made


def _view(view: View) -> dict[str, Any]:
    return {
        "key": view.key,
        "title": view.title,
        "follows": view.follows,
        "judged": view.judged,
        "edges": [int(view.scale.codes(item.upper)) for item in view.classes[1:-1]],
        "classes": [_look(item) for item in view.classes],
    }


def _look(item: MapClass) -> dict[str, Any]:
    return {
        "colour": item.colour,
        "edge": casing(item.colour),
        "width": round(item.width, 1),
        "dash": item.dash,
        "ticks": item.ticks,
        "label": item.label,
    }


def _grid(plan: Plan) -> dict[str, Any]:
    table = grid_table(plan.dem)
    return {
        "west": table.west,
        "south": table.south,
        "east": table.east,
        "north": table.north,
        "x": table.easting_m.tolist(),
        "y": table.northing_m.tolist(),
        "crs": table.crs if len(table.crs) < 40 else "grid of the plan",
    }
