"""``rutwise pressures``: what a log of cold tyre pressures says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import ExitCode, Format, print_issues_to_stderr, print_rows, say, tell
from cli.options import FormatOption

if TYPE_CHECKING:
    from terrain.inputs.pressure_log import PressureLog
    from terrain.setups.fit import System
    from terrain.setups.pressure_log import PressureReport

__all__ = ["pressures"]

_COLUMNS = ("finding", "tyre", "day", "measured", "charted", "what_to_do")


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
    charted_low: Annotated[
        str | None, typer.Option(metavar="PRESSURE", help="Charted range for all tyres, low end.")
    ] = None,
    charted_high: Annotated[
        str | None, typer.Option(metavar="PRESSURE", help="Charted range for all tyres, high end.")
    ] = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """List readings out of range, slow leaks and days without a reading, with what they cost.

    The charted range comes from the log, else from the two options, else from the machine file. A
    log that mixes units is refused. Exit code 3 when a tyre is out of range or leaks.

    Example: rutwise pressures pressures.csv --charted-low "380 kPa" --charted-high "420 kPa"
    """
    from cli.measured import read_measured
    from terrain.errors import Issue, refuse_errors
    from terrain.inputs.machines import read_machine
    from terrain.inputs.pressure_log import read_pressure_log
    from terrain.outputs.wording import DEFERRAL
    from terrain.setups.pressure_log import analyse_pressures, charted_by_axle

    typed = read_measured({}, {"charted_low_kpa": charted_low, "charted_high_kpa": charted_high})
    described, _, machine_issues = read_machine(machine) if machine else (None, None, [])
    read, issues = read_pressure_log(log)
    refuse_errors([*issues, *machine_issues])
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
    if described is not None:
        low, high = _filled(low, high, *charted_by_axle(read.tyre, described))
    if (low > high).any():
        what, fix = "The charted range is upside down.", "Swap its two ends."
        refuse_errors([Issue("PRS04", "error", what, "option --charted-low, --charted-high", fix)])
    report = analyse_pressures(read.day, read.tyre, read.pressure_kpa, low, high)
    rows = _rows(report, read, "us" if read.unit == "psi" else "metric")
    if fmt is Format.TABLE:
        print_rows(rows, _COLUMNS[:-1], fmt)
        for advice in dict.fromkeys(f"{row['finding']}: {row['what_to_do']}" for row in rows):
            say(advice)
    else:
        print_rows(rows, _COLUMNS, fmt)
    print_issues_to_stderr(issues)
    tell(
        f"{report.readings} readings, {report.first_day} to {report.last_day}: "
        f"out of range {len(report.out_of_range)}, slow leaks {len(report.slow_leaks)}, "
        f"readings missing {sum(len(gap.days) for gap in report.missing)}."
    )
    if report.without_chart:
        tell(f"No charted pressure, so not judged: {', '.join(report.without_chart)}.")
    tell("Pressures as charted and as printed on the sidewall. " + DEFERRAL)
    if report.out_of_range or report.slow_leaks:
        raise typer.Exit(ExitCode.NOTHING_SUITS)


def _filled(low: Any, high: Any, other_low: Any, other_high: Any) -> tuple[Any, Any]:
    """Put the other range where neither end of the first one is known."""
    import numpy as np

    bare = np.isnan(low) & np.isnan(high)
    return np.where(bare, other_low, low), np.where(bare, other_high, high)


def _rows(report: PressureReport, log: PressureLog, system: System) -> list[dict[str, Any]]:
    from terrain.setups.fit import OVER_INFLATION, UNDER_INFLATION, pressure_in_words

    rows: list[dict[str, Any]] = []
    for bad in report.out_of_range:
        below = bad.side == "below"
        rows.append(
            {
                "finding": f"{bad.side} the charted range",
                "tyre": bad.tyre,
                "day": f"{bad.day} (line {log.line[bad.row]})",
                "measured": pressure_in_words(bad.pressure_kpa, system),
                "charted": _range_in_words(bad.low_kpa, bad.high_kpa, system),
                "what_to_do": (
                    f"Inflate before the shift. {UNDER_INFLATION}"
                    if below
                    else f"Let air out, cold. {OVER_INFLATION}"
                ),
            }
        )
    for trend in report.trends:
        if trend.slow_leak is False:
            continue
        fall = pressure_in_words(abs(trend.kpa_per_30_days), system)
        rows.append(
            {
                "finding": "slow leak" if trend.slow_leak else "trend cannot be told",
                "tyre": trend.tyre,
                "day": f"{trend.days_read} days read, {trend.refills} refills",
                "measured": f"falls by {fall} in 30 days"
                if trend.slow_leak
                else "too few readings",
                "charted": _days_left(trend.days_to_low),
                "what_to_do": _leak_advice(trend.slow_leak, trend.shared),
            }
        )
    for gap in report.missing:
        rows.append(
            {
                "finding": "not read",
                "tyre": gap.tyre,
                "day": _days_in_words(gap.days),
                "what_to_do": "Read every tyre, every day, cold.",
            }
        )
    if report.silent_days:
        rows.append(
            {
                "finding": "no tyre read",
                "tyre": "all",
                "day": _days_in_words(report.silent_days),
                "what_to_do": "If the machine worked, read the pressures on such days too.",
            }
        )
    return rows


def _range_in_words(low_kpa: float, high_kpa: float, system: System) -> str:
    import math

    from terrain.setups.fit import pressure_in_words

    if math.isnan(low_kpa):
        return f"up to {pressure_in_words(high_kpa, system)}"
    if math.isnan(high_kpa):
        return f"from {pressure_in_words(low_kpa, system)}"
    return f"{pressure_in_words(low_kpa, system)} to {pressure_in_words(high_kpa, system)}"


def _days_left(days: float) -> str:
    import math

    if math.isnan(days):
        return ""
    return "already at the low end" if days == 0 else f"at the low end in {days:.0f} days"


def _leak_advice(leak: bool | None, shared: bool) -> str:
    if leak is None:
        from terrain.sources import data_table

        rule = data_table("fit_checks")["slow_leak"]
        return (
            f"Go on reading: a trend wants {rule['least_readings']} readings between refills and "
            f"{rule['least_days']} days."
        )
    first = "Other tyres fall as well: think of colder mornings and of the gauge first. "
    return (first if shared else "") + "Look for a nail, a cut, the valve and the rim seat."


def _days_in_words(days: tuple[str, ...], shown: int = 5) -> str:
    rest = f" and {len(days) - shown} more" if len(days) > shown else ""
    return ", ".join(days[:shown]) + rest
