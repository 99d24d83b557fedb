"""Brash: need and supply by trail, with what is not known kept apart."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.decision.brash import brash_balance
from terrain.models.settings import BrashSettings


def test_ground_that_is_not_known_is_neither_sensitive_nor_safe():
    stations = pd.DataFrame(
        {
            "trail": ["T1"] * 4,
            "length_m": [5.0] * 4,
            "ground_class": pd.array([1, 3, pd.NA, 1], dtype="Int64"),
            "wet": pd.array([False, False, False, pd.NA], dtype="boolean"),
        }
    )
    width = pd.Series({"T1": 4.0})
    got = brash_balance(stations, width, np.zeros(4, bool), BrashSettings(40000.0), 20.0)
    # 40 000 kg/ha laid on a fifth of the area: 20 kg/m2, enough
    assert got.supply_kg_m2["T1"] == 20.0
    assert (got.need_m["T1"], got.short_m["T1"], got.unknown_m["T1"]) == (5.0, 0.0, 10.0)
