"""Speed and memory of the surfaces beside general packages, in one run, as ratios.

Run by hand, not by pytest::

    python tests/bench/bench_surfaces.py --size 3000
    python tests/bench/bench_surfaces.py --size 10000 --own-only

Every comparison alternates between the two sides, so that a busy machine slows both. The terrain
is an invented fractal with a tilt, 2 cm of noise and a void corner; more than a quarter of it lies
in hollows, which is hard on a flood.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from terrain.surfaces.flow import channels, depressions, fill, route
from terrain.surfaces.gradient import horn, slope
from terrain.surfaces.wetness import depth_to_water_m, slope_m

CELL_M = 1.0
AREA_HA = 1.0
CAP_M = 2.0
LARGEST_GRAPH_CELLS = 16_000_000  # the graph library needs some 200 bytes a cell


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def fractal(size: int, seed: int = 0) -> np.ndarray:
    """Rough ground, float32, made with as little memory as the transform allows."""
    draws = np.random.default_rng(seed)
    spectrum = np.fft.rfft2(draws.standard_normal((size, size), dtype=np.float32))
    wave = np.hypot(
        np.fft.fftfreq(size).astype(np.float32)[:, None],
        np.fft.rfftfreq(size).astype(np.float32)[None],
    )
    wave[0, 0] = 1
    spectrum *= wave**-1.9
    del wave
    ground = np.fft.irfft2(spectrum, s=(size, size)).astype(np.float32)
    del spectrum
    ground *= np.float32(0.04 * size / ground.std())
    for row in range(size):
        ground[row] += np.float32(0.03 * row)
        ground[row] += draws.normal(scale=0.02, size=size).astype(np.float32)
        ground[row, : max(0, size // 5 - row)] = np.nan
    ground -= np.fmin.reduce(ground, axis=None)  # pyflwdir rounds heights below zero
    return ground


def once(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds and result of one call."""
    begin = time.perf_counter()
    result = work()
    return time.perf_counter() - begin, result


def compare(name: str, sides: dict[str, Callable[[], Any]], repeats: int) -> dict[str, Any]:
    """Alternate between the sides; say the medians and each ratio of ours to theirs."""
    for work in sides.values():
        work()  # compile and warm up
    seconds: dict[str, list[float]] = {side: [] for side in sides}
    results = {}
    for _ in range(repeats):
        for side, work in sides.items():
            spent, results[side] = once(work)
            seconds[side].append(spent)
    ours, *others = sides
    own = statistics.median(seconds[ours])
    say(f"{name}: {ours} {own:.3f} s")
    for side in others:
        ratios = [a / b for a, b in zip(seconds[ours], seconds[side], strict=True)]
        other = statistics.median(seconds[side])
        say(
            f"    {side} {other:.3f} s; ratio {own / other:.3f} (pairs {min(ratios):.3f}"
            f" to {max(ratios):.3f}), {other / own:.1f} times as fast"
        )
    return results


def compare_flow(ground: np.ndarray, repeats: int) -> None:
    """Fill alone, then fill, directions and catchments."""
    import pyflwdir

    finite = np.where(np.isnan(ground), np.float32(-9999), ground)

    def their_fill() -> Any:
        return pyflwdir.dem.fill_depressions(finite, nodata=-9999.0)[0]

    def their_route() -> Any:
        codes = pyflwdir.dem.fill_depressions(finite, nodata=-9999.0)[1]
        return pyflwdir.from_array(codes, ftype="d8", check_ftype=False).upstream_area("cell")

    filled = compare("fill", {"ours": lambda: fill(ground), "pyflwdir": their_fill}, repeats)
    known = ~np.isnan(ground)
    apart = np.abs(filled["ours"][known] - filled["pyflwdir"][known]).max()
    say(f"    largest difference {apart:.1e} m; {(filled['ours'] > ground).mean():.0%} raised")
    cells = compare(
        "fill + D8 + catchments",
        {"ours": lambda: route(ground, CELL_M).catchment_cells, "pyflwdir": their_route},
        repeats,
    )
    say(f"    largest catchment {cells['ours'].max()} and {cells['pyflwdir'].max()} cells")


def compare_depth(ground: np.ndarray, repeats: int) -> None:
    """Spread up to the cap against the full cost distance, on the same slope and sources."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra
    from skimage.graph import MCP_Geometric

    from terrain.surfaces import _kernels

    steep = slope_m(ground, CELL_M)
    inner = ~np.isnan(steep)
    mask = channels(route(ground, CELL_M), AREA_HA).mask & inner
    starts = np.argwhere(mask)
    costs = np.where(inner, steep.astype(float), np.inf)

    def ours(cap_m: float) -> Any:
        depth = np.where(inner, np.float32(cap_m), np.float32(np.nan))
        marks = mask.ravel().astype(np.uint8)
        _kernels.spread(depth.ravel(), steep.ravel(), marks, steep.shape[1], CELL_M, True)
        return depth

    def image_library() -> Any:
        return MCP_Geometric(costs, fully_connected=True).find_costs(starts)[0]

    def graph_library() -> Any:
        number = np.arange(steep.size, dtype=np.int32).reshape(steep.shape)
        starts_of, ends_of, weights = [], [], []
        for row, column in ((0, 1), (1, 0), (1, 1), (1, -1)):
            here = (
                slice(0, steep.shape[0] - row),
                slice(max(0, -column), steep.shape[1] - max(0, column)),
            )
            there = (
                slice(row, None),
                slice(max(0, column), steep.shape[1] + min(0, column)),
            )
            weight = (steep[here] + steep[there]) / 2 * np.hypot(row, column)
            linked = ~np.isnan(weight)
            starts_of.append(number[here][linked])
            ends_of.append(number[there][linked])
            weights.append(np.maximum(weight[linked], 1e-12))
        edges = (np.concatenate(starts_of), np.concatenate(ends_of))
        graph = csr_array((np.concatenate(weights), edges), shape=(steep.size, steep.size))
        found = dijkstra(graph, directed=False, indices=np.flatnonzero(mask), min_only=True)
        return found.reshape(steep.shape)

    sides = {f"ours up to {CAP_M:g} m": lambda: ours(CAP_M), "scikit-image, full": image_library}
    if steep.size <= LARGEST_GRAPH_CELLS:
        sides["scipy graph, full (graph built anew)"] = graph_library
    found = compare("depth-to-water from given streams and slope", sides, repeats)
    capped, full, *_ = found.values()
    apart = np.abs(capped[inner] - np.minimum(full[inner], CAP_M)).max()
    share = (full[inner] < CAP_M).mean()
    say(f"    largest difference below the cap {apart:.1e} m; {share:.1%} of the cells below it")
    spent = statistics.median(once(lambda: ours(np.inf))[0] for _ in range(repeats))
    say(f"    ours without a cap {spent:.3f} s")


def compare_gradient(ground: np.ndarray, repeats: int) -> None:
    """Our slope in process against the command-line tool from file to file."""
    if shutil.which("gdaldem") is None:
        say("Horn slope: gdaldem is not installed, not compared")
        return
    import rasterio

    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "dem.tif", Path(folder) / "slope.tif"
        profile = {
            "driver": "GTiff",
            "dtype": "float32",
            "count": 1,
            "height": ground.shape[0],
            "width": ground.shape[1],
            "nodata": -9999.0,
            "crs": "EPSG:32633",
            "transform": rasterio.Affine(CELL_M, 0, 500000, 0, -CELL_M, 5000000),
        }
        finite = np.where(np.isnan(ground), np.float32(-9999), ground)
        with rasterio.open(source, "w", **profile) as file:
            file.write(finite, 1)

        def tool() -> Any:
            subprocess.run(
                ["gdaldem", "slope", source, target, "-p", "-q"], check=True, capture_output=True
            )
            return target

        def ours_with_files() -> Any:
            with rasterio.open(source) as file:
                ground_read = file.read(1)
            ground_read[ground_read == -9999] = np.nan
            with rasterio.open(target, "w", **profile) as file:
                file.write(slope(*horn(ground_read, CELL_M)) * 100, 1)

        compare(
            "Horn slope",
            {"ours, in process": lambda: slope(*horn(ground, CELL_M)), "gdaldem, end to end": tool},
            repeats,
        )
        compare(
            "Horn slope from file to file (ours without the start of Python)",
            {"ours": ours_with_files, "gdaldem": tool},
            repeats,
        )
        with rasterio.open(target) as file:
            theirs = file.read(1)
        own = slope(*horn(ground, CELL_M)) * 100
        both = ~np.isnan(own) & (theirs != -9999)
        say(f"    largest difference {np.abs(own - theirs)[both].max():.1e} percentage points")


def measure_start() -> None:
    """Seconds to import and compile the kernels with an empty and with a filled cache."""
    code = (
        "import time; import numba; b = time.perf_counter();"
        " import terrain.surfaces._kernels; print(time.perf_counter() - b)"
    )
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"NUMBA_CACHE_DIR": folder}
        for state in ("empty", "filled", "filled"):
            done = subprocess.run(
                [sys.executable, "-c", code],
                env=environment,
                check=True,
                capture_output=True,
                text=True,
            )
            say(
                f"kernels with {state} cache: {float(done.stdout):.2f} s (numba itself not counted)"
            )
        size = sum(file.stat().st_size for file in Path(folder).rglob("*") if file.is_file())
        say(f"    cache on disk {size / 1e6:.2f} MB")


def resident_bytes(field: str) -> int:
    """A memory figure of this process from the kernel's status file (Linux only)."""
    line = next(
        line for line in Path("/proc/self/status").read_text().splitlines() if field in line
    )
    return int(line.split()[1]) * 1024


def child(size: int, stage: str, dem: str) -> None:
    """Run one stage in this process; write its seconds and its peak beyond the DEM as JSON."""
    small = fractal(64)
    depth_to_water_m(small, CELL_M, 0.01)
    depressions(small, fill(small), CELL_M)
    ground = np.load(dem)
    before = resident_bytes("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")  # start the peak afresh
    if stage == "gradient":
        spent, _ = once(lambda: horn(ground, CELL_M))
    elif stage == "fill":
        spent, _ = once(lambda: fill(ground))
    elif stage == "route":
        spent, _ = once(lambda: route(ground, CELL_M))
    elif stage == "hollows":
        spent, _ = once(lambda: depressions(ground, fill(ground), CELL_M))
    elif stage == "one state":
        spent, _ = once(lambda: depth_to_water_m(ground, CELL_M, AREA_HA, CAP_M))
    else:
        spent, _ = once(lambda: depth_to_water_m(ground, CELL_M, [16.0, 4.0, 1.0, 0.25], CAP_M))
    peak = resident_bytes("VmHWM")
    say(json.dumps({"seconds": spent, "per_cell": (peak - before) / size**2, "whole": peak}))


def measure_memory(size: int) -> None:
    """Each stage in a process of its own: seconds, peak beyond the DEM, peak of the process."""
    with tempfile.TemporaryDirectory() as folder:
        dem = str(Path(folder) / "dem.npy")
        np.save(dem, fractal(size))
        for stage in ("gradient", "fill", "route", "hollows", "one state", "four states"):
            done = subprocess.run(
                [sys.executable, __file__, "--size", str(size), "--child", stage, "--dem", dem],
                check=True,
                capture_output=True,
                text=True,
            )
            found = json.loads(done.stdout)
            say(
                f"{stage}: {found['seconds']:.2f} s, {found['per_cell']:.1f} bytes a cell beyond"
                f" the DEM, process peak {found['whole'] / 1e9:.2f} GB"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--size", type=int, default=3000, help="cells on a side")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--own-only", action="store_true", help="no other packages")
    parser.add_argument("--child", help=argparse.SUPPRESS)
    parser.add_argument("--dem", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        child(given.size, given.child, given.dem)
        return
    python = platform.python_version()
    say(f"{given.size} x {given.size} cells, {os.cpu_count()} cores, Python {python}")
    if not given.own_only:
        ground = fractal(given.size)
        measure_start()
        compare_gradient(ground, given.repeats)
        compare_flow(ground, given.repeats)
        compare_depth(ground, given.repeats)
        del ground
    measure_memory(given.size)


if __name__ == "__main__":
    main()
