from __future__ import annotations

import math

import numpy as np

from terrain.known import largest, smallest


def test_the_unknown_is_left_out_and_never_a_nought() -> None:
    assert largest([np.nan, -3.0, -5.0]) == -3.0
    assert smallest([np.nan, 3.0, 5.0]) == 3.0


def test_nothing_known_is_unknown() -> None:
    assert math.isnan(largest([np.nan]))
    assert math.isnan(smallest([]))


def test_no_end_is_a_figure() -> None:
    assert largest([1.0, np.inf]) == math.inf
