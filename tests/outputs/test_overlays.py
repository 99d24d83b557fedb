from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image
from pyproj import Transformer

from terrain.grid import Grid
from terrain.outputs.overlays import Overlay, class_overlay, hillshade, shade_overlay


def picture(overlay: Overlay) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(overlay.uri.split(",", 1)[1])))


def test_slopes_toward_the_north_west_light_are_bright() -> None:
    y, x = np.mgrid[0:9, 0:9].astype(float)
    facing_nw, facing_se = 0.3 * (x + y), -0.3 * (x + y)  # rows run south, columns east
    flat = hillshade(np.zeros((9, 9)), 1.0)[4, 4]
    assert hillshade(facing_nw, 1.0)[4, 4] > flat > hillshade(facing_se, 1.0)[4, 4]


def test_a_void_is_transparent_and_stays_where_it_was() -> None:
    values = np.full((40, 60), 3, dtype=np.int8)
    values[:20, :30] = 0  # north-west quarter
    image = picture(
        class_overlay(Grid(values, 400_000, 5_600_040, 1.0, "EPSG:25833"), ("#ff0000",))
    )
    alpha = np.asarray(image.convert("RGBA"))[:, :, 3]
    rows, columns = alpha.shape
    assert alpha[rows // 4, columns // 4] == 0
    assert alpha[3 * rows // 4, 3 * columns // 4] == 255


@pytest.mark.parametrize("crs", ["EPSG:25833", "EPSG:3067"])
def test_the_picture_lies_where_the_cell_is(crs: str) -> None:
    """One cell of its own class, found again through the web projection within a cell."""
    values = np.ones((200, 200), dtype=np.int8)
    values[190, 10] = 2
    grid = Grid(values, 300_000, 6_800_200, 2.0, crs)
    overlay = class_overlay(grid, ("#ffffff", "#000000"))
    pixels = np.asarray(picture(overlay).convert("RGBA"))
    row, column = np.argwhere((pixels[:, :, 0] == 0) & (pixels[:, :, 3] == 255)).mean(axis=0)
    (south, west), (north, east) = overlay.bounds
    web = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (x0, x1), (y0, y1) = web.transform([west, east], [south, north])
    height, width = pixels.shape[:2]
    x = x0 + (column + 0.5) / width * (x1 - x0)
    y = y1 - (row + 0.5) / height * (y1 - y0)
    back = Transformer.from_crs("EPSG:3857", crs, always_xy=True).transform(x, y)
    assert back == pytest.approx((300_021, 6_800_200 - 381), abs=2.0)


def test_a_large_grid_is_capped() -> None:
    grid = Grid(np.ones((30, 4500), dtype=np.int8), 400_000, 5_600_000, 1.0, "EPSG:25833")
    assert max(picture(class_overlay(grid, ("#123456",))).size) <= 2000


def test_an_all_void_elevation_model_gives_an_empty_picture() -> None:
    grid = Grid(np.full((20, 20), np.nan), 400_000, 5_600_000, 1.0, "EPSG:25833")
    assert np.asarray(picture(shade_overlay(grid)).convert("RGBA"))[:, :, 3].max() == 0
