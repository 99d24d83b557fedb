"""The first page of the report: which, where, why, what would ease it, when, how sure."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.bottlenecks import RATING_EXCEEDED, thin_metres
from terrain.decision.drop_it import LEFT_OUT
from terrain.decision.ranking import CANNOT_TELL, FALLS_SHORT
from terrain.decision.results import Plan
from terrain.outputs.document import (
    Block,
    Facts,
    Heading,
    Paragraph,
    Table,
    Terms,
    clipped,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import USUAL, lighter_setups, rows_of, short_by_trail
from terrain.outputs.report_asks import ask_answers
from terrain.outputs.report_measures import HOPELESS, deciding, eased_stretches
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN, count, listed, outcome_mark

__all__ = ["decision_blocks", "forcing_trails"]

_MOST_STRETCHES = 4
_MOST_NAMED = 3
_MOST_CAUSES = 3
_MOST_SHUT = 6
_MOST_LIGHTER = 1
_MOST_SETUPS = 6
_MOST_SIDES = 2
_NOT_NAMED = {
    FALLS_SHORT: "the best of those that do not suit",
    CANNOT_TELL: "the first of those of which nobody can tell yet: too much is not assessed",
}
"""What the shown setup is where none is named, by its outcome."""


def decision_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return the decision, short enough for one printed page."""
    ranking = plan.ranking
    setups = rows_of(ranking.setups)
    own = next((line for line in setups if line["setup"] == ranking.shown), None)
    blocks: list[Block] = [
        Heading("Decision", 1, "decision"),
        Paragraph(shown.sentence(ranking.headline), style="answer"),
    ]
    if own is None:
        return [*blocks, Terms(tuple(_answers(plan, shown)), strong=True)]
    if ranking.candidate is not None:
        words = (
            f"{outcome_mark(own['outcome'])} {own['outcome']} (for traction); first of "
            f"{count(len(setups), 'setup')} compared; in the tables {own['setup']}."
        )
        blocks.append(Paragraph(words, "A candidate, not approved:"))
    else:
        why = _NOT_NAMED.get(own["outcome"], "the first in the order of the comparison")
        words = f"Map and tables show {own['description']}, {why}."
        blocks.append(Paragraph(words, "No listed setup is named."))
    blocks.append(_facts(plan, own, shown))
    blocks.append(Terms(tuple(_answers(plan, shown)), strong=True))
    blocks.append(_others(plan, setups, shown))
    return blocks


def forcing_trails(plan: Plan, lighter: list[str]) -> list[dict[str, Any]]:
    """Return the trails on which a lighter usual setup is short, the longest shortage first.

    Each row has ``trail``, ``shown_m`` (metres short with the shown setup) and ``lighter_m``, the
    metres short with each of ``lighter`` in order.
    """
    table = short_by_trail(plan)
    own = table[plan.ranking.shown] if plan.ranking.shown in table else table.sum(axis=1) * np.nan
    rows: list[dict[str, Any]] = [
        {
            "trail": str(trail),
            "shown_m": float(own[trail]),
            "lighter_m": [float(value) for value in table.loc[trail, lighter]],
        }
        for trail in table.index
    ]
    rows = [line for line in rows if any(line["lighter_m"]) or line["shown_m"] > 0]
    return sorted(rows, key=lambda line: -max([*line["lighter_m"], line["shown_m"]]))


def _facts(plan: Plan, own: dict[str, Any], shown: Shown) -> Facts:
    total = float(plan.stations["length_m"].sum())
    place = (
        f", trail {named(clipped(own['worst_trail'], 24))}" if _is_text(own, "worst_trail") else ""
    )
    return Facts(
        (
            (shown.length(own["short_m"]), f"short of traction, of {shown.length(total)}"),
            (shown.slope(own["worst_reserve"]), f"smallest reserve{place}"),
            (shown.length(own["over_bearing_m"]), "over the bearing capacity"),
            (shown.mass(own["added_mass_kg"]), "mass of the aids"),
            (shown.mass(own["payload_lost_kg"]), "payload lost to the ratings"),
            (shown.length(own["not_assessed_m"]), "not assessed"),
        )
    )


def _answers(plan: Plan, shown: Shown) -> list[tuple[str, str]]:
    """Questions that a planner asks, with what this run can say."""
    found = [("Where does the ground force it?", _where(plan, shown))]
    why = _why(plan, shown)
    if why:
        found.append(("Why there?", why))
    eased = _eased(plan, shown)
    if eased:
        found.append(("What would ease it?", eased))
    found += ask_answers(plan, shown)
    found.append(("When?", _when(plan, shown)))
    found.append(("How sure?", _how_sure(plan, shown)))
    if plan.doubt is not None and plan.doubt.measure_next:
        found.append(("Measure next", shown.sentence(plan.doubt.measure_next)))
    return found


def _where(plan: Plan, shown: Shown) -> str:
    if plan.bottlenecks is None:
        return f"{_where_by_trail(plan, shown)}{_thin(plan, shown)}"
    parts = []
    for kind, words in (
        (HOPELESS, "No listed setup passes"),
        ("forces the choice", "Lighter usual setups fall short"),
    ):
        lines = [line for line in deciding(plan) if line["kind"] == kind]
        if not lines:
            continue
        total = shown.length(sum(line["length_m"] for line in lines))
        stretches = [
            f"{named(clipped(str(line['stretch'])))} ({shown.length(line['length_m'])}, "
            f"{shown.slope(line['worst_reserve'])})"
            for line in lines
        ]
        parts.append(
            f"{words} on {count(len(lines), 'stretch', 'stretches')}, {total}: "
            f"{listed(stretches, _MOST_STRETCHES)}."
        )
    where = " ".join(parts) or (
        "Nowhere: the shown setup and every lighter usual one have a reserve on all assessed "
        "ground."
    )
    return f"{where}{_thin(plan, shown)}"


def _thin(plan: Plan, shown: Shown) -> str:
    """On how much of the way the shown setup has little to spare; empty for nowhere."""
    if plan.ranking.shown not in plan.evaluation.setups:
        return ""
    thin_m = thin_metres(plan.stations, plan.evaluation, plan.ranking.shown, plan.settings)
    if not thin_m:
        return ""
    under = shown.percent(plan.settings.decision.thin_reserve)
    return f" The shown setup's reserve is thin, under {under}, on {shown.length(thin_m)}."


def _where_by_trail(plan: Plan, shown: Shown) -> str:
    lighter = lighter_setups(plan)
    rows = forcing_trails(plan, lighter)
    if not rows:
        return (
            "Nowhere: the shown setup"
            f"{' and every lighter usual one have' if lighter else ' has'} a reserve on all "
            "assessed ground."
        )
    parts = [
        f"trail {named(clipped(line['trail']))} "
        f"({shown.length(max([*line['lighter_m'], line['shown_m']]))})"
        for line in rows
    ]
    return (
        f"Short with the lightest usual setup or the shown one: "
        f"{listed(parts, _MOST_STRETCHES, 'more trails')}."
    )


def _why(plan: Plan, shown: Shown) -> str:
    """Causes: first of the stretches that nothing passes, by name; then of the others, by metres.

    That a rating is exceeded is no cause: it stands among the ratings.
    """
    lines = [line for line in deciding(plan) if isinstance(line["cause"], str)]
    hopeless = [line for line in lines if line["kind"] == HOPELESS]
    parts = []
    if hopeless:
        told = []
        for cause, metres, names in _by_cause(hopeless):
            rest = len(names) - _MOST_NAMED
            named_ = ", ".join(names[:_MOST_NAMED]) + (f" and {rest} more" if rest > 0 else "")
            told.append(f"{cause} ({named_}; {shown.length(metres)})")
        parts.append(f"No listed setup passes: {listed(told, _MOST_CAUSES)}.")
    others = [
        f"{cause} ({shown.length(metres)})"
        for cause, metres, _ in _by_cause([line for line in lines if line not in hopeless])
    ]
    if others:
        text = listed(others, _MOST_CAUSES)
        parts.append(f"{'Elsewhere: ' if hopeless else ''}{text}.")
    text = " ".join(parts)
    return text[:1].upper() + text[1:]


def _by_cause(lines: list[dict[str, Any]]) -> list[tuple[str, float, list[str]]]:
    """Cause, metres and names of the stretches, the most metres first."""
    metres: dict[str, float] = {}
    names: dict[str, list[str]] = {}
    for line in lines:
        cause = line["cause"].removesuffix(RATING_EXCEEDED).replace("; ", ", and ")
        metres[cause] = metres.get(cause, 0.0) + line["length_m"]
        names.setdefault(cause, []).append(named(clipped(str(line["stretch"]))))
    order = sorted(metres, key=lambda cause: -metres[cause])
    return [(cause, metres[cause], names[cause]) for cause in order]


def _eased(plan: Plan, shown: Shown) -> str:
    """What would help the shown setup where it is short, and what the next lighter ones need."""
    parts = [] if plan.remedies is None else eased_stretches(plan, plan.remedies, shown)
    if plan.drop_it is not None:
        known = plan.drop_it[plan.drop_it["kind"] == LEFT_OUT]  # the headline tells the others
        known = known.dropna(subset=["sentence"]).sort_values("left_out_m", kind="stable")
        for line in rows_of(known)[:_MOST_LIGHTER]:
            eased = line["eased_by"]
            more = f" Or ease it by: {eased}." if isinstance(eased, str) and eased else ""
            parts.append(shown.sentence(f"{line['sentence']}{more}"))
        if len(known) > _MOST_LIGHTER:
            rest = len(known) - _MOST_LIGHTER
            where = "\u201cWhat a lighter setup would cost\u201d"
            parts.append(f"{count(rest, 'lighter setup')} more under {where}.")
    return " ".join(parts)


def _frost(plan: Plan, shown: Shown) -> str:
    """Depth of the frost that was verified, beside the state; empty in any other state."""
    ground = plan.settings.ground
    if ground.state != "frozen" or ground.frost_depth_m is None:
        return ""
    by = named(ground.frost_verified_by) if ground.frost_verified_by else UNKNOWN
    return (
        f" ({shown.fine_length(ground.frost_depth_m)}, verified by {by}; how deep it must be for "
        "this machine is the site's or the local rule's word)"
    )


def _when(plan: Plan, shown: Shown) -> str:
    state = f"{plan.settings.ground.state}{_frost(plan, shown)}"
    if plan.seasons is None:
        return (
            f"Planned for ground that is {state}. Plan again before work in any other state; it is "
            "never taken from the date."
        )
    here = plan.seasons[plan.seasons["setup"] == plan.ranking.shown]
    parts = [_in_state(plan, line, shown) for line in rows_of(here)]
    frozen = (
        " Frozen ground counts only where somebody verified the depth of frost."
        if plan.settings.ground.frost_depth_m is None
        else ""
    )
    return (
        f"This run is planned for ground that is {state}. The shown setup, for traction: "
        f"{'; '.join(parts)}.{frozen}"
    )


def _in_state(plan: Plan, line: dict[str, Any], shown: Shown) -> str:
    """Outcome in one state, with the metres that nothing passes and the trails that are shut."""
    text = f"{line['state']}: {line['outcome']}"
    if line["unsolved_m"] > 0:
        text += f", {shown.length(line['unsolved_m'])} that no setup passes"
    if line["over_bearing_m"] > 0:
        text += f", {shown.length(line['over_bearing_m'])} over the bearing capacity"
    if plan.trail_states is not None:
        usable = plan.trail_states[f"usable_{line['state']}"]
        shut = plan.trail_states.loc[(usable == False).fillna(False), "trail"]  # noqa: E712
        if len(shut):
            names = ", ".join(named(clipped(str(name))) for name in shut[:_MOST_SHUT])
            more = len(shut) - _MOST_SHUT
            text += f", shut {names}" + (f" and {more} more" if more > 0 else "")
    return text


def _how_sure(plan: Plan, shown: Shown) -> str:
    if plan.doubt is not None:
        return f"{shown.sentence(plan.doubt.sentence)}{_outside(plan, shown)}"
    opinions = plan.second_opinions
    if opinions is not None:
        here = opinions[opinions["setup"] == plan.ranking.shown]
        if len(here) and here[["short_if_strong_m", "short_if_weak_m"]].notna().all(axis=None):
            strong, weak = here["short_if_strong_m"].iloc[0], here["short_if_weak_m"].iloc[0]
            return (
                f"With all ground at the strong end of its class the shown setup is short on "
                f"{shown.length(strong)}, at the weak end on {shown.length(weak)}. No chances were "
                "computed."
            )
    return (
        "Not computed in this run. Most figures of the aids and the soil are planning assumptions."
    )


def _outside(plan: Plan, shown: Shown) -> str:
    """How far the shown setup's figures lie outside what the relations are stated for."""
    if plan.outside_range is None:
        return ""
    own = plan.outside_range[plan.outside_range["setup"] == plan.ranking.shown]
    own = own.sort_values("metres", ascending=False, kind="stable")
    if not len(own):
        return ""
    sides = dict.fromkeys(str(side) for side in own["side"])
    return (
        f" Traction is computed outside the stated range of a relation on up to "
        f"{shown.length(own['metres'].iloc[0])} ({listed(list(sides), _MOST_SIDES)})."
    )


def _others(plan: Plan, setups: list[dict[str, Any]], shown: Shown) -> Table:
    usual = [line for line in setups if line["standing"] == USUAL]
    told = usual[:_MOST_SETUPS]
    bare = [line for line in usual[_MOST_SETUPS:] if line["added_mass_kg"] == 0]
    told = [*told[: _MOST_SETUPS - len(bare[:1])], *bare[:1]]  # nothing is always held beside
    rows = [
        row(
            clipped(line["description"], 90),
            f"{outcome_mark(line['outcome'])} {line['outcome']}",
            shown.length(line["short_m"]),
            shown.length(line["over_bearing_m"]),
            shown.mass(line["added_mass_kg"]),
            marked=line["setup"] == plan.ranking.candidate,
        )
        for line in told
    ]
    rest = len(usual) - len(told)
    more = f" ({rest} more under \u201cSetups compared\u201d)" if rest else ""
    columns = (
        *texts("Setup of usual practice", "Outcome, for traction"),
        *numbers("Short of traction", "Over bearing", "Mass of aids"),
    )
    return Table(columns, tuple(rows), caption=f"Why the others fall out{more}")


def _is_text(line: dict[str, Any], name: str) -> bool:
    return isinstance(line[name], str) and bool(line[name])
