"""How each layer of ``block.gpkg`` is drawn: one table of looks, told to every style language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from terrain.outputs.gpkg_use import (
    CLOSED_TRAIL,
    CROSSING_IN_USE,
    CROSSING_NOT_IN_USE,
    CROSSING_NOT_MET,
    IN_USE,
    NOT_KNOWN,
    STOP_AND_ASK,
)
from terrain.outputs.page_parts import RESERVE_CLASSES, SOIL_CLASS_WORDS

__all__ = ["LAYER_LOOKS", "LayerLook", "Look"]

Shape = Literal["circle", "square", "triangle", "cross"]
_INK, _WATER, _STRIP = "#1d2430", "#0b3f5e", "#7a1f5c"
_SHUT, _STOP, _CLOSED_DASH = "#7a7a7a", "#a3123f", "3 5"


@dataclass(frozen=True, slots=True)
class Look:
    """Look of one class: ``colour`` and ``width`` (pixels) of the line, or size of the sign.

    ``value`` is what the layer's attribute holds in this class, None for a layer of one look;
    ``fill`` the opacity of an area (0 to 1); ``dash`` lengths of stroke and gap in pixels.
    """

    label: str
    colour: str
    width: float
    value: str | int | None = None
    dash: str = ""
    fill: float = 0.0
    shape: Shape = "circle"


@dataclass(frozen=True, slots=True)
class LayerLook:
    """Look of one layer: classes by ``attribute`` (empty: one look), names from ``label_from``."""

    kind: Literal["point", "line", "area"]
    looks: tuple[Look, ...]
    attribute: str = ""
    label_from: str = ""


def _one(kind: Literal["point", "line", "area"], look: Look, label_from: str = "") -> LayerLook:
    return LayerLook(kind, (look,), label_from=label_from)


_SOIL_COLOURS = {1: "#f6e8c3", 2: "#dfc27d", 3: "#bf812d", 4: "#8c510a"}

LAYER_LOOKS: dict[str, LayerLook] = {
    "runs": LayerLook(
        "line",
        (
            *(
                Look(item.label, item.colour, item.width, item.label, item.dash)
                for item in RESERVE_CLASSES
            ),
            Look("On a closed trail", _SHUT, 4, CLOSED_TRAIL, _CLOSED_DASH),
        ),
        "drawn_as",
    ),
    "bottlenecks": LayerLook(
        "line",
        (
            Look("No listed setup passes", "#000000", 8, "no listed setup passes", "8 3"),
            Look("Forces the choice", "#a3123f", 8, "forces the choice"),
            Look("Over bearing capacity", "#7a1f5c", 6, "over bearing capacity", "2 3"),
            Look("Thin reserve", "#e69f00", 5, "thin reserve"),
        ),
        "kind",
        "stretch",
    ),
    "reroutes": _one("line", Look("Another line for a stretch", "#009e73", 3, dash="6 4")),
    "trails": LayerLook(
        "line",
        (
            Look("Closed trail", _SHUT, 4, CLOSED_TRAIL, _CLOSED_DASH),
            Look("Water without a crossing: stop and ask", _STOP, 3, STOP_AND_ASK, "10 4"),
            Look("Trail of which nobody knows", _SHUT, 2.5, NOT_KNOWN, "2 8"),
            Look("Trail", _INK, 1.5, IN_USE),
        ),
        "use",
        "trail",
    ),
    "stations": _one("point", Look("Station", "#6b7280", 3)),
    "soils": LayerLook(
        "area",
        tuple(
            Look(f"Soil class {words}", _SOIL_COLOURS[number], 1, number, fill=0.45)
            for number, words in SOIL_CLASS_WORDS.items()
        ),
        "soil_class",
        "polygon",
    ),
    "landings": _one("point", Look("Landing", "#0072b2", 12, shape="square"), "landing"),
    "emergency": _one("point", Look("Emergency point", "#d55e00", 16, shape="cross"), "name"),
    "boundary": _one("area", Look("Block boundary", _INK, 2)),
    "streams": _one("line", Look("Mapped stream", _WATER, 2)),
    "open_water": _one("area", Look("Mapped water", _WATER, 1, fill=0.5)),
    "crossings": LayerLook(
        "point",
        (
            Look("Crossing", _WATER, 11, CROSSING_IN_USE, shape="triangle"),
            Look("Crossing not in use", _SHUT, 9, CROSSING_NOT_IN_USE, shape="cross"),
            Look("Crossing that no trail meets", _SHUT, 7, CROSSING_NOT_MET, shape="triangle"),
        ),
        "use",
        "crossing",
    ),
    "no_crossing": _one(
        "point", Look("Water without a crossing: stop and ask", _STOP, 14, shape="cross"), "label"
    ),
    "buffers": _one("area", Look("Machine-free strip", _STRIP, 1.5, dash="6 3", fill=0.16)),
    "depressions": _one("point", Look("Depression to check", _WATER, 9), "depression"),
    "readings": _one("point", Look("Strength reading", _INK, 7, shape="cross")),
}
"""Look of every spatial layer; soil colours run light to dark so that they part in grey too."""
