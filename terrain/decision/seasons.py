"""When to move in: every setup in every moisture state, and the order of the trails."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.assessment import Assessment
from terrain.decision.ground import frost_is_verified
from terrain.decision.look_along import AlongTrails
from terrain.decision.ranking import carry_over, measure_setups
from terrain.decision.results import Evaluation
from terrain.decision.water_met import water_without_crossing
from terrain.models.settings import Settings
from terrain.models.soil import MOISTURE_STATES, THAWED_STATES
from terrain.stations.traffic import edge_of

__all__ = ["seasons", "trail_states"]

_OPEN, _UNKNOWN, _SHUT = 0, 1, 2
_MOST_TRAILS_NAMED = 3


def seasons(along: AlongTrails, assessment: Assessment, settings: Settings) -> pd.DataFrame:
    """Every scored setup in every moisture state: table ``seasons`` of the registry.

    The rule is that of the chosen state: a setup that falls short in a drier state falls short in
    the wetter ones too. Rows go by setup in ranked order, then by state from dry to frozen. Frozen
    ground is left out unless somebody verified the frost.
    """
    states = [s for s in MOISTURE_STATES if s != "frozen" or frost_is_verified(settings.ground)]
    frames = []
    measured = carry_over(
        {
            state: measure_setups(assessment.evaluations[state], along.stations, settings.decision)
            for state in states
        }
    )
    for state, table in measured.items():
        words = _deciding(along.stations, assessment.evaluations[state])
        decides = [
            f"falls short in {drier} ground" if isinstance(drier, str) else text
            for drier, text in zip(table["drier_state"], words, strict=True)
        ]
        frames.append(table.reset_index().assign(state=state, decides=decides))
    joined = pd.concat(frames, ignore_index=True)
    rank = {name: i for i, name in enumerate(assessment.ranking.setups["setup"])}
    place = {state: i for i, state in enumerate(states)}
    order = pd.DataFrame({"a": joined["setup"].map(rank), "b": joined["state"].map(place)})
    joined = joined.loc[order.sort_values(["a", "b"]).index].reset_index(drop=True)
    return joined[list(columns_of("seasons"))]


def _deciding(stations: pd.DataFrame, evaluation: Evaluation) -> list[str]:
    """For each setup the trails with most short metres, in words."""
    reserve = evaluation.reserve
    short = pd.DataFrame(
        np.where(reserve < 0, stations[["length_m"]].to_numpy(), 0.0),
        columns=list(evaluation.setups),
    )
    by_trail = short.groupby(stations["trail"].to_numpy(), sort=True).sum()
    words = []
    for setup in evaluation.setups:
        most = by_trail[setup][by_trail[setup] > 0].sort_values(ascending=False, kind="stable")
        named = [f"{trail} {metres:.0f} m" for trail, metres in most.items()]
        more = len(named) - _MOST_TRAILS_NAMED
        text = ", ".join(named[:_MOST_TRAILS_NAMED])
        words.append(f"{text} and {more} more" if more > 0 else text)
    return words


def trail_states(
    trails: gpd.GeoDataFrame,
    along: AlongTrails,
    assessment: Assessment,
    settings: Settings,
    water_runs: pd.DataFrame,
) -> pd.DataFrame:
    """In which states each trail can be used with the shown setup, and a suggested order of work.

    Returns
    -------
    DataFrame
        Table ``trail_states`` of the registry, one row a trail in the order of ``trails``.

    Notes
    -----
    A trail is usable when the shown setup has traction on all of it and on all the way from it to
    the landing. Where it would be, yet water without a mapped crossing lies on that way, nobody
    knows: there may be a culvert, or none. Order: what passes only in dry ground comes first,
    because dry days are few; what passes in wet ground is kept for wet days. Then come the trails
    of which it is not known, and last those that pass in no thawed state.
    """
    column = assessment.evaluation.column(assessment.ranking.shown)
    own: dict[str, NDArray[np.int64]] = {}
    whole: dict[str, NDArray[np.int64]] = {}
    names = np.asarray(trails.index.astype(str), dtype=object)
    for state in MOISTURE_STATES:
        reserve = assessment.evaluations[state].reserve[:, column]
        station = np.where(np.isnan(reserve), _UNKNOWN, np.where(reserve < 0, _SHUT, _OPEN))
        if state == "frozen" and not frost_is_verified(settings.ground):
            station = np.full(len(reserve), _UNKNOWN)
        of_edge = _by_edge(along, station)
        way = _ways(along, of_edge)
        own[state] = _by_trail(names, along.network.trail, of_edge)
        whole[state] = _by_trail(names, along.network.trail, np.maximum(of_edge, way))
    table = pd.DataFrame({"trail": names})
    water = water_without_crossing(along, water_runs, trails.index).reset_index(drop=True)
    meets_water = water.notna().any(axis=1).to_numpy(dtype=bool)
    for state in MOISTURE_STATES:
        usable = pd.array(whole[state] == _OPEN, dtype="boolean")
        usable[(whole[state] == _UNKNOWN) | (usable & meets_water)] = pd.NA
        table[f"usable_{state}"] = usable
    by_itself, with_way = _wettest(own), _wettest(whole)
    table["own_wettest"], table["wettest"] = by_itself, with_way
    number = np.array(
        [len(THAWED_STATES) + 1 if s is None else THAWED_STATES.index(s) for s in with_way]
    )
    unknown = whole[THAWED_STATES[0]] == _UNKNOWN
    number[unknown] = len(THAWED_STATES)
    number[meets_water] = np.maximum(number[meets_water], len(THAWED_STATES))
    present = np.unique(number)
    table["order"] = np.searchsorted(present, number) + 1
    table["volume_m3"] = along.traffic.volumes["volume_m3"].reindex(trails.index).to_numpy()
    table[list(water.columns)] = water
    told = zip(with_way, by_itself, table["usable_frozen"], strict=True)
    places = water.apply(lambda row: ", ".join(row.dropna()), axis=1)
    table["advice"] = [
        _water_advice(where) + (_NOT_KNOWN if blind else _advice(*words))
        for where, blind, words in zip(places, unknown, told, strict=True)
    ]
    return table[list(columns_of("trail_states"))]


def _by_edge(along: AlongTrails, station: NDArray[np.int64]) -> NDArray[np.int64]:
    """Worst of the stations on every edge of the network."""
    worst = np.zeros(len(along.network.trail), dtype=np.int64)
    np.maximum.at(worst, edge_of(along.stations, along.network), station)
    return worst


def _ways(along: AlongTrails, of_edge: NDArray[np.int64]) -> NDArray[np.int64]:
    """Worst on the way from each edge's exits to its landing."""
    network, routes = along.network, along.routes
    length = network.length_m
    worst = np.zeros(len(of_edge), dtype=np.int64)
    for number, forest in enumerate(routes.forests):
        node = np.full(len(network.node_x_m), _SHUT, dtype=np.int64)
        for here in np.argsort(forest.distance_m, kind="stable"):
            if not np.isfinite(forest.distance_m[here]):
                break
            edge = forest.next_edge[here]
            node[here] = _OPEN if edge < 0 else max(of_edge[edge], node[forest.next_node[here]])
        mine = routes.forest_of_edge == number
        back = np.where(routes.parting_m > 0, node[network.from_node], _OPEN)
        ahead = np.where(routes.parting_m < length, node[network.to_node], _OPEN)
        worst[mine] = np.maximum(back, ahead)[mine]
    return worst


def _by_trail(
    names: NDArray[np.object_], trail: NDArray[np.object_], of_edge: NDArray[np.int64]
) -> NDArray[np.int64]:
    place = {name: i for i, name in enumerate(names)}
    worst = np.zeros(len(names), dtype=np.int64)
    np.maximum.at(worst, np.array([place[str(name)] for name in trail]), of_edge)
    return worst


def _wettest(found: dict[str, NDArray[np.int64]]) -> list[str | None]:
    """Wettest thawed state up to which every state is open; None where dry is not."""
    open_ = np.stack([found[state] == _OPEN for state in THAWED_STATES])
    reached = np.logical_and.accumulate(open_, axis=0).sum(axis=0)
    return [None if n == 0 else THAWED_STATES[n - 1] for n in reached]


_NOT_KNOWN = "not known: a part of it, or of its way, is not assessed; walk it first"


def _water_advice(places: str) -> str:
    """What to do first where water is met without a mapped crossing; empty where it is not."""
    if not places:
        return ""
    return f"no crossing is mapped at the water on its way ({places}): stop and ask; else "


def _advice(wettest: str | None, own: str | None, frozen: object) -> str:
    if wettest is None:
        if own is not None:
            text = "the way to the landing is shut in every thawed state"
        else:
            text = "needs measures in every thawed state"
        return f"{text}; passes on verified frost" if frozen is True else text
    if wettest == "dry":
        return "has traction only while dry: take it first on dry days"
    if wettest == "moist":
        return "has traction up to moist ground: before rain"
    if wettest == "wet":
        return "has traction up to wet ground"
    return "has traction even on saturated ground: the last to be shut; look at the soil first"
