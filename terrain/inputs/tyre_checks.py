"""A tyre in a machine file: designation, dimensions and pressures that must agree."""

from __future__ import annotations

import math
import re

from terrain.errors import Issue, errors_in
from terrain.inputs.machine_tables import TyreTable
from terrain.models.machine import Tyre
from terrain.models.tyre_size import TyreSize, parse_tyre_designation, with_decimal_point
from terrain.units import PSI_KPA

__all__ = ["SIZE_TOLERANCE", "tyre_from"]

_RADIAL = re.compile(r"[\dL]\s*R\s*\d", re.IGNORECASE)

SIZE_TOLERANCE = {
    "metric": 0.03,
    "inch overall": 0.03,
    "inch": 0.10,
    "inch low section": 0.03,
}
"""Share by which a given width or diameter may differ from the designation, by its form.

Planning assumptions: tyres of one size differ by a few per cent; the diameter of a classic inch
size comes from a rule of thumb and gets more room (its width does not).
"""


_SOFT_KPA, _HEAVY_KG = 110.0, 3_000.0
"""A tyre softer than this that is to carry more looks like psi in the place of kPa: planning
assumption, to ask and not to refuse."""


def tyre_from(table: TyreTable, where: str) -> tuple[Tyre | None, list[Issue]]:
    """Build the tyre of one axle group, or say what is wrong with it.

    Parameters
    ----------
    table : TyreTable
        Checked ``[front.tyre]`` or ``[rear.tyre]``; dimensions in metres, pressures in kPa.
    where : str
        File and table for the messages.

    Returns
    -------
    Tyre or None
        A dimension that the file gives wins over the nominal one. None when there is an error.
    list of Issue
    """
    try:
        size = parse_tyre_designation(table.designation)
    except ValueError as error:
        fix = "Correct the designation as it stands on the sidewall."
        return None, [Issue("MCH04", "error", f"{error}.", f"{where}.designation", fix)]
    table = table.model_copy(update={"designation": with_decimal_point(table.designation)})
    issues = [
        *_contradictions(table, size, where),
        *_construction_issues(table, where),
        *_pressure_issues(table, where),
    ]
    width = size.width_m if table.width_m is None else table.width_m
    diameter = size.diameter_m if table.diameter_m is None else table.diameter_m
    if math.isnan(diameter):
        what = f"The diameter of {table.designation} cannot be had from its designation."
        fix = "Give diameter_m, measured without load or from the tyre's data sheet."
        issues.append(Issue("MCH04", "error", what, f"{where}.diameter_m", fix))
        return None, issues
    height = table.section_height_m
    if height is None:
        height = (diameter - size.rim_diameter_m) / 2
    if size.form == "inch" and table.diameter_m is None:
        what = f"The diameter {diameter:.3f} m of {table.designation} is a rule of thumb."
        fix = "Give diameter_m from the tyre's data sheet to replace it."
        issues.append(Issue("MCH04", "warning", what, f"{where}.diameter_m", fix))
    if errors_in(issues):
        return None, issues
    return (
        Tyre(
            designation=table.designation,
            width_m=width,
            diameter_m=diameter,
            section_height_m=height,
            inflation_kpa=table.inflation_kpa,
            charted_inflation_kpa=table.charted_inflation_kpa,
            rated_load_kg=table.rated_load_kg,
            construction=table.construction,
            liquid_ballast=table.liquid_ballast,
            lowest_inflation_kpa=table.lowest_inflation_kpa,
        ),
        issues,
    )


def _contradictions(table: TyreTable, size: TyreSize, where: str) -> list[Issue]:
    """Given dimensions against the designation, and against each other."""
    tolerance = SIZE_TOLERANCE[size.form]
    diameter = size.diameter_m if table.diameter_m is None else table.diameter_m
    # the section height may be off by half of what the diameter may be off
    nominal_height = (diameter - size.rim_diameter_m) / 2
    checks = (
        ("width_m", table.width_m, size.width_m, 0.03 * size.width_m),
        ("diameter_m", table.diameter_m, size.diameter_m, tolerance * size.diameter_m),
        ("section_height_m", table.section_height_m, nominal_height, 0.03 * diameter / 2),
    )
    issues = []
    for key, given, nominal, allowed in checks:
        # a comparison with an unknown (NaN) nominal figure is never a contradiction
        if given is None or not abs(given - nominal) > allowed:
            continue
        what = (
            f"{key} is {given:g}, but {table.designation} means {nominal:.3f} m, "
            f"allowed {nominal - allowed:.3f} to {nominal + allowed:.3f}."
        )
        fix = "Correct the dimension or the designation; both stand on the sidewall or data sheet."
        issues.append(Issue("MCH05", "error", what, f"{where}.{key}", fix))
    if table.diameter_m is not None and table.diameter_m <= size.rim_diameter_m * 1.1:
        what = f"diameter_m is {table.diameter_m:g}, hardly more than the rim's "
        what += f"{size.rim_diameter_m:.3f} m."
        fix = "Give the overall diameter of the unloaded tyre."
        issues.append(Issue("MCH05", "error", what, f"{where}.diameter_m", fix))
    return issues


def _construction_issues(table: TyreTable, where: str) -> list[Issue]:
    """An R before the rim diameter marks a radial tyre (tyre standards, as in ISO 4251)."""
    if table.construction == "radial" or not _RADIAL.search(table.designation):
        return []
    what = f'{table.designation} is a radial tyre by its R, but construction is "bias".'
    fix = 'Write construction = "radial": it changes grip and rolling (constants from memory).'
    return [Issue("MCH14", "warning", what, f"{where}.construction", fix)]


def _pressure_issues(table: TyreTable, where: str) -> list[Issue]:
    issues = []
    lowest = table.lowest_inflation_kpa
    if lowest is not None and lowest > table.inflation_kpa:
        what = f"lowest_inflation_kpa is {lowest:g}, above the {table.inflation_kpa:g} kPa in use."
        fix = "It is the lowest pressure that the chart allows; raise inflation_kpa, or correct it."
        issues.append(Issue("MCH06", "error", what, f"{where}.lowest_inflation_kpa", fix))
    return issues + _charted_issues(table, where)


def _charted_issues(table: TyreTable, where: str) -> list[Issue]:
    charted = table.charted_inflation_kpa
    place = f"{where}.inflation_kpa"
    rated = table.rated_load_kg or 0.0
    if table.inflation_kpa < _SOFT_KPA and rated >= _HEAVY_KG:
        psi = PSI_KPA * table.inflation_kpa
        what = f"{table.inflation_kpa:g} kPa is little for a tyre that carries {rated:g} kg."
        fix = f"Check the unit: {table.inflation_kpa:g} psi would be {psi:.0f} kPa."
        return [Issue("MCH01", "warning", what, place, fix)]
    if charted is None:
        what = "charted_inflation_kpa is not given, so the inflation is not checked, and band "
        what += "tracks over these tyres cannot be assessed. A rated_load_kg is taken to hold at "
        what += "the inflation that is set."
        fix = "Enter the pressure the tyre's supplier charts for the full wheel load."
        return [Issue("MCH12", "warning", what, f"{where}.charted_inflation_kpa", fix)]
    if table.inflation_kpa > charted:
        what = f"inflation_kpa is {table.inflation_kpa:g}, charted are {charted:g} kPa."
        fix = "Never above the chart: correct the figure, or ask the tyre's supplier."
        return [Issue("MCH06", "error", what, place, fix)]
    if table.inflation_kpa < charted:
        what = f"The tyres are set to {table.inflation_kpa:g} kPa, charted are {charted:g} kPa: "
        what += "they carry less than the rated load."
        fix = "Look the load up for that pressure; enter both as rated_load_kg and "
        fix += "charted_inflation_kpa."
        return [Issue("MCH13", "warning", what, place, fix)]
    return []
