"""Drawn lines and areas as cells."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from terrain.grid import Grid
from terrain.surfaces.masks import area_cells, crossing_cells, line_cells

GRID = Grid(np.zeros((10, 12), np.float32), 0.0, 20.0, 2.0, "EPSG:32633")
PLACE = st.tuples(st.floats(-10, 34), st.floats(-10, 30))


def test_a_line_along_a_row():
    mask = line_cells(GRID, [LineString([(1, 11), (7, 11)])])
    assert np.argwhere(mask).tolist() == [[4, 0], [4, 1], [4, 2], [4, 3]]


def test_a_line_that_leaves_the_grid_is_cut():
    mask = line_cells(GRID, [LineString([(-50, 11), (80, 11)])])
    assert mask[4].all()
    assert mask.sum() == 12
    assert not line_cells(GRID, [LineString([(100, 0), (110, 9)])]).any()


@settings(max_examples=60, deadline=None)
@given(PLACE, PLACE)
def test_a_line_is_an_unbroken_chain(start, end):
    mask = line_cells(GRID, [LineString([start, end])])
    cells = np.argwhere(mask)
    for row, column in cells:
        near = np.abs(cells - (row, column)).max(axis=1)
        assert len(cells) == 1 or (near == 1).any()


def test_an_area_by_its_centres_and_outline():
    mask = area_cells(GRID, [box(4.5, 4.5, 9.5, 9.5)])
    assert np.argwhere(mask)[:, 0].min() == 5
    assert mask.sum() == 9
    ring = Polygon([(1, 1), (19, 1), (19, 19), (1, 19)], [[(7, 7), (13, 7), (13, 13), (7, 13)]])
    hole = area_cells(GRID, [ring])
    assert not hole[4:6, 4:6].any()  # an island stays dry
    assert hole[0, 0]


def test_a_pond_smaller_than_a_cell_counts():
    assert area_cells(GRID, [box(4.1, 4.1, 4.4, 4.4)]).sum() == 1


def test_an_area_off_the_grid_covers_nothing():
    assert not area_cells(GRID, [box(50, 50, 60, 60)]).any()


def test_cells_of_crossings():
    found = crossing_cells(GRID, [Point(3, 17), LineString([(1, 1), (5, 1)])])
    assert found == [[(1, 1)], [(9, 0), (9, 2)]]


@pytest.mark.parametrize("side", [0.1, 1.0, 5.0])
def test_area_of_the_cells_is_that_of_the_polygon(side):
    grid = Grid(np.zeros((400, 400), np.float32), 0.0, 40.0 * side, 0.1 * side, "EPSG:32633")
    mask = area_cells(grid, [Point(20 * side, 20 * side).buffer(15 * side)])
    # the outline's cells count whole: at most half a cell's width round the disc
    disc, rim = np.pi * 15**2, 2 * np.pi * 15 * 0.1
    assert disc - 0.5 <= mask.sum() * 0.01 <= disc + rim
