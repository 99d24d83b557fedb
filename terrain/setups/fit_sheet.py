"""Which fit checks an axle with a given aid needs, put together from what was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from terrain.models.aids import BARE, Aid, Mount, Setup
from terrain.models.machine import AxleGroup, Machine
from terrain.setups.combinations import axle_name, same_tyre_size, tyre_named
from terrain.setups.fit import (
    FitFinding,
    System,
    band_sag,
    dual_diameters,
    liquid_ballast,
    rolling_circumference,
    shoe_clearance,
    wheel_track_tightness,
)
from terrain.setups.fit_pressure import inflation, permitted_kpa
from terrain.setups.layouts import is_known
from terrain.setups.mounting_rules import MOUNTING_RULES
from terrain.setups.standing import Standing

__all__ = ["FitMeasurements", "fit_sheet", "make_reminder", "mounting_findings", "tyre_size"]


@dataclass(frozen=True, slots=True)
class FitMeasurements:
    """What somebody measured or saw on one axle group; None where nobody did.

    Lengths in metres, pressures in kPa. ``plate_matches`` is True when the supplier names the
    very make and tread of the tyre for the aid.
    """

    tyre_on_sidewall: str | None = None
    clearance_left_m: float | None = None
    clearance_right_m: float | None = None
    sag_left_m: float | None = None
    sag_right_m: float | None = None
    track_inside_m: float | None = None
    tyre_outside_m: float | None = None
    sits_tight: bool | None = None
    pressure_kpa: float | None = None
    charted_kpa: float | None = None
    inner_diameter_m: float | None = None
    outer_diameter_m: float | None = None
    liquid: bool | None = None
    plate_matches: bool | None = None


def fit_sheet(
    machine: Machine,
    group: AxleGroup,
    aid: Aid | None,
    measured: FitMeasurements,
    systems: Mapping[str, System] = MappingProxyType({}),
) -> tuple[FitFinding, ...]:
    """Return every check that ``aid`` on ``group`` needs, those without a measurement too.

    Parameters
    ----------
    machine : Machine
    group : AxleGroup
        One of the machine's groups. Its tyre supplies what was not measured: size, charted
        pressure, the pressure it sets or permits, diameter, and liquid ballast when the machine
        file says that there is some.
    aid : Aid or None
        None checks the bare tyre only.
    measured : FitMeasurements
    systems : mapping of field name to {"metric", "us"}
        The system each measurement was taken in, by the field of :class:`FitMeasurements`; metric
        where it is not said.

    Returns
    -------
    tuple of FitFinding
        Mounting, size and make first, then the figures of the aid, then the tyre.
    """

    def said(name: str) -> System:
        return systems.get(name, "metric")

    where = axle_name(group)
    tyre = group.tyre
    findings = list(mounting_findings(machine, group, aid))
    if measured.tyre_on_sidewall is not None or aid is not None:
        findings.append(tyre_size(group, aid, measured.tyre_on_sidewall))
    if aid is not None:
        findings.append(make_reminder(aid, measured.plate_matches, where))
    if aid is not None and aid.kind == "band track":
        for side, gap_m in (
            ("left", measured.clearance_left_m),
            ("right", measured.clearance_right_m),
        ):
            system = said(f"clearance_{side}_m")
            findings.append(shoe_clearance(gap_m, system=system, where=f"{where}, {side}"))
        for side, sag_m in (("left", measured.sag_left_m), ("right", measured.sag_right_m)):
            system = said(f"sag_{side}_m")
            findings.append(band_sag(sag_m, system=system, where=f"{where}, {side}"))
    if aid is not None and aid.kind == "wheel track":
        findings.append(
            wheel_track_tightness(
                measured.track_inside_m,
                measured.tyre_outside_m,
                sits_tight=measured.sits_tight,
                system=said("track_inside_m"),
                where=where,
            )
        )
        findings.append(
            rolling_circumference(
                tyre.diameter_m, aid.thickness_m, system=said("track_inside_m"), where=where
            )
        )
    if aid is not None and aid.kind == "dual tyres":
        taped = (measured.inner_diameter_m, measured.outer_diameter_m)
        inner_m = _first_known(taped[0], tyre.diameter_m)
        outer_m = _first_known(taped[1], aid.outer_diameter_m)
        origin = where if None not in taped else f"{where}, not taped: figures of the files"
        findings.append(
            dual_diameters(inner_m, outer_m, system=said("outer_diameter_m"), where=origin)
        )
    charted_kpa = _first_known(measured.charted_kpa, tyre.charted_inflation_kpa)
    bands = aid is not None and aid.kind == "band track"
    findings.append(
        inflation(
            measured.pressure_kpa,
            charted_kpa,
            permitted_kpa=permitted_kpa(tyre, aid.kind if aid else None),
            band_tracks=bands,
            system=said("pressure_kpa"),
            where=where,
        )
    )
    liquid = measured.liquid
    if liquid is None and tyre.liquid_ballast:
        liquid = True
    findings.append(liquid_ballast(liquid, where=where))
    return tuple(findings)


def mounting_findings(
    machine: Machine, group: AxleGroup, aid: Aid | None
) -> tuple[FitFinding, ...]:
    """Say when ``aid`` can never be mounted on ``group``, whatever the other axle carries."""
    if aid is None:
        return ()
    mounts = tuple(Mount.both_sides(aid) if one is group else BARE for one in machine.groups)
    setup = Setup("as fitted", (mounts[0], mounts[1]))
    return tuple(
        FitFinding(
            f"mounting ({verdict.code})",
            False,
            aid.name,
            "see the mounting rule",
            verdict.reason,
            axle_name(group),
        )
        for rule in MOUNTING_RULES
        if rule.code in ("MNT01", "MNT03")
        and (verdict := rule.check(setup, machine)) is not None
        and verdict.standing is Standing.EXCLUDED
    )


def tyre_size(group: AxleGroup, aid: Aid | None, on_sidewall: str | None = None) -> FitFinding:
    """Compare the tyre's size with the sizes that the aid names, or with the machine file.

    Dual tyres that name no size are held against their diameter only, see ``dual_diameters``.
    """
    size = on_sidewall or group.tyre.designation
    measured = f"{size} on the sidewall" if on_sidewall else f"{size} in the machine file"
    where = axle_name(group)
    if aid is None or (aid.kind == "dual tyres" and not aid.fits_tyres):
        same = same_tyre_size(group.tyre.designation, size)
        todo = "Nothing." if same else "Correct the machine file, or find out which tyre is right."
        allowed = f"{group.tyre.designation} as in the machine file"
        return FitFinding("tyre size", same, measured, allowed, todo, where)
    named = tyre_named(aid, size)
    todo = {
        True: "Nothing, if the size on the sidewall is this one.",
        False: "Ask the supplier and the manufacturer before the aid is fitted.",
        None: "Ask the supplier which tyre sizes the aid is made for.",
    }[named]
    allowed = ", ".join(aid.fits_tyres) or "catalogue names no size"
    return FitFinding("tyre size", named, measured, allowed, todo, where)


def make_reminder(aid: Aid, plate_matches: bool | None, where: str = "") -> FitFinding:
    """Remind that tyres of one size differ by make and tread, so the pairing must be named."""
    todo = {
        True: "Nothing; keep the supplier's list with the machine papers.",
        False: "Do not fit it before the supplier has agreed to this tyre.",
        None: "Compare make, tread and size with the aid's plate or the supplier's list.",
    }[plate_matches]
    measured = {True: "named", False: "not named", None: "not compared"}[plate_matches]
    allowed = f"named by the supplier of {aid.name}"
    return FitFinding("make and tread of the tyre", plate_matches, measured, allowed, todo, where)


def _first_known(*values: float | None) -> float | None:
    return next((value for value in values if is_known(value)), None)
