"""One stretch and one setup that falls short there: what every remedy is asked about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried
from terrain.decision.evaluation import evaluate
from terrain.decision.results import Evaluation
from terrain.decision.situation import Situation

__all__ = [
    "BY_PRESSURE",
    "BY_TRACTION",
    "Case",
    "Outcome",
    "cases_of",
    "failing",
    "metres",
    "solves",
    "tonnes",
]

BY_TRACTION = ("no listed setup passes", "forces the choice")
"""Kinds of stretch at which traction is what is missing."""

BY_PRESSURE = ("over bearing capacity",)
"""Kinds at which the nominal ground pressure is too high; only what changes it is asked about."""


class Outcome(NamedTuple):
    """What a recomputation found.

    Attributes
    ----------
    left_m, moved_m : float
        Metres of the stretch still short, and metres elsewhere that were not short before.
    solves : str
        As :func:`solves` says.
    reserve_after : float
        Smallest traction reserve on the stretch, ratio; NaN where a metre of it is not assessed.
    """

    left_m: float
    moved_m: float
    solves: str
    reserve_after: float


@dataclass(frozen=True, slots=True)
class Case:
    """A stretch with a setup that falls short on it.

    Attributes
    ----------
    stretch, kind, trail : str
    from_m, to_m : float
        Chainages along the trail as drawn, metres.
    rows : ndarray of int
        Positions of its stations, ascending in chainage.
    item : Carried
        The setup with its full load.
    failing : ndarray of bool, shape (n_station,)
        Where this setup falls short on the whole block as planned; on a stretch over the bearing
        capacity also where its pressure is over.
    length_m : ndarray, shape (n_station,)
    thin_reserve : float
        Reserve below which a pass is told as thin, ratio.
    """

    stretch: str
    kind: str
    trail: str
    from_m: float
    to_m: float
    rows: NDArray[np.int64]
    item: Carried
    failing: NDArray[np.bool_]
    length_m: NDArray[np.float64]
    thin_reserve: float

    @property
    def by_pressure(self) -> bool:
        """Whether pressure, not traction, is what the stretch is about."""
        return self.kind in BY_PRESSURE

    @property
    def setup(self) -> str:
        """Id of the setup."""
        return self.item.setup.id

    @property
    def failing_m(self) -> float:
        """Metres of the stretch on which the setup falls short as planned."""
        return float(self.length_m[self.rows] @ self.failing[self.rows])

    @property
    def stretch_m(self) -> float:
        """Length of the stretch, metres."""
        return float(self.length_m[self.rows].sum())

    def outcome(self, evaluation: Evaluation, k: int) -> Outcome:
        """Hold another evaluation of all stations against the plan's."""
        now = failing(evaluation, k, by_pressure=self.by_pressure)
        elsewhere = now & ~self.failing
        elsewhere[self.rows] = False
        left_m = float(self.length_m[self.rows] @ now[self.rows])
        moved_m = float(self.length_m @ elsewhere)
        least = float(evaluation.reserve[self.rows, k].min())  # NaN where one is
        word = solves(self.failing_m, left_m, moved_m, unknown=bool(np.isnan(least)))
        return Outcome(left_m, moved_m, word, least)

    def recomputed(self, situation: Situation, item: Carried) -> Outcome:
        """:meth:`outcome` with ``item`` in place of the setup, on the plan's own stations."""
        evaluation, _ = evaluate(situation.along.stations, [item], situation.settings)
        return self.outcome(evaluation, 0)

    def row(
        self,
        remedy: str,
        does: str,
        solved: str,
        left_m: float = np.nan,
        moved_m: float = np.nan,
        reserve_after: float = np.nan,
        **more: object,
    ) -> dict[str, object]:
        """One row of the table ``remedies``; lengths in metres, what is not given is missing.

        A remedy that passes with a thin reserve says so behind what it does.
        """
        if left_m == 0 and 0 <= reserve_after < self.thin_reserve:
            does += f" It passes with a thin reserve ({100 * reserve_after:.1f} %)."
        blank: dict[str, object] = {
            "payload_kg": np.nan,
            "extra_loads": np.nan,
            "stranded_m3": np.nan,
            "stranded_trails": None,
            "added_m": np.nan,
            "note": None,
            "reserve_after": reserve_after,
        }
        return {
            "stretch": self.stretch,
            "setup": self.setup,
            "remedy": remedy,
            "does": does,
            "solves": solved,
            "left_m": left_m,
            "moved_m": moved_m,
            **blank,
            **more,
        }


def failing(evaluation: Evaluation, k: int, *, by_pressure: bool) -> NDArray[np.bool_]:
    """Stations at which setup number ``k`` falls short; with ``by_pressure`` also those over.

    Unknown is never short here; :func:`solves` is told of it apart.
    """
    short = evaluation.reserve[:, k] < 0
    return short | (evaluation.pressure_ratio[:, k] > 1) if by_pressure else short


def solves(before_m: float, left_m: float, moved_m: float, *, unknown: bool = False) -> str:
    """Word for what a remedy achieves, from metres short before, left, and new elsewhere.

    "yes" only when nothing is left, nothing is unknown and no metre elsewhere becomes short.
    """
    if unknown:
        return "cannot tell"
    if left_m == 0 and moved_m == 0:
        return "yes"
    return "no" if left_m >= before_m - 1e-9 else "partly"


def cases_of(
    situation: Situation, bottlenecks: pd.DataFrame, stretch_setups: pd.DataFrame
) -> list[Case]:
    """The pairs of stretch and setup that are worth a remedy, in the order of the stretches.

    Parameters
    ----------
    situation : Situation
    bottlenecks, stretch_setups : DataFrame
        Tables of the registry.

    Notes
    -----
    Where traction is missing: the shown setup, and every usual setup lighter than it, each only
    where it falls short. Over the bearing capacity: the shown setup alone. None for a thin reserve.
    """
    assessment, stations = situation.assessment, situation.along.stations
    shown = assessment.item(situation.shown)
    lighter = [
        name
        for name in assessment.usual
        if assessment.item(name).added_mass_kg < shown.added_mass_kg
    ]
    short = {
        (row["stretch"], row["setup"])
        for row in stretch_setups[stretch_setups["short_m"] > 0].to_dict("records")
    }
    trail = stations["trail"].to_numpy()
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    length = stations["length_m"].to_numpy(dtype=float)
    found = []
    for stretch in bottlenecks.to_dict("records"):
        kind = stretch["kind"]
        if kind not in BY_TRACTION + BY_PRESSURE:
            continue
        inside = (trail == stretch["trail"]) & (chainage > stretch["from_m"])
        rows = np.flatnonzero(inside & (chainage < stretch["to_m"]))
        rows = rows[np.argsort(chainage[rows], kind="stable")]
        names = [situation.shown]
        if kind in BY_TRACTION:
            names = [n for n in (*names, *lighter) if (stretch["stretch"], n) in short]
        for name in names:
            k = assessment.evaluation.column(name)
            found.append(
                Case(
                    stretch=str(stretch["stretch"]),
                    kind=str(kind),
                    trail=str(stretch["trail"]),
                    from_m=float(stretch["from_m"]),
                    to_m=float(stretch["to_m"]),
                    rows=rows,
                    item=assessment.items[k],
                    failing=failing(assessment.evaluation, k, by_pressure=kind in BY_PRESSURE),
                    length_m=length,
                    thin_reserve=situation.settings.decision.thin_reserve,
                )
            )
    return found


def tonnes(mass_kg: float) -> str:
    """A mass in kg as people read it: ``10.5 t``, ``10.25 t``."""
    text = f"{mass_kg / 1000:.2f}"
    return f"{text[:-1] if text.endswith('0') else text} t"


def metres(length_m: float) -> str:
    """A length in whole metres with its unit."""
    return f"{length_m:.0f} m"
