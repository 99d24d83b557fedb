"""The doubt in words: how often it holds, what the doubt comes from, where to measure next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from terrain.decision.doubt_draws import Varied
from terrain.decision.doubt_results import Doubt
from terrain.models.settings import Settings

__all__ = [
    "SetupWords",
    "chance_words",
    "counted_sentences",
    "doubt_sentence",
    "measure_next_sentence",
]

_NOTEWORTHY = 0.1
"""Share of the doubt from which on a visit with the cone is proposed."""

_SURE, _MOST_TRAILS = 0.95, 4

_NO_QUESTION = 0.99
"""From this chance on it is not asked where to read the cone for the shown setup."""

_LIKELY = 0.5
"""A candidate with less chance than this is told with the surest of the usual setups."""


@dataclass(frozen=True, slots=True)
class SetupWords:
    """What can be said about each setup in the chosen state: ``names`` are its words.

    ``chance`` (share of the ``draws``) by setup; ``sources`` only of setups that are in doubt;
    ``few_m`` metres may stay short under every setup.
    """

    names: Mapping[str, str]
    chance: Mapping[str, float]
    sources: Mapping[str, pd.DataFrame]
    draws: int
    few_m: float

    def how_often(self, setup: str) -> str:
        """How often the setup meets the need, and what the doubt about it comes from."""
        chance, text = self.chance[setup], f"With {self.names[setup]}, the need is met in"
        if chance in (0, 1):
            return f"{text} {'all' if chance else 'none of'} {self.draws} random draws."
        text = f"{text} {chance * self.draws:.0f} of {self.draws} random draws"
        if setup not in self.sources:
            return f"{text}."
        top = self.sources[setup].iloc[0]
        text += f"; {_share_words(top['share'])} is the {top['source']}"
        if top["settled"] >= _NOTEWORTHY:
            part = _part(top["settled"])
            text += f"; three more cone readings there would take away {part} of the doubt"
        return f"{text}."


def doubt_sentence(
    words: SetupWords,
    shown: str,
    lightest: str | None,
    usual: Sequence[str],
    leaders: pd.DataFrame,
    trails: pd.DataFrame,
) -> str:
    """The answer in a few sentences.

    Parameters
    ----------
    words : SetupWords
    shown, lightest : str
        The shown setup, and the lightest usual one that is neither sure nor hopeless.
    usual : sequence of str
        Setups of usual practice, lightest first.
    leaders : DataFrame
        ``setup`` and ``chance`` of being the candidate of the draw.
    trails : DataFrame
        ``trail``, ``setup``, ``chance`` with the way to the landing and ``alone`` (NaN where
        metres of the trail, or of that way, are not assessed).
    """
    if np.isnan(words.chance[shown]):
        return "Too much is not assessed to say how sure the answer is."
    found = [
        words.how_often(shown),
        f"Up to {words.few_m:.0f} m that no setup passes are left aside in this.",
        *_doubtful_trails(trails[trails["setup"] == shown]),
    ]
    first = leaders.set_index("setup")["chance"].to_dict()
    if 0 < first.get(shown, 0.0) < 1:
        found.append(f"It is the first choice in {_draws(first[shown] * words.draws)}.")
    if 0 < first["none"] < 1:
        found.append(f"In {_draws(first['none'] * words.draws)} no usual setup meets the need.")
    told = {shown}
    if lightest is not None and lightest not in told:
        found.append(words.how_often(lightest))
        told.add(lightest)
    surest = max(usual, key=lambda name: words.chance[name], default=shown)
    if surest not in told and words.chance[surest] > words.chance[shown]:
        often = f"{words.chance[surest] * words.draws:.0f} of {words.draws}"
        found.append(f"Surest of the usual setups: {words.names[surest]}, in {often}.")
    return " ".join(found)


def _doubtful_trails(trails: pd.DataFrame) -> list[str]:
    """The trails that are not passed in nearly every draw, least sure first.

    Those that are sure by themselves, but whose way to the landing is not, are told apart.
    """
    doubtful = trails[trails["chance"] < _SURE].sort_values("chance", kind="stable")
    behind = doubtful["alone"] >= _SURE
    own, cut_off = _named_chances(doubtful[~behind]), _named_chances(doubtful[behind])
    found = []
    if own:
        found.append(
            "With them counted, trails passed in fewer draws, the way to the landing included: "
            f"{own}."
        )
    if cut_off:
        start = "Sure" if own else "With them counted, sure"
        found.append(f"{start} by themselves, but not their way to the landing: {cut_off}.")
    return found


def _named_chances(trails: pd.DataFrame) -> str:
    told = [
        f"{trail} ({chance * 100:.0f} %)"
        for trail, chance in zip(trails["trail"], trails["chance"], strict=True)
    ]
    more = f" and {len(told) - _MOST_TRAILS} more" if len(told) > _MOST_TRAILS else ""
    return ", ".join(told[:_MOST_TRAILS]) + more


def _draws(number: float) -> str:
    return f"{number:.0f} {'draw' if round(number) == 1 else 'draws'}"


def _share_words(share: float) -> str:
    if share >= 0.995:
        return "all the doubt"
    if share >= 0.9:
        return "nearly all the doubt"
    return f"{'most' if share > 0.5 else 'the largest part'} of the doubt ({share * 100:.0f} %)"


def _part(share: float) -> str:
    """A share of the doubt, as coarse as the draws know it."""
    return f"about {max(5, 5 * round(share * 20))} %"


def measure_next_sentence(
    words: SetupWords, shown: str, lightest: str | None, readings: int
) -> str:
    """Where to read the cone next for the shown setup and for the lightest one that may do.

    The shown one is left out where it meets the need in nearly every draw. Empty where nothing is
    in doubt.
    """
    asked = [shown] if 0 < words.chance[shown] < _NO_QUESTION else []
    asked += [lightest] if lightest is not None else []
    told = [_where_to_read(words, setup, readings) for setup in dict.fromkeys(asked)]
    return " ".join(text for text in told if text)


def _where_to_read(words: SetupWords, setup: str, readings: int) -> str:
    asks, table = f"Whether {words.names[setup]} would do", words.sources.get(setup)
    if table is None:
        if words.chance[setup] >= _NO_QUESTION:
            return ""
        return (
            f"{asks} changes in too few of the draws to say where to read the cone for it; more "
            "draws would tell (draws in the table [doubt])."
        )
    soils = table[table["settled"].notna()]
    if not len(soils):
        return ""
    best = soils.iloc[int(soils["settled"].to_numpy().argmax())]
    if best["settled"] >= _NOTEWORTHY:
        return (
            f"{asks}: {readings} more cone readings in polygon {best['polygon']}, at places well "
            f"apart, would take away {_part(best['settled'])} of the doubt."
        )
    first = soils.iloc[0]  # of these settled shares only the draws would choose
    only = "the only one" if len(soils) == 1 else "with the largest part of the doubt among them"
    return (
        f"{asks} is not settled in one soil polygon: even in {first['polygon']}, {only}, "
        f"{readings} more cone readings would take away less than {_NOTEWORTHY * 100:.0f} % of it."
    )


def chance_words(doubt: Doubt, candidate: str | None, descriptions: Mapping[Any, str]) -> str:
    """One sentence where the candidate meets the need in fewer than half of the draws; else empty.

    Parameters
    ----------
    doubt : Doubt
        Its ``state`` is the one that is told; without it nothing is.
    candidate : str or None
        Setup id; None where nothing suits.
    descriptions : mapping of str to str
        Words for each setup, as in the table ``setups``.
    """
    here = doubt.block[doubt.block["state"] == doubt.state]
    chance = {str(k): float(v) for k, v in zip(here["setup"], here["chance"], strict=True)}
    own = chance.get(candidate, np.nan) if candidate is not None else np.nan
    if candidate is None or not own < _LIKELY:
        return ""
    usual = [str(name) for name in doubt.leaders["setup"] if name != "none"]
    surer = [name for name in usual if chance[name] > own]
    count = round(own * doubt.draws)
    often = "In none" if count == 0 else f"In only {count}"
    text = f"{often} of {doubt.draws} draws does the candidate meet the need"
    if not surer:
        return f"{text}, and no usual setup does so in more."
    surest = max(surer, key=lambda name: chance[name])
    best = f"{chance[surest] * doubt.draws:.0f} of {doubt.draws}"
    return f"{text}; surest of the usual setups: {descriptions[surest]} ({best})."


def counted_sentences(
    settings: Settings, varied: Varied, blind_m: float, has_load: bool
) -> tuple[str, ...]:
    """What was varied and by how much, and what was not; ``blind_m`` metres are not assessed."""
    doubt = settings.doubt
    found = [
        "Soil strength: one draw for each soil polygon, the same for all its metres and moisture "
        "states. The low and high figures are read as the strengths that 5 and 95 in 100 places "
        "stay below (planning assumption).",
    ]
    if varied.slope_varies:
        over = (
            f"unrelated beyond {doubt.dem_error_range_m:g} m"
            if doubt.dem_error_range_m
            else "unrelated from cell to cell"
        )
        found.append(
            f"Height errors of the elevation model: {doubt.dem_error_m:g} m a cell (standard "
            f"deviation), {over}, as far as they reach the slope over "
            f"{settings.terrain.machine_scale_m:g} m. What they do to computed wetness is not "
            "counted."
        )
    elif doubt.dem_error_m == 0:
        found.append("Height errors of the elevation model: taken as none, 0 m is given.")
    else:
        found.append("Height errors of the elevation model: not counted, none is given.")
    if has_load:
        found.append(_spread("Mass of the load from load to load", doubt.payload_spread_percent))
        found.append(_spread("Green density of the timber", doubt.density_spread_percent))
    if varied.load_varies:
        found.append("A drawn load is never heavier than the ratings allow.")
    found.append(
        "Not varied: the moisture state, the mapped soil borders, the grip on a surface film, the "
        "equations themselves, and the driver. Ground pressure over the soil's bearing capacity is "
        "no part of this chance."
    )
    if blind_m > 0:
        found.append(
            f"{blind_m:.0f} m without slope or soil strength are in no draw: they are neither "
            "passed nor short, and a trail with such metres gets no chance."
        )
    return tuple(found)


def _spread(what: str, percent: float | None) -> str:
    if percent is None:
        return f"{what}: not counted, no spread is given."
    if percent == 0:
        return f"{what}: taken as known exactly, a spread of 0 is given."
    return f"{what}: {percent:g} % (standard deviation)."
