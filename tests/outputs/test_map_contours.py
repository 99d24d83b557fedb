"""Contour lines: where they lie on surfaces that have a simple answer."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from terrain.grid import Grid
from terrain.outputs.map_contours import contour_interval, contour_lines

N = 120


def grid(values: np.ndarray, cell: float = 1.0) -> Grid:
    return Grid(values.astype(np.float32), 1_000.0, 2_000.0, cell, "EPSG:25833")


def test_a_plane_has_straight_lines_at_its_levels() -> None:
    _, x = np.mgrid[0:N, 0:N].astype(float)
    interval, levels = contour_lines(grid(0.1 * (x + 0.5)))  # z = 0.1 (east - 1000)
    assert interval == 1.0
    for level in levels:
        assert level.heavy == (level.level % 5 == 0)
        for line in level.lines:
            points = shapely.get_coordinates(line)
            assert points[:, 0] == pytest.approx(1_000 + 10 * level.level, abs=1e-3)
            assert np.ptp(points[:, 1]) == pytest.approx(N - 1)
    assert [level.level for level in levels] == list(range(1, 12))


def test_north_is_up() -> None:
    y, _ = np.mgrid[0:N, 0:N].astype(float)
    _, levels = contour_lines(grid(0.1 * (N - 0.5 - y)))  # rises to the north from 1880
    assert len(levels) > 5
    for level in levels:
        for line in level.lines:
            found = shapely.get_coordinates(line)[:, 1]
            assert found == pytest.approx(1_880 + 10 * level.level, abs=1e-3)


def test_a_void_cuts_the_lines() -> None:
    _, x = np.mgrid[0:N, 0:N].astype(float)
    z = 0.1 * x
    z[40:80, :] = np.nan
    _, levels = contour_lines(grid(z))
    hole = shapely.box(1_000, 2_000 - 79, 1_000 + N, 2_000 - 41)
    assert levels
    assert all(not line.intersects(hole) for level in levels for line in level.lines)


@pytest.mark.parametrize("values", [np.zeros((30, 30)), np.full((30, 30), np.nan)])
def test_flat_and_unknown_ground_have_none(values: np.ndarray) -> None:
    assert sum(len(level.lines) for level in contour_lines(grid(values))[1]) == 0


@pytest.mark.parametrize(("relief", "interval"), [(8, 1), (31, 2), (119, 5), (301, 20), (9e9, 200)])
def test_the_interval_grows_with_the_relief(relief: float, interval: float) -> None:
    assert contour_interval(np.array([3.0, 3.0 + relief])) == interval


def test_a_large_grid_is_averaged() -> None:
    _, x = np.mgrid[0:120, 0:2100].astype(float)
    _, levels = contour_lines(grid(0.01 * (x + 0.5)))
    assert len(levels) > 5
    for level in levels:
        for line in level.lines:
            assert shapely.get_coordinates(line)[:, 0] == pytest.approx(
                1_000 + 100 * level.level, abs=0.01
            )


def test_lines_stand_at_even_feet_when_feet_are_asked_for() -> None:
    """One foot is 0.3048 m exactly (NIST Special Publication 811, 2008, appendix B)."""
    _, x = np.mgrid[0:N, 0:N].astype(float)
    interval, levels = contour_lines(grid(0.1 * (x + 0.5)), 0.3048)
    assert interval == 2.0
    for level in levels:
        assert level.level % 2 == 0
        assert level.heavy == (level.level % 10 == 0)
        for line in level.lines:
            east = shapely.get_coordinates(line)[:, 0]
            assert east == pytest.approx(1_000 + 10 * 0.3048 * level.level, abs=1e-3)
