from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from terrain.decision.intervals import share_interval


def test_the_interval_is_wilsons():
    """81 of 263 gives 0.2553 to 0.3662: Newcombe 1998, Statistics in Medicine 17, from memory."""
    low, high = share_interval(np.array([81.0, 0.0, 263.0]) / 263, 263)
    assert low[0] == pytest.approx(0.2553, abs=5e-5)
    assert high[0] == pytest.approx(0.3662, abs=5e-5)
    assert low[1] == 0.0
    assert high[2] == 1.0
    assert high[1] == pytest.approx(1 - low[2])


def test_the_interval_covers_as_often_as_it_says():
    # exact binomial sum, no random draws: coverage of the 95 % interval averaged over shares
    n = 60
    hits = np.arange(n + 1)
    low, high = share_interval(hits / n, n)
    coverage = [
        binom.pmf(hits, n, share)[(low <= share) & (share <= high)].sum()
        for share in np.linspace(0.05, 0.95, 19)
    ]
    assert 0.94 < np.mean(coverage) < 0.965


def test_nothing_counted_tells_nothing():
    assert np.isnan(share_interval(np.nan, 0)).all()
    assert np.isnan(share_interval(1.0, 0)).all()
    assert np.isnan(share_interval(0.0, 0)).all()
    assert np.isnan(share_interval([np.nan, 0.5], 10)[0]).tolist() == [True, False]
