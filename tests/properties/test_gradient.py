"""Properties of the gradient that hold for any terrain."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from terrain.surfaces.gradient import aspect_degrees, horn, plane, slope, zevenbergen_thorne
from terrain.surfaces.slope_classes import classify, labels

heights_m = st.integers(-2000, 6000).map(lambda decimetres: decimetres / 10)
terrains = arrays(
    np.float64, array_shapes(min_dims=2, max_dims=2, min_side=3, max_side=11), elements=heights_m
)
cells_m = st.sampled_from([0.5, 1.0, 2.0, 5.0, 10.0])
operators = st.sampled_from([horn, zevenbergen_thorne, lambda z, cell: plane(z, cell, 5 * cell)])
ratios = st.floats(-2, 2, allow_nan=False)


@given(ratios, ratios, cells_m, operators)
@settings(max_examples=60, deadline=None)
def test_a_plane_has_the_slope_of_its_equation(east, north, cell_m, operator):
    row, column = np.mgrid[:8, :9]
    elevation = cell_m * (east * column - north * row)
    found = slope(*operator(elevation, cell_m))[2:-2, 2:-2]
    np.testing.assert_allclose(found, np.hypot(east, north), rtol=1e-9, atol=1e-12)


@given(terrains, cells_m, operators, st.integers(-500, 500))
@settings(max_examples=60, deadline=None)
def test_raising_the_ground_changes_nothing(elevation, cell_m, operator, lift_m):
    # atol: rounding of heights below 1100 m in float64, over cells of 0.5 m
    for before, after in zip(
        operator(elevation, cell_m), operator(elevation + lift_m, cell_m), strict=True
    ):
        np.testing.assert_allclose(after, before, rtol=0, atol=1e-11)


@given(terrains, cells_m, operators)
@settings(max_examples=60, deadline=None)
def test_turning_the_ground_turns_the_gradient(elevation, cell_m, operator):
    # numpy.rot90 turns counter-clockwise: what rose to the east now rises to the north
    east, north = operator(elevation, cell_m)
    turned_east, turned_north = operator(np.rot90(elevation), cell_m)
    np.testing.assert_allclose(turned_east, np.rot90(-north), atol=1e-11)
    np.testing.assert_allclose(turned_north, np.rot90(east), atol=1e-11)


@given(terrains, cells_m, operators, st.floats(0.1, 10))
@settings(max_examples=60, deadline=None)
def test_gradient_is_linear_in_height(elevation, cell_m, operator, factor):
    for before, after in zip(
        operator(elevation, cell_m), operator(elevation * factor, cell_m), strict=True
    ):
        np.testing.assert_allclose(after, before * factor, rtol=1e-9, atol=1e-9)


@given(ratios, ratios)
def test_a_step_along_the_aspect_goes_straight_down(east, north):
    azimuth = float(aspect_degrees(east, north))
    if azimuth == -1:
        assert east == north == 0
        return
    assert 0 <= azimuth < 360
    fall = east * np.sin(np.radians(azimuth)) + north * np.cos(np.radians(azimuth))
    np.testing.assert_allclose(fall, -np.hypot(east, north), rtol=1e-9, atol=1e-12)


bands = st.lists(st.integers(1, 150), min_size=1, max_size=8, unique=True).map(
    lambda percents: tuple(sorted(percent / 100 for percent in percents))
)


@given(bands, st.lists(st.floats(0, 3), min_size=2, max_size=30))
def test_a_steeper_slope_never_has_a_lower_class(edges, slopes):
    classes = classify(np.sort(slopes), edges)
    assert (np.diff(classes) >= 0).all()
    assert classes.min() >= 1
    assert classes.max() <= len(edges) + 1


@given(bands)
def test_one_distinct_label_for_each_class(edges):
    names = labels(edges)
    assert len(names) == len(set(names)) == len(edges) + 1
