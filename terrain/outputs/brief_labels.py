"""Place names on a drawn map so that they do not cover each other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["INK", "Box", "LabelBoard", "MapSheet"]

INK = "#10151c"
"""Colour of writing and of most lines."""

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""

Point = tuple[float, float]

_WIDTH_OF_LETTER, _HEIGHT_OF_LINE = 0.74, 1.35
"""Width of a letter and height of a line over the font size, with a little room."""

_HIDDEN, _CROSSED, _GROUND, _FAR = 40.0, 30.0, 3.0, 0.3
"""What a place costs besides the points² that it covers: hiding anything at all, a leading line
through a name or sign, each ground mark under the name, each point of distance."""


@dataclass(slots=True)
class LabelBoard:
    """Boxes that are taken on a sheet of ``width_pt`` x ``height_pt`` points.

    ``ground`` are marks (x, y, owner) that are better seen: a name over them costs, but less than
    one over a box. A name is not charged for marks of its own ``owner``.
    """

    width_pt: float
    height_pt: float
    taken: list[Box] = field(default_factory=list)
    ground: list[tuple[float, float, str]] = field(default_factory=list)

    def block(self, box: Box) -> None:
        """Keep ``box`` free of labels."""
        self.taken.append(box)

    def mark_ground(self, points: Iterable[Point], owner: str = "") -> None:
        """Keep names off these points where there is another place."""
        self.ground.extend((x, y, owner) for x, y in points)

    def is_free(self, box: Box) -> bool:
        """Whether nothing is in ``box`` yet."""
        return not any(_overlap(box, other) for other in self.taken)

    def place(
        self,
        text: str,
        size_pt: float,
        candidates: Iterable[Point],
        lead_from: Point | None = None,
        owner: str = "",
    ) -> Point | None:
        """Take the best place for ``text`` in ``size_pt``, given by its centre, in points.

        A place costs for what the name covers, for names and signs that a line from ``lead_from``
        would cross, for ground marks under it, and for its distance from ``lead_from``. Of places
        that cost the same the first is taken. None without candidates.
        """
        half_w = _WIDTH_OF_LETTER * size_pt * max(len(text), 1) / 2
        half_h = _HEIGHT_OF_LINE * size_pt / 2
        centres = np.array(list(candidates), dtype=float).reshape(-1, 2)
        if not len(centres):
            return None
        centres[:, 0] = np.clip(centres[:, 0], half_w, self.width_pt - half_w)
        centres[:, 1] = np.clip(centres[:, 1], half_h, self.height_pt - half_h)
        half = np.array([half_w, half_h])
        boxes = np.hstack([centres - half, centres + half])
        costs = self._covered(boxes) + _GROUND * self._on_ground(boxes, owner)
        if lead_from is not None:
            start = np.array(lead_from)
            costs += _CROSSED * self._crossed(start, centres)
            costs += _FAR * np.hypot(*(centres - start).T)
        x, y = centres[int(np.argmin(np.round(costs, 6)))]
        self.taken.append((x - half_w, y - half_h, x + half_w, y + half_h))
        return float(x), float(y)

    def _covered(self, boxes: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points² of taken boxes under each box, dearer where anything is hidden at all."""
        if not self.taken:
            return np.zeros(len(boxes))
        taken = np.array(self.taken)[None]
        mine = boxes[:, None]
        wide = np.minimum(mine[..., 2], taken[..., 2]) - np.maximum(mine[..., 0], taken[..., 0])
        high = np.minimum(mine[..., 3], taken[..., 3]) - np.maximum(mine[..., 1], taken[..., 1])
        area = np.where((wide > 0) & (high > 0), wide * high, 0.0).sum(axis=1)
        return area + _HIDDEN * (area > 0)

    def _on_ground(self, boxes: NDArray[np.float64], owner: str) -> NDArray[np.float64]:
        """Ground marks of others inside each box."""
        marks = [(x, y) for x, y, of in self.ground if not owner or of != owner]
        if not marks:
            return np.zeros(len(boxes))
        x, y = np.array(marks).T
        inside = (x > boxes[:, :1]) & (x < boxes[:, 2:3]) & (y > boxes[:, 1:2]) & (y < boxes[:, 3:])
        return inside.sum(axis=1).astype(float)

    def _crossed(
        self, start: NDArray[np.float64], ends: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Taken boxes that a line to each end runs through; those round its start do not count."""
        others = [
            box
            for box in self.taken
            if not (box[0] <= start[0] <= box[2] and box[1] <= start[1] <= box[3])
        ]
        if not others:
            return np.zeros(len(ends))
        boxes = np.array(others)
        shares = np.linspace(0.0, 1.0, 24)
        points = start + shares[:, None, None] * (ends - start)  # (share, end, 2)
        x, y = points[..., 0, None], points[..., 1, None]
        inside = (x > boxes[:, 0]) & (x < boxes[:, 2]) & (y > boxes[:, 1]) & (y < boxes[:, 3])
        return inside.any(axis=0).sum(axis=-1).astype(float)


class MapSheet:
    """Axes of a map, their label board, and the way from metres to points on it.

    ``window`` is west, south, east, north in metres; ``font_pt`` the size of labels in points.
    """

    def __init__(self, axes: Axes, board: LabelBoard, window: Box, font_pt: float) -> None:
        self.axes, self.board, self.window, self.font_pt = axes, board, window, font_pt
        self.points_per_m = board.width_pt / (window[2] - window[0])

    def on_board(self, x_m: float, y_m: float) -> Point:
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
        at: Point,
        places: list[Point],
        *,
        fill: str = "white",
        ink: str = INK,
        edge: str = "none",
        bold: bool = False,
        lead: bool = False,
        owner: str = "",
        along: shapely.Geometry | None = None,
    ) -> None:
        """Write ``text`` at the best of ``places`` (points), with a line to ``at`` (m).

        The name of a line ``along`` which it may stand gets a line to its nearest point instead,
        and only where it stands off it.
        """
        start = self.on_board(*at) if lead else None
        found = self.board.place(text, self.font_pt, places, start, owner)
        if found is None:
            return
        west, south = self.window[:2]
        x, y = (west + found[0] / self.points_per_m, south + found[1] / self.points_per_m)
        if along is not None:
            at, lead = self._nearest(along, x, y)
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

    def _nearest(self, along: shapely.Geometry, x_m: float, y_m: float) -> tuple[Point, bool]:
        """Nearest point of a line, and whether it lies outside a name at ``x_m``, ``y_m``."""
        here = shapely.Point(x_m, y_m)
        nearest = along.interpolate(along.project(here))
        away = here.distance(nearest) * self.points_per_m
        return (nearest.x, nearest.y), away > 0.8 * self.font_pt

    def around(
        self, x_m: float, y_m: float, reach_pt: float, crowd: Sequence[Point] = ()
    ) -> list[Point]:
        """Places round a point, nearest first, in points.

        With a ``crowd`` of other signs (m) those on the far side of it come first and, where one of
        them is near, only those: a name then stands on its own side of its sign.
        """
        x, y = self.on_board(x_m, y_m)
        angles = np.radians([20, 160, -20, 200, 90, -90, 55, 125, -55, -125])
        away = self._away(x, y, crowd, 8 * reach_pt)
        if away is not None:
            turned = np.cos(angles) * away[0] + np.sin(angles) * away[1]
            angles = angles[np.argsort(-turned, kind="stable")]
            angles = angles[: np.count_nonzero(turned > 0.3)]
        return [
            (x + reach * 1.6 * float(np.cos(angle)), y + reach * float(np.sin(angle)))
            for reach in (reach_pt, 1.6 * reach_pt, 2.4 * reach_pt, 3.4 * reach_pt)
            for angle in angles
        ]

    def _away(
        self, x: float, y: float, crowd: Sequence[Point], near_pt: float
    ) -> tuple[float, float] | None:
        """Direction from the nearest of ``crowd`` to the point, of length 1; None if far."""
        others = [self.on_board(*one) for one in crowd]
        gaps = [(np.hypot(x - a, y - b), x - a, y - b) for a, b in others]
        gaps = [gap for gap in gaps if 0.5 < gap[0] < near_pt]
        if not gaps:
            return None
        gap, dx, dy = min(gaps)
        return float(dx / gap), float(dy / gap)


def _overlap(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0 and high > 0 else 0.0
