"""What the trails of the map can be coloured by, and how each class is drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from terrain.decision.results import Plan
from terrain.outputs.map_codes import PASSES, RATIO, SLOPE, Scale
from terrain.outputs.page_parts import PRESSURE_CLASSES, RESERVE_CLASSES, DrawingClass
from terrain.stations.traffic import PASS_CLASSES

__all__ = ["NOT_JUDGED", "STRETCH_LOOKS", "MapClass", "View", "casing", "contrast", "views"]

_INK, _WHITE = "#1d2430", "#ffffff"
_VIRIDIS = ("#3b528b", "#21918c", "#5ec962", "#b5de2b", "#fde725")
_ORANGES = ("#8c2d04", "#d94801", "#fd8d3c", "#fdd0a2")
_WIDTHS = (4.0, 5.5, 7.0, 8.5, 10.0)


@dataclass(frozen=True, slots=True)
class MapClass(DrawingClass):
    """A drawing class; ``ticks`` are short strokes across the line, so that it reads in grey."""

    ticks: bool = False


_UNKNOWN = MapClass(np.nan, "not known", "#4a4a4a", 4.0, "2 8")
NOT_JUDGED = MapClass(np.nan, "not judged in this state", "#b4b8be", 5.0, "7 2")
"""How a trail is drawn in a moisture state for which the plan holds no answer: grey, hatched."""

STRETCH_LOOKS: tuple[tuple[str, str], ...] = (
    ("no listed setup passes", ""),
    ("forces the choice", "12 5"),
    ("over bearing capacity", "3 5"),
    ("thin reserve", "2 9"),
)
"""Kinds of weak stretches, most pressing first, and the dash of the band under the trail."""


@dataclass(frozen=True, slots=True)
class View:
    """One way to colour the trails.

    ``key`` names the numbers, ``scale`` codes them, ``classes`` begins with the unknown. A view
    that ``follows`` the panel changes with the setup; one that is ``judged`` changes with the
    moisture state too and has nothing to show in a state without an answer. ``note`` says what the
    steps mean and where the colours come from.
    """

    key: str
    title: str
    scale: Scale
    classes: tuple[MapClass, ...]
    note: str
    follows: bool
    judged: bool


def views(plan: Plan) -> tuple[View, ...]:
    """Views of ``plan``: reserve, demand of the ground, pressure ratio, passes."""
    return (
        View(
            "reserve",
            "Traction reserve",
            SLOPE,
            _reserve(),
            "The steps above 0 % are drawn for the eye and are no limits. Colours after Okabe and "
            "Ito. Short is wide, dashed and ticked, thin is narrow and dashed.",
            True,
            True,
        ),
        View(
            "demand",
            "Demand of the ground: steepness to hold",
            SLOPE,
            _steepness(plan),
            "Grade and cross slope together, before the ground's resistance to rolling. Colours: "
            "viridis.",
            False,
            False,
        ),
        View(
            "ratio",
            "Pressure ratio",
            RATIO,
            _ratio(),
            "Above 1 the nominal pressure is over the likely bearing capacity. The other steps are "
            "drawn for the eye. Colours: cividis.",
            True,
            True,
        ),
        View(
            "passes",
            "Passes, empty ones and the harvester's too",
            PASSES,
            _passes(),
            "Classes after Mohtashami et al. (2017), the same in every moisture state. Colours: "
            "the ColorBrewer oranges.",
            True,
            False,
        ),
    )


def _reserve() -> tuple[MapClass, ...]:
    """Reserve classes: short wide with ticks, thin narrow and dashed, the good ones plain."""
    looks = {0.0: (10.0, "11 3", True), 0.05: (3.5, "8 4", False)}
    made = []
    for item in RESERVE_CLASSES:
        width, dash, ticks = looks.get(item.upper, (item.width, item.dash, False))
        made.append(MapClass(item.upper, item.label, item.colour, width, dash, ticks))
    return tuple(made)


def _ratio() -> tuple[MapClass, ...]:
    """Pressure classes with a dash on the two that are over, the last one ticked."""
    made = [
        MapClass(item.upper, item.label, item.colour, item.width, item.dash)
        for item in PRESSURE_CLASSES
    ]
    return (
        *made[:-2],
        replace(made[-2], dash="9 3"),
        replace(made[-1], dash="13 3", ticks=True),
    )


def _steepness(plan: Plan) -> tuple[MapClass, ...]:
    bands = (*plan.settings.terrain.slope_bands, np.inf)
    drawn = [
        MapClass(upper, label, *_look(number, len(bands), _VIRIDIS))
        for number, (upper, label) in enumerate(zip(bands, plan.slope_labels, strict=True))
    ]
    return (_UNKNOWN, *drawn)


def _passes() -> tuple[MapClass, ...]:
    """Classes by passes; whole numbers, so the upper edge is one above the largest of the class."""
    drawn = [
        MapClass(np.floor(upper) + 1, label, *_look(number, len(PASS_CLASSES), _ORANGES[::-1]))
        for number, (upper, label) in enumerate(PASS_CLASSES)
    ]
    none = MapClass(1.0, "no pass", "#6b7280", 3.0, "1 6")
    return (_UNKNOWN, none, *drawn)


def _look(number: int, count: int, colours: tuple[str, ...]) -> tuple[str, float]:
    """Colour and width of class ``number`` of ``count``, spread over the palette."""
    place = number / max(count - 1, 1)
    return (
        colours[round(place * (len(colours) - 1))],
        _WIDTHS[0] + place * (_WIDTHS[-1] - _WIDTHS[0]),
    )


def contrast(one: str, other: str) -> float:
    """Contrast of two ``#rrggbb`` colours, 1 to 21, as the web accessibility guidelines define it.

    Relative luminance and contrast ratio of WCAG 2.1.
    """
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def casing(colour: str) -> str:
    """White or ink, whichever parts better from ``colour``: what a line is edged with."""
    return _WHITE if contrast(colour, _WHITE) >= contrast(colour, _INK) else _INK
