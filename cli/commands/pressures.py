"""``rutwise pressures``: what a log of cold tyre pressures says."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import ExitCode, Format, print_issues_to_stderr, print_rows, say, tell
from cli.options import FormatOption

if TYPE_CHECKING:
    from terrain.errors import Issue
    from terrain.inputs.pressure_log import PressureLog
    from terrain.models.machine import Machine
    from terrain.setups.fit import System

__all__ = ["pressures"]

_FINDINGS = ("finding", "tyre", "day", "measured", "charted", "what_to_do")
_TYRES = (
    "tyre",
    "state",
    "last_reading",
    "out_of_range",
    "trend",
    "days_not_read",
    "last_day",
    "charted",
    "what_to_do",
)
_SHOWN = 6
"""So many of the columns about tyres go into the table; advice follows in lines."""


class Carries(StrEnum):
    """What the wheels of one end carry."""

    BARE = "bare"
    CHAINS = "chains"
    WHEEL_TRACKS = "wheel-tracks"
    BAND_TRACKS = "band-tracks"
    DUAL_TYRES = "dual-tyres"


_KINDS: dict[Carries, Any] = {
    Carries.BARE: None,
    Carries.CHAINS: "chains",
    Carries.WHEEL_TRACKS: "wheel track",
    Carries.BAND_TRACKS: "band track",
    Carries.DUAL_TYRES: "dual tyres",
}


def pressures(
    log: Annotated[
        Path,
        typer.Argument(
            help="CSV with date, tyre and pressure_kpa (or _bar, _psi).", show_default=False
        ),
    ],
    machine: Annotated[
        Path | None,
        typer.Option(help="Machine file with charted pressures; tyres are named front.., rear.."),
    ] = None,
    front: Annotated[
        Carries | None,
        typer.Option(help="What the front wheels carry, with --machine.", show_default="bare"),
    ] = None,
    rear: Annotated[
        Carries | None,
        typer.Option(help="What the rear wheels carry, with --machine.", show_default="bare"),
    ] = None,
    charted_low: Annotated[
        str | None, typer.Option(metavar="PRESSURE", help="Charted range for all tyres, low end.")
    ] = None,
    charted_high: Annotated[
        str | None, typer.Option(metavar="PRESSURE", help="Charted range for all tyres, high end.")
    ] = None,
    every: Annotated[
        bool,
        typer.Option(
            "--all",
            help="List every reading out of range and every gap too; alone in JSON and CSV.",
        ),
    ] = False,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """Sum up each tyre: state, slow leak, days without a reading, and what to do.

    The charted range comes from the log, else from the two options, else from the machine file. A
    log that mixes units, or holds a pressure that no forest tyre can hold, is refused. A pressure
    below the chart that the machine file sets or permits is asked about, but never under band
    tracks: say with --front and --rear what the wheels carry. Exit code 3 when a tyre leaks or is
    out of range beyond what the machine file has.

    Example: rutwise pressures pressures.csv --charted-low "380 kPa" --charted-high "420 kPa"
    """
    from cli.measured import read_measured
    from cli.pressure_rows import days_in_words, findings, tyre_row
    from terrain.errors import Issue, refuse_errors
    from terrain.inputs.fit_bounds import beyond_issues
    from terrain.inputs.machines import read_machine
    from terrain.inputs.pressure_log import read_pressure_log
    from terrain.outputs.wording import DEFERRAL
    from terrain.setups.pressure_log import analyse_pressures
    from terrain.setups.pressures import permitted_by_axle, under_bands

    typed = read_measured({}, {"charted_low_kpa": charted_low, "charted_high_kpa": charted_high})
    described, _, machine_issues = read_machine(machine) if machine else (None, None, [])
    read, issues = read_pressure_log(log)
    worn = _worn_issues(front, rear, described, machine)
    refuse_errors([*beyond_issues(typed), *issues, *machine_issues, *worn])
    if read is None:
        raise typer.Exit(ExitCode.REFUSED)
    low, high = _filled(
        read.low_kpa,
        read.high_kpa,
        *(
            one.value if (one := typed[option]) else float("nan")
            for option in ("charted_low_kpa", "charted_high_kpa")
        ),
    )
    charted: Any = float("nan")
    permitted: Any = float("nan")
    banded: Any = False
    if described is not None:
        carries = (_KINDS[front or Carries.BARE], _KINDS[rear or Carries.BARE])
        permitted = permitted_by_axle(read.tyre, described, carries)
        banded = under_bands(read.tyre, described, carries)
        low, high, charted = _by_machine(low, high, read.tyre, described)
    refuse_errors(_chart_slips(read, low, high, charted))
    if (low > high).any():
        what, fix = "The charted range is upside down.", "Swap its two ends."
        refuse_errors([Issue("PRS04", "error", what, "option --charted-low, --charted-high", fix)])
    report = analyse_pressures(
        read.day, read.tyre, read.pressure_kpa, low, high, charted, permitted, banded
    )
    system: System = "us" if read.unit == "psi" else "metric"
    tyres = [tyre_row(state, read, system) for state in report.tyres]
    counts = (
        f"{report.readings} readings, {report.first_day} to {report.last_day}: "
        f"out of range {len(report.out_of_range)}, slow leaks {len(report.slow_leaks)}, "
        f"readings missing {sum(len(gap.days) for gap in report.missing)}."
    )
    if fmt is Format.TABLE:
        print_rows(tyres, _TYRES[:_SHOWN], fmt)
        for row in tyres:
            if row["what_to_do"]:
                say(f"{row['tyre']}: {row['what_to_do']}")
        if report.silent_days:
            say(
                f"No tyre was read on {days_in_words(report.silent_days)}: if the machine worked, "
                "read the pressures on such days too."
            )
        say(counts)
        if every:
            print_rows(findings(report, read, system), _FINDINGS[:-1], fmt)
        elif report.out_of_range:
            say("Every reading out of range: --all.")
    elif every:
        print_rows(findings(report, read, system), _FINDINGS, fmt)
    else:
        print_rows(tyres, _TYRES, fmt)
    print_issues_to_stderr(issues)
    if fmt is not Format.TABLE:
        tell(counts)
    if report.without_chart:
        tell(f"No charted pressure, so not judged: {', '.join(report.without_chart)}.")
        if described is not None:
            tell("The machine file serves tyres whose names begin with front or rear.")
    tell("Pressures as charted and as printed on the sidewall. " + DEFERRAL)
    if report.to_mend:
        raise typer.Exit(ExitCode.NOTHING_SUITS)


def _worn_issues(
    front: Carries | None, rear: Carries | None, machine: Machine | None, path: Path | None
) -> list[Issue]:
    """Errors where what the wheels carry cannot be: no machine file, no bogie for a band."""
    from terrain.errors import Issue

    issues = []
    for option, carries, end in (("--front", front, 0), ("--rear", rear, 1)):
        if carries is None:
            continue
        if path is None:
            what = f"{option} says what the wheels carry, but there is no machine file."
            fix = "Name it with --machine, or leave the option out."
            issues.append(Issue("PRS10", "error", what, f"option {option}", fix))
        elif carries is Carries.BAND_TRACKS and machine and machine.groups[end].kind == "single":
            what = "Band tracks run round a bogie, this end of the machine has a single axle."
            fix = "Correct the option, or the machine file."
            issues.append(Issue("PRS10", "error", what, f"option {option}", fix))
    return issues


def _chart_slips(read: PressureLog, low: Any, high: Any, charted: Any) -> list[Issue]:
    """Tyres whose readings and chart are as far apart as two units."""
    import numpy as np

    from terrain.inputs.fit_bounds import chart_slip_issues

    names = np.array(read.tyre)
    chart = np.broadcast_to(np.asarray(charted, dtype=float), names.shape)
    chart = np.where(np.isnan(chart), np.fmax(low, high), chart)
    readings, charts = {}, {}
    for name in dict.fromkeys(read.tyre):
        own = names == name
        known = own & np.isfinite(read.pressure_kpa) & np.isfinite(chart)
        if known.any():
            place = f"{read.name}, tyre {name}"
            readings[place] = float(np.median(read.pressure_kpa[known]))
            charts[place] = float(np.median(chart[known]))
    return chart_slip_issues(readings, charts)


def _filled(low: Any, high: Any, other_low: Any, other_high: Any) -> tuple[Any, Any]:
    """Put the other range where neither end of the first one is known."""
    import numpy as np

    bare = np.isnan(low) & np.isnan(high)
    return np.where(bare, other_low, low), np.where(bare, other_high, high)


def _by_machine(low: Any, high: Any, tyres: tuple[str, ...], machine: Machine) -> Any:
    """Range and charted figure of the machine file where the log and the options gave none."""
    import numpy as np

    from terrain.setups.pressures import charted_by_axle

    bare = np.isnan(low) & np.isnan(high)
    file_low, file_high, charted = charted_by_axle(tyres, machine)
    low, high = _filled(low, high, file_low, file_high)
    return low, high, np.where(bare, charted, np.nan)
