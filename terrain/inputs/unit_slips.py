"""Numbers in the wrong unit: what the writer probably meant, said as advice, never corrected."""

from __future__ import annotations

import re

from terrain.units import BAR_KPA, FOOT_M, INCH_M, POUND_KG, PSI_KPA

__all__ = ["bare_number_advice", "slip_advice"]

_UNITS: dict[str, dict[str, float]] = {
    "kg": {"kg": 1, "t": 1000, "lb": POUND_KG, "lbs": POUND_KG},
    "m": {"m": 1, "mm": 0.001, "cm": 0.01, "in": INCH_M, "ft": FOOT_M},
    "kpa": {"kpa": 1, "bar": BAR_KPA, "psi": PSI_KPA},
    "kn": {"kn": 1, "n": 0.001},
    "kw": {"kw": 1},
    "percent": {"%": 1},
}
"""Unit at the end of a key: how much of it is one of the units people write by mistake."""


def _unit_of(key: str) -> str:
    """The unit that ends a key, ``kg`` for ``mass_kg``; empty when there is none."""
    unit = key.rsplit("_", 1)[-1]
    return unit if unit in _UNITS else ""


def bare_number_advice(key: str, value: object) -> str:
    """Advice for a text such as ``"19 t"`` in a key that wants a bare number.

    Parameters
    ----------
    key : str
        Key whose ending names the unit, for example ``unladen_mass_kg``.
    value : object
        What stands in the file.

    Returns
    -------
    str
        For example ``Write the bare number in kg: unladen_mass_kg = 19000.``; empty when the
        value is no text with a number in front.
    """
    found = re.fullmatch(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*([A-Za-z%]*)\s*", str(value))
    if not isinstance(value, str) or not found:
        return ""
    number = float(found[1].replace(",", "."))
    unit, written = _unit_of(key), found[2].lower()
    if not unit:
        return f"Write the bare number: {key} = {number:g}." if not written else ""
    factor = _UNITS[unit].get(written or unit)
    if factor is None:
        return f"Write the bare number in {unit}, without quotes and without a unit."
    return f"Write the bare number in {unit}: {key} = {number * factor:.7g}."


def slip_advice(key: str, value: float, low: float, high: float) -> str:
    """Which unit would make an implausible ``value`` plausible.

    Parameters
    ----------
    key : str
        Key whose ending names the unit.
    value : float
        The number in the file, taken in the key's unit.
    low, high : float
        Plausible range in the key's unit.

    Returns
    -------
    str
        For example ``If 17 is meant in t, write 17000.``; empty when no usual slip explains it.
    """
    unit = _unit_of(key)
    for written, factor in _UNITS.get(unit, {}).items():
        if written != unit and low <= value * factor <= high:
            return f"If {value:g} is meant in {written}, write {value * factor:.7g}."
    return ""
