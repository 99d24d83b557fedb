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
from terrain.outputs.document import clipped
from terrain.outputs.page_parts import SLOPE_COLOURS
from terrain.outputs.shown_units import METRIC, Shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "BLUE",
    "INK",
    "RED",
    "SOFT",
    "new_figure",
    "slope_class_bar",
    "spread",
    "styled",
    "svg_of",
    "trail_profiles",
]

_LEAST_GAP = 0.055
"""Least distance of two upright labels, as a share of the width of a panel."""

Parameters = ParamSpec("Parameters")
INK, SOFT, BLUE, RED = "#1d2430", "#6b7280", "#0072b2", "#d55e00"
_STYLE: dict[str, Any] = {
    "svg.hashsalt": "rutwise",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 9.5,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 0.7,
}


Drawn = Callable[Parameters, str]


def styled(draw: Drawn[Parameters]) -> Drawn[Parameters]:
    """Run ``draw`` under the style of the figures, whatever the user's own settings are."""

    @wraps(draw)
    def wrapper(*args: Parameters.args, **kwargs: Parameters.kwargs) -> str:
        import matplotlib

        with matplotlib.rc_context():
            matplotlib.rcdefaults()
            matplotlib.rcParams.update(_STYLE)  # type: ignore[arg-type]
            return draw(*args, **kwargs)

    return wrapper


@styled
def slope_class_bar(plan: Plan, shown: Shown = METRIC) -> str:
    """Length of trail in each slope class, as an SVG element."""
    length = plan.stations["length_m"].to_numpy(dtype=float)
    number = plan.stations["slope_class"].to_numpy(dtype=int)
    sums = [float(length[number == k].sum()) for k in range(len(plan.slope_labels) + 1)]
    names = ["not assessed", *plan.slope_labels]
    drawn = [k for k in (*range(1, len(names)), 0) if k > 0 or sums[0] > 0]
    colours = ["#ffffff", *SLOPE_COLOURS]
    figure = new_figure(6.6, 0.3 * len(drawn) + 0.7)
    axes = figure.add_subplot()
    for row, k in enumerate(drawn):
        axes.barh(
            row,
            shown.value(sums[k], "m"),
            color=colours[min(k, len(colours) - 1)],
            edgecolor=INK,
            linewidth=0.8,
            hatch="" if k else "////",
        )
        axes.annotate(
            shown.length(sums[k]),
            (shown.value(sums[k], "m"), row),
            (5, 0),
            textcoords="offset points",
            va="center",
        )
    axes.set_yticks(range(len(drawn)), [names[k] for k in drawn])
    axes.invert_yaxis()
    axes.set_xlim(0, shown.value(max(*sums, 1.0), "m") * 1.15)
    axes.set_xlabel(f"{shown.unit('m')} of trail")
    return svg_of(figure, "slope", "Bar chart: length of trail in each slope class")


def trail_profiles(
    plan: Plan, trails: list[str], compare: str | None, shown: Shown = METRIC
) -> list[str]:
    """Elevation, grade and traction reserve along each of ``trails``: one figure for each two.

    ``compare`` is a second setup, drawn dashed. Distance runs along the trail as drawn; grade is
    positive uphill in the direction of loaded travel. Stretches that decide are marked by name. All
    figures have one scale of percent.
    """
    reach = _reach(plan, trails, compare)
    pairs = [trails[k : k + 2] for k in range(0, len(trails), 2)]
    return [
        _trail_pair(plan, pair, compare, shown, reach, number) for number, pair in enumerate(pairs)
    ]


@styled
def _trail_pair(
    plan: Plan,
    trails: list[str],
    compare: str | None,
    shown: Shown,
    reach: tuple[float, float],
    number: int,
) -> str:
    """Draw one or two trails side by side; the first figure has the legend of all."""
    columns = 2 if len(trails) > 1 or number else 1
    figure = new_figure(7.4 if columns == 2 else 5.0, 2.3 + (0.0 if number else 0.3))
    panels = np.atleast_1d(np.asarray(figure.subfigures(1, columns)))
    handles: Any = ([], [])
    for panel, trail in zip(panels, trails, strict=False):
        top, below = panel.subplots(2, 1, sharex=True, height_ratios=(1, 1.6))
        _elevation(top, plan, trail, shown)
        _profile(below, plan, trail, compare, shown)
        below.set_ylim(*reach)
        handles = below.get_legend_handles_labels()
    if number == 0:
        figure.legend(*handles, loc="outside upper left", ncols=3, frameon=False, fontsize=8)
    title = "Line charts: elevation, grade and reserve along trails"
    return svg_of(figure, f"profile-{number}", title)


def _reach(plan: Plan, trails: list[str], compare: str | None) -> tuple[float, float]:
    """One scale of percent for all panels, so that they can be compared."""
    here = plan.stations["trail"].astype(str).isin(trails).to_numpy()
    setups = [plan.ranking.shown, *([compare] if compare else [])]
    columns = [plan.evaluation.column(name) for name in setups]
    reserve = 100 * plan.evaluation.reserve[here][:, columns]
    grade = 100 * plan.stations["grade"].to_numpy(dtype=float)[here]
    values = np.concatenate([[0.0, 5.0], reserve.ravel(), grade])
    return float(np.nanmin(values)) - 3, float(np.nanmax(values)) + 3


def _along(plan: Plan, trail: str) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Rows of the stations of ``trail`` and their chainage in metres, in order."""
    here = np.flatnonzero((plan.stations["trail"].astype(str) == trail).to_numpy())
    chainage = plan.stations["chainage_m"].to_numpy(dtype=float)[here]
    order = np.argsort(chainage, kind="stable")
    return here[order], chainage[order]


def _elevation(axes: Axes, plan: Plan, trail: str, shown: Shown) -> None:
    here, chainage = _along(plan, trail)
    unit = shown.value(1.0, "m")
    height = unit * plan.stations["elevation_m"].to_numpy(dtype=float)[here]
    axes.plot(unit * chainage, height, color=INK, linewidth=1.2)
    axes.set_title(clipped(trail, 28), loc="left", fontsize=10, fontweight="bold")
    axes.set_ylabel(f"height, {shown.unit('m')}")
    axes.margins(y=0.25)
    reach = unit * max(chainage[-1], 1.0)
    narrow = []
    for name, start, end, hopeless in _stretches(plan, trail):
        axes.axvspan(
            unit * start,
            unit * end,
            facecolor="#d9d9d9",
            edgecolor=INK if hopeless else "#8c8c8c",
            hatch="xxx" if hopeless else "",
            linewidth=0.6,
            zorder=0,
        )
        middle = unit * (start + end) / 2
        if unit * (end - start) < 0.25 * reach:
            narrow.append((middle, name.rsplit("-", 1)[-1]))
        else:
            _label(axes, middle, clipped(name, 14), 0, below=False)
    narrow.sort()
    for at, (_, words) in zip(
        spread([middle for middle, _ in narrow], _LEAST_GAP * reach), narrow, strict=True
    ):
        middle_up = sum(axes.get_ylim()) / 2
        here_up = float(np.interp(at, unit * chainage, height))
        _label(axes, at, words, 90, below=here_up > middle_up)


def _label(axes: Axes, at: float, words: str, rotation: float, *, below: bool) -> None:
    """Write the name of a stretch at the edge of the panel that its line is away from."""
    axes.annotate(
        words,
        (at, 0.0 if below else 1.0),
        (0, 2 if below else -2),
        xycoords=("data", "axes fraction"),
        textcoords="offset points",
        ha="center",
        va="bottom" if below else "top",
        rotation=rotation,
        fontsize=7,
        zorder=6,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.9, "pad": 0.6},
    )


def spread(middles: list[float], least: float) -> list[float]:
    """Move ascending places apart to at least ``least``, each group about its own middle."""
    groups: list[list[float]] = []
    for middle in middles:
        groups.append([middle])
        while len(groups) > 1 and _row(groups[-1], least)[0] - _row(groups[-2], least)[-1] < least:
            groups[-2].extend(groups.pop())
    return [place for group in groups for place in _row(group, least)]


def _row(group: list[float], least: float) -> list[float]:
    """Places ``least`` apart about the mean of ``group``."""
    middle, half = sum(group) / len(group), (len(group) - 1) / 2
    return [middle + (k - half) * least for k in range(len(group))]


def _stretches(plan: Plan, trail: str) -> list[tuple[str, float, float, bool]]:
    """Name, start, end (metres) of the deciding stretches of a trail; True where none passes."""
    if plan.bottlenecks is None:
        return []
    table = plan.bottlenecks
    kinds = ("forces the choice", "no listed setup passes")
    here = table[(table["trail"].astype(str) == trail) & table["kind"].isin(kinds)]
    return [
        (str(name), float(start), float(end), kind == kinds[1])
        for name, start, end, kind in zip(
            here["stretch"], here["from_m"], here["to_m"], here["kind"], strict=True
        )
    ]


def _profile(axes: Axes, plan: Plan, trail: str, compare: str | None, shown: Shown) -> None:
    here, chainage = _along(plan, trail)
    along = chainage * shown.value(1.0, "m")
    answer = plan.evaluation
    own = 100 * answer.reserve[here, answer.column(plan.ranking.shown)]
    grade = 100 * plan.stations["grade"].to_numpy(dtype=float)[here]
    axes.axhline(0, color=INK, linewidth=0.8)
    axes.plot(along, grade, color=SOFT, linewidth=1, linestyle=":", label="grade, loaded")
    if compare is not None:
        other = 100 * answer.reserve[here, answer.column(compare)]
        axes.plot(along, other, color=INK, linewidth=1.2, linestyle="--", label="reserve, compared")
        _short(axes, along, other, "\\\\\\\\", SOFT, "short with the compared setup")
    axes.plot(along, own, color=BLUE, linewidth=2, label="reserve, shown setup")
    _short(axes, along, own, "////", RED, "short with the shown setup")
    axes.set_xlabel(f"{shown.unit('m')} along the trail as drawn")
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
        label=label,
    )


def _degrees(percent: ArrayLike) -> NDArray[np.float64]:
    return np.degrees(np.arctan(np.asarray(percent, dtype=float) / 100))


def _percent(degrees: ArrayLike) -> NDArray[np.float64]:
    return 100 * np.tan(np.radians(np.clip(np.asarray(degrees, dtype=float), -89, 89)))


def new_figure(width_in: float, height_in: float) -> Figure:
    """Return an empty figure of that size in inches."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), layout="constrained")


def svg_of(figure: Figure, prefix: str, title: str) -> str:
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
    head, rest = text.split(">", 1)
    head = re.sub(r'\s(?:width|height)="[^"]*"', "", head)
    return f"{head}>{rest}".replace("\n\n", "\n")
