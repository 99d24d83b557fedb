"""A hand-built block whose every figure is known by arithmetic.

A plane that rises 10 % toward east. Trail T1 climbs it for 200 m to the landing; T2 joins T1 in its
middle after 60 m along the contour. The last 50 m of T1 lie on class 3, the rest on class 1.
"""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point, box

CRS = "EPSG:32633"
EAST, NORTH = 500000.0, 5100000.0

BLOCK = """\
[block]
name = "tiny block"
invented = true
[dem]
file = "dem.tif"
[soils]
file = "soils.gpkg"
id = "polygon"
soil_class = "soil_class"
drainage = "drainage"
[trails]
file = "trails.gpkg"
id = "trail"
[landings]
file = "landings.gpkg"
id = "landing"
[machine]
file = "machine.toml"
[ground]
state = "moist"
[settings]
buffer_m = 60.0
"""

MACHINE = """\
[machine]
name = "invented forwarder"
kind = "forwarder"
invented = true
unladen_mass_kg = 20000
unladen_front_kg = 11000
wheelbase_m = 5.5
track_gauge_m = 2.2
width_m = 2.9
cg_height_m = 1.4
max_tractive_effort_kn = 250
[front]
kind = "bogie"
bogie_spacing_m = 1.5
[front.tyre]
designation = "710/45-26.5"
inflation_kpa = 400
charted_inflation_kpa = 400
[rear]
kind = "bogie"
bogie_spacing_m = 1.5
[rear.tyre]
designation = "710/45-26.5"
inflation_kpa = 400
charted_inflation_kpa = 400
[load]
mass_kg = 14000
centre_ahead_of_rear_m = 0.3
centre_height_m = 2.1
"""


def at(x, y):
    """Point of the block in the CRS; x metres east and y metres north of its corner."""
    return EAST + x, NORTH + y


def plane(gx=0.10, gy=0.0, columns=160, rows=110, cell=2.0, west=-60.0, south=-110.0):
    """Elevation of a plane and its transform; covers x -60..260, y -110..110."""
    y, x = np.mgrid[0:rows, 0:columns]
    east = west + (x + 0.5) * cell
    north = south + rows * cell - (y + 0.5) * cell
    z = (300 + gx * east + gy * north).astype(np.float32)
    return z, from_origin(*at(west, south + rows * cell), cell, cell)


def write_dem(path: Path, z, transform, crs=CRS, **profile):
    """Write ``z`` as a GeoTIFF."""
    settings = {
        "driver": "GTiff",
        "height": z.shape[0],
        "width": z.shape[1],
        "count": 1,
        "dtype": z.dtype.name,
        "crs": crs,
        "transform": transform,
        **profile,
    }
    with rasterio.open(path, "w", **settings) as dst:
        dst.write(z, 1)


def trails():
    """Return the two trails; T1 is drawn away from the landing, so its load goes against it."""
    return gpd.GeoDataFrame(
        {"trail": ["T1", "T2"]},
        geometry=[LineString([at(200, 0), at(0, 0)]), LineString([at(100, 60), at(100, 0)])],
        crs=CRS,
    )


def soils():
    """Class 1 west of x = 150, class 3 east of it."""
    return gpd.GeoDataFrame(
        {
            "polygon": ["firm", "soft"],
            "soil_class": [1, 3],
            "drainage": ["well drained", "poorly drained"],
        },
        geometry=[box(*at(-60, -110), *at(150, 110)), box(*at(150, -110), *at(260, 110))],
        crs=CRS,
    )


def landings():
    """One landing at the upper end of T1."""
    return gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(at(200, 0))], crs=CRS)


def write_block(folder: Path, **layers) -> Path:
    """Write the block into ``folder`` and return its block file.

    ``layers`` replaces a part: ``dem=(z, transform)``, ``trails``, ``soils``, ``landings`` as
    GeoDataFrame, ``block`` and ``machine`` as text.
    """
    folder.mkdir(parents=True, exist_ok=True)
    write_dem(folder / "dem.tif", *layers.get("dem", plane()))
    for name, made in (("trails", trails), ("soils", soils), ("landings", landings)):
        layer = layers.get(name)
        (made() if layer is None else layer).to_file(folder / f"{name}.gpkg", driver="GPKG")
    (folder / "machine.toml").write_text(layers.get("machine", MACHINE), encoding="utf-8")
    path = folder / "block.toml"
    path.write_text(layers.get("block", BLOCK), encoding="utf-8")
    return path
