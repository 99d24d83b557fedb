"""A small invented block on a tilted plane, written to a folder for the tests."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from shapely.geometry import LineString, Point, box

from terrain.inputs import guarded  # noqa: F401  # sets the PROJ environment first

CRS = "EPSG:32633"
WEST, SOUTH = 500_000.0, 5_300_000.0

BLOCK = """
[block]
name = "Test block"
invented = true
[dem]
file = "dem.tif"
elevation_unit = "m"
[soils]
file = "soils.gpkg"
id = "polygon"
soil_class = "soil_class"
drainage = "drainage"
texture = "texture"
[trails]
file = "trails.gpkg"
id = "trail"
trail_class = "trail_class"
volume_m3 = "volume_m3"
[landings]
file = "landings.gpkg"
id = "landing"
[machine]
file = "forwarder_8.toml"
[ground]
film = "bare mineral"
state = "moist"
[settings]
buffer_m = 20.0
"""


def make_block(folder: Path, text: str = BLOCK) -> Path:
    """Write layers, machine and block file into ``folder``; return the block file."""
    rows = columns = 150
    heights = np.fromfunction(lambda r, c: 400 + 0.1 * c + 0.05 * r, (rows, columns))
    profile = {
        "driver": "GTiff",
        "height": rows,
        "width": columns,
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "transform": rasterio.transform.from_origin(WEST, SOUTH + 2 * rows, 2, 2),
        "nodata": -9999.0,
    }
    with rasterio.open(folder / "dem.tif", "w", **profile) as dem:
        dem.write(heights.astype("float32"), 1)

    def at(x: float, y: float) -> tuple[float, float]:
        return WEST + x, SOUTH + y

    gpd.GeoDataFrame(
        {
            "polygon": ["S1", "S2"],
            "soil_class": [1, 3],
            "drainage": ["well drained", "poorly drained"],
            "texture": ["sandy loam", "silty clay"],
        },
        geometry=[box(*at(0, 0), *at(150, 300)), box(*at(150, 0), *at(300, 300))],
        crs=CRS,
    ).to_file(folder / "soils.gpkg")
    gpd.GeoDataFrame(
        {
            "trail": ["T1", "T2"],
            "trail_class": ["main trail", "strip trail"],
            "volume_m3": [0.0, 60.0],
        },
        geometry=[
            LineString([at(60, 150), at(240, 150)]),
            LineString([at(150, 150), at(150, 240)]),
        ],
        crs=CRS,
    ).to_file(folder / "trails.gpkg")
    gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(at(60, 150))], crs=CRS).to_file(
        folder / "landings.gpkg"
    )
    demo = Path(str(resources.files("sample_data"))) / "machines" / "forwarder_8.toml"
    shutil.copy(demo, folder / "forwarder_8.toml")
    path = folder / "block.toml"
    path.write_text(text, encoding="utf-8")
    return path
