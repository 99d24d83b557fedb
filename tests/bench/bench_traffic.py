"""Network, routes and passes of 10,000 trail segments: under a second.

Run: python -m tests.bench.bench_traffic
"""

from __future__ import annotations

import sys
import time

import numpy as np

from cli.console import say
from terrain.models.settings import TrafficSettings
from terrain.stations.along import place_stations
from terrain.stations.network import build_network
from terrain.stations.routes import find_routes
from terrain.stations.traffic import passes_for, station_volumes, trail_volumes
from tests.stations.networks import landings_of, trails_of


def comb(segments: int = 10_000):
    """Trunk trails with branches on both sides: ``segments`` edges between junctions."""
    rng = np.random.default_rng(7)
    lines = []
    rows = 50
    per_row = segments // rows // 3
    for row in range(rows):
        y = row * 400.0
        lines.append([(0, y), (per_row * 40.0, y)])
        lines += [[(k * 40.0 + 20, y + 150), (k * 40.0 + 20, y)] for k in range(per_row)]
        lines += [[(k * 40.0 + 20, y - 150), (k * 40.0 + 20, y)] for k in range(per_row)]
    lines.append([(0, 0), (0, (rows - 1) * 400.0)])
    return trails_of(lines, rng.uniform(20, 80, len(lines))), landings_of(L=(0.0, 0.0))


def main() -> int:
    """Time the steps and print them; exit code 1 above one second."""
    trails, landings = comb()
    steps = {}
    clock = time.perf_counter()

    def lap(name):
        nonlocal clock
        now = time.perf_counter()
        steps[name] = now - clock
        clock = now

    network, issues = build_network(trails, landings, 1.0)
    lap("network")
    routes, _ = find_routes(network, trails, landings, 1.0)
    lap("routes")
    stations = place_stations(trails, network, 1e9, routes)
    lap("stations, one a segment")
    volumes = trail_volumes(trails, TrafficSettings())
    traffic = station_volumes(stations, network, routes, volumes)
    lap("volumes")
    passes = passes_for(traffic.volume_m3, 15.0)
    lap("passes")
    assert not [issue for issue in issues if issue.severity == "error"]
    say(f"{len(network.trail)} segments, {passes.all.max():.0f} passes at the landing")
    for name, seconds in steps.items():
        say(f"  {name:<26} {seconds:.3f} s")
    counted = sum(steps[name] for name in ("network", "routes", "volumes", "passes"))
    say(f"  network and passes         {counted:.3f} s")
    return int(counted > 1.0)


if __name__ == "__main__":
    sys.exit(main())
