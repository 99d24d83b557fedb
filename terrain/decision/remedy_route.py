"""Remedies on the way of the timber: to another landing, or without the stretch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.decision.leave_out import (
    Heading,
    LeftOut,
    evaluated_anew,
    heading_along,
    leave_out,
)
from terrain.decision.remedy_case import Case, metres
from terrain.decision.situation import Situation
from terrain.stations.network import Network
from terrain.stations.routes import Routes, find_routes
from terrain.stations.traffic import edge_of

__all__ = [
    "LeftOut",
    "leave_out",
    "left_out_rows",
    "other_landing_rows",
    "other_way_rows",
    "trails_over",
]

Rows = list[dict[str, object]]


def other_landing_rows(situation: Situation, cases: Sequence[Case]) -> Rows:
    """Send the timber that comes over the stretch to each other landing.

    Parameters
    ----------
    situation : Situation
    cases : sequence of Case
        Setups on one stretch.

    Returns
    -------
    list of dict
        A row for each landing and case; one row a case where there is no other landing.

    Notes
    -----
    Trails and landings stay where they are, so the stations stay too: only the way they are
    travelled changes. Stations that timber of other trails then passes the other way are looked at
    both ways.
    """
    along, block = situation.along, situation.block
    stations, network, rows = along.stations, along.network, cases[0].rows
    here = set(stations["landing"].iloc[rows].dropna().astype(str))
    others = [str(name) for name in block.landings.index if {str(name)} != here]
    if not others:
        why = "There is no other landing."
        return [case.row("other landing", why, "no", case.failing_m, 0.0) for case in cases]
    edge = edge_of(stations, network)
    before = heading_along(stations, edge, network, along.routes)
    trails = trails_over(network, along.routes, set(edge[rows])) | {cases[0].trail}
    own = stations["trail"].isin(trails).to_numpy()
    assigned = block.trails["landing"].astype(object).copy()
    found: Rows = []
    for name in others:
        told = f"Haul {_names(sorted(trails))} to landing {name}"
        assigned[block.trails.index.isin(trails)] = name
        routes, issues = find_routes(
            network,
            block.trails.assign(landing=assigned),
            block.landings,
            block.settings.terrain.snap_m,
        )
        if issues:
            why = f"{told}: not possible, the trails do not lead there."
            found += [case.row("other landing", why, "no", case.failing_m, 0.0) for case in cases]
            continue
        after = heading_along(stations, edge, network, routes)
        items = [case.item for case in cases]
        found += _to_landing(situation, cases, items, before, after, own, told)
    return found


def _to_landing(
    situation: Situation,
    cases: Sequence[Case],
    items: Sequence[Carried],
    before: Heading,
    after: Heading,
    own: NDArray[np.bool_],
    told: str,
) -> Rows:
    turned = after.as_drawn != before.as_drawn
    against = after.against & ~before.against
    evaluation = evaluated_anew(situation, items, turned, against, np.zeros_like(turned))
    further = after.to_landing_m - before.to_landing_m
    added_m = float(np.average(further[own], weights=cases[0].length_m[own]))
    rows = []
    for k, case in enumerate(cases):
        left_m, moved_m, solved, least = case.outcome(evaluation, k)
        way = "the other way" if turned[case.rows].all() else "as before"
        if turned[case.rows].any() and not turned[case.rows].all():
            way = "partly the other way"
        rows.append(
            case.row(
                "other landing",
                f"{told}: the stretch is driven {way}.",
                solved,
                left_m,
                moved_m,
                least,
                added_m=added_m,
            )
        )
    return rows


def other_way_rows(situation: Situation, cases: Sequence[Case]) -> Rows:
    """Drive the stretch the other way round, where a loop leads to a landing.

    No timber goes over the end of the stretch that is toward the landing any more: its own timber
    and what comes over it turn round there and take the way that is left. A row for each case.
    """
    remedy, rows = "other way round", cases[0].rows
    along = situation.along
    stations, network = along.stations, along.network
    edge = edge_of(stations, network)
    before = heading_along(stations, edge, network, along.routes)
    last = int(rows[np.argmin(before.to_landing_m[rows])])
    own = np.flatnonzero(edge == edge[last])
    own = own[np.argsort(stations["chainage_m"].to_numpy(dtype=float)[own], kind="stable")]
    place = int(np.flatnonzero(own == last)[0]) + int(before.as_drawn[last])
    out = leave_out(situation, [], [case.setup for case in cases], (int(edge[last]), place))
    if out.cut_off_m > 0 or not out.turned[rows].any():
        why = "There is no way round to a landing."
        return [case.row(remedy, why, "no", case.failing_m, 0.0) for case in cases]
    part = "" if out.turned[rows].all() else " in part"
    made = []
    for k, case in enumerate(cases):
        left_m, moved_m, solved, least = case.outcome(out.evaluation, k)
        told = (
            f"Drive the stretch{part} the other way round, loaded: the way to a landing gets "
            f"{metres(out.added_m)} longer on average where it does."
        )
        made.append(case.row(remedy, told, solved, left_m, moved_m, least, added_m=out.added_m))
    return made


def left_out_rows(situation: Situation, cases: Sequence[Case]) -> Rows:
    """Leave the stretch out: what timber is stranded, what is cut off, what is short elsewhere."""
    setups = [case.setup for case in cases]
    out = leave_out(situation, [cases[0].rows], setups)
    rows = []
    for k, case in enumerate(cases):
        moved_m = float(out.new_short_m[k])
        rest = out.cut_off_m == 0 and moved_m == 0
        volume = "timber of unknown volume"
        if not np.isnan(out.stranded_m3):
            volume = (
                f"{'at least ' if out.unknown_trails else ''}{out.stranded_m3:.0f} m3 of timber"
            )
        told = f"Leave out {metres(out.left_out_m)} of {case.trail}: {volume} along it"
        if out.cut_off_m > 0:
            told += (
                f" and along {metres(out.cut_off_m)} beyond it ({', '.join(out.cut_off_trails)})"
            )
        said = []
        if out.unknown_trails:
            said.append(f"Volume not known: {', '.join(out.unknown_trails)}.")
        if out.added_m > 0:
            said.append(
                f"Where the way gets longer, it does so by {metres(out.added_m)} on average."
            )
        rows.append(
            case.row(
                "leave out",
                f"{told} has no way to a landing.",
                "yes" if rest else "partly",
                0.0,
                moved_m,
                stranded_m3=out.stranded_m3,
                stranded_trails=", ".join(out.cut_off_trails) or None,
                added_m=out.added_m,
                note=" ".join(said) or None,
            )
        )
    return rows


def trails_over(network: Network, routes: Routes, edges: set[int]) -> set[str]:
    """Trails with timber that passes over one of ``edges``, or that lies along it."""
    names = {str(network.trail[number]) for number in edges}
    length = network.length_m
    for number, forest in enumerate(routes.forests):
        passing = np.zeros(len(forest.distance_m), dtype=bool)
        for node in np.argsort(forest.distance_m, kind="stable"):
            if forest.next_edge[node] >= 0:
                onward = passing[forest.next_node[node]]
                passing[node] = onward or int(forest.next_edge[node]) in edges
        own = routes.forest_of_edge == number
        back = passing[network.from_node] & (routes.parting_m > 1e-6)
        ahead = passing[network.to_node] & (routes.parting_m < length - 1e-6)
        names |= {str(name) for name in network.trail[own & (back | ahead)]}
    return names


def _names(trails: Sequence[str]) -> str:
    return f"trail {trails[0]}" if len(trails) == 1 else f"trails {', '.join(trails)}"
