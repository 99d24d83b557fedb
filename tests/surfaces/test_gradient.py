"""Gradient operators: planes, fits, voids, borders, blocks and noise."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from terrain.surfaces import gradient
from terrain.surfaces.gradient import (
    aspect_degrees,
    horn,
    plane,
    slope,
    window_cells,
    zevenbergen_thorne,
)

OPERATORS = {
    "horn": horn,
    "zevenbergen_thorne": zevenbergen_thorne,
    "plane 3": lambda z, cell: plane(z, cell, 3 * cell),
    "plane 7": lambda z, cell: plane(z, cell, 7 * cell),
}
HALF = {"horn": 1, "zevenbergen_thorne": 1, "plane 3": 1, "plane 7": 3}


def tilted(rows: int, columns: int, cell_m: float, east: float, north: float) -> np.ndarray:
    row, column = np.mgrid[:rows, :columns]
    return 300.0 + cell_m * (east * column - north * row)


@pytest.mark.parametrize("name", OPERATORS)
def test_a_plane_has_its_own_gradient_inside_and_none_on_the_border(name):
    east, north = OPERATORS[name](tilted(12, 15, 2.5, 0.3, -0.2), 2.5)
    half = HALF[name]
    inside = np.zeros((12, 15), dtype=bool)
    inside[half:-half, half:-half] = True
    np.testing.assert_allclose(east[inside], 0.3, rtol=1e-9)
    np.testing.assert_allclose(north[inside], -0.2, rtol=1e-9)
    assert np.isnan(east[~inside]).all()
    assert np.isnan(north[~inside]).all()


@pytest.mark.parametrize("name", OPERATORS)
def test_a_void_takes_out_every_window_that_holds_it_and_no_other(name):
    elevation = tilted(15, 15, 1.0, 0.1, 0.1)
    elevation[7, 6] = np.nan
    east, north = OPERATORS[name](elevation, 1.0)
    half = HALF[name]
    expected = np.ones((15, 15), dtype=bool)
    expected[half:-half, half:-half] = False
    expected[7 - half : 8 + half, 6 - half : 7 + half] = True
    np.testing.assert_array_equal(np.isnan(east), expected)
    np.testing.assert_array_equal(np.isnan(north), expected)


@pytest.mark.parametrize("name", OPERATORS)
def test_blocks_of_rows_leave_no_seam(name, monkeypatch):
    elevation = np.random.default_rng(4).normal(size=(60, 31))
    elevation[20, 11] = np.nan
    monkeypatch.setattr(gradient, "_CELLS_AT_A_TIME", 10**9)
    whole = OPERATORS[name](elevation, 1.0)
    monkeypatch.setattr(gradient, "_CELLS_AT_A_TIME", 1)
    np.testing.assert_array_equal(OPERATORS[name](elevation, 1.0), whole)


@pytest.mark.parametrize("window", [3, 5, 9])
def test_plane_is_the_least_squares_fit(window):
    # oracle: numpy.linalg.lstsq on every cell of the window
    cell_m, centre = 0.5, (9, 8)
    elevation = np.random.default_rng(window).normal(size=(19, 17))
    half = window // 2
    patch = elevation[
        centre[0] - half : centre[0] + half + 1, centre[1] - half : centre[1] + half + 1
    ]
    row, column = np.mgrid[-half : half + 1, -half : half + 1] * cell_m
    design = np.column_stack([column.ravel(), -row.ravel(), np.ones(patch.size)])
    (fit_east, fit_north, _), *_ = np.linalg.lstsq(design, patch.ravel(), rcond=None)
    east, north = plane(elevation, cell_m, window * cell_m)
    np.testing.assert_allclose((east[centre], north[centre]), (fit_east, fit_north), rtol=1e-9)


@pytest.mark.parametrize(
    ("cell_m", "window_m", "cells"),
    [
        (1, 5, 5),
        (1, 4, 5),
        (1, 3.9, 3),
        (2, 5, 3),
        (5, 5, 3),
        (10, 5, 3),
        (0.1, 0.6, 7),
        (0.5, 5, 11),
    ],
)
def test_window_is_odd_at_least_three_and_nearest(cell_m, window_m, cells):
    assert window_cells(cell_m, window_m) == cells


def test_the_type_of_the_dem_is_kept():
    assert horn(np.zeros((4, 4), dtype=np.float32), 1.0)[0].dtype == np.float32
    assert horn(np.zeros((4, 4), dtype=np.float64), 1.0)[0].dtype == np.float64
    assert horn(np.zeros((4, 4), dtype=np.int16), 1.0)[0].dtype == np.float64


def test_a_high_float32_dem_loses_no_more_than_its_own_rounding():
    # float32 at 3000 m is exact to 1.2e-4 m; halves and quarters of metres are exact
    elevation = (tilted(9, 9, 1.0, 0.25, 0.5) + 2700).astype(np.float32)
    east, north = horn(elevation, 1.0)
    assert east[4, 4] == 0.25
    assert north[4, 4] == 0.5


@pytest.mark.parametrize(
    ("operator", "factor"),
    [(horn, 0.4330), (zevenbergen_thorne, 0.7071), (lambda z, cell: plane(z, cell, 3), 0.4082)],
)
def test_noise_on_level_ground(operator, factor):
    """Standard deviation of a component is factor x sigma / L; mean slope 1.2533 of that.

    The factors follow from the weights (square root of the sum of their squares); the sample has
    250,000 cells, so 1 % is more than five standard errors even with neighbours correlated.
    """
    sigma_m, cell_m = 0.15, 1.0
    noise = np.random.default_rng(11).normal(scale=sigma_m, size=(502, 502))
    east, north = (part[1:-1, 1:-1] for part in operator(noise, cell_m))
    expected = factor * sigma_m / cell_m
    np.testing.assert_allclose([east.std(), north.std()], expected, rtol=0.01)
    np.testing.assert_allclose(slope(east, north).mean(), 1.2533 * expected, rtol=0.01)


@pytest.mark.parametrize(
    ("east", "north", "faces"),
    [(0, 1, 180), (0, -1, 0), (1, 0, 270), (-1, 0, 90), (-1, -1, 45), (1e-300, -1, 0), (0, 0, -1)],
)
def test_aspect_is_the_direction_downhill(east, north, faces):
    assert aspect_degrees(east, north) == pytest.approx(faces)
    assert aspect_degrees(east, north) < 360


def test_unknown_stays_unknown():
    assert np.isnan(aspect_degrees(np.nan, 0.0))
    assert np.isnan(slope(np.nan, 0.0))


def test_a_grid_smaller_than_the_window_is_not_assessed():
    for part in plane(np.zeros((4, 9)), 1.0, 5.0):
        assert part.shape == (4, 9)
        assert np.isnan(part).all()


@pytest.mark.parametrize("cell_m", [0.0, -1.0, np.nan])
def test_impossible_cells_are_refused(cell_m):
    with pytest.raises(ValueError, match="positive"):
        horn(np.zeros((3, 3)), cell_m)
    with pytest.raises(ValueError, match="positive"):
        plane(np.zeros((3, 3)), cell_m, 5.0)


def test_only_two_dimensions():
    with pytest.raises(ValueError, match="two dimensions"):
        horn(np.zeros(9), 1.0)


def test_gradient_and_flow_start_without_the_compiler():
    code = (
        "import sys, terrain.surfaces.gradient, terrain.surfaces.slope_classes,"
        " terrain.surfaces.flow, terrain.surfaces.wetness;"
        " sys.exit('numba' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
