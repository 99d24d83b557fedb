"""What a lighter setup would need: the fewest stretches to leave out, and what that costs.

Every stretch on which the lighter setup falls short has to go, or to lie beyond one that goes. A
stretch that no other one can take away is therefore in every answer; only what is left is searched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.leave_out import LeftOut, evaluated_anew, leave_out
from terrain.decision.ranking import OUTCOMES
from terrain.decision.situation import Situation
from terrain.models.soil import THAWED_STATES

__all__ = ["LEFT_OUT", "OUT_OF_REACH", "Dropped", "drop_it", "fewest_stretches", "reach_words"]

LEFT_OUT, OUT_OF_REACH = "leave out", "out of reach"
"""Kinds of answer: stretches to leave out; stretches that lie beyond what no setup passes."""

MOST_LOOKS = 400
"""Ways to leave stretches out that are looked at for one setup, at most."""

MOST_LOST = 0.5
"""Share of the known timber (of the metres where none is known) that may stay behind at most.

Planning assumption: who gives up more than half of a block asks another question.
"""

_WOULD_DO = " would do, by the likely figures alone."
_MOST_NAMES = 3  # names in a sentence; of more the first two, and how many more there are

Numbers = frozenset[int]
Found = tuple[int, float, float, tuple[int, ...]]  # how many, m3 and metres lost, which


@dataclass(frozen=True, slots=True)
class Dropped:
    """The fewest stretches to leave out, by number, and the block without them.

    ``sure`` is False when the search ran into its limit: then fewer might do.
    """

    stretches: tuple[int, ...]
    left: LeftOut
    sure: bool


def fewest_stretches(
    situation: Situation, setup: str, rows: Sequence[NDArray[np.int64]]
) -> Dropped | None:
    """Find the fewest stretches without which ``setup`` meets the need on what is left.

    Parameters
    ----------
    situation : Situation
    setup : str
        A scored setup.
    rows : sequence of ndarray of int
        Stations of the stretches that may be left out.

    Returns
    -------
    Dropped or None
        Of equally many the set that strands least known timber, then that loses fewest metres. None
        where no set of them does it and leaves a trail to drive on.

    Notes
    -----
    The rule is that of the verdict: no metre short that another listed setup passes, in this state
    or a drier one, and few metres that none passes or that are not assessed. Leaving a stretch out
    touches another one only where it lies on its way to the landing; the search follows these ways
    and is exact unless it runs into its limit.
    """
    search = _Search(situation, situation.assessment.evaluation.column(setup), rows)
    found = search.best(frozenset())
    if found is None:
        return None
    return Dropped(found[3], search.left(frozenset(found[3])), sure=not search.stopped)


@dataclass(slots=True)
class _Search:
    situation: Situation
    column: int
    rows: Sequence[NDArray[np.int64]]
    stopped: bool = False
    looks: dict[Numbers, LeftOut] = field(default_factory=dict)
    answers: dict[Numbers, Found | None] = field(default_factory=dict)

    def left(self, gone: Numbers) -> LeftOut:
        if gone not in self.looks:
            self.looks[gone] = leave_out(self.situation, [self.rows[k] for k in sorted(gone)])
        return self.looks[gone]

    def best(self, gone: Numbers) -> Found | None:
        """Best answer that leaves out ``gone`` and more."""
        if gone not in self.answers:
            if len(self.looks) > MOST_LOOKS:
                self.stopped = True
                return None
            self.answers[gone] = self._best(gone)
        return self.answers[gone]

    def _best(self, gone: Numbers) -> Found | None:
        left = self.left(gone)
        if not left.kept.any():
            return None
        length = self.situation.along.stations["length_m"].to_numpy(dtype=float)
        unknown, hopeless, short = _masks(left, self.column)
        if not short.any():
            short = _short_when_drier(self.situation, left, self.column)
        most = self.situation.settings.decision.measures_share_max
        if short.any():
            options = self._ways_out(gone, short)
            if options is None:
                return None
        elif length[hopeless | unknown].sum() > most * length[left.kept].sum():
            options = [k for k in self._open(gone) if hopeless[self.rows[k]].any()]
        else:
            volume = left.stranded_m3 if np.isfinite(left.stranded_m3) else np.inf
            return len(gone), volume, left.left_out_m + left.cut_off_m, tuple(sorted(gone))
        if isinstance(options, frozenset):
            return self.best(gone | options)
        found = [self.best(gone | {k}) for k in options]
        return min((answer for answer in found if answer is not None), default=None)

    def _open(self, gone: Numbers) -> list[int]:
        return [k for k in range(len(self.rows)) if k not in gone]

    def _ways_out(self, gone: Numbers, short: NDArray[np.bool_]) -> Numbers | list[int] | None:
        """All stretches that must go next, or else the choices; None where nothing helps."""
        left = self.left(gone)
        groups = [rows[short[rows]] for rows in self.rows]
        listed = np.zeros(len(short), dtype=bool)
        for rows in self.rows:
            listed[rows] = True
        groups += [np.array([row]) for row in np.flatnonzero(short & ~listed)]
        changed = {}
        for k in self._open(gone):
            other = self.left(gone | {k})
            changed[k] = (other.kept != left.kept) | (other.turned != left.turned)
        choices = []
        for group in groups:
            if not len(group):
                continue
            options = [k for k, where in changed.items() if where[group].any()]
            # several others together may cut off what none of them does alone
            rest = self.left(gone | (changed.keys() - set(options)))
            if not (rest.kept & (rest.turned == left.turned))[group].all():
                options = list(changed)
            choices.append(options)
        if not all(choices):
            return None
        forced = frozenset(options[0] for options in choices if len(options) == 1)
        return forced or min(choices, key=len)


def _masks(left: LeftOut, column: int) -> tuple[NDArray[np.bool_], ...]:
    """Of what is kept: where this setup is not assessed, where none passes, where it is short."""
    reserve = left.evaluation.reserve
    hopeless = np.asarray((reserve < 0).all(axis=1), dtype=bool)
    own = reserve[:, column]
    return left.kept & np.isnan(own), hopeless, (own < 0) & ~hopeless


def _short_when_drier(situation: Situation, left: LeftOut, column: int) -> NDArray[np.bool_]:
    """Where this setup falls short on drier ground, though another one passes there then.

    In the chosen state such metres may be hopeless for all. The block dries again, so they count.
    """
    short = np.zeros(len(left.kept), dtype=bool)
    chosen = situation.settings.ground.state
    drier = THAWED_STATES[: THAWED_STATES.index(chosen)] if chosen in THAWED_STATES else ()
    for state in drier:
        if state in situation.assessment.evaluations:
            reserve = evaluated_anew(
                situation, situation.assessment.items, left.turned, left.against, ~left.kept, state
            ).reserve
            short |= (reserve[:, column] < 0) & ~(reserve < 0).all(axis=1)
    return short


def drop_it(
    situation: Situation,
    stretches: Sequence[tuple[int, NDArray[np.int64]]],
    names: Sequence[str],
    remedies: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """For each lighter setup the fewest stretches that stand in its way: table ``drop_it``.

    Parameters
    ----------
    situation : Situation
    stretches : sequence of (kind, rows)
        Of :func:`terrain.decision.bottlenecks.stretch_rows`.
    names : sequence of str
        Their names.
    remedies : DataFrame, optional
        Table ``remedies``: what would solve a stretch for a setup without leaving it out.

    Returns
    -------
    DataFrame
        One row for each usual setup that does not suit and is lighter than the candidate; for every
        usual setup where nothing suits. Lightest first. A setup that leaving stretches out does not
        help has no row, nor one that falls short in a drier state only, nor one for which more than
        :data:`MOST_LOST` of the timber would stay behind. Where leaving out the stretches that no
        listed setup passes is enough, because the rest lies beyond them, the row says just that.
    """
    assessment = situation.assessment
    ranked = assessment.ranking.setups.set_index("setup")
    candidate = assessment.ranking.candidate
    heaviest = np.inf if candidate is None else ranked["added_mass_kg"][candidate]
    named = [(name, kind, rows) for name, (kind, rows) in zip(names, stretches, strict=True)]
    by_traction = [(name, rows) for name, kind, rows in named if kind in (0, 1)]
    hopeless = [(name, rows) for name, kind, rows in named if kind == 0]
    without = leave_out(situation, [rows for _, rows in hopeless]) if hopeless else None
    length = situation.along.stations["length_m"].to_numpy(dtype=float)
    table = []
    for setup in assessment.usual:
        row = ranked.loc[setup]
        if row["outcome"] != OUTCOMES[-1] or row["added_mass_kg"] >= heaviest:
            continue
        if isinstance(row.get("drier_state"), str):
            continue  # in the chosen state it would do: no stretch stands in its way
        column = assessment.evaluation.column(setup)
        reserve = assessment.evaluation.reserve[:, column]
        mine = [(name, rows) for name, rows in by_traction if (reserve[rows] < 0).any()]
        if without is not None and without.kept.any():
            unknown, still, short = _masks(without, column)
            few = situation.settings.decision.measures_share_max * length[without.kept].sum()
            short = short | _short_when_drier(situation, without, column)
            if not (still | short).any() and length[unknown].sum() <= few:
                if not _loses_most(situation, without):
                    description = str(row["description"])
                    table.append(
                        _out_of_reach(situation, setup, description, hopeless, mine, without)
                    )
                continue
        dropped = fewest_stretches(situation, setup, [rows for _, rows in mine])
        if dropped is None or not dropped.stretches:
            continue
        if not _loses_most(situation, dropped.left):
            chosen = [mine[k] for k in dropped.stretches]
            table.append(_row(situation, setup, str(row["description"]), chosen, dropped, remedies))
    return pd.DataFrame(table, columns=list(columns_of("drop_it")))


def reach_words(table: pd.DataFrame) -> str:
    """In one short sentence, what the lightest setup that falls short only out of reach would do.

    Empty for none. The rest of the answer stands in the table.
    """
    found = table.loc[table["kind"] == OUT_OF_REACH, "sentence"]
    return str(found.iloc[0]).split(_WOULD_DO)[0] + _WOULD_DO if len(found) else ""


def _loses_most(situation: Situation, left: LeftOut) -> bool:
    """Whether so much would stay behind that it is no answer any more."""
    known = float(situation.along.traffic.volumes["volume_m3"].sum())  # NaN counts as nothing
    if known > 0 and np.isfinite(left.stranded_m3):
        return left.stranded_m3 > MOST_LOST * known
    total = float(situation.along.stations["length_m"].sum())
    return left.left_out_m + left.cut_off_m > MOST_LOST * total


def _out_of_reach(
    situation: Situation,
    setup: str,
    description: str,
    hopeless: Sequence[tuple[str, NDArray[np.int64]]],
    mine: Sequence[tuple[str, NDArray[np.int64]]],
    left: LeftOut,
) -> dict[str, object]:
    """The setup falls short only where no listed setup passes, and beyond."""
    names = [name for name, _ in hopeless]
    beyond = [name for name, rows in mine if name not in names and not left.kept[rows].any()]
    sentence = f"Without {_some(names)}"
    if left.cut_off_m > 0:
        sentence += f" and {left.cut_off_m:.0f} m behind {'it' if len(names) == 1 else 'them'}"
    sentence += f": {description}{_WOULD_DO} No listed setup passes there."
    if beyond:
        sentence += f" Out of reach then: {_some(beyond)}."
    sentence += _behind(situation, left)
    return {
        "setup": setup,
        "kind": OUT_OF_REACH,
        "stretches": ", ".join(names),
        "n_stretches": len(names),
        "left_out_m": left.left_out_m,
        "stranded_m3": left.stranded_m3,
        "stranded_m": left.cut_off_m,
        "stranded_trails": ", ".join(left.cut_off_trails),
        "eased_by": None,
        "sentence": sentence,
    }


def _row(
    situation: Situation,
    setup: str,
    description: str,
    chosen: Sequence[tuple[str, NDArray[np.int64]]],
    dropped: Dropped,
    remedies: pd.DataFrame | None,
) -> dict[str, object]:
    left = dropped.left
    stations = situation.along.stations
    length = stations["length_m"].to_numpy(dtype=float)
    trail = stations["trail"].to_numpy()
    metres: dict[str, float] = {}
    for _, rows in chosen:
        metres[trail[rows[0]]] = metres.get(trail[rows[0]], 0.0) + float(length[rows].sum())
    names = [name for name, _ in chosen]
    places = f"{sum(metres.values()):.0f} m on {len(metres)} trails"
    if len(metres) <= _MOST_NAMES:
        places = _listed([f"{value:.0f} m of trail {name}" for name, value in metres.items()])
    sentence = f"Without {_some(names)} ({places}): {description}{_WOULD_DO}"
    sentence += _behind(situation, left)
    if not dropped.sure:
        sentence += " Fewer stretches might do: the search was cut short."
    eased = _eased(names, setup, remedies)
    return {
        "setup": setup,
        "kind": LEFT_OUT,
        "stretches": ", ".join(names),
        "n_stretches": len(chosen),
        "left_out_m": left.left_out_m,
        "stranded_m3": left.stranded_m3,
        "stranded_m": left.cut_off_m,
        "stranded_trails": ", ".join(left.cut_off_trails),
        "eased_by": eased,
        "sentence": sentence,
    }


def _behind(situation: Situation, left: LeftOut) -> str:
    """What would stay in the wood, what would be cut off, and what is left to drive on."""
    text = " How much timber would stay behind is not known."
    if np.isfinite(left.stranded_m3):
        known = "At least " if left.unknown_trails else ""
        text = f" {known}{left.stranded_m3:.0f} m3 of timber would stay behind."
    if left.cut_off_trails:
        text += f" Cut off: {left.cut_off_m:.0f} m of {_some(left.cut_off_trails, 'trails')}."
    length = situation.along.stations["length_m"].to_numpy(dtype=float)
    text += f" {length[left.kept].sum():.0f} m of {length.sum():.0f} m of trail stay reachable."
    return text


def _some(names: Sequence[str], kind: str = "stretches") -> str:
    """Names as a sentence can bear them: of many the first two, and how many more."""
    if len(names) <= _MOST_NAMES:
        return _listed(names)
    return f"{names[0]}, {names[1]} and {len(names) - 2} more {kind}"


def _listed(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def _eased(names: Sequence[str], setup: str, remedies: pd.DataFrame | None) -> str | None:
    """Remedies other than leaving out that solve every one of these stretches for the setup."""
    if remedies is None or not names:
        return None
    solving = remedies[(remedies["setup"] == setup) & (remedies["solves"] == "yes")]
    common: list[str] | None = None
    for name in names:
        here = list(dict.fromkeys(solving.loc[solving["stretch"] == name, "remedy"]))
        common = here if common is None else [word for word in common if word in here]
    kept = [word for word in common or [] if word not in NOT_EASING]
    return ", ".join(kept) or None


NOT_EASING = ("leave out", "heavier aid on one axle group")
"""Remedies that are not named again: this table's own, and one that is another setup."""
