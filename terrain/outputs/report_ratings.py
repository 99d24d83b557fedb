"""Report: the load that would hold a rating, said so that "no reduction" is no "none"."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from terrain.decision.ratings import ANSWERS
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN

__all__ = ["held_mass", "with_holding_words"]

_STEP_KG, _STEP_LB = 10.0, 10.0
_HOLDING = {
    "holding_payload_balanced_kg": "over_balanced_m",
    "holding_payload_free_kg": "over_m",
}
"""Load that holds a rating, and the metres over it under the full load, by bogie case."""


def held_mass(kilograms: float, shown: Shown) -> str:
    """Write a load that must not be exceeded: rounded down to 10 kg or 10 lb, never up."""
    step = _STEP_LB if shown.is_us else _STEP_KG
    value = step * math.floor(shown.value(kilograms, "kg") / step + 1e-9)
    return f"{shown.number(value)} {shown.unit('kg')}"


def with_holding_words(ratings: pd.DataFrame, shown: Shown) -> pd.DataFrame:
    """Return rows of the table ``ratings`` with words instead of the two holding loads.

    "full load" where the rating holds under the full load, "no load" where none holds it.
    """
    made = ratings.copy()
    for column, over in _HOLDING.items():
        made[column] = [
            _words(load, metres, state, answer, shown)
            for load, metres, state, answer in zip(
                ratings[column], ratings[over], ratings["state"], ratings["answer"], strict=True
            )
        ]
    return made


def _words(load: float, over_m: float, state: str, answer: str, shown: Shown) -> str:
    if answer == ANSWERS["none"]:
        return "no rating"
    if np.isnan(over_m):
        return UNKNOWN
    if over_m == 0:
        return "full load" if state == "loaded" else "holds empty"
    return "no load" if np.isnan(load) else held_mass(load, shown)
