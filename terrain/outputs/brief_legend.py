"""What the signs of the map of the brief mean, and the colours of its lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from terrain.decision.results import Plan
from terrain.outputs.brief_labels import INK
from terrain.outputs.brief_shut import (
    KEEP_OUT,
    ON_CLOSED,
    closed_trails,
    stretch_places,
    water_stops,
)
from terrain.outputs.catalogue import Catalogue

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "CLOSED",
    "CONTOUR",
    "EDGE",
    "EDGE_DASH",
    "EMERGENCY",
    "LEAST_RELIEF_M",
    "SHUT",
    "SHUT_DASH",
    "STOP",
    "TRAIL",
    "WATER",
    "WEAK",
    "draw_legend",
    "legend_columns",
    "legend_entries",
]

TRAIL, WEAK, CLOSED, WATER, EMERGENCY = "#10151c", "#e69f00", "#a1001e", "#0072b2", "#006b3c"
SHUT, STOP = "#6d6d6d", "#f7ee55"
EDGE, CONTOUR = "#55504a", "#8a7f70"
EDGE_DASH = (0, (6, 2, 1, 2))
SHUT_DASH = (0, (0.5, 0.5))
LEAST_RELIEF_M = 2.0
"""Orange and blue after Okabe and Ito; width, dashes and crosses tell the lines apart in grey."""


def legend_entries(plan: Plan, words: Catalogue, font_pt: float) -> list[tuple[Any, str]]:
    """Return handle and label of every sign that the map of ``plan`` shows."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def line(colour: str, width: float, dash: Any = "-") -> Line2D:
        return Line2D([], [], color=colour, linewidth=width, linestyle=dash, solid_capstyle="butt")

    def sign(marker: str, fill: str, edge: str) -> Line2D:
        return Line2D(
            [],
            [],
            marker=marker,
            markerfacecolor=fill,
            markeredgecolor=edge,
            markersize=font_pt,
            linestyle="none",
        )

    say, wet = words.say, plan.wet_ground
    places = set(stretch_places(plan))
    entries: list[tuple[Any, str, bool]] = [
        (line(TRAIL, 1.2), say("Trail, arrow: loaded travel"), True),
        (
            line(SHUT, 2.6, SHUT_DASH),
            say("Closed trail"),
            bool(closed_trails(plan)),
        ),
        (line(WEAK, 4.0), say("Weak spot"), bool(places - {KEEP_OUT, ON_CLOSED})),
        (
            Line2D(
                [],
                [],
                color=CLOSED,
                linewidth=4.0,
                solid_capstyle="butt",
                marker="X",
                markersize=1.1 * font_pt,
                markeredgecolor="white",
            ),
            say("Keep out"),
            KEEP_OUT in places,
        ),
        (
            sign("X", STOP, INK),
            say("Water, no crossing"),
            bool(water_stops(plan)),
        ),
        (sign("^", TRAIL, TRAIL), say("Landing"), True),
        (
            sign("s", "white", WATER),
            say("Crossing"),
            wet is not None and wet.crossings is not None and len(wet.crossings) > 0,
        ),
        (
            line(WATER, 1.0),
            say("Water"),
            wet is not None and (wet.streams is not None or wet.open_water is not None),
        ),
        (
            Patch(facecolor="#cfe6f5", edgecolor=WATER, hatch="////", linewidth=0.4),
            say("Machine-free strip"),
            wet is not None and wet.buffers is not None and len(wet.buffers) > 0,
        ),
        (sign("s", EMERGENCY, EMERGENCY), say("Emergency"), plan.emergency is not None),
        (line(EDGE, 0.8, EDGE_DASH), say("Edge of the block"), plan.boundary is not None),
        (line(CONTOUR, 0.6), say("Contour, metres"), _has_relief(plan)),
    ]
    return [(handle, label) for handle, label, there in entries if there]


def _has_relief(plan: Plan) -> bool:
    """Whether the ground is uneven enough for contours."""
    heights = plan.dem.values[np.isfinite(plan.dem.values)]
    return bool(heights.size) and float(heights.max() - heights.min()) >= LEAST_RELIEF_M


def legend_columns(labels: list[str], width_pt: float, font_pt: float) -> int:
    """Return the most columns in which a legend of ``labels`` is no wider than ``width_pt``."""
    for columns in range(len(labels), 1, -1):
        rows = -(-len(labels) // columns)
        longest = [
            max(len(label) for label in labels[start : start + rows])
            for start in range(0, len(labels), rows)
        ]
        needed = sum(0.58 * letters + 4.1 for letters in longest) * font_pt
        if needed <= width_pt:
            return columns
    return 1


def draw_legend(figure: Figure, entries: list[tuple[Any, str]], font_pt: float) -> None:
    """Write the legend along the lower edge of ``figure``, in as many columns as fit."""
    labels = [label for _, label in entries]
    figure.legend(
        [handle for handle, _ in entries],
        labels,
        loc="lower center",
        ncols=legend_columns(labels, 72 * figure.get_figwidth(), font_pt),
        frameon=False,
        fontsize=font_pt,
        borderpad=0.0,
        borderaxespad=0.1,
        handlelength=2.0,
        handletextpad=0.7,
        columnspacing=1.0,
        labelspacing=0.25,
    )
