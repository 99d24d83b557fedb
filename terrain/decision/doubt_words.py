"""The doubt in words: how often it holds, what the doubt comes from, where to measure next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from terrain.decision.doubt_draws import Varied
from terrain.models.settings import Settings

__all__ = ["SetupWords", "counted_sentences", "doubt_sentence", "measure_next_sentence"]

_NOTEWORTHY = 0.1
"""Share of the doubt from which on a visit with the cone is proposed."""

_SURE, _MOST_TRAILS = 0.95, 4


@dataclass(frozen=True, slots=True)
class SetupWords:
    """What can be said about each setup in the chosen state: ``names`` are its words.

    ``chance`` (share of the ``draws``) by setup; ``sources`` only of setups that are in doubt.
    """

    names: Mapping[str, str]
    chance: Mapping[str, float]
    sources: Mapping[str, pd.DataFrame]
    draws: int

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
            text += f", of which three more cone readings would take away {_part(top['settled'])}"
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
        ``trail``, ``setup`` and ``chance`` (NaN where metres of the trail are not assessed).
    """
    if np.isnan(words.chance[shown]):
        return "Nothing could be assessed, so nothing can be said about how sure the answer is."
    found = [
        words.how_often(shown),
        "Metres that no listed setup passes are left aside in this, as in the verdict.",
        *_doubtful_trails(trails[trails["setup"] == shown]),
    ]
    first = leaders.set_index("setup")["chance"].to_dict()
    if 0 < first.get(shown, 0.0) < 1:
        found.append(f"It is the first choice in {first[shown] * words.draws:.0f} draws.")
    if 0 < first["none"] < 1:
        found.append(f"In {first['none'] * words.draws:.0f} draws no usual setup meets the need.")
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
    """The trails that are not passed in nearly every draw, least sure first."""
    doubtful = trails[trails["chance"] < _SURE].sort_values("chance", kind="stable")
    if not len(doubtful):
        return []
    told = [
        f"{trail} ({chance * 100:.0f} %)"
        for trail, chance in zip(doubtful["trail"], doubtful["chance"], strict=True)
    ]
    more = f" and {len(told) - _MOST_TRAILS} more" if len(told) > _MOST_TRAILS else ""
    return [
        f"With them counted, trails passed in fewer draws: {', '.join(told[:_MOST_TRAILS])}{more}."
    ]


def _share_words(share: float) -> str:
    if share >= 0.995:
        return "all the doubt"
    if share >= 0.9:
        return "nearly all the doubt"
    return f"{'most' if share > 0.5 else 'the largest part'} of the doubt ({share * 100:.0f} %)"


def _part(share: float) -> str:
    """A share of the doubt, as coarse as the draws know it."""
    return f"about {max(5, 5 * round(share * 20))} %"


def measure_next_sentence(words: SetupWords, asked: Sequence[str], readings: int) -> str:
    """Where to read the cone next; empty where nothing is in doubt or no reading would help."""
    for setup in asked:
        table = words.sources.get(setup)
        if table is None or table["settled"].isna().all():
            continue
        best = table.iloc[int(np.nanargmax(table["settled"].to_numpy()))]
        asks = f"Whether {words.names[setup]} would do"
        if best["settled"] < _NOTEWORTHY:
            return (
                f"{asks} is no question of one soil polygon: {readings} more cone readings in any "
                f"of them would take away less than {_NOTEWORTHY * 100:.0f} % of the doubt."
            )
        return (
            f"{asks}: {readings} more cone readings in polygon {best['polygon']}, at places well "
            f"apart, would take away {_part(best['settled'])} of the doubt."
        )
    return ""


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
    return f"{what}: {percent:g} % (standard deviation)."
