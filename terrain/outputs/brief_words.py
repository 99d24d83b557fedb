"""Words of the plan that the brief translates, and figures as people read them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from terrain.outputs.catalogue import Catalogue, mark
from terrain.outputs.wording import grouped
from terrain.units import BAR_KPA, FOOT_M, INCH_M, POUND_KG, PSI_KPA

__all__ = [
    "PLAN_WORDS",
    "Figures",
    "Units",
    "cause_words",
    "listed",
    "short_name",
    "trail_names",
]

Units = Literal["metric", "us"]

PLAN_WORDS: tuple[str, ...] = (
    # what an axle carries: names of the shipped catalogue
    mark("no aid"),
    mark("wheel chains"),
    mark("wheel tracks"),
    mark("open traction band tracks"),
    mark("closed flotation band tracks"),
    mark("dual tyres"),
    # moisture states
    mark("dry"),
    mark("moist"),
    mark("wet"),
    mark("saturated"),
    mark("frozen"),
    # what binds at a place
    mark("climbing loaded"),
    mark("descending loaded"),
    mark("climbing empty"),
    mark("descending empty"),
    mark("cross slope, loaded"),
    mark("cross slope, empty"),
    mark("driveline effort, loaded"),
    mark("driveline effort, empty"),
    mark("pull of the dragged load"),
    mark("rolling resistance, loaded"),
    mark("rolling resistance, empty"),
    mark("an axle lifting off, loaded"),
    mark("an axle lifting off, empty"),
    mark("uphill wheels lifting off, loaded"),
    mark("uphill wheels lifting off, empty"),
    mark("soft ground"),
    mark("soft ground, loaded"),
    mark("soft ground, empty"),
    mark("on soft ground"),
    mark("loaded and empty alike"),
    # ratings that a slope can exceed
    mark("whole machine"),
    mark("front axle"),
    mark("rear axle"),
    mark("front bogie"),
    mark("rear bogie"),
    mark("tyres of the front axle"),
    mark("tyres of the rear axle"),
    mark("tyres of the front bogie"),
    mark("tyres of the rear bogie"),
    # crossings
    mark("bridge"),
    mark("temporary bridge"),
    mark("culvert"),
    mark("ford"),
    # standing of a figure
    mark("published"),
    mark("derived"),
    mark("supplier's figure"),
    mark("from memory"),
    mark("common practice, no source"),
    mark("planning assumption"),
    mark("invented demo"),
    mark("copy, date not recorded"),
    mark("not recorded"),
    # sentences of the other outputs
    mark(
        "Rutwise approves nothing: the manufacturer's approval, the site's rules, local codes and "
        "a competent person in the field decide."
    ),
    mark("Invented demonstration data: no such block, machine or aid exists."),
)
"""Words that are translated where they are known and stay as they are where they are not."""

_BLANK = "\N{NO-BREAK SPACE}"
_DASH = "\N{EN DASH}"
_ID, _MOST_IN_A_LINE = 12, 10


def short_name(name: str, most: int) -> str:
    """Return ``name`` on one line with at most ``most`` characters, its middle left out.

    Control characters and those that turn the direction of writing become blanks: they would
    disturb the text around them.
    """
    plain = "".join(
        " " if not letter.isprintable() and letter != " " else letter for letter in name
    )
    plain = " ".join(plain.split())
    if len(plain) <= most:
        return plain
    tail = (most - 1) // 2
    return plain[: most - 1 - tail] + "\N{HORIZONTAL ELLIPSIS}" + plain[len(plain) - tail :]


def cause_words(words: Catalogue, cause: str) -> str:
    """Translate the cause of a stretch: a listed one, then parts such as ``on soft ground``."""
    tail: list[str] = []
    for part in ("loaded and empty alike", "on soft ground"):
        if cause.endswith(f", {part}"):
            cause = cause.removesuffix(f", {part}")
            tail.insert(0, words.term(part))
    return ", ".join([words.term(cause), *tail])


def _floored(value: float, step: float) -> float:
    """Return the largest multiple of ``step`` that is not above ``value``, rounding noise aside."""
    return step * math.floor(value / step + 1e-9)


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures in one system of units, with the decimal sign of the language.

    An unknown value is a dash. Arguments are in metres, kPa, kg and ratios, as inside.
    """

    words: Catalogue
    units: Units = "metric"

    def number(self, value: float, digits: int = 0) -> str:
        """Return a plain number."""
        text = grouped(value, digits)
        return text if self.words.language == "en" else text.replace(".", ",")

    def length(self, value_m: float) -> str:
        """Return whole metres or feet."""
        if not math.isfinite(value_m):
            return _DASH
        value, unit = (value_m / FOOT_M, "ft") if self.units == "us" else (value_m, "m")
        return f"{self.number(value)}{_BLANK}{unit}"

    def reach(self, value_m: float) -> str:
        """Return a short length to a tenth of a metre, or in whole feet."""
        if self.units == "us":
            return self.length(value_m)
        return f"{self.number(value_m, 1)}{_BLANK}m"

    def span(self, from_m: float, to_m: float) -> str:
        """Return the metres or feet from one chainage to another."""
        if not (math.isfinite(from_m) and math.isfinite(to_m)):
            return _DASH
        factor = FOOT_M if self.units == "us" else 1.0
        return f"{self.number(from_m / factor)}{_DASH}{self.length(to_m)}"

    def mass(self, value_kg: float) -> str:
        """Return whole kilograms, or pounds with the kilograms behind."""
        if not math.isfinite(value_kg):
            return _DASH
        metric = f"{self.number(value_kg)}{_BLANK}kg"
        if self.units == "metric":
            return metric
        return f"{self.number(value_kg / POUND_KG)}{_BLANK}lb ({metric})"

    def at_most(self, value_kg: float) -> str:
        """Return a load that must not be exceeded, rounded down and without false precision.

        To 10 kg; in pounds to 10 lb below 10 000 lb and to 100 lb above.
        """
        if not math.isfinite(value_kg):
            return _DASH
        metric = f"{self.number(_floored(value_kg, 10))}{_BLANK}kg"
        if self.units == "metric":
            return metric
        return f"{self.at_most_short(value_kg)} ({metric})"

    def at_most_short(self, value_kg: float) -> str:
        """Return the same in one unit only."""
        if self.units == "metric" or not math.isfinite(value_kg):
            return self.at_most(value_kg)
        pounds = value_kg / POUND_KG
        step = 10 if pounds < 10_000 else 100
        return f"{self.number(_floored(pounds, step))}{_BLANK}lb"

    def pressure(self, value_kpa: float) -> str:
        """Return kPa and bar, or psi and kPa."""
        kpa = f"{self.number(value_kpa)}{_BLANK}kPa"
        if self.units == "us":
            return f"{self.number(value_kpa / PSI_KPA)}{_BLANK}psi ({kpa})"
        return f"{kpa} ({self.number(value_kpa / BAR_KPA, 1)}{_BLANK}bar)"

    def small(self, *values_m: float) -> str:
        """Return millimetres or inches; two values make a span."""
        size, unit, digits = (INCH_M, "in", 2) if self.units == "us" else (0.001, "mm", 0)
        texts = []
        for value_m in values_m:
            text = f"{value_m / size:.{digits}f}"
            text = text.rstrip("0").rstrip(".") if digits else text
            part = Fraction(value_m / size).limit_denominator(16)
            if digits and part < 1 and abs(float(text) - float(part)) > 1e-9:
                text = str(part)  # 3/8 reads better than 0.38, and is what a tape shows
            texts.append(text if self.words.language == "en" else text.replace(".", ","))
        return f"{_DASH.join(texts)}{_BLANK}{unit}"

    def depth(self, value_cm: float) -> str:
        """Return a rut depth in centimetres or inches, digits as needed."""
        value, unit = (0.01 * value_cm / INCH_M, "in") if self.units == "us" else (value_cm, "cm")
        digits = 0 if math.isclose(value, round(value), abs_tol=0.05) else 1
        return f"{self.number(value, digits)}{_BLANK}{unit}"

    def share(self, value: float) -> str:
        """Return a share as percent, digits as needed."""
        percent = 100 * value
        digits = 0 if math.isclose(percent, round(percent), abs_tol=1e-9) else 1
        return f"{self.number(percent, digits)}{_BLANK}%"

    def slope_down(self, ratio: float) -> str:
        """Return a slope from which something must be asked, rounded down to whole percent."""
        return self.slope(math.floor(100 * ratio + 1e-9) / 100) if math.isfinite(ratio) else _DASH

    def slope(self, ratio: float) -> str:
        """Return a slope as percent and degrees; a dash where there is none."""
        if not math.isfinite(ratio):
            return _DASH
        percent, degrees = 100 * ratio, math.degrees(math.atan(ratio))
        return f"{self.number(percent)}{_BLANK}% ({self.number(degrees)}°)"


def trail_names(names: Sequence[str], figures: Figures) -> str:
    """Names of trails in one line, each short enough for the page."""
    return listed([short_name(name, _ID) for name in names], figures)


def listed(words: Sequence[str], figures: Figures) -> str:
    """Join words by commas; beyond ten the rest is counted."""
    shown = ", ".join(words[:_MOST_IN_A_LINE])
    left = len(words) - _MOST_IN_A_LINE
    if left <= 0:
        return shown
    return f"{shown}; {figures.words.say('{count} more: see the report', count=left)}"
