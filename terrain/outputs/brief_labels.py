"""Place names on a drawn map so that they do not cover each other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["INK", "Box", "LabelBoard", "MapSheet"]

INK = "#10151c"
"""Colour of writing and of most lines."""

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""

_WIDTH_OF_LETTER, _HEIGHT_OF_LINE = 0.74, 1.35
"""Width of a letter and height of a line over the font size, with a little room."""


@dataclass(slots=True)
class LabelBoard:
    """Boxes that are taken on a sheet of ``width_pt`` x ``height_pt`` points."""

    width_pt: float
    height_pt: float
    taken: list[Box] = field(default_factory=list)

    def block(self, box: Box) -> None:
        """Keep ``box`` free of labels."""
        self.taken.append(box)

    def is_free(self, box: Box) -> bool:
        """Whether nothing is in ``box`` yet."""
        return not any(_overlap(box, other) for other in self.taken)

    def place(
        self, text: str, size_pt: float, candidates: Iterable[tuple[float, float]]
    ) -> tuple[float, float] | None:
        """Take the first free place for ``text`` in ``size_pt``, given by its centre, in points.

        Where all are taken, the one that overlaps least is used. None without candidates.
        """
        half_w = _WIDTH_OF_LETTER * size_pt * max(len(text), 1) / 2
        half_h = _HEIGHT_OF_LINE * size_pt / 2
        best: tuple[float, Box] | None = None
        for x, y in candidates:
            x = min(max(x, half_w), self.width_pt - half_w)
            y = min(max(y, half_h), self.height_pt - half_h)
            box = (x - half_w, y - half_h, x + half_w, y + half_h)
            covered = sum(_overlap(box, other) for other in self.taken)
            if best is None or covered < best[0]:
                best = (covered, box)
            if covered == 0:
                break
        if best is None:
            return None
        self.taken.append(best[1])
        left, bottom, right, top = best[1]
        return (left + right) / 2, (bottom + top) / 2


class MapSheet:
    """Axes of a map, their label board, and the way from metres to points on it.

    ``window`` is west, south, east, north in metres; ``font_pt`` the size of labels in points.
    """

    def __init__(self, axes: Axes, board: LabelBoard, window: Box, font_pt: float) -> None:
        self.axes, self.board, self.window, self.font_pt = axes, board, window, font_pt
        self.points_per_m = board.width_pt / (window[2] - window[0])

    def on_board(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Place of a point of the map on the board, in points."""
        west, south = self.window[:2]
        return (x_m - west) * self.points_per_m, (y_m - south) * self.points_per_m

    def inside(self, x_m: float, y_m: float) -> bool:
        """Whether the window holds the point."""
        west, south, east, north = self.window
        return west <= x_m <= east and south <= y_m <= north

    def label(
        self,
        text: str,
        at: tuple[float, float],
        places: list[tuple[float, float]],
        *,
        fill: str = "white",
        ink: str = INK,
        edge: str = "none",
        bold: bool = False,
        lead: bool = False,
    ) -> None:
        """Write ``text`` at the first free of ``places`` (points), with a line to ``at`` (m)."""
        found = self.board.place(text, self.font_pt, places)
        if found is None:
            return
        west, south = self.window[:2]
        x, y = (west + found[0] / self.points_per_m, south + found[1] / self.points_per_m)
        if lead:
            self.axes.plot([at[0], x], [at[1], y], color=INK, linewidth=0.6, zorder=8)
        self.axes.text(
            x,
            y,
            text,
            fontsize=self.font_pt,
            fontweight="bold" if bold else "normal",
            color=ink,
            ha="center",
            va="center_baseline",
            zorder=10,
            clip_on=True,
            bbox={
                "boxstyle": "square,pad=0.12",
                "facecolor": fill,
                "edgecolor": edge,
                "linewidth": 0.5,
                "alpha": 0.92,
            },
        )

    def around(self, x_m: float, y_m: float, reach_pt: float) -> list[tuple[float, float]]:
        """Places round a point, nearest first, in points."""
        x, y = self.on_board(x_m, y_m)
        angles = np.radians([20, 160, -20, 200, 90, -90, 55, 125, -55, -125])
        return [
            (x + reach * 1.6 * float(np.cos(angle)), y + reach * float(np.sin(angle)))
            for reach in (reach_pt, 1.6 * reach_pt, 2.4 * reach_pt, 3.4 * reach_pt)
            for angle in angles
        ]


def _overlap(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0 and high > 0 else 0.0
