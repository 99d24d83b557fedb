"""Figures of the report: vector graphics that read in print and in grey."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, ParamSpec

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.decision.results import Plan
from terrain.outputs.page_parts import SLOPE_COLOURS, USUAL, leading_setups
from terrain.outputs.wording import metres

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["slope_class_bar", "trade_off", "trail_profiles"]

Parameters = ParamSpec("Parameters")
_INK, _SOFT, _BLUE, _RED = "#1d2430", "#6b7280", "#0072b2", "#d55e00"
_STYLE: dict[str, Any] = {
    "svg.hashsalt": "rutwise",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 9.5,
    "axes.edgecolor": _SOFT,
    "axes.labelcolor": _INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "text.color": _INK,
    "text.parse_math": False,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "hatch.linewidth": 0.7,
}


Drawn = Callable[Parameters, str]


def _styled(draw: Drawn[Parameters]) -> Drawn[Parameters]:
    """Run ``draw`` under the style of the figures, whatever the user's own settings are."""

    @wraps(draw)
    def wrapper(*args: Parameters.args, **kwargs: Parameters.kwargs) -> str:
        import matplotlib

        with matplotlib.rc_context():
            matplotlib.rcdefaults()
            matplotlib.rcParams.update(_STYLE)  # type: ignore[arg-type]
            return draw(*args, **kwargs)

    return wrapper


@_styled
def slope_class_bar(plan: Plan) -> str:
    """Metres of trail in each slope class, as an SVG element."""
    length = plan.stations["length_m"].to_numpy(dtype=float)
    number = plan.stations["slope_class"].to_numpy(dtype=int)
    sums = [float(length[number == k].sum()) for k in range(len(plan.slope_labels) + 1)]
    names = ["not assessed", *plan.slope_labels]
    shown = [k for k in (*range(1, len(names)), 0) if k > 0 or sums[0] > 0]
    colours = ["#ffffff", *SLOPE_COLOURS]
    figure = _figure(6.6, 0.36 * len(shown) + 0.75)
    axes = figure.add_subplot()
    for row, k in enumerate(shown):
        axes.barh(
            row,
            sums[k],
            color=colours[min(k, len(colours) - 1)],
            edgecolor=_INK,
            linewidth=0.8,
            hatch="" if k else "////",
        )
        axes.annotate(
            metres(sums[k]), (sums[k], row), (5, 0), textcoords="offset points", va="center"
        )
    axes.set_yticks(range(len(shown)), [names[k] for k in shown])
    axes.invert_yaxis()
    axes.set_xlim(0, max(*sums, 1.0) * 1.15)
    axes.set_xlabel("metres of trail")
    return _svg(figure, "slope", "Bar chart: metres of trail in each slope class")


@_styled
def trade_off(plan: Plan) -> str:
    """Metres short of traction against metres over the bearing capacity, one mark a setup.

    The numbers are the rows of the setup table; only leading setups are numbered. Setups with the
    same two figures share one mark.
    """
    table = plan.ranking.setups
    figure = _figure(6.6, 3.6)
    axes = figure.add_subplot()
    groups: dict[tuple[int, int], list[int]] = {}
    for row in range(len(table)):
        short, over = table["short_m"].iloc[row], table["over_bearing_m"].iloc[row]
        if np.isfinite(short) and np.isfinite(over):
            groups.setdefault((round(float(short)), round(float(over))), []).append(row)
    for (short, over), rows in groups.items():
        usual = any(table["standing"].iloc[row] == USUAL for row in rows)
        axes.plot(
            short,
            over,
            marker="o" if usual else "s",
            markersize=9 if usual else 6,
            markerfacecolor=_BLUE if usual else "none",
            markeredgecolor=_INK,
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
                markeredgecolor=_RED,
                markeredgewidth=2,
                clip_on=False,
            )
    axes.set_xlabel("metres short of traction")
    axes.set_ylabel("metres over the bearing capacity")
    axes.set_xlim(0, max([1, *(key[0] for key in groups)]) * 1.15)
    axes.set_ylim(0, max([1, *(key[1] for key in groups)]) * 1.15)
    axes.grid(color="#e5e0d4", zorder=0)
    for at, labelled in _near_labels(groups, set(leading_setups(table))):
        axes.annotate(_numbers(labelled), at, (2, 11), textcoords="offset points")
    return _svg(figure, "trade", "Scatter plot: metres short against metres over, by setup")


@_styled
def trail_profiles(plan: Plan, trails: list[str], compare: str | None) -> str:
    """Traction reserve and grade along each of ``trails``, one small panel a trail.

    ``compare`` is a second setup, drawn dashed. Chainage runs along the trail as drawn; grade is
    positive uphill in the direction of loaded travel.
    """
    columns = 2 if len(trails) > 1 else 1
    rows = -(-len(trails) // columns)
    figure = _figure(7.4 if columns == 2 else 5.0, 2.3 * rows + 0.5)
    grid = figure.subplots(rows, columns, squeeze=False, sharey=True)
    for axes, trail in zip(grid.flat, trails, strict=False):
        _profile(axes, plan, trail, compare)
    for axes in list(grid.flat)[len(trails) :]:
        axes.set_visible(False)
    handles, labels = grid.flat[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper left", ncols=4, frameon=False, fontsize=8.5)
    return _svg(figure, "profile", "Line charts: traction reserve and grade along trails")


def _profile(axes: Axes, plan: Plan, trail: str, compare: str | None) -> None:
    here = np.flatnonzero((plan.stations["trail"].astype(str) == trail).to_numpy())
    chainage = plan.stations["chainage_m"].to_numpy(dtype=float)[here]
    here, chainage = here[np.argsort(chainage)], np.sort(chainage)
    answer = plan.evaluation
    own = 100 * answer.reserve[here, answer.column(plan.ranking.shown)]
    grade = 100 * plan.stations["grade"].to_numpy(dtype=float)[here]
    axes.axhline(0, color=_INK, linewidth=0.8)
    axes.plot(chainage, grade, color=_SOFT, linewidth=1, linestyle=":", label="grade, loaded")
    if compare is not None:
        other = 100 * answer.reserve[here, answer.column(compare)]
        axes.plot(
            chainage, other, color=_INK, linewidth=1.2, linestyle="--", label="reserve, compared"
        )
        _short(axes, chainage, other, "\\\\\\\\", _SOFT, "")
    axes.plot(chainage, own, color=_BLUE, linewidth=2, label="reserve, shown setup")
    _short(axes, chainage, own, "////", _RED, "short with the shown setup")
    axes.set_title(_clipped(trail), loc="left", fontsize=10, fontweight="bold")
    axes.set_xlabel("m along the trail as drawn")
    axes.set_ylabel("%")
    degrees = axes.secondary_yaxis("right", functions=(_degrees, _percent))
    degrees.set_ylabel("degrees")


def _short(
    axes: Axes, x: NDArray[np.float64], y: NDArray[np.float64], hatch: str, colour: str, label: str
) -> None:
    axes.fill_between(
        x,
        y,
        0,
        where=(y < 0).tolist(),
        facecolor="none",
        edgecolor=colour,
        hatch=hatch,
        linewidth=0,
        label=label or "_",
    )


def _degrees(percent: ArrayLike) -> NDArray[np.float64]:
    return np.degrees(np.arctan(np.asarray(percent, dtype=float) / 100))


def _percent(degrees: ArrayLike) -> NDArray[np.float64]:
    return 100 * np.tan(np.radians(np.clip(np.asarray(degrees, dtype=float), -89, 89)))


def _near_labels(
    groups: dict[tuple[int, int], list[int]], named: set[int], near: float = 0.1
) -> list[tuple[tuple[int, int], list[int]]]:
    """Join the numbers of marks that lie closer than ``near`` of the figure's width and height.

    Returns the place of each label and the rows of the setup table that it names.
    """
    wide, high = (max([1, *(key[axis] for key in groups)]) for axis in (0, 1))
    labels: list[tuple[tuple[int, int], list[int]]] = []
    for at, rows in sorted(groups.items()):
        wanted = [row for row in rows if row in named]
        close = [
            label
            for label in labels
            if abs(label[0][0] - at[0]) < near * wide and abs(label[0][1] - at[1]) < near * high
        ]
        if wanted and close:
            close[0][1].extend(wanted)
        elif wanted:
            labels.append((at, wanted))
    return [(at, sorted(rows)) for at, rows in labels]


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


def _clipped(text: str, most: int = 28) -> str:
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def _figure(width_in: float, height_in: float) -> Figure:
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), layout="constrained")


def _svg(figure: Figure, prefix: str, title: str) -> str:
    """Return the figure as an SVG element for a page: own ids, no header, no outside names."""
    buffer = io.StringIO()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        figure.savefig(
            buffer,
            format="svg",
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
        )
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", text, flags=re.DOTALL)

    def own(match: re.Match[str]) -> str:
        tag = re.sub(r'\sxmlns(:\w+)?="[^"]*"', "", match.group())
        tag = re.sub(r'\bid="', f'id="{prefix}-', tag)
        tag = re.sub(r"url\(#", f"url(#{prefix}-", tag)
        return re.sub(r'(?:xlink:)?href="#', f'href="#{prefix}-', tag)

    text = re.sub(r"<[^>]+>", own, text)
    text = re.sub(r"^<svg\b", f'<svg role="img" aria-label="{title}"', text)
    return re.sub(r'(<svg[^>]*?)\swidth="[^"]*"', r"\1", text, count=1).replace("\n\n", "\n")
