"""The way of every trail's loads to the landing, so that the map can follow it for any setup."""

from __future__ import annotations

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs.page_parts import keyed, without_geometry
from terrain.stations.network import build_network
from terrain.stations.routes import edges_to_landing, find_routes

__all__ = ["Part", "ways_of"]

Part = tuple[str, float, float]
"""Trail, and the metres along it as drawn (from, to) that are driven over."""


def ways_of(plan: Plan) -> dict[str, list[Part]]:
    """Parts of other trails that the loads of each trail are driven over.

    The same network and the same shortest ways that the plan was made with
    (:func:`terrain.stations.routes.edges_to_landing`): where a trail's timber parts, both ways
    count. Parts are whole pieces between two junctions, in the order of the trails.
    """
    snap_m = plan.settings.terrain.snap_m
    trails = keyed(plan.trails, "trail").set_index("trail")[["geometry"]]
    landings = keyed(plan.landings, "landing").set_index("landing")
    network, _ = build_network(trails, landings, snap_m)
    # a trail of which all stations name one landing goes there, assigned or nearest
    names = without_geometry(plan.stations).groupby("trail", sort=False)["landing"]
    assigned = pd.Series(
        {trail: found.iloc[0] for trail, found in names if len(found.unique()) == 1}, dtype=object
    )
    assigned = assigned[assigned.isin(landings.index)].reindex(trails.index)
    routes, _ = find_routes(network, trails.assign(landing=assigned), landings, snap_m)
    passed: dict[str, set[int]] = {str(trail): set() for trail in trails.index}
    for edge, way in enumerate(edges_to_landing(network, routes)):
        passed[str(network.trail[edge])] |= way
    return {
        trail: [
            (str(network.trail[edge]), float(network.start_m[edge]), float(network.end_m[edge]))
            for edge in sorted(edges)
            if str(network.trail[edge]) != trail
        ]
        for trail, edges in passed.items()
    }
