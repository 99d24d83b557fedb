"""What is drawn: strengths, streams, and elevation errors carried into slope."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.decision.doubt_draws import (
    LEAST_CONE_INDEX_KPA,
    drawn_cone_index_kpa,
    gradient_deviation,
    make_world,
    varied_along,
)
from terrain.models.settings import DoubtSettings
from terrain.surfaces import gradient
from tests.builders import stations

Z95 = 1.6448536269514722  # standard normal, any table


def table(polygons=("S1", "S2"), trails=("T1", "T1")):
    made = stations(grade=np.zeros(len(polygons)))
    made["soil_polygon"], made["trail"] = list(polygons), list(trails)
    return made


def test_low_likely_and_high_are_the_5_50_and_95_percent_points():
    drawn = drawn_cone_index_kpa(300, 400, 700, [-Z95, 0, Z95])
    assert drawn == pytest.approx([300, 400, 700], rel=1e-9)
    rng = np.random.default_rng(0)
    many = drawn_cone_index_kpa(300, 400, 700, rng.standard_normal(20_000))
    # 4 standard errors of a share of 0.05 and 0.5 in 20,000
    assert np.mean(many < 300) == pytest.approx(0.05, abs=0.0062)
    assert np.mean(many < 400) == pytest.approx(0.50, abs=0.0142)
    assert np.mean(many > 700) == pytest.approx(0.05, abs=0.0062)


def test_ground_without_a_lowest_strength_falls_straight_to_nothing():
    drawn = drawn_cone_index_kpa(0, 100, 200, [-5, -Z95, -Z95 / 2, 0, Z95])
    assert drawn == pytest.approx([LEAST_CONE_INDEX_KPA, LEAST_CONE_INDEX_KPA, 50, 100, 200])


def test_unknown_strength_stays_unknown():
    assert np.isnan(drawn_cone_index_kpa(np.nan, np.nan, np.nan, [-1.0, 0.0, 2.0])).all()


@settings(max_examples=200, deadline=None)
@given(
    st.tuples(*[st.floats(0, 2000)] * 3).map(sorted),
    st.floats(1, 3),
    st.lists(st.floats(-5, 5), min_size=2, max_size=2).map(sorted),
)
def test_drawn_strength_rises_with_the_draw_and_with_all_figures_together(figures, factor, z):
    low, high = drawn_cone_index_kpa(*figures, z)
    assert np.isfinite([low, high]).all()
    assert low <= high * (1 + 1e-12)
    stronger = drawn_cone_index_kpa(*(factor * f for f in figures), z)
    assert (stronger >= np.array([low, high]) * (1 - 1e-12)).all()


def test_the_same_seed_gives_the_same_world_and_another_seed_another():
    varied = varied_along(table(), DoubtSettings(dem_error_m=0.1, payload_spread_percent=5), 1, 5)
    one, same, other = (make_world(varied, 50, seed) for seed in (1, 1, 2))
    for name in ("soil", "grade", "cross", "payload"):
        assert getattr(one, name).tobytes() == getattr(same, name).tobytes()
        assert (getattr(one, name) != getattr(other, name)).all()
    apart = make_world(varied, 50, 1, number=1)
    assert abs(np.corrcoef(one.soil[0], apart.soil[0])[0, 1]) < 0.5


def test_one_source_more_does_not_shift_the_others():
    plain = make_world(varied_along(table(), DoubtSettings(), 1, 5), 40, 1)
    more = DoubtSettings(dem_error_m=0.1, payload_spread_percent=5, density_spread_percent=5)
    full = make_world(varied_along(table(), more, 1, 5), 40, 1)
    assert plain.soil.tobytes() == full.soil.tobytes()
    assert (plain.payload == 1).all()
    assert plain.grade.size == 0
    without = replace(more, dem_error_m=None)
    assert make_world(varied_along(table(), without, 1, 5), 40, 1).payload == pytest.approx(
        full.payload
    )
    wider = varied_along(table(("S0", "S1", "S2"), ("T1",) * 3), DoubtSettings(), 1, 5)
    assert make_world(wider, 40, 1).soil[1:].tobytes() == plain.soil.tobytes()


def test_more_draws_begin_with_the_fewer():
    varied = varied_along(table(), DoubtSettings(dem_error_m=0.1), 1, 5)
    few, many = make_world(varied, 30, 1), make_world(varied, 90, 1)
    assert (many.soil[:, :30] == few.soil).all()
    assert (many.grade[:, :30] == few.grade).all()


def test_slope_errors_hold_over_a_piece_of_trail():
    long = stations(grade=np.zeros(12))  # stations at 2.5, 7.5, ... 57.5 m
    long["trail"] = ["A"] * 6 + ["B"] * 6
    long["chainage_m"] = np.tile((np.arange(6) + 0.5) * 5.0, 2)
    varied = varied_along(long, DoubtSettings(dem_error_m=0.1, dem_error_range_m=10.0), 1.0, 5.0)
    assert varied.piece_of.tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    short = varied_along(long, DoubtSettings(dem_error_m=0.1), 2.0, 5.0)
    assert len(set(short.piece_of)) == 10  # a window of 3 cells of 2 m: pieces of 6 m


def test_slope_deviation_of_independent_errors_is_the_closed_form():
    """s / (L sqrt(N S)) of the least-squares plane, see terrain.surfaces.gradient.plane."""
    assert gradient_deviation(1.0, 5.0, 0.15) == pytest.approx(0.15 / np.sqrt(5 * 10), rel=1e-9)
    assert gradient_deviation(2.0, 5.0, 0.10) == pytest.approx(0.10 / 2 / np.sqrt(3 * 2), rel=1e-9)
    assert gradient_deviation(1.0, 5.0, 0.15, 0.01) == pytest.approx(
        gradient_deviation(1.0, 5.0, 0.15), rel=1e-9
    )


@pytest.mark.parametrize("range_m", [None, 6.0, 30.0])
def test_slope_deviation_agrees_with_perturbing_the_elevation_and_refitting(range_m):
    """Draw errors on a window, fit the plane by least squares, compare the spread of its slopes."""
    rng = np.random.default_rng(5)
    cell, n, draws, error = 1.0, 5, 20_000, 0.12
    y, x = np.mgrid[0:n, 0:n] * cell
    place = np.column_stack([x.ravel(), y.ravel()])
    apart = np.hypot(*(place[:, None] - place[None, :]).transpose(2, 0, 1))
    alike = np.eye(n * n) if range_m is None else np.exp(-3 * apart / range_m)
    noise = error * rng.standard_normal((draws, n * n)) @ np.linalg.cholesky(alike).T
    ground = 300 + 0.1 * x.ravel() - 0.05 * y.ravel()
    design = np.column_stack([place, np.ones(n * n)])
    fitted = np.linalg.lstsq(design, (ground + noise).T, rcond=None)[0]
    expected = gradient_deviation(cell, 5.0, error, range_m)
    # standard error of a standard deviation from 20,000 draws is 0.5 %; four of them
    assert fitted[0].std() == pytest.approx(expected, rel=0.02)
    assert fitted[1].std() == pytest.approx(expected, rel=0.02)
    assert abs(np.corrcoef(fitted[0], fitted[1])[0, 1]) < 0.03
    # and the surface code fits the same plane
    east, _ = gradient.plane((ground + noise[0]).reshape(n, n), cell, 5.0)
    assert east[2, 2] == pytest.approx(fitted[0, 0], abs=1e-9)
