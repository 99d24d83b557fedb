"""Which fit checks an axle with a given aid needs, put together from what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from terrain.models.aids import BARE, Aid, AidKind, Mount, Setup
from terrain.models.machine import AxleGroup, Machine
from terrain.models.tyre_size import with_decimal_point
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
from terrain.setups.fit_pressure import beside_the_file, inflation, permitted_kpa
from terrain.setups.layouts import is_known
from terrain.setups.mounting_rules import MOUNTING_RULES
from terrain.setups.standing import Standing

__all__ = [
    "NEEDED_FOR",
    "FitMeasurements",
    "fit_sheet",
    "make_reminder",
    "mounting_findings",
    "not_asked_for",
    "tyre_size",
]

NEEDED_FOR: Mapping[str, tuple[AidKind, ...]] = MappingProxyType(
    {
        "clearance_left_m": ("band track",),
        "clearance_right_m": ("band track",),
        "sag_left_m": ("band track",),
        "sag_right_m": ("band track",),
        "track_inside_m": ("wheel track",),
        "tyre_outside_m": ("wheel track",),
        "sits_tight": ("wheel track",),
        "inner_diameter_m": ("dual tyres",),
        "outer_diameter_m": ("dual tyres",),
        "plate_matches": ("chains", "wheel track", "band track", "dual tyres"),
    }
)
"""Fields of :class:`FitMeasurements` that no bare tyre needs: the kinds of aid that do."""


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


def not_asked_for(aid: Aid | None, given: Iterable[str]) -> tuple[str, ...]:
    """Return which of the ``given`` fields of :class:`FitMeasurements` no check of ``aid`` uses."""
    kind = None if aid is None else aid.kind
    return tuple(name for name in given if name in NEEDED_FOR and kind not in NEEDED_FOR[name])


def fit_sheet(
    machine: Machine,
    group: AxleGroup,
    aid: Aid | None,
    measured: FitMeasurements,
    systems: Mapping[str, System] = MappingProxyType({}),
) -> tuple[FitFinding, ...]:
    """Return every check that ``aid`` on ``group`` needs, those without a measurement too.

    A measurement that no check of the aid uses is left out: see :func:`not_asked_for`.

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
        taped = "track_inside" if is_known(measured.track_inside_m) else "tyre_outside"
        findings.append(
            wheel_track_tightness(
                measured.track_inside_m,
                measured.tyre_outside_m,
                diameter_m=tyre.diameter_m,
                sits_tight=measured.sits_tight,
                system=said(f"{taped}_m"),
                where=where,
            )
        )
        findings.append(
            rolling_circumference(
                tyre.diameter_m, aid.thickness_m, system=said("track_inside_m"), where=where
            )
        )
    if aid is not None and aid.kind == "dual tyres":
        outer = "outer" if is_known(measured.outer_diameter_m) else "inner"
        findings.append(
            dual_diameters(
                _first_known(measured.inner_diameter_m, tyre.diameter_m),
                _first_known(measured.outer_diameter_m, aid.outer_diameter_m),
                file_m=tyre.diameter_m,
                system=said(f"{outer}_diameter_m"),
                where=where + _not_taped(measured, aid),
            )
        )
    charted_kpa = _first_known(measured.charted_kpa, tyre.charted_inflation_kpa)
    bands = aid is not None and aid.kind == "band track"
    system = said("charted_kpa" if measured.pressure_kpa is None else "pressure_kpa")
    pressure = inflation(
        measured.pressure_kpa,
        charted_kpa,
        permitted_kpa=permitted_kpa(tyre, aid.kind if aid else None),
        band_tracks=bands,
        system=system,
        where=where,
    )
    findings.append(
        beside_the_file(
            pressure, measured.charted_kpa, tyre.charted_inflation_kpa, system=said("charted_kpa")
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
    wrong = []
    if aid.axle_kind is not None and aid.axle_kind != group.kind:
        names = {"single": "a single axle", "bogie": "a bogie"}
        wrong = [
            FitFinding(
                "kind of axle",
                False,
                aid.name,
                f"made for {names[aid.axle_kind]}",
                f"Take it off: the {axle_name(group)} is {names[group.kind]}. Ask the supplier.",
                axle_name(group),
            )
        ]
    mounts = tuple(Mount.both_sides(aid) if one is group else BARE for one in machine.groups)
    setup = Setup("as fitted", (mounts[0], mounts[1]))
    return (
        *wrong,
        *(
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
        ),
    )


def tyre_size(group: AxleGroup, aid: Aid | None, on_sidewall: str | None = None) -> FitFinding:
    """Compare the tyre's size with the sizes that the aid names, or with the machine file.

    Dual tyres that name no size are held against their diameter only, see ``dual_diameters``.
    """
    size = with_decimal_point(on_sidewall or group.tyre.designation)
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


def _not_taped(measured: FitMeasurements, aid: Aid) -> str:
    """Say which diameter of two dual tyres is a figure of the files; empty for none."""
    inner, outer = is_known(measured.inner_diameter_m), is_known(measured.outer_diameter_m)
    listed = is_known(aid.outer_diameter_m)
    if not inner and not outer and listed:
        return ", not taped: figures of the files"
    if not inner:
        return ", inner not taped: figure of the machine file"
    return ", outer not taped: figure of the catalogue" if not outer and listed else ""


def _first_known(*values: float | None) -> float | None:
    return next((value for value in values if is_known(value)), None)
