"""What a log of cold tyre pressures says: readings out of range, slow leaks, missing days.

A reading so low that the tyre counts as run flat
(:func:`terrain.setups.fit_pressure.is_run_flat`) stands apart: such a tyre is inspected before
anybody puts air in. One below the chart that the machine file sets or permits is asked about.

A slow leak is a falling run of readings, not one low reading. For each tyre the readings of a day
are reduced to their median and cut into runs wherever the pressure rises by a refill. Within the
runs the slope is the median of the slopes of all pairs (Theil 1950; Sen 1968), which one wrong
reading cannot turn, and the sign of it is tested with Kendall's statistic, summed over the runs as
Hirsch, Slack & Smith (1982) sum it over months. The limits of the rule stand in
``terrain/data/fit_checks.toml``, row ``slow_leak``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.setups.fit_pressure import is_run_flat
from terrain.setups.pressure_results import (
    MissingDays,
    OutOfRange,
    PressureReport,
    TyreState,
    TyreTrend,
)
from terrain.sources import data_table

__all__ = ["analyse_pressures"]

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]


def analyse_pressures(
    day: ArrayLike,
    tyre: Sequence[str],
    pressure_kpa: ArrayLike,
    low_kpa: ArrayLike = math.nan,
    high_kpa: ArrayLike = math.nan,
    charted_kpa: ArrayLike = math.nan,
    permitted_kpa: ArrayLike = math.nan,
    band_tracks: ArrayLike = False,
) -> PressureReport:
    """Analyse a log of cold readings.

    Parameters
    ----------
    day : array of datetime64[D] or ISO dates, shape (n,)
        In any order.
    tyre : sequence of str, length n
        Name of the tyre.
    pressure_kpa : array, shape (n,)
        All in kPa; NaN where the day's reading failed, which counts as not read.
    low_kpa, high_kpa : array, shape (n,) or scalar
        Charted range; NaN where it is not known, and then that side is not judged.
    charted_kpa : array, shape (n,) or scalar
        The charted pressure itself, from which a tyre counts as run flat; where it is NaN, the low
        end of the range stands for it.
    permitted_kpa : array, shape (n,) or scalar
        The lowest that the machine file sets or permits; below the charted one, it decides on run
        flat (:func:`terrain.setups.pressures.permitted_by_axle`).
    band_tracks : array of bool, shape (n,) or scalar
        Whether the tyre runs under a band track, where no pressure below the chart is in order.

    Returns
    -------
    PressureReport

    Raises
    ------
    ValueError
        When lengths differ, no reading is left, a pressure is negative or not finite, or a
        range is upside down.
    """
    days: Days = np.asarray(day, dtype="datetime64[D]")
    names = np.asarray(tyre, dtype=str)
    pressure = np.asarray(pressure_kpa, dtype=float)
    if not days.shape == names.shape == pressure.shape or days.ndim != 1:
        raise ValueError(
            f"day, tyre and pressure_kpa need one length: {days.shape}, {names.shape}, "
            f"{pressure.shape}"
        )
    low = np.broadcast_to(np.asarray(low_kpa, dtype=float), pressure.shape)
    high = np.broadcast_to(np.asarray(high_kpa, dtype=float), pressure.shape)
    charted = np.broadcast_to(np.asarray(charted_kpa, dtype=float), pressure.shape)
    charted = np.where(np.isnan(charted), low, charted)
    permitted = np.broadcast_to(np.asarray(permitted_kpa, dtype=float), pressure.shape)
    banded = np.broadcast_to(np.asarray(band_tracks, dtype=bool), pressure.shape)
    if (low > high).any():
        raise ValueError(f"charted low above charted high in row {int((low > high).argmax())}")
    if np.isinf(pressure).any() or (pressure < 0).any():
        raise ValueError("pressures must be finite and not negative")
    read = ~np.isnan(pressure) & ~np.isnat(days)
    if not read.any():
        raise ValueError("the log holds no reading")
    order = np.flatnonzero(read)[np.argsort(days[read], kind="stable")]
    tyres = sorted(set(names[order]))
    all_days = np.unique(days[order])
    trends = _with_shared_causes(
        [_trend(t, order[names[order] == t], days, pressure, low) for t in tyres]
    )
    bare = order[np.isnan(low[order]) & np.isnan(high[order])]
    flat = {
        int(i)
        for i in order
        if is_run_flat(float(pressure[i]), float(charted[i]), float(permitted[i]))
    }
    bad = tuple(
        OutOfRange(
            int(i),
            str(days[i]),
            str(names[i]),
            float(pressure[i]),
            float(low[i]),
            float(high[i]),
            int(i) in flat,
            float(charted[i]),
            float(permitted[i]),
            bool(banded[i]),
        )
        for i in order
        if pressure[i] < low[i] or pressure[i] > high[i] or int(i) in flat
    )
    missing = _missing(tyres, names[order], days[order], all_days)
    absent = {gap.tyre: gap.days for gap in missing}
    last = {str(names[i]): int(i) for i in order}
    states = [
        TyreState(
            trend.tyre,
            int((names[order] == trend.tyre).sum()),
            at := last[trend.tyre],
            str(days[at]),
            float(pressure[at]),
            float(low[at]),
            float(high[at]),
            tuple(one for one in bad if one.tyre == trend.tyre),
            trend,
            absent.get(trend.tyre, ()),
            float(pressure[order[names[order] == trend.tyre]].max()),
        )
        for trend in trends
    ]
    return PressureReport(
        readings=int(order.size),
        first_day=str(all_days[0]),
        last_day=str(all_days[-1]),
        out_of_range=bad,
        trends=trends,
        missing=missing,
        silent_days=_as_text(
            np.setdiff1d(np.arange(all_days[0], all_days[-1] + np.timedelta64(1, "D")), all_days)
        ),
        without_chart=tuple(sorted(set(names[bare]))),
        tyres=tuple(sorted(states, key=lambda state: state.order)),
    )


def _trend(
    tyre: str, rows: NDArray[np.intp], days: Days, pressure: Floats, low: Floats
) -> TyreTrend:
    rule = data_table("fit_checks")["slow_leak"]
    read_days = np.unique(days[rows])
    daily = np.array([np.median(pressure[rows[days[rows] == d]]) for d in read_days])
    number = (read_days - read_days[0]).astype(float)
    refilled = np.diff(daily) > rule["refill_rise"] * daily[:-1]
    runs = np.split(np.arange(daily.size), np.flatnonzero(refilled) + 1)
    usable = [run for run in runs if run.size > 1]
    slope, z = _pooled_slope([(number[run], daily[run]) for run in usable])
    enough = (
        sum(run.size for run in usable) >= rule["least_readings"]
        and number[-1] - number[0] >= rule["least_days"]
    )
    last_low = float(low[rows[-1]])
    reference = daily[0] if math.isnan(last_low) else last_low
    leak: bool | None = None
    to_low = math.nan
    if enough:
        steep = 30 * slope <= -rule["fall_per_30_days"] * reference
        leak = bool(z <= -rule["one_sided_z"] and steep)
        if leak and not math.isnan(last_low):
            to_low = max(0.0, float((daily[-1] - last_low) / -slope))
    else:
        slope = z = math.nan
    return TyreTrend(tyre, int(daily.size), int(refilled.sum()), 30 * slope, z, leak, False, to_low)


def _pooled_slope(runs: Sequence[tuple[Floats, Floats]]) -> tuple[float, float]:
    """Median pair slope per day and Kendall's z over ``runs`` of (day number, pressure)."""
    slopes: list[Floats] = []
    statistic = variance = 0.0
    for number, value in runs:
        first, second = np.triu_indices(number.size, k=1)
        rise = value[second] - value[first]
        slopes.append(rise / (number[second] - number[first]))
        statistic += float(np.sign(rise).sum())
        _, ties = np.unique(value, return_counts=True)
        sizes = np.array([number.size, *(-ties)], dtype=float)
        count = np.abs(sizes)
        terms = np.sign(sizes) * count * (count - 1) * (2 * count + 5) / 18
        variance += float(terms.sum())
    if not slopes:
        return math.nan, math.nan
    z = statistic / math.sqrt(variance) if variance > 0 else 0.0
    return float(np.median(np.concatenate(slopes))), z


def _with_shared_causes(trends: Sequence[TyreTrend]) -> tuple[TyreTrend, ...]:
    """Mark the leaks that at least two other tyres follow at a good part of the rate."""
    share = data_table("fit_checks")["slow_leak"]["shared_fall"]
    marked = []
    for trend in trends:
        others = [
            other.kpa_per_30_days
            for other in trends
            if other is not trend and not math.isnan(other.kpa_per_30_days)
        ]
        shared = bool(
            trend.slow_leak
            and len(others) >= 2
            and float(np.median(others)) <= share * trend.kpa_per_30_days
        )
        marked.append(replace(trend, shared=shared))
    return tuple(marked)


def _missing(
    tyres: Sequence[str], names: NDArray[np.str_], days: Days, all_days: Days
) -> tuple[MissingDays, ...]:
    found = []
    for tyre in tyres:
        absent = np.setdiff1d(all_days, days[names == tyre])
        if absent.size:
            found.append(MissingDays(tyre, _as_text(absent)))
    return tuple(found)


def _as_text(days: Days) -> tuple[str, ...]:
    return tuple(str(day) for day in days)
