"""Rows and sentences about a log of tyre pressures, for ``rutwise pressures``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.inputs.pressure_log import PressureLog
    from terrain.setups.fit import System
    from terrain.setups.pressure_results import OutOfRange, PressureReport, TyreState, TyreTrend

__all__ = ["days_in_words", "findings", "tyre_row"]


def tyre_row(state: TyreState, log: PressureLog, system: System) -> dict[str, Any]:
    """One tyre in a row: state, last reading, trend, gaps and what to do."""
    from terrain.setups.fit import pressure_in_words

    words = {
        "nearly flat": "NEARLY FLAT",
        "set lower": "below the chart, as the machine file has it: ask",
        "below": "below the charted range",
        "above": "above the charted range",
        "in range": "in range",
        "no chart": "not judged, no chart",
    }
    now = words[state.now]
    if state.run_flat and state.now != "nearly flat":
        now += f"; NEARLY FLAT on {state.run_flat[-1].day}"
    bad = len(state.out_of_range)
    return {
        "tyre": state.tyre,
        "state": now,
        "last_reading": pressure_in_words(state.pressure_kpa, system),
        "out_of_range": f"{bad} of {state.readings}" if bad else "none",
        "trend": _trend_in_words(state.trend, system)
        if state.trend.slow_leak or state.now != "nearly flat" or not state.has_fallen
        else f"air lost: fell from {pressure_in_words(state.highest_kpa, system)}",
        "days_not_read": days_in_words(state.missing, 3) if state.missing else "none",
        "last_day": f"{state.day} (line {log.line[state.row]})",
        "charted": _range_in_words(state.low_kpa, state.high_kpa, system),
        "what_to_do": " ".join(_advice(state, system)),
    }


def _trend_in_words(trend: TyreTrend, system: System) -> str:
    from terrain.setups.fit import pressure_in_words

    if trend.slow_leak is None:
        return "too few readings"
    if not trend.slow_leak:
        return "no leak seen"
    fall = pressure_in_words(abs(trend.kpa_per_30_days), system)
    left = _days_left(trend.days_to_low)
    return f"SLOW LEAK: falls by {fall} in 30 days" + (f"; {left}" if left else "")


def _advice(state: TyreState, system: System) -> list[str]:
    """Sentences on what to do with a tyre, the most pressing first; none where all is in order."""
    from terrain.setups.fit_pressure import RUN_FLAT

    last = state.last_out_of_range
    if last is not None and last.run_flat:
        return [_reading_advice(last, system)]  # nothing else is to be done at this tyre
    found = []
    if state.run_flat:
        found.append(
            f"It counts as run flat on {state.run_flat[-1].day}. Unless a trained tyre fitter has "
            f"inspected it since: {RUN_FLAT[0].lower()}{RUN_FLAT[1:]}"
        )
    elif last is not None:
        found.append(_reading_advice(last, system))
    elif state.now == "no chart":
        found.append("Look up the pressure charted for the wheel load.")
    if state.trend.slow_leak is not False:
        found.append(_leak_advice(state.trend.slow_leak, state.trend.shared))
    if state.missing:
        found.append("Read every tyre, every day, cold.")
    return found


def _reading_advice(bad: OutOfRange, system: System) -> str:
    from terrain.setups.fit_pressure import (
        OVER_INFLATION,
        UNDER_INFLATION,
        run_flat_advice,
        shortfall_advice,
    )

    if bad.run_flat:
        return run_flat_advice(bad.pressure_kpa)
    if bad.side == "above":
        return f"Let air out, cold. {OVER_INFLATION}"
    if bad.permitted_kpa < bad.charted_kpa:
        return shortfall_advice(
            bad.pressure_kpa,
            bad.charted_kpa,
            bad.permitted_kpa,
            band_tracks=bad.band_tracks,
            system=system,
        )
    return f"Inflate before the shift. {UNDER_INFLATION}"


def findings(report: PressureReport, log: PressureLog, system: System) -> list[dict[str, Any]]:
    """Every reading out of range, every trend that is a leak or unknown, every gap."""
    from terrain.setups.fit import pressure_in_words

    rows: list[dict[str, Any]] = []
    for bad in report.out_of_range:
        rows.append(
            {
                "finding": "nearly flat" if bad.run_flat else f"{bad.side} the charted range",
                "tyre": bad.tyre,
                "day": f"{bad.day} (line {log.line[bad.row]})",
                "measured": pressure_in_words(bad.pressure_kpa, system),
                "charted": _range_in_words(bad.low_kpa, bad.high_kpa, system),
                "what_to_do": _reading_advice(bad, system),
            }
        )
    for trend in report.trends:
        if trend.slow_leak is False:
            continue
        rows.append(
            {
                "finding": "slow leak" if trend.slow_leak else "trend cannot be told",
                "tyre": trend.tyre,
                "day": f"{trend.days_read} days read, {trend.refills} refills",
                "measured": _trend_in_words(trend, system),
                "charted": _days_left(trend.days_to_low),
                "what_to_do": _leak_advice(trend.slow_leak, trend.shared),
            }
        )
    for gap in report.missing:
        rows.append(
            {
                "finding": "not read",
                "tyre": gap.tyre,
                "day": days_in_words(gap.days),
                "what_to_do": "Read every tyre, every day, cold.",
            }
        )
    if report.silent_days:
        rows.append(
            {
                "finding": "no tyre read",
                "tyre": "all",
                "day": days_in_words(report.silent_days),
                "what_to_do": "If the machine worked, read the pressures on such days too.",
            }
        )
    return rows


def _range_in_words(low_kpa: float, high_kpa: float, system: System) -> str:
    import math

    from terrain.setups.fit import pressure_in_words

    if math.isnan(low_kpa) and math.isnan(high_kpa):
        return "not given"
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


def days_in_words(days: tuple[str, ...], shown: int = 5) -> str:
    """Join days; beyond ``shown`` the rest is counted."""
    rest = f" and {len(days) - shown} more" if len(days) > shown else ""
    return ", ".join(days[:shown]) + rest
