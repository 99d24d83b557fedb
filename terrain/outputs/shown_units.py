"""Metric or United States units for everything that people read.

Files for programs (CSV, GeoPackage, ``plan.json``) stay metric, with the unit in each name. Factors
are the exact ones of the National Institute of Standards and Technology, Special Publication 811
(2008), appendix B: the international foot and pound, the gallon of 231 cubic inches, and the
pound-force made with standard gravity. "ton" always says which: metric "t" or "short ton" of 2000
pounds. Importing this module loads nothing heavy.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from terrain.outputs.wording import UNKNOWN, grouped, percent_words, slope_words
from terrain.units import FOOT_M, HECTARE_M2, INCH_M, POUND_KG, SHORT_TON_KG

__all__ = ["METRIC", "US", "Shown", "UnitSystem", "shown_in"]

UnitSystem = Literal["metric", "us"]

_STANDARD_GRAVITY = 9.80665
_POUND_FORCE_N = POUND_KG * _STANDARD_GRAVITY
_FACTORS: dict[str, tuple[float, str]] = {
    "m": (1 / FOOT_M, "ft"),
    "m2": (1 / FOOT_M**2, "ft²"),
    "ha": (HECTARE_M2 / (43_560 * FOOT_M**2), "acres"),
    "m3": (1 / FOOT_M**3, "ft³"),
    "kPa": (1000 * INCH_M**2 / _POUND_FORCE_N, "psi"),
    "kg": (1 / POUND_KG, "lb"),
    "t": (1000 / SHORT_TON_KG, "short tons"),
    "kN": (1000 / _POUND_FORCE_N, "lbf"),
    "kg/m2": (FOOT_M**2 / POUND_KG, "lb/ft²"),
    "MJ": (1e6 / (550 * FOOT_M * _POUND_FORCE_N * 3600), "hp·h"),
    "L": (1e-3 / (231 * INCH_M**3), "US gal"),
}
"""Metric unit: factor into the US unit, and the word for that."""

_METRIC_WORDS = {"m2": "m²", "m3": "m³", "kg/m2": "kg/m²"}
_QUANTITY = re.compile(
    r"(?<![\w.,\u202f/-])(?:(?P<low>\d[\d\u202f ]*(?:\.\d+)?) (?P<join>to|and) )?"
    r"(?P<value>\d[\d\u202f]*(?:\.\d+)?)[ \u00a0](?P<unit>kPa|kN|kg|ha|m3|m³|m²|MJ|m|t|L)"
    r"(?![\w/²³])"
)


_FIGURES_KEPT = 3
"""A figure in a sentence was rounded before, so its translation is about right and no more."""


@dataclass(frozen=True, slots=True)
class Shown:
    """How figures are written: ``system`` is ``metric`` or ``us``.

    Every method takes the inner unit (metres, kPa, kg, t, kN, m3, ha, L, MJ, ratios) and returns
    words; an unknown figure is said in words, never as zero.
    """

    system: UnitSystem = "metric"

    @property
    def is_us(self) -> bool:
        """Whether US units are shown."""
        return self.system == "us"

    @property
    def words(self) -> str:
        """The units in a sentence, for the foot of a page."""
        if self.is_us:
            return (
                "Units: feet, pounds, pounds per square inch, short tons of 2000 pounds, US "
                "gallons. Files for programs, settings and sources stay metric."
            )
        return "Units: metres, kilograms, kilopascals, metric tons of 1000 kg, litres."

    def value(self, amount: float, unit: str) -> float:
        """Return the number that stands before :meth:`unit`; NaN stays NaN."""
        return float(amount) * (_FACTORS[unit][0] if self.is_us else 1.0)

    def unit(self, unit: str) -> str:
        """Return the word of the unit that stands for the metric ``unit``."""
        return _FACTORS[unit][1] if self.is_us else _METRIC_WORDS.get(unit, unit)

    def number(self, amount: float | None, digits: int = 0) -> str:
        """Write a number with ``digits`` decimals, thousands set apart, a true minus sign."""
        if amount is None or math.isnan(float(amount)):
            return UNKNOWN
        if math.isinf(float(amount)):
            return "no upper end" if float(amount) > 0 else "no lower end"
        text = grouped(float(amount), digits)
        return text.replace("\N{NARROW NO-BREAK SPACE}", ",") if self.is_us else text

    def bare(self, amount: float | None, unit: str, digits: int = 0) -> str:
        """Write an amount given in the metric ``unit`` without the unit's word."""
        return self.number(None if amount is None else self.value(float(amount), unit), digits)

    def amount(self, amount: float | None, unit: str, digits: int = 0) -> str:
        """Write an amount given in the metric ``unit`` with the unit shown."""
        if amount is None or not math.isfinite(float(amount)):
            return self.number(amount)
        return f"{self.bare(amount, unit, digits)} {self.unit(unit)}"

    def length(self, value_m: float | None) -> str:
        """Whole metres or feet; a length above 0 that rounds to 0 reads ``under 1 m``."""
        if value_m is not None and 0 < self.value(value_m, "m") < 0.5:
            return f"under 1 {self.unit('m')}"
        return self.amount(value_m, "m")

    def fine_length(self, value_m: float | None) -> str:
        """Depths and widths: centimetres as decimals of a metre, or tenths of a foot."""
        return self.amount(value_m, "m", 1 if self.is_us else 2)

    def pressure(self, value_kpa: float | None) -> str:
        """Whole kPa, or psi with one decimal."""
        return self.amount(value_kpa, "kPa", 1 if self.is_us else 0)

    def pressure_number(self, value_kpa: float | None) -> str:
        """Write the pressure without its unit's word, for columns whose head names it."""
        return self.bare(value_kpa, "kPa", 1 if self.is_us else 0)

    def mass(self, value_kg: float | None) -> str:
        """Whole kilograms or pounds."""
        return self.amount(value_kg, "kg")

    def tonnes(self, value_t: float | None, digits: int = 0) -> str:
        """Metric or short tons."""
        return self.amount(value_t, "t", digits)

    def volume(self, value_m3: float | None, digits: int = 0) -> str:
        """Cubic metres; in US units cubic feet too, because scaling rules differ by mill."""
        metric = f"{self.number(value_m3, digits)} m³"
        if value_m3 is None or not math.isfinite(float(value_m3)):
            return self.number(value_m3)
        return f"{self.bare(value_m3, 'm3')} ft³ ({metric})" if self.is_us else metric

    def area(self, value_ha: float | None, digits: int = 0) -> str:
        """Hectares or acres."""
        return self.amount(value_ha, "ha", digits)

    def force(self, value_kn: float | None) -> str:
        """Write a force in whole kN or pounds-force."""
        return self.amount(value_kn, "kN")

    def slope(self, ratio: float | None) -> str:
        """Percent and degrees together, in both systems."""
        return slope_words(ratio)

    def steepest(self, up: float | None, down: float | None) -> tuple[str, str]:
        """Steepest uphill and downhill: "none" where the assessed places only go the other way."""
        gap = UNKNOWN if not (_told(up) or _told(down)) else "none"
        return tuple(self.slope(ratio) if _told(ratio) else gap for ratio in (up, down))  # type: ignore[return-value]

    def percent(self, share: float | None, digits: int = 0) -> str:
        """Write a share that is no slope; infinity has no upper end."""
        if share is not None and math.isinf(float(share)):
            return self.number(share)
        if digits and share is not None and math.isfinite(float(share)):
            return f"{self.number(100 * float(share), digits)} %"
        return percent_words(share)

    def ratio(self, value: float | None, digits: int = 2) -> str:
        """Write a plain ratio."""
        return self.number(value, digits)

    def sentence(self, text: str) -> str:
        """Add US figures in brackets to a sentence that tells metric ones.

        The sentence's own words stay, so that a name that looks like a quantity is never lost.
        """
        return _QUANTITY.sub(self._bracketed, text) if self.is_us else text

    def _bracketed(self, match: re.Match[str]) -> str:
        unit = {"m³": "m3", "m²": "m2"}.get(match["unit"], match["unit"])

        def shown(digits: str) -> str:
            amount = self.value(
                float(digits.replace("\N{NARROW NO-BREAK SPACE}", "").replace(" ", "")), unit
            )
            if not amount:
                return "0"
            places = min(_FIGURES_KEPT - 1 - math.floor(math.log10(abs(amount))), int(amount < 10))
            return self.number(round(amount, places), max(places, 0))

        low = f"{shown(match['low'])} {match['join']} " if match["low"] else ""
        return f"{match.group()} (about {low}{shown(match['value'])} {self.unit(unit)})"


def _told(value: float | None) -> bool:
    return value is not None and not math.isnan(float(value))


METRIC = Shown("metric")
"""Metric units: the default."""

US = Shown("us")
"""United States units."""


def shown_in(system: str) -> Shown:
    """Return how figures are written in ``system``: ``metric`` or ``us``.

    Raises
    ------
    ValueError
        For any other word.
    """
    if system not in ("metric", "us"):
        raise ValueError(f"units are metric or us, not {system!r}")
    return US if system == "us" else METRIC
