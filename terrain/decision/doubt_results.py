"""How sure the answer is: what the seeded draws say, as records that outputs read."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

__all__ = ["Doubt"]


@dataclass(frozen=True, slots=True)
class Doubt:
    """Outcome of seeded draws over what is not known exactly.

    Attributes
    ----------
    draws, seed : int
    block : DataFrame
        ``setup``, ``state``, ``chance`` (share of the draws in which the setup meets the need on
        the block), ``low``, ``high`` (95 % interval of that share from the number of draws alone).
    trails : DataFrame
        ``trail``, ``setup``, ``chance`` in the chosen state (share of the draws in which no metre
        of the trail and of its way to the landing is short), ``alone`` (the trail by itself). NaN
        where metres of them are not assessed.
    sources : DataFrame
        ``source`` (words, such as the strength of a soil polygon), ``kind``, ``share`` of the doubt
        about the shown setup in the chosen state, and ``settled`` (share that three more cone
        readings there would take away; NaN where readings do not help).
    leaders : DataFrame
        ``setup``, ``chance`` of being the candidate of the draw.
    sentence, measure_next : str
        The answer in words, and where to measure next (empty where nothing is in doubt).
    counted : tuple of str
        What was varied and by how much, and what was not.
    state : str
        The chosen moisture state; empty in a record that was made without it.
    """

    draws: int
    seed: int
    block: pd.DataFrame
    trails: pd.DataFrame
    sources: pd.DataFrame
    leaders: pd.DataFrame
    sentence: str
    measure_next: str
    counted: tuple[str, ...]
    state: str = ""
