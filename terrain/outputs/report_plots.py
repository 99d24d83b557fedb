"""Figures of the report that compare setups: what is asked for, the trade, seasons, doubt."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from terrain.decision.results import Plan
from terrain.models.soil import MOISTURE_STATES
from terrain.outputs.figures import BLUE, INK, RED, SOFT, new_figure, styled, svg_of
from terrain.outputs.page_parts import USUAL, leading_setups, rows_of
from terrain.outputs.report_names import setup_names, setup_numbers
from terrain.outputs.shown_units import METRIC, Shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["demand_supply", "doubt_bars", "front_of", "season_grid", "trade_off"]

_LOOKS = {
    "suits": ("#ffffff", "", "suits"),
    "suits with measures": ("#f2f2f2", "..", "with measures"),
    "cannot tell": ("#e6e6e6", "xx", "cannot tell"),
    "does not suit": ("#d9d9d9", "////", "does not suit"),
}
_LINE = 36
"""Letters in a line of a setup's name beside a figure."""

_ROUND = 0.5
"""Step in percent to which marks of stations are rounded, so that thousands share few marks."""


@styled
def demand_supply(plan: Plan, compare: str | None) -> str:
    """Grade that each station asks for against the steepest one that could be held there.

    In percent; uphill loaded is positive. A mark below the two lines is short.
    """
    figure = new_figure(6.6, 3.1)
    axes = figure.add_subplot()
    grade = 100 * plan.stations["grade"].to_numpy(dtype=float)
    setups = [*([(compare, "^")] if compare else []), (plan.ranking.shown, "o")]
    most = 10.0
    for name, marker in setups:
        own = name == plan.ranking.shown
        reserve = 100 * plan.evaluation.reserve[:, plan.evaluation.column(str(name))]
        x, y = _thinned(grade, np.abs(grade) + reserve)
        most = max([most, *np.abs(x)])
        axes.plot(
            x,
            y,
            linestyle="none",
            marker=marker,
            markersize=4 if own else 4.5,
            markerfacecolor=BLUE if own else "none",
            markeredgecolor=INK if own else SOFT,
            markeredgewidth=0.3 if own else 0.7,
            label="shown setup" if own else "compared",
            zorder=3 if own else 2,
        )
    most *= 1.1
    axes.plot([-most, 0, most], [most, 0, most], color=RED, linewidth=1.8, label="asked for")
    axes.set_xlim(-most, most)
    axes.set_xlabel("downhill loaded  \N{LEFTWARDS ARROW}  grade asked for, %  "
                    "\N{RIGHTWARDS ARROW}  uphill loaded")  # fmt: skip
    axes.set_ylabel("grade that can be held, %")
    axes.grid(color="#e5e0d4", zorder=0)
    figure.legend(loc="outside upper left", ncols=3, frameon=False, fontsize=8.5)
    return svg_of(figure, "demand", "Scatter plot: grade asked for against grade held")


@styled
def trade_off(plan: Plan, shown: Shown = METRIC) -> str:
    """Length short of traction against length over the bearing capacity, one mark a setup.

    The numbers are the rows of the setup table; only leading setups are numbered. Setups with the
    same two figures share one mark. A line joins those that no other one beats on both. Their
    marks and that of the candidate have a label each, in bold below; marks of others that lie
    close share one, in grey above.
    """
    table = plan.ranking.setups
    figure = new_figure(6.6, 2.9)
    axes = figure.add_subplot()
    groups = _marks(plan, shown)
    front = _front(list(groups))
    if len(front) > 1:
        axes.step(*zip(*front, strict=True), where="post", color=SOFT, linestyle="--", zorder=2)
    for (short, over), rows in groups.items():
        usual = any(table["standing"].iloc[row] == USUAL for row in rows)
        axes.plot(
            short,
            over,
            marker="o" if usual else "s",
            markersize=9 if usual else 6,
            markerfacecolor=BLUE if usual else "white",
            markeredgecolor=INK,
            markeredgewidth=1.0 if usual else 0.7,
            clip_on=False,
            linestyle="none",
            zorder=4 if usual else 3,
        )
        if any(table["setup"].iloc[row] == plan.ranking.candidate for row in rows):
            axes.plot(
                short,
                over,
                marker="o",
                markersize=17,
                markerfacecolor="none",
                markeredgecolor=RED,
                markeredgewidth=2,
                clip_on=False,
            )
    axes.set_xlabel(f"{shown.unit('m')} short of traction")
    axes.set_ylabel(f"{shown.unit('m')} over the bearing capacity")
    axes.set_xlim(0, max([1, *(key[0] for key in groups)]) * 1.15)
    highest = max([1, *(key[1] for key in groups)])
    axes.set_ylim(
        -0.16 * highest if any(key[1] < 0.15 * highest for key in front) else 0, 1.2 * highest
    )
    axes.grid(color="#e5e0d4", zorder=0)
    leading = set(leading_setups(table))
    own = _own_labels(plan, groups, front, leading)
    for at, rows in own.items():
        axes.annotate(
            _numbers(rows),
            at,
            (0, -13),
            textcoords="offset points",
            ha="left" if at[0] == 0 else "center",
            va="top",
            fontweight="bold",
            zorder=6,
        )
    told = {row for rows in own.values() for row in rows}
    for place, labelled in _near_labels(groups, leading - told):
        axes.annotate(
            _numbers(labelled),
            place,
            (0, 10),
            textcoords="offset points",
            ha="left" if place[0] == 0 else "center",
            color=SOFT,
            fontsize=8.5,
            zorder=6,
        )
    return svg_of(figure, "trade", "Scatter plot: length short against length over, by setup")


@styled
def season_grid(plan: Plan, setups: list[str], shown: Shown = METRIC) -> str:
    """Outcome of ``setups`` in each moisture state, as a grid of words and patterns."""
    from matplotlib.patches import Rectangle

    assert plan.seasons is not None
    found = {(line["setup"], line["state"]): line for line in rows_of(plan.seasons)}
    states = [name for name in MOISTURE_STATES if any(key[1] == name for key in found)]
    figure = new_figure(7.4, 0.38 * len(setups) + 0.5)
    axes = figure.add_subplot()
    for down, setup in enumerate(setups):
        for across, state in enumerate(states):
            line = found.get((setup, state))
            if line is None:
                continue
            face, hatch, words = _LOOKS.get(str(line["outcome"]), ("#ffffff", "", "not known"))
            axes.add_patch(
                Rectangle(
                    (across, down), 1, 1, facecolor=face, hatch=hatch, edgecolor="#a0a0a0",
                    linewidth=0.5,
                )
            )  # fmt: skip
            axes.text(
                across + 0.5,
                down + 0.5,
                f"{words}\n{shown.length(line['short_m'])}",
                ha="center",
                va="center",
                fontsize=7.5,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2},
            )
    chosen = plan.settings.ground.state
    names = [f"{name} (this run)" if name == chosen else name for name in states]
    axes.set_xticks([k + 0.5 for k in range(len(states))], names)
    axes.set_yticks(
        [k + 0.5 for k in range(len(setups))], [_label(plan, name) for name in setups], fontsize=7
    )
    axes.set_xlim(0, max(len(states), 1))
    axes.set_ylim(max(len(setups), 1), 0)
    axes.xaxis.tick_top()
    axes.tick_params(length=0)
    axes.spines[:].set_visible(False)
    return svg_of(figure, "season", "Grid: outcome of setups by the state of the ground")


@styled
def doubt_bars(plan: Plan) -> str:
    """Chance of each setup in the state of the run, and what the doubt comes from."""
    doubt = plan.doubt
    assert doubt is not None
    here = doubt.block[doubt.block["state"] == plan.settings.ground.state]
    chances = {line["setup"]: line for line in rows_of(here)}
    order = [str(name) for name in plan.ranking.setups["setup"]]
    kept = [order[k] for k in leading_setups(plan.ranking.setups) if order[k] in chances][:8]
    sources = sorted(rows_of(doubt.sources), key=lambda line: -line["share"])[:8]
    figure = new_figure(7.4, 0.37 * max(len(kept), len(sources), 2) + 0.6)
    panels = figure.subplots(1, 2 if sources else 1, squeeze=False)[0]
    for down, name in enumerate(kept):
        line = chances[name]
        panels[0].barh(down, 100 * line["chance"], color="#c9d8e6", edgecolor=INK, linewidth=0.7)
        ends = [100 * line["low"], 100 * line["high"]]
        panels[0].plot(ends, [down, down], color=INK, linewidth=1.6)
    names = [_label(plan, name) for name in kept]
    _bar_axes(panels[0], names, "% of draws that meet the need")
    if sources:
        for down, line in enumerate(sources):
            panels[1].barh(
                down, 100 * line["share"], color="white", edgecolor=INK, hatch="////", linewidth=0.7
            )
        names = [_wrapped(str(line["source"])) for line in sources]
        _bar_axes(panels[1], names, "% of the doubt about the shown setup")
    return svg_of(figure, "doubt", "Bar charts: chance of each setup, and shares of the doubt")


def _label(plan: Plan, setup: str) -> str:
    """Return number and plain words of a setup, in lines short enough for the side of a figure."""
    number = setup_numbers(plan).get(setup)
    words = setup_names(plan).get(setup, setup)
    return _wrapped(words if number is None else f"{number} {words}")


def _wrapped(words: str) -> str:
    """Return ``words`` in at most three lines; what is longer ends in an ellipsis."""
    return textwrap.fill(
        words, _LINE, max_lines=3, placeholder="\N{HORIZONTAL ELLIPSIS}", break_on_hyphens=False
    )


def _bar_axes(axes: Axes, names: list[str], label: str) -> None:
    axes.set_yticks(range(len(names)), names, fontsize=7)
    axes.set_ylim(max(len(names), 1) - 0.4, -0.6)
    axes.set_xlim(0, 100)
    axes.set_xlabel(label)


def _thinned(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Round both to the step of the marks and drop doubles and unknown ones."""
    pairs = np.column_stack([x, y])
    pairs = pairs[np.isfinite(pairs).all(axis=1)]
    pairs = np.unique(np.round(pairs / _ROUND) * _ROUND, axis=0)
    return pairs[:, 0], pairs[:, 1]


def front_of(plan: Plan, shown: Shown = METRIC) -> list[tuple[int, int]]:
    """Marks of :func:`trade_off` that no other one beats on both figures."""
    return _front(list(_marks(plan, shown)))


def _marks(plan: Plan, shown: Shown) -> dict[tuple[int, int], list[int]]:
    """Metres short and metres over in shown units, with the rows of the setups that have both."""
    table = plan.ranking.setups
    groups: dict[tuple[int, int], list[int]] = {}
    for row in range(len(table)):
        pair = (table["short_m"].iloc[row], table["over_bearing_m"].iloc[row])
        if np.isfinite(pair).all():
            short, over = (round(shown.value(float(value), "m")) for value in pair)
            groups.setdefault((short, over), []).append(row)
    return groups


def _front(points: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Points that no other one beats on both figures, in order of the first."""
    front: list[tuple[int, int]] = []
    for point in sorted(points):
        if not front or point[1] < front[-1][1]:
            front.append(point)
    return front


def _own_labels(
    plan: Plan,
    groups: dict[tuple[int, int], list[int]],
    front: list[tuple[int, int]],
    leading: set[int],
) -> dict[tuple[int, int], list[int]]:
    """Marks with a label of their own, and its rows: the candidate's and those of the front.

    Of the rows that share such a mark the leading ones are named, or the first where none leads.
    """
    setups = plan.ranking.setups["setup"].to_numpy()
    found = {}
    for at, rows in groups.items():
        if at in front or any(setups[row] == plan.ranking.candidate for row in rows):
            found[at] = [row for row in rows if row in leading] or rows[:1]
    return found


def _near_labels(
    groups: dict[tuple[int, int], list[int]], wanted_rows: set[int], near: float = 0.12
) -> list[tuple[tuple[float, float], list[int]]]:
    """Join the numbers of marks that lie closer than ``near`` of the figure's width and height.

    Returns the place of each label, above the highest mark beside it so that it covers none, and
    the rows of the setup table that it names.
    """
    wide, high = (max([1, *(key[axis] for key in groups)]) for axis in (0, 1))
    joined: list[tuple[list[tuple[int, int]], list[int]]] = []
    for at, rows in sorted(groups.items()):
        wanted = [row for row in rows if row in wanted_rows]
        close = [
            label
            for label in joined
            if abs(label[0][0][0] - at[0]) < near * wide
            and abs(label[0][0][1] - at[1]) < near * high
        ]
        if wanted and close:
            close[0][0].append(at)
            close[0][1].extend(wanted)
        elif wanted:
            joined.append(([at], wanted))
    labels: list[tuple[tuple[float, float], list[int]]] = []
    for places, rows in joined:
        across = sum(place[0] for place in places) / len(places)
        up = max(place[1] for place in places)
        beside = [
            y for x, y in groups if abs(x - across) < near * wide and 0 <= y - up < near * high
        ]
        labels.append(((across, float(max([up, *beside]))), sorted(rows)))
    return labels


def _numbers(rows: list[int]) -> str:
    """Write row numbers from 1, neighbours as a span: ``1, 3-5``."""
    parts: list[list[int]] = []
    for row in rows:
        if parts and row == parts[-1][-1] + 1:
            parts[-1].append(row)
        else:
            parts.append([row])
    return ", ".join(
        str(part[0] + 1) if len(part) == 1 else f"{part[0] + 1}-{part[-1] + 1}" for part in parts
    )
