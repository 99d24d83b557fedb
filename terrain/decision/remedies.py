"""Remedies for every stretch that decides, each recomputed: what it does and what it leaves.

A remedy is marked "yes" only when the recomputation leaves no metre of the stretch short and makes
none short elsewhere. What cannot be computed from what was read or given is named, and no more.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import geopandas as gpd
import pandas as pd

from terrain.columns import columns_of
from terrain.decision.remedy_case import Case, cases_of
from terrain.decision.remedy_load import (
    brash_mat,
    drier_state,
    heavier_aid,
    lower_inflation,
    smaller_payload,
    verified_frost,
)
from terrain.decision.remedy_route import left_out_rows, other_landing_rows, other_way_rows
from terrain.decision.reroute import Reroutes
from terrain.decision.situation import Situation

__all__ = ["REMEDIES", "SOLVES", "remedies"]

REMEDIES = (
    "smaller payload",
    "drier state",
    "verified frost",
    "lower inflation",
    "heavier aid on one axle group",
    "other landing",
    "other way round",
    "reroute",
    "leave out",
    "brash",
    "winch assist",
    "wider tyres",
)
"""Kinds of remedy, in the order in which they are listed."""

SOLVES = ("yes", "partly", "no", "cannot tell", "named only")
"""What a remedy achieves; "partly" leaves something, or is hardly practical; "named only" was not
computed."""

_OTHER_MEASURES = (
    (
        "winch assist",
        "A winch that helps the machine: another class of work, with its own anchors, ropes, "
        "training and approval.",
    ),
    ("wider tyres", "Wider tyres, where the machine's maker permits them."),
)


def remedies(
    situation: Situation, bottlenecks: pd.DataFrame, stretch_setups: pd.DataFrame
) -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    """Every remedy for every stretch and setup that is worth it.

    Parameters
    ----------
    situation : Situation
    bottlenecks, stretch_setups : DataFrame
        Tables of the registry.

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["remedies"]``; by stretch, then setup, then remedy in
        the order of :data:`REMEDIES`.
    GeoDataFrame
        The lines of the detours, columns as ``terrain.columns.TABLES["reroutes"]``.
    """
    reroutes = Reroutes(situation)
    rows: list[dict[str, object]] = []
    lines: list[dict[str, object]] = []
    for _, group in groupby(cases_of(situation, bottlenecks, stretch_setups), _stretch):
        cases = list(group)
        for case in cases:
            rows += _on_machine(situation, case)
        by_traction = [case for case in cases if not case.by_pressure]
        if by_traction:
            rows += _on_the_way(situation, by_traction)
            for case in by_traction:
                row, line = reroutes.row(case)
                rows.append(row)
                lines += [line] if line is not None else []
    table = pd.DataFrame(rows, columns=list(columns_of("remedies")))
    stretch = {name: i for i, name in enumerate(bottlenecks["stretch"])}
    order = pd.DataFrame(
        {
            "stretch": table["stretch"].map(stretch),
            "setup": table["setup"].map(_setup_order(situation)),
            "remedy": table["remedy"].map({name: i for i, name in enumerate(REMEDIES)}),
        }
    ).sort_values(["stretch", "setup", "remedy"], kind="stable")
    return table.loc[order.index].reset_index(drop=True), _line_table(situation, lines)


def _stretch(case: Case) -> str:
    return case.stretch


def _on_machine(situation: Situation, case: Case) -> list[dict[str, object]]:
    found = [
        smaller_payload(situation, case),
        drier_state(situation, case),
        verified_frost(situation, case),
        heavier_aid(situation, case),
        brash_mat(situation, case),
    ]
    if not case.by_pressure:  # nominal pressure does not change with inflation
        found.append(lower_inflation(situation, case))
    found += [case.row(remedy, told, "named only") for remedy, told in _OTHER_MEASURES]
    return [row for row in found if row is not None]


def _on_the_way(situation: Situation, cases: Sequence[Case]) -> list[dict[str, object]]:
    return [
        *other_landing_rows(situation, cases),
        *other_way_rows(situation, cases),
        *left_out_rows(situation, cases),
    ]


def _setup_order(situation: Situation) -> dict[str, int]:
    """The shown setup first, then from the heaviest down: the nearest to it come first."""
    items = situation.assessment.items
    ordered = sorted(items, key=lambda item: (-item.added_mass_kg, item.setup.id))
    names = [situation.shown, *(item.setup.id for item in ordered)]
    return {name: i for i, name in enumerate(dict.fromkeys(names))}


def _line_table(situation: Situation, lines: list[dict[str, object]]) -> gpd.GeoDataFrame:
    columns = list(columns_of("reroutes"))
    crs = situation.block.dem.crs
    if not lines:
        return gpd.GeoDataFrame(pd.DataFrame(columns=columns), geometry=[], crs=crs)
    return gpd.GeoDataFrame(pd.DataFrame(lines)[[*columns, "geometry"]], crs=crs)
