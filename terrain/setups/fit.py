"""What a tape says after an aid is fitted: one small check per figure.

Tyre pressures are judged in :mod:`terrain.setups.fit_pressure`; how lengths are read off a tape
stands in :mod:`terrain.setups.taping`.

Every check is common practice without a source. The supplier's fitting instruction and the
manufacturer go before any figure here. Lengths are in metres, pressures in kPa; ``system`` is the
system the measurement was taken in, because the trade has its figures in both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.setups.layouts import is_known
from terrain.setups.standing import COMMON_PRACTICE
from terrain.setups.taping import (
    NOT_MEASURED,
    System,
    as_read,
    far_off,
    length_in_words,
    same_to_a_tape,
    taping_error_m,
)
from terrain.sources import data_table
from terrain.units import pressure_words

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

_FILE = "the tyre in the machine file"


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
    an inch first. A narrower gap may rub, none at all does. More than twice the wanted gap is not
    called wrong, since no upper figure is known, but nobody can tell then whether the shoe was
    made for that tyre.
    """
    check, row = "band-track shoe clearance", data_table("fit_checks")["shoe_clearance"]
    wide = data_table("fit_checks")["shoe_clearance_wide"]
    allowed = f"about {length_in_words(row[system], system)} on each side"
    if not is_known(clearance_m):
        return _unmeasured(check, allowed, "Measure it on both sides, tyre at its pressure.", where)
    gap = as_read(clearance_m, system)
    if gap <= 0:
        ok, todo = False, "The shoe rubs the sidewall: ask the supplier for a wider shoe."
    elif gap < as_read(row[system], system):
        ok, todo = False, "The shoe may rub the sidewall: ask the supplier for a wider shoe."
    elif gap > as_read(wide[system], system):
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
    if as_read(sag_m, system) < as_read(low, system):
        todo = "Too tight, which strains bogie, bearings and gears over obstacles: slacken it."
    elif as_read(sag_m, system) > as_read(high, system):
        todo = "Too slack, so the track may walk off: tighten it."
    else:
        ok, todo = True, "Nothing; recheck after the first drive and from time to time."
    measured = length_in_words(sag_m, system)
    return FitFinding(check, ok, measured, allowed, todo, where, sag_m, "m")


def wheel_track_tightness(
    track_inside_m: float | None,
    tyre_outside_m: float | None,
    *,
    diameter_m: float | None = None,
    sits_tight: bool | None = None,
    system: System = "metric",
    where: str = "",
) -> FitFinding:
    """Check that a wheel track grips its tyre.

    Parameters
    ----------
    track_inside_m, tyre_outside_m : float or None
        Inner circumference of the closed track, and circumference of the tyre at its full
        pressure without the track, metres. The track must not be the longer one. Less apart than
        the error of two tapings nobody can tell.
    diameter_m : float or None
        Of the tyre in the machine file, metres. A circumference of the tyre far from what it
        makes is asked about and not judged, and so is a track far shorter than its tyre. A track
        that is far longer is loose, and asked about too.
    sits_tight : bool or None
        What was seen: the tyre does not creep in the track (chalk mark across both). It goes
        before the two circumferences where these do not contradict it.

    Notes
    -----
    The error and the share stand in ``fit_checks.toml``, rows ``two_tapings`` and
    ``off_the_file``; both are planning assumptions.
    """
    check, basis = "wheel-track tightness", COMMON_PRACTICE
    allowed = "tight: inside of the track no longer than the tyre's circumference at full pressure"
    wanted_m = math.pi * diameter_m if is_known(diameter_m) else None
    beside_m, beside = wanted_m, f"{_FILE} (pi x diameter)"
    ask_tyre = far_off("circumference of the tyre", tyre_outside_m, beside_m, beside, system)
    if is_known(tyre_outside_m) and not ask_tyre:
        beside_m, beside = tyre_outside_m, "the tyre as taped"
    ask_track = far_off("inside of the track", track_inside_m, beside_m, beside, system)
    ok: bool | None = None
    said, value, close = [ask_tyre, ask_track], math.nan, False
    if is_known(track_inside_m) and is_known(tyre_outside_m):
        value = track_inside_m - tyre_outside_m
        longer = as_read(track_inside_m, system) - as_read(tyre_outside_m, system)
        error_m = taping_error_m(system)
        close = not ask_tyre and abs(longer) < as_read(error_m, system)
        if close:
            said.append(same_to_a_tape(error_m, "the track may be the longer one", system))
        elif not ask_tyre and longer > 0:
            ok = False
        elif not ask_tyre and not ask_track:
            ok = True
    elif is_known(track_inside_m):
        said.append("Tape the circumference of the tyre at full pressure, without the track, too.")
    elif is_known(tyre_outside_m):
        said.append("Tape the inside of the closed track too.")
    if sits_tight is False or (sits_tight and ok is None and not (ask_tyre or ask_track)):
        ok = sits_tight
    elif ask_tyre or ask_track or close:
        basis = data_table("fit_checks")["off_the_file"]["status"]
    measured = _track_in_words(track_inside_m, tyre_outside_m, sits_tight, system)
    if ok:
        todo = "Nothing; recheck after the first drive and from time to time."
        return FitFinding(check, ok, measured, allowed, todo, where, value, "m")
    if ok is False:
        said.insert(0, "Loose: shorten it as the supplier says.")
    said.append(
        "Let some air out, fit the track, bring the tyre back to its correct pressure, drive a "
        "little and look whether the tyre creeps."
    )
    todo = " ".join(filter(None, said))
    return FitFinding(check, ok, measured, allowed, todo, where, value, "m", basis)


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
    inner_m: float | None,
    outer_m: float | None,
    *,
    file_m: float | None = None,
    system: System = "metric",
    where: str = "",
) -> FitFinding:
    """Check that the outer tyre of a pair is smaller in diameter than the inner one, not by far.

    Both are compared as a tape shows them, in whole millimetres or sixteenths of an inch. An outer
    tyre that is smaller by less than the error of two tapings may as well be the larger one, so
    nobody can tell. How much smaller it may be no source says. ``file_m`` is the diameter of the
    inner tyre in the machine file: where the tape is far from it the finding asks, and such an
    inner tyre is in no case called large enough. The figures in ``fit_checks.toml``, rows
    ``two_tapings``, ``dual_diameters`` and ``off_the_file``, are planning assumptions.
    """
    check, allowed = "diameters of the dual tyres", "outer tyre smaller than the inner tyre"
    if not is_known(inner_m) or not is_known(outer_m):
        measured = NOT_MEASURED
        if is_known(inner_m) or is_known(outer_m):
            measured = _duals_in_words(inner_m, outer_m, system)
        todo = "Measure both, or compare their circumferences."
        return FitFinding(check, None, measured, allowed, todo, where)
    row, error_m = data_table("fit_checks")["dual_diameters"], taping_error_m(system)
    asked = [far_off("diameter of the inner tyre", inner_m, file_m, _FILE, system)]
    if is_known(file_m) and outer_m > file_m:
        asked.append(far_off("diameter of the outer tyre", outer_m, file_m, _FILE, system))
    basis = row["status"]
    share = outer_m / inner_m + 1e-9  # on the edge counts as above it
    beyond = f"{100 * (1 - share):.0f} % smaller than the inner tyre"
    ok: bool | None
    if is_as_large(inner_m, outer_m, system=system):
        ok, basis = False, COMMON_PRACTICE
        todo = "Do not drive: the outer tyre takes the load and overloads the wheel bearing."
    elif asked[0]:
        ok, todo = None, "Nobody can tell before that is cleared; do not drive until then."
    elif as_read(inner_m, system) - as_read(outer_m, system) < as_read(error_m, system):
        ok = None
        todo = (
            f"{same_to_a_tape(error_m, 'the outer tyre may be the larger one', system)} Measure "
            "the circumferences, both tyres at their pressure, and ask the supplier before driving."
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
    measured = _duals_in_words(inner_m, outer_m, system)
    todo = " ".join(filter(None, (todo, *asked) if ok is False else (*asked, todo)))
    return FitFinding(check, ok, measured, allowed, todo, where, outer_m - inner_m, "m", basis)


def is_as_large(inner_m: float, outer_m: float, *, system: System = "metric") -> bool:
    """Tell whether an outer dual tyre is as large as the inner one or larger, as a tape shows."""
    return as_read(outer_m, system) >= as_read(inner_m, system)


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


def pressure_in_words(pressure_kpa: float | None, system: System = "metric") -> str:
    """Write a pressure in its own system, others in brackets: ``240 kPa (2.40 bar, 35 psi)``."""
    if not is_known(pressure_kpa):
        return NOT_MEASURED
    return pressure_words(pressure_kpa, system)


def _track_in_words(
    track_m: float | None, tyre_m: float | None, sits_tight: bool | None, system: System
) -> str:
    """Everything that was taped and seen of a wheel track."""
    said = []
    if is_known(track_m) and is_known(tyre_m):
        excess = length_in_words(abs(track_m - tyre_m), system)
        longer = as_read(track_m, system) - as_read(tyre_m, system)
        said.append(f"track {excess} {'longer' if longer > 0 else 'shorter'} than the tyre")
        if longer == 0:
            said = ["track as long as the tyre"]
    elif is_known(track_m):
        said.append(f"track {length_in_words(track_m, system)} inside, tyre not measured")
    elif is_known(tyre_m):
        said.append(f"tyre {length_in_words(tyre_m, system)} around, track not measured")
    if sits_tight is not None:
        said.append("sits tight" if sits_tight else "tyre creeps in the track")
    return "; ".join(said) or NOT_MEASURED


def _duals_in_words(inner_m: float | None, outer_m: float | None, system: System) -> str:
    return f"outer {length_in_words(outer_m, system)}, inner {length_in_words(inner_m, system)}"


def _unmeasured(check: str, allowed: str, todo: str, where: str) -> FitFinding:
    return FitFinding(check, None, NOT_MEASURED, allowed, todo, where)
