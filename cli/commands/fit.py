"""``rutwise fit``: judge what tape and gauge say after an aid is fitted."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.console import ExitCode, Format, print_rows, say, tell
from cli.options import FormatOption, Units

__all__ = ["fit"]


class Axle(StrEnum):
    """Which axle group."""

    FRONT = "front"
    REAR = "rear"


def _length(text: str) -> typer.models.OptionInfo:
    return typer.Option(metavar="LENGTH", help=text)


def _pressure(text: str) -> typer.models.OptionInfo:
    return typer.Option(metavar="PRESSURE", help=text)


def fit(
    machine: Annotated[Path, typer.Argument(help="The machine file (TOML).", show_default=False)],
    axle: Annotated[Axle, typer.Option(help="Which axle or bogie was measured.")] = Axle.REAR,
    aid: Annotated[
        str | None, typer.Option(help="Key of the fitted aid in the catalogue; absent: bare tyres.")
    ] = None,
    aids: Annotated[
        Path | None, typer.Option(help="Aid catalogue; absent: the shipped generic one.")
    ] = None,
    tyre: Annotated[str | None, typer.Option(help="Size printed on the sidewall.")] = None,
    clearance_left: Annotated[str | None, _length("Band-track shoe to sidewall, left.")] = None,
    clearance_right: Annotated[str | None, _length("Band-track shoe to sidewall, right.")] = None,
    sag_left: Annotated[str | None, _length("Band-track sag midway, left bogie side.")] = None,
    sag_right: Annotated[str | None, _length("Band-track sag midway, right bogie side.")] = None,
    track_inside: Annotated[str | None, _length("Wheel track: inner circumference.")] = None,
    tyre_outside: Annotated[
        str | None, _length("Circumference of the tyre at full pressure, no track.")
    ] = None,
    sits_tight: Annotated[
        bool | None,
        typer.Option("--sits-tight/--creeps", help="Wheel track: does the tyre creep in it?"),
    ] = None,
    inner_diameter: Annotated[str | None, _length("Dual tyres: diameter of the inner.")] = None,
    outer_diameter: Annotated[str | None, _length("Dual tyres: diameter of the outer.")] = None,
    pressure: Annotated[str | None, _pressure("Cold pressure measured.")] = None,
    charted: Annotated[
        str | None, _pressure("Charted pressure; absent: that of the machine file.")
    ] = None,
    liquid: Annotated[
        bool | None, typer.Option("--liquid/--air-only", help="Do the tyres hold liquid?")
    ] = None,
    named: Annotated[
        bool | None,
        typer.Option(
            "--make-named/--make-not-named",
            help="Does the supplier name the tyre's make and tread?",
        ),
    ] = None,
    units: Annotated[
        Units | None, typer.Option(help="Units to judge and print in; absent: those you typed.")
    ] = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """Check a fitted aid and its tyre: clearance, sag, tightness, size, pressure, ballast.

    Every measurement carries its unit. What you leave out is listed as not measured; what the aid
    has no check for is refused, and so is a length that no fitted aid has. A tyre far
    below its charted pressure, or a lower one that the machine file sets or permits, counts as run
    flat: it is inspected, never inflated. Exit code 3 when something is not in order.

    Example: rutwise fit machine.toml --aid open-band-710 --sag-left "55 mm" --pressure "58 psi"
    """
    from cli.measured import collect_measured, needless_issues
    from terrain.errors import Issue, errors_in, refuse_errors
    from terrain.inputs.aids import read_aids
    from terrain.inputs.fit_bounds import (
        beyond_issues,
        beyond_length_issues,
        chart_slip_issues,
    )
    from terrain.inputs.machines import read_machine
    from terrain.outputs.wording import DEFERRAL
    from terrain.setups.combinations import axle_name
    from terrain.setups.fit import System
    from terrain.setups.fit_sheet import FitMeasurements, fit_sheet

    described, _, issues = read_machine(machine)
    catalogue, _, more = read_aids(aids)
    issues = errors_in([*issues, *more])
    named_so = [one for one in catalogue if aid in (one.key, one.name)]
    chosen = named_so[0] if len(named_so) == 1 else None
    if aid is not None and chosen is None and not errors_in(more):
        known = ", ".join(f"{one.key} ({one.name})" for one in named_so or catalogue)
        many = "several aids" if named_so else "no aid"
        what = f"The catalogue has {many} with the key or name {aid!r}."
        issues.append(Issue("MEA02", "error", what, "option --aid", f"Known: {known}."))
    lengths = {
        "clearance_left_m": clearance_left,
        "clearance_right_m": clearance_right,
        "sag_left_m": sag_left,
        "sag_right_m": sag_right,
        "track_inside_m": track_inside,
        "tyre_outside_m": tyre_outside,
        "inner_diameter_m": inner_diameter,
        "outer_diameter_m": outer_diameter,
    }
    pressures = {"pressure_kpa": pressure, "charted_kpa": charted}
    read, unread = collect_measured(lengths, pressures)
    issues += unread
    issues += beyond_length_issues({name: read[name] for name in lengths})
    issues += beyond_issues({name: read[name] for name in pressures})
    if described is not None and not issues and (taken := read["pressure_kpa"]) is not None:
        own = (described.front if axle is Axle.FRONT else described.rear).tyre
        said = read["charted_kpa"]
        chart = said.value if said is not None else own.charted_inflation_kpa
        place = "option --pressure"
        issues += chart_slip_issues({place: taken.value}, {place: chart or float("nan")})
    if chosen is not None or aid is None:
        given = {**lengths, "sits_tight": sits_tight, "plate_matches": named}
        issues += needless_issues(given, chosen, catalogue)
    refuse_errors(issues)
    if described is None:
        raise typer.Exit(ExitCode.REFUSED)
    values = {name: one.value if one else None for name, one in read.items()}
    measured = FitMeasurements(
        tyre_on_sidewall=tyre, sits_tight=sits_tight, liquid=liquid, plate_matches=named, **values
    )
    systems: dict[str, System] = {}
    for name, one in read.items():
        if units is not None:
            systems[name] = "us" if units is Units.US else "metric"
        elif one is not None:
            systems[name] = one.system
    group = described.front if axle is Axle.FRONT else described.rear
    findings = fit_sheet(described, group, chosen, measured, systems)
    rows = [
        {
            "check": finding.check,
            "where": finding.where,
            "result": finding.words,
            "measured": finding.measured,
            "allowed": finding.allowed,
            "what_to_do": finding.what_to_do,
            "value": finding.value,
            "unit": finding.unit,
            "basis": finding.basis,
        }
        for finding in findings
    ]
    if fmt is Format.TABLE:
        print_rows(rows, ("result", "check", "where", "measured", "allowed"), fmt)
        for finding in findings:
            if not finding.ok:
                say(f"{finding.check}, {finding.where}: {finding.what_to_do}")
    else:
        print_rows(rows, tuple(rows[0]), fmt)
    wrong = sum(finding.ok is False for finding in findings)
    open_ = sum(finding.ok is None and not finding.informs for finding in findings)
    basis = "; ".join(dict.fromkeys(finding.basis for finding in findings))
    tell(f"{wrong} not in order, {open_} cannot be told. Basis: {basis}.")
    other, option = (described.rear, "rear") if axle is Axle.FRONT else (described.front, "front")
    tell(f"The {axle_name(other)} was not checked: --axle {option}.")
    tell("The supplier's fitting instruction goes first. " + DEFERRAL)
    if wrong:
        raise typer.Exit(ExitCode.NOTHING_SUITS)
