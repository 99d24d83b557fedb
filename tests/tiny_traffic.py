"""A hand-built Y-shaped block whose passes are known by arithmetic.

The plane of :mod:`tests.tiny_block`. T1 runs 200 m to the landing; T2 and T3, 60 m each, join it at
its start. Payload 14 000 kg at 875 kg/m3 is 16 m3.
"""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
from shapely.geometry import LineString, box

from tests.tiny_block import BLOCK, CRS, at, write_block

__all__ = ["Y_BLOCK", "y_block", "y_trails"]

Y_BLOCK = (
    BLOCK.replace('id = "trail"', 'id = "trail"\nvolume_m3 = "volume_m3"\nwidth_m = "width_m"')
    .replace('drainage = "drainage"', 'drainage = "drainage"\ntexture = "texture"')
    .replace("[machine]", '[boundary]\nfile = "boundary.gpkg"\n[machine]')
    + """\
[traffic]
green_density_kg_m3 = 875.0
served_width_m = 20.0
[brash]
residue_kg_per_ha = 40000.0
[site_rules]
profile = "finland_1996"
"""
)


def y_trails(volumes=(100.0, 80.0, 33.0), width=4.0):
    """T1 to the landing, T2 and T3 to T1's start; volumes in m3."""
    lines = [[at(0, 0), at(200, 0)], [at(0, 60), at(0, 0)], [at(0, -60), at(0, 0)]]
    return gpd.GeoDataFrame(
        {"trail": ["T1", "T2", "T3"], "volume_m3": list(volumes), "width_m": [width] * 3},
        geometry=[LineString(line) for line in lines],
        crs=CRS,
    )


def y_soils(texture="peat"):
    """Class 1 mineral soil west of x = 150, class 3 of ``texture`` east of it."""
    return gpd.GeoDataFrame(
        {
            "polygon": ["firm", "soft"],
            "soil_class": [1, 3],
            "drainage": ["well drained", "poorly drained"],
            "texture": ["sandy loam", texture],
        },
        geometry=[box(*at(-60, -110), *at(150, 110)), box(*at(150, -110), *at(260, 110))],
        crs=CRS,
    )


def y_block(folder: Path, text: str = Y_BLOCK, **layers) -> Path:
    """Write the block; ``layers`` as for :func:`tests.tiny_block.write_block`."""
    folder.mkdir(parents=True, exist_ok=True)
    gpd.GeoDataFrame(geometry=[box(*at(-50, -80), *at(230, 80))], crs=CRS).to_file(
        folder / "boundary.gpkg", driver="GPKG"
    )
    layers = {"trails": y_trails(), "soils": y_soils(), **layers}
    return write_block(folder, block=text, **layers)
