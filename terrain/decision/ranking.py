"""Setups in order: outcome, dominance, visible weights, and a verdict in words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.results import CAUSES, Evaluation, Ranking
from terrain.models.settings import DecisionSettings
from terrain.models.soil import THAWED_STATES
from terrain.setups.standing import Standing

__all__ = [
    "CANNOT_TELL",
    "FALLS_SHORT",
    "MEASURES",
    "OUTCOMES",
    "carry_over",
    "dominated_by",
    "measure_setups",
    "rank_setups",
]

CANNOT_TELL, FALLS_SHORT = "cannot tell", "does not suit"
OUTCOMES = ("suits", "suits with measures", CANNOT_TELL, FALLS_SHORT)
"""Best first. *With measures*: what stays short does so under every listed setup, and that and what
could not be assessed is little. *Cannot tell*: nothing known speaks against it, but too much is not
known."""

MEASURES = (
    "short_m",
    "over_bearing_m",
    "not_assessed_m",
    "added_mass_kg",
    "payload_lost_kg",
    "work_ratio",
)
"""The measures of dominance; smaller is better in each. Work below that of bare wheels counts as 1.

By motion resistance alone an aid can ask for less work than bare wheels. That is not credited:
tracks and chains are named as a probable cause of more fuel (Nordfjell et al. 2003, abstract).
"""


_TOLD_KG = 50.0
"""Payload lost below this reads as 0.0 t and is not told."""


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
        the registry.

    Notes
    -----
    A metre is hopeless only where every setup is known to fall short on it. One on which a setup
    was not assessed counts in its ``not_assessed_m``, is neither passed nor short, yet weighs in
    the scores as if it were short, or over where the pressure is not known, so that what is not
    known never improves them. A setup that was assessed nowhere has no short metres, not 0.
    """
    length = stations["length_m"].to_numpy(dtype=float)
    total = length.sum()
    reserve, ratio = evaluation.reserve, evaluation.pressure_ratio
    known = np.isfinite(reserve)
    short: NDArray[np.bool_] = known & (reserve < 0)
    over: NDArray[np.bool_] = ratio > 1  # pressure is known without a grip figure
    blank = ~known.any(axis=0)
    unsolved = np.asarray(short.all(axis=1), dtype=bool)

    def metres(mask: NDArray[np.bool_]) -> NDArray[np.float64]:
        return length @ mask

    def known_metres(mask: NDArray[np.bool_]) -> NDArray[np.float64]:
        return np.where(blank, np.nan, metres(known & mask))

    table = pd.DataFrame(index=pd.Index(evaluation.setups, name="setup"))
    table["short_loaded_m"] = known_metres(evaluation.reserve_loaded < 0)
    table["short_empty_m"] = known_metres(evaluation.reserve_empty < 0)
    table["short_m"] = known_metres(short)
    table["unsolved_m"] = length @ unsolved
    table["over_bearing_m"] = metres(over)
    table["not_assessed_m"] = metres(~known)
    table["extrapolated_m"] = known_metres(evaluation.extrapolated)
    table = table.join(_worst(evaluation, stations))
    if known.any():
        table["traction_score"] = metres(short | ~known) / total
        table["pressure_score"] = metres(over | np.isnan(ratio)) / total
        w = decision.traction_weight
        table["score"] = w * table["traction_score"] + (1 - w) * table["pressure_score"]
    else:
        table = table.assign(traction_score=np.nan, pressure_score=np.nan, score=np.nan)
    few = decision.measures_share_max * total
    open_m = table["unsolved_m"] + table["not_assessed_m"]
    table["outcome"] = np.select(
        [
            blank,
            (metres(short & ~unsolved[:, None]) > 0) | (table["unsolved_m"] > few),
            open_m > few,
            open_m > 0,
        ],
        [CANNOT_TELL, FALLS_SHORT, CANNOT_TELL, "suits with measures"],
        default="suits",
    )
    table["drier_state"] = None
    return table


def carry_over(by_state: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Let a setup that falls short in a drier state fall short in the wetter ones too.

    In wetter ground more metres are hopeless for every setup, which alone would let a lighter one
    do. The block dries again, and one setup goes on for all of it.

    Parameters
    ----------
    by_state : mapping of str to DataFrame
        Tables of :func:`measure_setups`; states that are missing are passed over.

    Returns
    -------
    dict of str to DataFrame
        The same tables, with ``outcome`` and ``drier_state``: the wettest of the drier states in
        which a setup falls short that would do in this one; None elsewhere. Frozen ground stands
        for itself.
    """
    made = dict(by_state)
    failed: dict[str, str] = {}
    for state in THAWED_STATES:
        if state not in by_state:
            continue
        table = by_state[state].copy()
        falls = table["outcome"] == FALLS_SHORT
        drier = [None if own else failed.get(str(name)) for name, own in falls.items()]
        table["drier_state"] = pd.Series(drier, index=table.index, dtype=object)
        table["outcome"] = table["outcome"].where(table["drier_state"].isna(), FALLS_SHORT)
        failed |= {str(name): state for name in table.index[falls]}
        made[state] = table
    return made


def _worst(evaluation: Evaluation, stations: pd.DataFrame) -> pd.DataFrame:
    """Where each setup has the smallest reserve; nothing where none is known."""
    names = ("worst_reserve", "worst_trail", "worst_chainage_m", "worst_cause")
    found = pd.DataFrame(index=pd.Index(evaluation.setups, name="setup"), columns=names)
    known = np.isfinite(evaluation.reserve)
    for k, setup in enumerate(evaluation.setups):
        if known[:, k].any():
            row = int(np.where(known[:, k], evaluation.reserve[:, k], np.inf).argmin())
            here = stations.iloc[row]
            cause = CAUSES[int(evaluation.cause[row, k])]
            worst = (evaluation.reserve[row, k], here["trail"], here["chainage_m"], cause)
            found.loc[setup] = worst
    return found.astype({"worst_reserve": float, "worst_chainage_m": float})


def dominated_by(table: pd.DataFrame) -> pd.Series:
    """Name for each setup one that is at least as good in every measure and better in one.

    Only setups of the same standing are compared, and none that was assessed nowhere. Of several,
    the one that none dominates and that stands first in the table is named; None where there is
    none.
    """
    measures = table[list(MEASURES)].assign(work_ratio=_credited_work(table))
    values = measures.fillna(np.inf).to_numpy(dtype=float)
    standing = table["standing"].to_numpy()
    no_worse = (values[:, None, :] <= values[None, :, :]).all(axis=2)
    better = (values[:, None, :] < values[None, :, :]).any(axis=2)
    beats = no_worse & better & (standing[:, None] == standing[None, :])
    assessed = table["short_m"].notna().to_numpy()
    beats &= assessed[:, None] & assessed[None, :]
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
    facts: pd.DataFrame,
    measures: pd.DataFrame,
    excluded: pd.DataFrame,
    total_m: float,
    state: str = "",
) -> Ranking:
    """Order the setups and write the verdicts.

    Parameters
    ----------
    facts : DataFrame
        Index setup; what a setup is and weighs: ``description``, ``standing``, ``standing_codes``,
        masses, payload, level pressures, effort, ``work_ratio``.
    measures : DataFrame
        From :func:`measure_setups` and :func:`carry_over`.
    excluded : DataFrame
        Excluded setups with codes and reasons.
    total_m : float
        Metres of all trails.
    state : str, optional
        The moisture state that is asked for, for the words.

    Notes
    -----
    Usual practice stands before "ask the manufacturer first". Within a standing the better outcome
    comes first; among setups that suit, and among those of which nobody can tell, the lighter one;
    among those that fall short, the better score. A setup that another one dominates never stands
    before it. The candidate is the first usual one that suits.
    """
    table = facts.join(measures).reset_index()
    table["work_ratio"] = table["work_ratio"].where(table["worst_reserve"].notna())
    table["dominated_by"] = dominated_by(table)
    ask = table["standing"] != Standing.USUAL.words
    tier = table["outcome"].map({word: i for i, word in enumerate(OUTCOMES)})
    failing = table["outcome"] == FALLS_SHORT
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
    fit = usual[~usual["outcome"].isin([CANNOT_TELL, FALLS_SHORT])]
    candidate = str(fit["setup"].iloc[0]) if len(fit) else None
    heaviest = float(table["added_mass_kg"][table["setup"] == candidate].sum())
    table["verdict"] = [_verdict(row, candidate, heaviest) for row in table.to_dict("records")]
    shown = candidate or str(table["setup"].iloc[0])
    return Ranking(
        setups=table[list(columns_of("setups"))],
        excluded=excluded,
        candidate=candidate,
        shown=shown,
        headline=_headline(table, candidate, total_m, state),
    )


def _verdict(row: dict, candidate: str | None, candidate_kg: float) -> str:
    """One or two sentences for one setup."""
    outcome, usual = row["outcome"], row["standing"] == Standing.USUAL.words
    heavier = usual and candidate is not None and row["added_mass_kg"] > candidate_kg
    if row["setup"] == candidate:
        start = "Candidate for the manufacturer's approval: the lightest usual setup that "
        start += "meets the traction need"
    elif np.isnan(row["worst_reserve"]):
        start = "Cannot tell: its traction was assessed nowhere"
    elif outcome == CANNOT_TELL:
        start = "Cannot tell: meets the traction need where it could be assessed"
    elif outcome == FALLS_SHORT:
        start = "Falls short"
    else:
        start = "Meets the traction need" + (", heavier than the candidate" if heavier else "")
    if not usual:
        start = f"Ask the manufacturer first; {start[0].lower()}{start[1:]}"
    if isinstance(row["drier_state"], str):
        start += (
            f" in {row['drier_state']} ground; it would do in this state only because more is shut "
            "for every setup"
        )
    elif outcome == FALLS_SHORT:
        start += f" of traction on {row['short_m']:.0f} m"
        if isinstance(row["worst_trail"], str):
            start += (
                f", worst on {row['worst_trail']} at {row['worst_chainage_m']:.0f} m "
                f"({row['worst_cause']})"
            )
    elif row["unsolved_m"] > 0:
        start += f", but for {row['unsolved_m']:.0f} m that no listed setup passes"
    more = []
    if row["not_assessed_m"] > 0:
        more.append(f"not assessed on {row['not_assessed_m']:.0f} m")
    if row["over_bearing_m"] > 0:
        more.append(f"over the soil's bearing capacity on {row['over_bearing_m']:.0f} m")
    if row["payload_lost_kg"] >= _TOLD_KG:
        more.append(f"{row['payload_lost_kg'] / 1000:.1f} t of payload lost to the rated masses")
    text = start + "."
    if more:
        text += " " + "; ".join(more).capitalize() + "."
    if isinstance(row["dominated_by"], str):
        text += f" {row['dominated_by']} is as good in every measure and better in one."
    return text


def _headline(table: pd.DataFrame, candidate: str | None, total_m: float, state: str) -> str:
    """Answer the planner's question in a few sentences."""
    if table["worst_reserve"].isna().all():
        return "No trail metre could be assessed: elevation or soil strength is missing everywhere."
    if candidate is None:
        return _no_candidate(table, total_m, state)
    row = table[table["setup"] == candidate].iloc[0]
    bare = table[table["added_mass_kg"] == 0]
    text = f"Candidate for the manufacturer's approval: {row['description']}."
    if row["added_mass_kg"] > 0 and len(bare):
        text += f" Bare wheels fall short on {bare['short_m'].iloc[0]:.0f} m of {total_m:.0f} m."
    if row["unsolved_m"] > 0:
        text += (
            f" On {row['unsolved_m']:.0f} m no listed setup passes in this state: they need "
            "another answer."
        )
    if row["not_assessed_m"] > 0:
        text += (
            f" {row['not_assessed_m']:.0f} m are not assessed: what they need is not known, and it "
            "can be more than this."
        )
    lighter = table[table["drier_state"].notna() & (table["standing"] == Standing.USUAL.words)]
    lighter = lighter[lighter["added_mass_kg"] < row["added_mass_kg"]]
    if len(lighter):
        other = lighter.sort_values("added_mass_kg", kind="stable").iloc[0]
        text += (
            f" Lighter {other['description']} would do in {state or 'this'} ground, where more is "
            f"shut for every setup, but not when it is {other['drier_state']}."
        )
    if row["over_bearing_m"] > 0:
        text += (
            f" Nominal ground pressure exceeds the soil's bearing capacity on "
            f"{row['over_bearing_m']:.0f} m."
        )
    return text


def _no_candidate(table: pd.DataFrame, total_m: float, state: str) -> str:
    """What is said where no usual setup is named."""
    best = table.iloc[0]
    if best["outcome"] == CANNOT_TELL:
        told = f"Cannot tell: {best['not_assessed_m']:.0f} m of {total_m:.0f} m are not assessed"
        if np.isnan(best["worst_reserve"]):
            bare = table[table["added_mass_kg"] == 0]
            text = (
                f"{told} with the aids in question: a figure that they need is missing (see what "
            )
            text += "was not assessed)."
            if len(bare) and bare["short_m"].iloc[0] > 0:
                text += f" Bare wheels fall short on {bare['short_m'].iloc[0]:.0f} m."
            return text
        text = f"{told}, so no setup is named. Where it could be assessed {best['description']} "
        text += "would do"
        if best["unsolved_m"] > 0:
            text += f", but for {best['unsolved_m']:.0f} m that no listed setup passes"
        return f"{text}."
    drier = "" if state == "dry" else "a drier or frozen state, "
    return (
        "No usual setup meets the traction need on all trails. Nearest is "
        f"{best['description']}: short on {best['short_m']:.0f} m of {total_m:.0f} m."
        f"{_asked(table)} Other measures are needed: {drier}brash, a smaller load, another route "
        "or another machine."
    )


def _asked(table: pd.DataFrame) -> str:
    """The lightest setup to ask about that meets the need where no usual one does; or empty."""
    asked = table[(table["standing"] != Standing.USUAL.words) & table["outcome"].isin(OUTCOMES[:2])]
    if not len(asked):
        return ""
    row = asked.sort_values("added_mass_kg", kind="stable").iloc[0]
    but = f", but for {row['short_m']:.0f} m" if row["short_m"] > 0 else ""
    text = f" To ask the manufacturer about first: {row['description']} would meet it{but}."
    if "FIT02" in str(row["standing_codes"]):
        text += (
            " The machine file has no rating for an axle that carries it: enter it and plan again."
        )
    return text
