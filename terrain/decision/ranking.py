"""Setups in order: outcome, dominance, visible weights, and a verdict in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.results import CAUSES, Evaluation, Ranking
from terrain.models.settings import DecisionSettings
from terrain.setups.standing import Standing

__all__ = ["MEASURES", "OUTCOMES", "dominated_by", "measure_setups", "rank_setups"]

OUTCOMES = ("suits", "suits with measures", "does not suit")
"""Best first. *With measures*: what stays short does so under every listed setup, and is little."""

MEASURES = ("short_m", "over_bearing_m", "added_mass_kg", "payload_lost_kg", "work_ratio")
"""The measures of dominance; smaller is better in each. Work below that of bare wheels counts as 1.

By motion resistance alone an aid can ask for less work than bare wheels. That is not credited:
tracks and chains are named as a probable cause of more fuel (Nordfjell et al. 2003, abstract).
"""


def measure_setups(
    evaluation: Evaluation, stations: pd.DataFrame, decision: DecisionSettings
) -> pd.DataFrame:
    """Sum the dense arrays over the block, weighted by ``length_m``.

    Parameters
    ----------
    evaluation : Evaluation
    stations : DataFrame
        With ``length_m``, ``trail`` and ``chainage_m``; rows as in ``evaluation``.
    decision : DecisionSettings

    Returns
    -------
    DataFrame
        Index setup; columns ``short_loaded_m`` to ``extrapolated_m``, the scores and ``outcome`` of
        the registry. A station without slope or soil strength counts in ``not_assessed_m`` alone:
        it is neither passed nor short, and no score rests on it.
    """
    length = stations["length_m"].to_numpy()
    reserve = evaluation.reserve
    assessed = np.asarray(np.isfinite(reserve).all(axis=1), dtype=bool)
    total = length[assessed].sum()
    short: NDArray[np.bool_] = (reserve < 0) & assessed[:, None]
    over: NDArray[np.bool_] = (evaluation.pressure_ratio > 1) & assessed[:, None]
    unsolved = np.asarray(short.all(axis=1), dtype=bool)

    def metres(mask: NDArray[np.bool_]) -> NDArray[np.float64]:
        return length @ mask

    table = pd.DataFrame(index=pd.Index(evaluation.setups, name="setup"))
    table["short_loaded_m"] = metres((evaluation.reserve_loaded < 0) & assessed[:, None])
    table["short_empty_m"] = metres((evaluation.reserve_empty < 0) & assessed[:, None])
    table["short_m"] = metres(short)
    table["unsolved_m"] = length @ unsolved
    table["over_bearing_m"] = metres(over)
    table["not_assessed_m"] = length[~assessed].sum()
    table["extrapolated_m"] = metres(evaluation.extrapolated & assessed[:, None])
    table = table.join(_worst(evaluation, stations, assessed))
    if total > 0:
        table["traction_score"] = table["short_m"] / total
        table["pressure_score"] = table["over_bearing_m"] / total
        w = decision.traction_weight
        table["score"] = w * table["traction_score"] + (1 - w) * table["pressure_score"]
    else:
        table = table.assign(traction_score=np.nan, pressure_score=np.nan, score=np.nan)
    solvable_short = metres(short & ~unsolved[:, None])
    few = table["unsolved_m"].to_numpy() <= decision.measures_share_max * total
    table["outcome"] = np.select(
        [
            np.full(len(table), total == 0),
            table["short_m"].to_numpy() == 0,
            (solvable_short == 0) & few,
        ],
        ["does not suit", "suits", "suits with measures"],
        default="does not suit",
    )
    return table


def _worst(
    evaluation: Evaluation, stations: pd.DataFrame, assessed: NDArray[np.bool_]
) -> pd.DataFrame:
    index = pd.Index(evaluation.setups, name="setup")
    if not assessed.any():
        return pd.DataFrame(
            {
                "worst_reserve": np.nan,
                "worst_trail": None,
                "worst_chainage_m": np.nan,
                "worst_cause": None,
            },
            index=index,
        )
    reserve = np.where(assessed[:, None], evaluation.reserve, np.inf)
    row = reserve.argmin(axis=0)
    pick = np.arange(reserve.shape[1])
    return pd.DataFrame(
        {
            "worst_reserve": reserve[row, pick],
            "worst_trail": stations["trail"].to_numpy()[row],
            "worst_chainage_m": stations["chainage_m"].to_numpy()[row],
            "worst_cause": [CAUSES[int(c)] for c in evaluation.cause[row, pick]],
        },
        index=index,
    )


def dominated_by(table: pd.DataFrame) -> pd.Series:
    """Name for each setup one that is at least as good in every measure and better in one.

    Only setups of the same standing are compared. Of several, the one that none dominates and that
    stands first in the table is named; None where there is none.
    """
    measures = table[list(MEASURES)].assign(work_ratio=_credited_work(table))
    values = measures.fillna(np.inf).to_numpy(dtype=float)
    standing = table["standing"].to_numpy()
    no_worse = (values[:, None, :] <= values[None, :, :]).all(axis=2)
    better = (values[:, None, :] < values[None, :, :]).any(axis=2)
    beats = no_worse & better & (standing[:, None] == standing[None, :])
    leader = ~beats.any(axis=0)
    names = table["setup"].to_numpy()
    result = []
    for j in range(len(table)):
        by = np.flatnonzero(beats[:, j] & leader)
        result.append(names[by[0]] if by.size else None)
    return pd.Series(result, index=table.index, dtype=object)


def _credited_work(table: pd.DataFrame) -> pd.Series:
    """Work ratio as it counts in dominance and order: no setup is better than bare wheels in it."""
    return table["work_ratio"].clip(lower=1.0)


def rank_setups(
    facts: pd.DataFrame, measures: pd.DataFrame, excluded: pd.DataFrame, assessed_m: float
) -> Ranking:
    """Order the setups and write the verdicts.

    Parameters
    ----------
    facts : DataFrame
        Index setup; what a setup is and weighs: ``description``, ``standing``, ``standing_codes``,
        masses, payload, level pressures, effort, ``work_ratio``.
    measures : DataFrame
        From :func:`measure_setups`.
    excluded : DataFrame
        Excluded setups with codes and reasons.
    assessed_m : float
        Trail metres with slope and soil strength.

    Notes
    -----
    Usual practice stands before "ask the manufacturer first". Within a standing the better outcome
    comes first; among setups that suit, the lighter one; among those that do not, the better
    score. A setup that another one dominates never stands before it.
    """
    table = facts.join(measures).reset_index()
    table["dominated_by"] = dominated_by(table)
    ask = table["standing"] != Standing.USUAL.words
    tier = table["outcome"].map({word: i for i, word in enumerate(OUTCOMES)})
    failing = tier == len(OUTCOMES) - 1
    order = pd.DataFrame(
        {
            "ask": ask,
            "tier": tier,
            "score": table["score"].where(failing, 0.0).fillna(np.inf),
            "short": table["short_m"],
            "mass": table["added_mass_kg"],
            "over": table["over_bearing_m"],
            "lost": table["payload_lost_kg"],
            "work": _credited_work(table).fillna(np.inf),
            "name": table["setup"],
        }
    ).sort_values(["ask", "tier", "score", "short", "mass", "over", "lost", "work", "name"])
    table = table.loc[order.index].reset_index(drop=True)
    usual = table[table["standing"] == Standing.USUAL.words]
    fit = usual[usual["outcome"] != OUTCOMES[-1]]
    candidate = str(fit["setup"].iloc[0]) if len(fit) else None
    table["verdict"] = [_verdict(row, candidate) for row in table.to_dict("records")]
    shown = candidate or str(table["setup"].iloc[0])
    return Ranking(
        setups=table[list(columns_of("setups"))],
        excluded=excluded,
        candidate=candidate,
        shown=shown,
        headline=_headline(table, candidate, assessed_m),
    )


def _verdict(row: dict, candidate: str | None) -> str:
    """One or two sentences for one setup."""
    if row["setup"] == candidate:
        start = "Candidate for the manufacturer's approval: the lightest usual setup that "
        start += "meets the traction need"
    elif row["standing"] != Standing.USUAL.words:
        start = "Ask the manufacturer first; "
        start += "meets the traction need" if row["outcome"] != OUTCOMES[-1] else "falls short"
    elif row["outcome"] != OUTCOMES[-1]:
        start = "Meets the traction need, heavier than the candidate"
    else:
        start = "Falls short"
    if row["outcome"] == "suits with measures":
        start += f", but for {row['unsolved_m']:.0f} m that no listed setup passes"
    elif row["outcome"] == OUTCOMES[-1]:
        start += f" of traction on {row['short_m']:.0f} m"
        if isinstance(row["worst_trail"], str):
            start += (
                f", worst on {row['worst_trail']} at {row['worst_chainage_m']:.0f} m "
                f"({row['worst_cause']})"
            )
    more = []
    if row["over_bearing_m"] > 0:
        more.append(f"over the soil's bearing capacity on {row['over_bearing_m']:.0f} m")
    if row["payload_lost_kg"] > 0.5:
        more.append(f"{row['payload_lost_kg'] / 1000:.1f} t of payload lost to the rated masses")
    text = start + "."
    if more:
        text += " " + "; ".join(more).capitalize() + "."
    if isinstance(row["dominated_by"], str):
        text += f" {row['dominated_by']} is as good in every measure and better in one."
    return text


def _headline(table: pd.DataFrame, candidate: str | None, assessed_m: float) -> str:
    """Answer the planner's question in two or three sentences."""
    bare = table[table["added_mass_kg"] == 0]
    bare_short = float(bare["short_m"].iloc[0]) if len(bare) else float("nan")
    if assessed_m == 0:
        return "No trail metre could be assessed: elevation or soil strength is missing everywhere."
    if candidate is None:
        best = table.iloc[0]
        return (
            f"No usual setup meets the traction need on all trails. Nearest is "
            f"{best['description']}: short on {best['short_m']:.0f} m of {assessed_m:.0f} m. "
            f"Other measures are needed: a drier or frozen state, brash, a smaller load, another "
            f"route or another machine."
        )
    row = table[table["setup"] == candidate].iloc[0]
    text = f"Candidate for the manufacturer's approval: {row['description']}."
    if row["added_mass_kg"] > 0:
        text += f" Bare wheels fall short on {bare_short:.0f} m of {assessed_m:.0f} m."
    if row["unsolved_m"] > 0:
        text += (
            f" On {row['unsolved_m']:.0f} m no listed setup passes in this state: they need "
            "another answer."
        )
    if row["over_bearing_m"] > 0:
        text += (
            f" Nominal ground pressure exceeds the soil's bearing capacity on "
            f"{row['over_bearing_m']:.0f} m."
        )
    return text
