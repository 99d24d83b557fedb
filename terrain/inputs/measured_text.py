"""Lengths and pressures as people say them, the unit always written: ``3/8 in``, ``2.4 bar``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from terrain.units import BAR_KPA, FOOT_M, INCH_M, PSI_KPA

__all__ = ["Measured", "read_length", "read_pressure"]

System = Literal["metric", "us"]

_LENGTHS: dict[str, tuple[float, System]] = {
    "mm": (0.001, "metric"),
    "cm": (0.01, "metric"),
    "m": (1.0, "metric"),
    "in": (INCH_M, "us"),
    "ft": (FOOT_M, "us"),
}
_PRESSURES: dict[str, tuple[float, System]] = {
    "kpa": (1.0, "metric"),
    "bar": (BAR_KPA, "metric"),
    "psi": (PSI_KPA, "us"),
}
_NUMBER = (
    r"(?:(?P<whole>[0-9]+(?:[.,][0-9]+)?)(?:\s+(?P<part>[0-9]+/[0-9]+))?|(?P<alone>[0-9]+/[0-9]+))"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement: ``value`` in metres or kPa, the ``unit`` it was written in, its ``system``."""

    value: float
    unit: str
    system: System

    @property
    def as_written(self) -> str:
        """The figure in the unit it was written in: ``5.5 m``, ``1.5 in``."""
        factor, _ = {**_LENGTHS, **_PRESSURES}[self.unit]
        return f"{self.value / factor:g} {self.unit}"


def read_length(text: str) -> Measured:
    """Read a length such as ``55 mm``, ``1 1/2 in`` or ``4.12 m``; the value is in metres.

    Raises
    ------
    ValueError
        When there is no unit, the unit is unknown, or the number is not clear.
    """
    return _read(text, _LENGTHS, "a length such as 12 mm, 4.1 m or 3/8 in")


def read_pressure(text: str) -> Measured:
    """Read a pressure such as ``240 kPa``, ``2.4 bar`` or ``35 psi``; the value is in kPa.

    Raises
    ------
    ValueError
        When there is no unit, the unit is unknown, or the number is not clear.
    """
    return _read(text, _PRESSURES, "a pressure such as 240 kPa, 2.4 bar or 35 psi")


def _read(text: str, units: dict[str, tuple[float, System]], wanted: str) -> Measured:
    found = re.fullmatch(rf"\s*{_NUMBER}\s*(?P<unit>[A-Za-z]*)\s*", text)
    if not found:
        raise ValueError(f"{text!r} is not {wanted}")
    unit = found["unit"].lower()
    if unit not in units:
        said = f"has no unit; write {wanted}" if not unit else f"has an unknown unit; use {wanted}"
        raise ValueError(f"{text!r} {said}")
    whole, part = found["whole"] or "0", found["part"] or found["alone"] or "0/1"
    if re.fullmatch(r"[0-9]+,[0-9]{3}", whole):
        raise ValueError(f"{text!r} can be read in two ways; write it without a comma")
    if found["part"] and not whole.isdigit():
        raise ValueError(f"{text!r} mixes a decimal number and a fraction")
    above, below = (int(figure) for figure in part.split("/"))
    if below == 0:
        raise ValueError(f"{text!r} divides by zero")
    factor, system = units[unit]
    return Measured((float(whole.replace(",", ".")) + above / below) * factor, unit, system)
