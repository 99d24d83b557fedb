"""Slope classes and their names."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.models.settings import TerrainSettings
from terrain.surfaces.slope_classes import classify, labels

BANDS = TerrainSettings().slope_bands


def test_classes_count_from_one_and_an_edge_belongs_below():
    values = [0.0, 0.05, 0.10, 0.101, 0.20, 0.33, 0.331, 0.50, 0.501, 3.0]
    np.testing.assert_array_equal(classify(values, BANDS), [1, 1, 1, 2, 2, 3, 4, 4, 5, 5])


def test_unknown_slope_is_class_zero():
    classes = classify(np.array([[np.nan, 0.1], [0.6, np.nan]]), BANDS)
    assert classes.dtype == np.int8
    np.testing.assert_array_equal(classes, [[0, 1], [5, 0]])


def test_rounding_to_float32_does_not_lift_a_slope_out_of_its_class():
    rounded = float(np.float32(0.20))
    assert rounded > 0.20
    assert classify(rounded, BANDS) == 2
    assert classify(0.20 + 1e-5, BANDS) == 3


def test_default_labels_give_percent_and_degrees():
    assert labels(BANDS) == (
        "0-10 % (0-6 degrees)",
        "10-20 % (6-11 degrees)",
        "20-33 % (11-18 degrees)",
        "33-50 % (18-27 degrees)",
        "over 50 % (over 27 degrees)",
    )


def test_three_band_protocol_labels():
    # edges 14 and 25 % stand for 8 and 14 degrees in Owende et al. 2002, ECOWOOD protocol
    assert labels((0.14, 0.25))[1] == "14-25 % (8-14 degrees)"


def test_labels_get_decimals_where_edges_would_read_alike():
    assert labels((0.018, 0.02)) == (
        "0-1.8 % (0-1 degrees)",
        "1.8-2 % (1-1.1 degrees)",
        "over 2 % (over 1.1 degrees)",
    )


@pytest.mark.parametrize(
    "bands", [(), (0.2, 0.1), (0.1, 0.1), (0.0, 0.1), (-0.1,), (np.nan,), (0.1, np.inf)]
)
def test_bands_that_are_none_are_refused(bands):
    with pytest.raises(ValueError, match="slope bands"):
        classify([0.1], bands)
    with pytest.raises(ValueError, match="slope bands"):
        labels(bands)


def test_a_signed_grade_is_refused():
    with pytest.raises(ValueError, match="negative"):
        classify([-0.1], BANDS)
