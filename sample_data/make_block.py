"""Make the layers of the fictional block: ``python -m sample_data.make_block [OUT]``.

Ostrel Ridge, block 14 is INVENTED. Its coordinates lie in the open South Atlantic, so that nobody
takes it for a place; ground, soils, timber and landings describe nothing that exists. The seed is
fixed: a rerun gives the same layers. ``block.toml`` and ``machines`` are written by hand.
"""

from __future__ import annotations

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
import shapely
from numpy.typing import NDArray
from rasterio.features import shapes, sieve
from rasterio.transform import from_origin
from scipy.spatial import cKDTree
from shapely import LineString, Point, Polygon
from shapely.geometry import shape as shape_of

from sample_data.network import (
    DRAWN_UPHILL,
    LANDINGS,
    ROAD,
    TRAILS,
    lay_trails,
    round_corners,
    trace,
)
from sample_data.relief import drained_area, grow_hillside, rough_field, route_flow, smooth
from terrain.grid import Grid

__all__ = ["build", "main", "write"]

SEED = 39
CELL_M = 2.0
COUNTRY_M = 1600.0
CRS = "EPSG:32728"
WEST_M, SOUTH_M = 500_000.0, 6_000_000.0
FRAME = (200, 20, 1400, 1120)
"""West, south, east, north of the DEM inside the invented country, metres."""
HOLLOW = (880.0, 580.0, 140.0, 6.5)
"""East, north, radius and depth of the bowl that holds the peat, metres."""
STREAM_FROM_M2 = 40_000.0
TIMESTAMP = "2025-01-01T00:00:00.000Z"
BOUNDARY = [
    (262, 430), (330, 250), (430, 130), (540, 84), (700, 60), (900, 42), (1120, 36), (1290, 56),
    (1346, 260), (1352, 520), (1356, 820), (1300, 930), (1120, 985), (880, 978), (640, 985),
    (440, 960), (330, 900), (272, 760), (250, 600),
]  # fmt: skip

SOILS = (
    ("P1", 1, "well drained", "loam", "loam over weathered rock, the long slopes"),
    ("P2", 1, "excessively drained", "loamy sand", "dry stony crest"),
    ("P3", 1, "moderately well drained", "silt loam", "silty slopes of the amphitheatre"),
    ("P4", 1, "somewhat excessively drained", "sandy loam", "rocky shoulder"),
    ("P5", 2, "somewhat poorly drained", "silty clay loam", "gleyed toe slope"),
    ("P6", 3, "poorly drained", "silt loam", "peaty gley round the hollow"),
    ("P7", 4, "very poorly drained", "peat", "peat of the hollow"),
)
"""Polygon, soil class 1-4, USDA drainage class, USDA texture class, description: all invented."""

Floats = NDArray[np.float64]


def _centres() -> tuple[Floats, Floats]:
    """East and north of the cell centres of the whole country, metres, (800, 800) each."""
    middle = (np.arange(int(COUNTRY_M / CELL_M)) + 0.5) * CELL_M
    return tuple(np.meshgrid(middle, middle[::-1]))  # type: ignore[return-value]


def _ease(share: Floats) -> Floats:
    """Rise smoothly from 0 to 1 while ``share`` goes from 0 to 1."""
    held = np.clip(share, 0, 1)
    return held * held * (3 - 2 * held)


def _flow(elevation_m: Floats, rise: float) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Catchment (m2), draining neighbour and filled level (m) of every cell of the country."""
    outlets = np.zeros(elevation_m.shape, bool)
    outlets[[0, -1]] = True
    still = np.zeros((*elevation_m.shape, 8))
    receiver, _step, order, level = route_flow(elevation_m, CELL_M, outlets, still, rise)
    area = drained_area(receiver, order, CELL_M).reshape(elevation_m.shape)
    return area, receiver, level.reshape(elevation_m.shape)


def shape_natural() -> tuple[Floats, dict[str, Floats]]:
    """Grow the hillside, then soften its foot and lay the peaty hollow.

    Returns
    -------
    elevation_m : ndarray, shape (800, 800)
    marks : dict of ndarray, shape (800, 800)
        ``hard`` (0 to 1, hard bed), ``toe`` (0 to 1, softened foot), ``peat_m`` (fill, metres).
    """
    z, hard = grow_hillside(SEED)
    x, y = _centres()
    # below 64 m the ground keeps a shrinking share of its slope: a concave toe
    table = np.arange(-5.0, 200.0, 0.25)
    keep = 0.42 + 0.58 * _ease((table - 46) / 18)
    lowered = np.cumsum(keep) * 0.25
    toe = (1 - np.interp(z, table, keep)) / 0.58
    z = np.interp(z, table, lowered - lowered[-1] + table[-1])
    # a rib of harder rock steepens the western flank
    rib = _ease((y - 425) / 125) * _ease((460 - x) / 170) * _ease((900 - y) / 280)
    z = z + 8.0 * rib
    # a shallow bowl across the stream, filled to a gentle fall
    east, north, radius, depth = HOLLOW
    bowl = np.clip(1 - ((x - east) ** 2 + (y - north) ** 2) / radius**2, 0, 1)
    sunk = z - depth * bowl * bowl
    peat = np.where(bowl > 0, _flow(sunk, 0.014)[2] - sunk, 0.0)
    return smooth(sunk + peat, 12), {"hard": hard, "toe": toe, "peat_m": peat}


def _bench(z: Floats, points: Floats, profile_m: Floats, half_m: Floats, bank: float) -> Floats:
    """Return ``z`` cut and filled to ``profile_m`` along ``points`` (n, 2) with ``bank`` slopes."""
    x, y = _centres()
    places = np.column_stack([x.ravel(), y.ravel()])
    distance, nearest = cKDTree(points).query(places, distance_upper_bound=45)
    nearest = np.minimum(nearest, len(points) - 1)  # beyond 45 m: any, not used
    distance, nearest = distance.reshape(x.shape), nearest.reshape(x.shape)
    room = np.maximum(distance - half_m[nearest], 0.0) * bank
    level = profile_m[nearest]
    return np.where(distance < 45, np.clip(z, level - room, level + room), z)


def build_road(z: Floats, trails: dict[str, Floats]) -> Floats:
    """Return ``z`` with the road bench, a pad at each landing and a ramp up to each pad.

    The road is 7 m wide; banks stand at 1 in 1.5. It crosses the stream on a bridge: fill ends
    6 m short of running water.
    """
    ground = Grid(z, 0.0, COUNTRY_M, CELL_M, CRS)
    line = LineString(trace(ground, ROAD, grade=0.05, cross=0.6))
    along = np.arange(0.0, line.length, 1.0)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
    padded = np.pad(ground.bilinear(points[:, 0], points[:, 1]), 40, mode="edge")
    profile = np.array([padded[i : i + 81].mean() for i in range(along.size)])
    half = np.full(along.size, 3.5)
    pad_level = {}
    for landing, place in LANDINGS.items():
        at = line.project(Point(place))
        half = np.maximum(half, np.clip(14.0 - 0.5 * np.abs(along - at), 0, 9))
        pad_level[landing] = float(np.interp(at, along, profile))
    built = _bench(z, points, profile, half, 1 / 1.5)
    for plan in TRAILS:
        if plan.joins in LANDINGS:
            trail = LineString(trails[plan.trail]).reverse()
            along = np.arange(0.0, min(60.0, trail.length / 2), 1.0)
            points = shapely.get_coordinates(shapely.line_interpolate_point(trail, along))
            lie = ground.bilinear(points[:, 0], points[:, 1])
            lift = (pad_level[plan.joins] - lie[9]) * (1 - _ease((along - 9) / (along[-1] - 9)))
            ramp = np.where(along < 9, pad_level[plan.joins], lie + lift)
            built = _bench(built, points, ramp, np.full(along.size, 2.5), 1 / 1.5)
    area = _flow(z, 1e-4)[0]
    x, y = _centres()
    water = np.column_stack([x[area > STREAM_FROM_M2], y[area > STREAM_FROM_M2]])
    places = np.column_stack([x.ravel(), y.ravel()])
    clear = cKDTree(water).query(places, distance_upper_bound=40)[0].reshape(z.shape)
    return np.minimum(built, z + 0.4 * np.maximum(clear - 6, 0))


def draw_soils(z: Floats, marks: dict[str, Floats]) -> gpd.GeoDataFrame:
    """Draw the soil polygons: zones of the ground, islands merged, shared edges simplified."""
    x, y = _centres()
    random = np.random.default_rng(SEED + 2)
    wander = rough_field(random, z.shape, CELL_M, 160.0, 40.0)
    bowl = np.hypot((x - 950) / 290, (y - 680) / 240) + 0.05 * wander
    zone = np.where(bowl < 1, 3, 1)
    zone[(z > 141 + 3 * wander) & (marks["toe"] < 0.1)] = 2
    zone[smooth(np.clip(marks["hard"], 0, 1), 60) > 0.18] = 4
    zone[marks["toe"] + 0.02 * wander > 0.94] = 5
    damp = smooth((_flow(z, 1e-4)[0] > 9_000).astype(float), 120) > 0.045
    peat = smooth(marks["peat_m"], 20)
    close = np.hypot(x - 914, y - 595) < 85 + 10 * wander
    zone[(close & damp) | (smooth(peat, 150) > 0.2)] = 6
    zone[peat > 0.5] = 7
    zone = sieve(zone.astype(np.uint8), size=500, connectivity=4)
    west, south, east, north = FRAME
    window = zone[
        int((COUNTRY_M - north) / 2) : int((COUNTRY_M - south) / 2), west // 2 : east // 2
    ]
    edges = [shape_of(outline).boundary for outline, _value in shapes(window.copy())]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(edges)]))
    faces = shapely.coverage_simplify(faces, 3.0)
    inside = shapely.get_coordinates(shapely.point_on_surface(faces)).astype(int)
    value = window[inside[:, 1], inside[:, 0]]
    corner = np.array([WEST_M + west, SOUTH_M + north])
    faces = shapely.transform(faces, lambda cell: cell * (CELL_M, -CELL_M) + corner)
    drawn = gpd.GeoDataFrame({"zone": value.astype(int)}, geometry=list(faces), crs=CRS)
    drawn["area_m2"] = -drawn.area
    drawn = drawn.sort_values(["zone", "area_m2"], kind="stable")
    count = drawn.groupby("zone").cumcount()
    drawn["polygon"] = [
        SOILS[z - 1][0] + ("" if n == 0 else "bcdefgh"[n - 1])
        for z, n in zip(drawn["zone"], count, strict=True)
    ]
    for column, place in (("soil_class", 1), ("drainage", 2), ("texture", 3), ("ground", 4)):
        drawn[column] = [SOILS[z - 1][place] for z in drawn["zone"]]
    return drawn.drop(columns=["zone", "area_m2"]).reset_index(drop=True)


def draw_streams(z: Floats) -> gpd.GeoDataFrame:
    """Draw the streams of the frame: cells with a catchment over 4 ha, joined downstream."""
    area, receiver, _level = _flow(z, 1e-4)
    west, south, east, _north = FRAME
    x, y = (values.ravel() for values in _centres())
    wet = (area.ravel() > STREAM_FROM_M2) & (x > west) & (x < east) & (y > south) & (y < 950)
    feeders = np.bincount(receiver[wet & (receiver >= 0)], minlength=wet.size)
    lines = []
    for head in np.flatnonzero(wet & (feeders != 1)):
        path = [int(head)]
        while wet[path[-1]] and receiver[path[-1]] >= 0:
            path.append(int(receiver[path[-1]]))
            if feeders[path[-1]] != 1:
                break
        inside = [i for i in path if wet[i]]
        if len(inside) > 12:
            lines.append(round_corners(np.column_stack([x[inside], y[inside]])))
    lines.sort(key=lambda points: -LineString(points).length)
    return gpd.GeoDataFrame(
        {"stream": [f"S{n}" for n in range(1, len(lines) + 1)]},
        geometry=[_on_map(points) for points in lines],
        crs=CRS,
    )


def draw_crossings(trails: gpd.GeoDataFrame, streams: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Set a crossing where main and base trails meet a stream; strip trails have none planned."""
    water = streams.geometry.union_all()
    rows = []
    for trail, kind, line in zip(
        trails["trail"], trails["trail_class"], trails.geometry, strict=True
    ):
        if kind != "strip trail":
            met = shapely.get_parts(shapely.intersection(line, water))
            points = [point for point in met if point.geom_type == "Point"]
            rows += [(trail, point) for point in sorted(points, key=line.project)]
    return gpd.GeoDataFrame(
        {
            "crossing": [f"X{n}" for n in range(1, len(rows) + 1)],
            "kind": ["bridge" if trail == "T3" else "temporary bridge" for trail, _ in rows],
        },
        geometry=[Point(round(point.x, 2), round(point.y, 2)) for _, point in rows],
        crs=CRS,
    )


def _on_map(points: Floats) -> LineString:
    return LineString(np.round(np.asarray(points) + np.array([WEST_M, SOUTH_M]), 2))


def build() -> tuple[Grid, dict[str, gpd.GeoDataFrame]]:
    """Build the whole block in memory.

    Returns
    -------
    dem : Grid
        Elevation in metres, float32 rounded to 1 cm, 550 x 600 cells of 2 m.
    layers : dict of GeoDataFrame
        ``soils``, ``trails``, ``landings``, ``boundary``, ``streams``, ``crossings``, all in
        ``CRS``.
    """
    natural, marks = shape_natural()
    trails = lay_trails(Grid(natural, 0.0, COUNTRY_M, CELL_M, CRS))
    z = build_road(natural, trails)
    random = np.random.default_rng(SEED + 1)
    z = z + 0.02 * rough_field(random, z.shape, CELL_M, 16.0, 4.0)
    west, south, east, north = FRAME
    rows = slice(int((COUNTRY_M - north) / CELL_M), int((COUNTRY_M - south) / CELL_M))
    window = np.round(z[rows, int(west / CELL_M) : int(east / CELL_M)], 2).astype(np.float32)
    dem = Grid(window, WEST_M + west, SOUTH_M + north, CELL_M, CRS)
    plans = {plan.trail: plan for plan in TRAILS}
    drawn = [trails[t][::-1] if t in DRAWN_UPHILL else trails[t] for t in plans]
    layers = {
        "soils": draw_soils(natural, marks),
        "streams": draw_streams(natural),
        "trails": gpd.GeoDataFrame(
            {
                "trail": list(plans),
                "trail_class": [plan.trail_class for plan in plans.values()],
                "volume_m3": [plan.volume_m3 for plan in plans.values()],
                "width_m": [5.0 if p.trail_class == "main trail" else 4.0 for p in plans.values()],
            },
            geometry=[_on_map(points) for points in drawn],
            crs=CRS,
        ),
        "landings": gpd.GeoDataFrame(
            {"landing": list(LANDINGS)},
            geometry=[Point(WEST_M + e, SOUTH_M + n) for e, n in LANDINGS.values()],
            crs=CRS,
        ),
        "boundary": gpd.GeoDataFrame(
            {"block": ["Ostrel Ridge, block 14 (invented)"]},
            geometry=[Polygon([(WEST_M + e, SOUTH_M + n) for e, n in BOUNDARY])],
            crs=CRS,
        ),
    }
    layers["crossings"] = draw_crossings(layers["trails"], layers["streams"])
    return dem, layers


def write(out: Path, dem: Grid, layers: dict[str, gpd.GeoDataFrame]) -> list[Path]:
    """Write ``dem.tif`` and one GeoPackage a layer into the folder ``out``; return the files.

    Existing files of those names are replaced. The time stamp inside the GeoPackages is fixed, so
    that equal layers give equal bytes.
    """
    out.mkdir(parents=True, exist_ok=True)
    files = [out / "dem.tif"]
    with rasterio.open(
        files[0], "w", driver="GTiff", width=dem.shape[1], height=dem.shape[0], count=1,
        dtype="float32", crs=CRS, transform=from_origin(dem.west_m, dem.north_m, CELL_M, CELL_M),
        nodata=-9999.0, compress="deflate", predictor=3, zlevel=9, tiled=True,
        blockxsize=256, blockysize=256,
    ) as target:  # fmt: skip
        target.write(dem.values, 1)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": TIMESTAMP})
    for name, layer in layers.items():
        files.append(out / f"{name}.gpkg")
        files[-1].unlink(missing_ok=True)
        pyogrio.write_dataframe(layer, files[-1], layer=name, driver="GPKG")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    return files


def main(arguments: list[str] | None = None) -> None:
    """Write the layers into the folder given, or beside this script."""
    given = sys.argv[1:] if arguments is None else arguments
    for file in write(Path(given[0]) if given else Path(__file__).parent, *build()):
        sys.stdout.write(f"{file}\n")


if __name__ == "__main__":
    main()
