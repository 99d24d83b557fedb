"""Grid figures of a tapped point: the small table against the projection itself."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from terrain.grid import Grid
from terrain.outputs.map_place import grid_table

PLACES = [
    ("EPSG:25833", 400_000.0, 5_600_000.0, 1_000.0),
    ("EPSG:25833", 240_000.0, 6_900_000.0, 20_000.0),
    ("EPSG:3067", 300_000.0, 6_800_000.0, 4_000.0),
    ("EPSG:32728", 500_200.0, 6_000_020.0, 1_200.0),
]


def block(crs: str, east: float, north: float, side: float) -> Grid:
    cell = side / 50
    return Grid(np.zeros((50, 50)), east, north + side, cell, crs)


@pytest.mark.parametrize(("crs", "east", "north", "side"), PLACES)
def test_the_table_is_within_a_tenth_of_a_metre(crs, east, north, side) -> None:
    table = grid_table(block(crs, east, north, side))
    rng = np.random.default_rng(5)
    x = east + rng.uniform(-0.4, 1.4, 400) * side
    y = north + rng.uniform(-0.4, 1.4, 400) * side
    lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(x, y)
    found_x, found_y = table.at(lon, lat)
    error = np.hypot(found_x - x, found_y - y)
    assert error.max() < 0.1  # the page promises less than a metre
    assert error.max() <= table.error_m


def test_outside_the_table_nothing_is_said() -> None:
    table = grid_table(block(*PLACES[0]))
    assert np.isnan(table.at(table.west - 0.01, table.south)[0])
    assert np.isnan(table.at(table.west, table.north + 0.01)[1])


@pytest.mark.parametrize(("east", "side"), [(300_000.0, "west"), (700_000.0, "east")])
def test_grid_north_lies_to_the_side_that_a_step_north_goes(east: float, side: str) -> None:
    """Own check: 1 km north on the grid moves the longitude to the side that is told."""
    crs = "EPSG:25833"
    table = grid_table(block(crs, east, 5_600_000.0, 1_000.0))
    to_degrees = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    step = to_degrees.transform(east, 5_601_000.0)[0] - to_degrees.transform(east, 5_600_000.0)[0]
    assert ("east" if step > 0 else "west") == side
    assert ("east" if table.convergence_deg > 0 else "west") == side
    lat = np.radians(to_degrees.transform(east, 5_600_500.0)[1])
    turn = np.degrees(np.arctan2(np.radians(step) * np.cos(lat) * 6_371_000, 1_000.0))
    assert table.convergence_deg == pytest.approx(
        turn, rel=0.02
    )  # a sphere stands in for the Earth
