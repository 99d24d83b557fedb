"""What a tape says after an aid is fitted: one small check per figure.

Tyre pressures are judged in :mod:`terrain.setups.fit_pressure`.

Every check is common practice without a source. The supplier's fitting instruction and the
manufacturer go before any figure here. Lengths are in metres, pressures in kPa; ``system`` is the
system the measurement was taken in, because the trade has its figures in both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from terrain.setups.layouts import is_known
from terrain.setups.standing import COMMON_PRACTICE
from terrain.sources import data_table
from terrain.units import INCH_M, pressure_words

__all__ = [
    "FitFinding",
    "System",
    "band_sag",
    "dual_diameters",
    "length_in_words",
    "liquid_ballast",
    "pressure_in_words",
    "rolling_circumference",
    "shoe_clearance",
    "wheel_track_tightness",
]

System = Literal["metric", "us"]

_NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True)
class FitFinding:
    """One check of one wheel or axle.

    Attributes
    ----------
    check : str
        What was checked.
    ok : bool or None
        None means that nobody can tell: not measured, or nothing to compare with.
    measured, allowed : str
        In words with units, in the system of the measurement and the other one.
    what_to_do : str
        One or two sentences.
    where : str
        Axle and side.
    value : float
        The measurement in ``unit`` (m, kPa or ratio); NaN when there is none.
    basis : str
        Standing of the figure compared with, one of ``terrain.sources.STATUSES``.
    informs : bool
        True for a figure that no limit is known for: it is told, and counts in no sum.
    """

    check: str
    ok: bool | None
    measured: str
    allowed: str
    what_to_do: str
    where: str = ""
    value: float = math.nan
    unit: str = ""
    basis: str = COMMON_PRACTICE
    informs: bool = False

    @property
    def words(self) -> str:
        """``in order``, ``not in order``, ``cannot tell`` or ``for information``."""
        if self.informs:
            return "for information"
        return {True: "in order", False: "not in order", None: "cannot tell"}[self.ok]


def shoe_clearance(
    clearance_m: float | None, *, system: System = "metric", where: str = ""
) -> FitFinding:
    """Check the gap between a band-track shoe and the tyre sidewall on one side.

    About 10 mm (3/8 in) is wanted. A reading is rounded to the nearest millimetre or sixteenth of
    an inch first. More than twice the wanted gap is not called wrong, since no upper figure is
    known, but nobody can tell then whether the shoe was made for that tyre.
    """
    check, row = "band-track shoe clearance", data_table("fit_checks")["shoe_clearance"]
    wide = data_table("fit_checks")["shoe_clearance_wide"]
    allowed = f"about {length_in_words(row[system], system)} on each side"
    if not is_known(clearance_m):
        return _unmeasured(check, allowed, "Measure it on both sides, tyre at its pressure.", where)
    gap = _as_read(clearance_m, system)
    if gap < _as_read(row[system], system):
        ok, todo = False, "The shoe will rub the sidewall: ask the supplier for a wider shoe."
    elif gap > _as_read(wide[system], system):
        ok, todo = None, "Far wider than usual: ask whether the shoe was made for this tyre size."
    else:
        ok, todo = True, "Nothing; look again when the track has settled."
    measured = length_in_words(clearance_m, system)
    return FitFinding(check, ok, measured, allowed, todo, where, clearance_m, "m")


def band_sag(sag_m: float | None, *, system: System = "metric", where: str = "") -> FitFinding:
    """Check the sag of a band track midway between the two bogie tyres: 40-70 mm (1.5-2.75 in).

    The reading is rounded to the nearest millimetre or sixteenth of an inch, and judged by the
    figures of its own system.
    """
    check, row = "band-track sag", data_table("fit_checks")["band_sag"]
    low, high = row[system]
    allowed = f"{length_in_words(low, system)} to {length_in_words(high, system)}"
    if not is_known(sag_m):
        return _unmeasured(check, allowed, "Measure it midway, on level ground.", where)
    ok = False
    if _as_read(sag_m, system) < _as_read(low, system):
        todo = "Too tight, which strains bogie, bearings and gears over obstacles: slacken it."
    elif _as_read(sag_m, system) > _as_read(high, system):
        todo = "Too slack, so the track may walk off: tighten it."
    else:
        ok, todo = True, "Nothing; recheck after the first drive and from time to time."
    measured = length_in_words(sag_m, system)
    return FitFinding(check, ok, measured, allowed, todo, where, sag_m, "m")


def wheel_track_tightness(
    track_inside_m: float | None,
    tyre_outside_m: float | None,
    *,
    sits_tight: bool | None = None,
    system: System = "metric",
    where: str = "",
) -> FitFinding:
    """Check that a wheel track grips its tyre.

    Parameters
    ----------
    track_inside_m, tyre_outside_m : float or None
        Inner circumference of the closed track, and circumference of the tyre at its full
        pressure without the track, metres. The track must not be the longer one.
    sits_tight : bool or None
        What was seen: the tyre does not creep in the track (chalk mark across both). It goes
        before the two circumferences.
    """
    check = "wheel-track tightness"
    allowed = "tight: inside of the track no longer than the tyre's circumference at full pressure"
    todo = (
        "Let some air out, fit the track, bring the tyre back to its correct pressure, drive a "
        "little and look whether the tyre creeps."
    )
    measured, value = _NOT_MEASURED, math.nan
    ok = sits_tight
    if is_known(track_inside_m) and is_known(tyre_outside_m):
        value = track_inside_m - tyre_outside_m
        longer = _as_read(track_inside_m, system) > _as_read(tyre_outside_m, system)
        excess = length_in_words(abs(value), system)
        measured = f"track {excess} {'longer' if value > 0 else 'shorter'} than the tyre"
        ok = (not longer) if sits_tight is None else (sits_tight and not longer)
    elif sits_tight is not None:
        measured = "sits tight" if sits_tight else "tyre creeps in the track"
    if ok is False:
        todo = f"Loose: shorten it as the supplier says. {todo}"
    elif ok:
        todo = "Nothing; recheck after the first drive and from time to time."
    return FitFinding(check, ok, measured, allowed, todo, where, value, "m")


def rolling_circumference(
    diameter_m: float, thickness_m: float, *, system: System = "metric", where: str = ""
) -> FitFinding:
    """Say by how much an aid of ``thickness_m`` under the tread lengthens one turn of the wheel.

    The largest pull falls in the same proportion: new over old is d / (d + 2 t). No limit is
    known, so the finding informs and judges nothing.
    """
    before, after = math.pi * diameter_m, math.pi * (diameter_m + 2 * thickness_m)
    growth, loss = after / before - 1, 1 - before / after
    return FitFinding(
        "rolling circumference",
        None,
        f"{length_in_words(before, system)} grows to {length_in_words(after, system)}, "
        f"{100 * growth:.1f} % more",
        "no general figure; the same on all wheels that carry the aid",
        f"The largest pull falls by {100 * loss:.1f} %. Name this growth to the manufacturer.",
        where,
        growth,
        "ratio",
        informs=True,
    )


def dual_diameters(
    inner_m: float | None, outer_m: float | None, *, system: System = "metric", where: str = ""
) -> FitFinding:
    """Check that the outer tyre of a pair is smaller in diameter than the inner one, not by far.

    Both are compared as a tape shows them, in whole millimetres or sixteenths of an inch. An outer
    tyre that is smaller by less than the error of two tapings may as well be the larger one, so
    nobody can tell. How much smaller it may be no source says. The error and the two shares in
    ``fit_checks.toml``, row ``dual_diameters``, are planning assumptions.
    """
    check, allowed = "diameters of the dual tyres", "outer tyre smaller than the inner tyre"
    if not is_known(inner_m) or not is_known(outer_m):
        return _unmeasured(check, allowed, "Measure both, or compare their circumferences.", where)
    row = data_table("fit_checks")["dual_diameters"]
    basis = row["status"]
    share = outer_m / inner_m + 1e-9  # on the edge counts as above it
    beyond = f"{100 * (1 - share):.0f} % smaller than the inner tyre"
    ok: bool | None
    if is_as_large(inner_m, outer_m, system=system):
        ok, basis = False, COMMON_PRACTICE
        todo = "Do not drive: the outer tyre takes the load and overloads the wheel bearing."
    elif _as_read(inner_m, system) - _as_read(outer_m, system) < _as_read(row[system], system):
        ok = None
        todo = (
            f"Less apart than the error of two tapings, {length_in_words(row[system], system)} "
            "(planning assumption): the outer tyre may be the larger one. Measure the "
            "circumferences, both tyres at their pressure, and ask the supplier before driving."
        )
    elif share < row["wrong_below"]:
        ok = False
        todo = (
            f"Do not drive: at {beyond} the outer tyre hangs over firm ground and carries nothing "
            "(planning assumption). Ask the supplier for a tyre that belongs to this one."
        )
    elif share < row["ask_below"]:
        ok = None
        todo = (
            f"At {beyond} the outer tyre may carry nothing on firm ground (planning assumption): "
            "ask supplier and manufacturer how much smaller it may be."
        )
    else:
        ok, basis = True, COMMON_PRACTICE
        todo = "Nothing; measure again when the inner tyre has worn."
    measured = f"outer {length_in_words(outer_m, system)}, inner {length_in_words(inner_m, system)}"
    return FitFinding(check, ok, measured, allowed, todo, where, outer_m - inner_m, "m", basis)


def is_as_large(inner_m: float, outer_m: float, *, system: System = "metric") -> bool:
    """Tell whether an outer dual tyre is as large as the inner one or larger, as a tape shows."""
    return _as_read(outer_m, system) >= _as_read(inner_m, system)


def liquid_ballast(present: bool | None, *, where: str = "") -> FitFinding:
    """Check that the tyres hold air only."""
    todo = {
        True: "Drain it: with liquid in the tyres the axle is overloaded.",
        False: "Nothing.",
        None: "Find out whether the tyres were filled with liquid.",
    }[present]
    measured = {True: "liquid in the tyres", False: "air only", None: "not known"}[present]
    ok = None if present is None else not present
    return FitFinding("liquid ballast", ok, measured, "air only", todo, where)


def length_in_words(length_m: float | None, system: System = "metric") -> str:
    """Write a length in its own system, the other one in brackets: ``10 mm (0.39 in)``.

    From a metre on in metres, to the millimetre that a tape shows.
    """
    if not is_known(length_m):
        return _NOT_MEASURED
    millimetres = f"{1000 * length_m:.0f} mm" if abs(length_m) < 1 else f"{length_m:.3f} m"
    if system == "us":
        return f"{_sixteenths(length_m)} in ({millimetres})"
    return f"{millimetres} ({length_m / INCH_M:.2f} in)"


def pressure_in_words(pressure_kpa: float | None, system: System = "metric") -> str:
    """Write a pressure in its own system, others in brackets: ``240 kPa (2.40 bar, 35 psi)``."""
    if not is_known(pressure_kpa):
        return _NOT_MEASURED
    return pressure_words(pressure_kpa, system)


def _as_read(length_m: float, system: System) -> int:
    """Whole millimetres, or whole sixteenths of an inch."""
    step_m = 0.001 if system == "metric" else INCH_M / 16
    return math.floor(length_m / step_m + 0.5)


def _sixteenths(length_m: float) -> str:
    inches = Fraction(_as_read(length_m, "us"), 16)
    whole, rest = divmod(inches, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def _unmeasured(check: str, allowed: str, todo: str, where: str) -> FitFinding:
    return FitFinding(check, None, _NOT_MEASURED, allowed, todo, where)
