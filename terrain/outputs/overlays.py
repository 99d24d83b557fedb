"""Rasters as small palette pictures on the web map's projection."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from terrain.grid import Grid

__all__ = ["Overlay", "class_overlay", "hillshade", "shade_overlay"]

_MOST_PIXELS = 2000
_WEB_MERCATOR = "EPSG:3857"
_SHADOW, _LIGHT = (72, 66, 58), (252, 250, 245)


@dataclass(frozen=True, slots=True)
class Overlay:
    """A picture as ``data:`` URI and its corners, ``((south, west), (north, east))`` in degrees."""

    uri: str
    bounds: tuple[tuple[float, float], tuple[float, float]]


def hillshade(elevation_m: NDArray, cell_m: float, exaggeration: float = 1.5) -> NDArray:
    """Brightness 0 to 1 under light from the north-west, 45° high, softened by three more lights.

    Parameters
    ----------
    elevation_m : ndarray, shape (rows, columns)
        Row 0 is north; NaN stays NaN.
    cell_m : float
        Side of a cell in metres.
    exaggeration : float
        Factor on the gradient, for the eye only.
    """
    south, east = np.gradient(np.asarray(elevation_m, dtype=float), cell_m)
    gx, gy = exaggeration * east, -exaggeration * south
    height = np.radians(45.0)
    total = np.zeros(gx.shape)
    for azimuth_deg, share in ((315.0, 0.55), (270.0, 0.15), (0.0, 0.15), (225.0, 0.15)):
        azimuth = np.radians(azimuth_deg)
        light = np.sin(height) - np.cos(height) * (np.sin(azimuth) * gx + np.cos(azimuth) * gy)
        total += share * np.clip(light / np.sqrt(1 + gx**2 + gy**2), 0, 1)
    return np.clip(total, 0, 1)


def shade_overlay(dem: Grid) -> Overlay:
    """Hillshade of ``dem`` in paper tones; voids are transparent."""
    shade = hillshade(dem.values, dem.cell_m)
    level = np.where(np.isnan(shade), 0, 1 + np.round(shade * 254)).astype(np.uint8)
    ramp = np.linspace(_SHADOW, _LIGHT, 255).round().astype(int)
    palette = [(0, 0, 0), *((int(r), int(g), int(b)) for r, g, b in ramp)]
    return _overlay(dem.with_values(level), palette)


def class_overlay(classes: Grid, colours: tuple[str, ...]) -> Overlay:
    """Classes 1 to n in ``colours`` (``#rrggbb``); class 0 is transparent.

    A class beyond the last colour takes the last one.
    """
    level = np.clip(np.nan_to_num(classes.values, nan=0), 0, len(colours)).astype(np.uint8)
    palette = [(0, 0, 0), *(_rgb(colour) for colour in colours)]
    return _overlay(classes.with_values(level), palette)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _overlay(grid: Grid, palette: list[tuple[int, int, int]]) -> Overlay:
    from PIL import Image
    from pyproj import Transformer
    from rasterio import Affine
    from rasterio.warp import Resampling, calculate_default_transform, reproject

    rows, columns = grid.shape
    source = Affine(grid.cell_m, 0, grid.west_m, 0, -grid.cell_m, grid.north_m)
    _, width, height = calculate_default_transform(
        grid.crs, _WEB_MERCATOR, columns, rows, *grid.bounds
    )
    shrink = max(width, height, _MOST_PIXELS) / _MOST_PIXELS
    width, height = max(1, round(width / shrink)), max(1, round(height / shrink))
    to_web = Transformer.from_crs(grid.crs, _WEB_MERCATOR, always_xy=True)
    west, south, east, north = to_web.transform_bounds(*grid.bounds, densify_pts=21)
    warped = np.zeros((height, width), dtype=np.uint8)
    reproject(
        grid.values,
        warped,
        src_transform=source,
        src_crs=grid.crs,
        dst_transform=Affine((east - west) / width, 0, west, 0, (south - north) / height, north),
        dst_crs=_WEB_MERCATOR,
        src_nodata=0,
        dst_nodata=0,
        resampling=Resampling.nearest,
    )
    picture = Image.frombytes("P", (width, height), warped.tobytes())
    picture.putpalette([value for colour in palette for value in colour])
    buffer = io.BytesIO()
    picture.save(buffer, format="PNG", optimize=True, transparency=0)
    to_degrees = Transformer.from_crs(_WEB_MERCATOR, "EPSG:4326", always_xy=True)
    (w, e), (s, n) = to_degrees.transform([west, east], [south, north])
    uri = "data:image/png;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")
    return Overlay(uri, ((round(s, 7), round(w, 7)), (round(n, 7), round(e, 7))))
