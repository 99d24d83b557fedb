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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.setups.fit_pressure import is_run_flat, is_set_lower
from terrain.sources import data_table

__all__ = [
    "MissingDays",
    "OutOfRange",
    "PressureReport",
    "TyreState",
    "TyreTrend",
    "analyse_pressures",
]

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OutOfRange:
    """One cold reading outside the charted range, all pressures in kPa; ``row`` counts from 0.

    ``charted_kpa`` and ``permitted_kpa`` (what the machine file sets or permits) may be NaN.
    """

    row: int
    day: str
    tyre: str
    pressure_kpa: float
    low_kpa: float
    high_kpa: float
    run_flat: bool = False
    charted_kpa: float = math.nan
    permitted_kpa: float = math.nan

    @property
    def set_lower(self) -> bool:
        """Whether the machine file sets or permits this pressure below the chart."""
        return self.side == "below" and is_set_lower(
            self.pressure_kpa, self.charted_kpa, self.permitted_kpa
        )

    @property
    def side(self) -> str:
        """``below`` or ``above``."""
        return "above" if self.pressure_kpa > self.high_kpa else "below"


@dataclass(frozen=True, slots=True)
class TyreTrend:
    """How the pressure of one tyre moves between refills.

    Attributes
    ----------
    tyre : str
    days_read : int
        Days with a reading.
    refills : int
        Rises that count as a refill.
    kpa_per_30_days : float
        Median slope within the runs, negative when falling; NaN with too few readings.
    z : float
        Kendall's statistic of all runs over its standard deviation; NaN with too few readings.
    slow_leak : bool or None
        None when there are too few readings to tell.
    shared : bool
        True when the other tyres fall as well, so cold mornings or the gauge may be the cause.
    days_to_low : float
        Days until the lower charted figure at this rate; 0 when already below, NaN when unknown
        or not leaking.
    """

    tyre: str
    days_read: int
    refills: int
    kpa_per_30_days: float
    z: float
    slow_leak: bool | None
    shared: bool
    days_to_low: float


@dataclass(frozen=True, slots=True)
class MissingDays:
    """Days (ISO dates) on which other tyres were read but ``tyre`` was not."""

    tyre: str
    days: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TyreState:
    """One tyre in a line: its last reading with the charted range of that day, kPa, and the rest.

    ``row`` is that of the last reading, ``highest_kpa`` the highest of all; ``out_of_range`` and
    ``missing`` go by day.
    """

    tyre: str
    readings: int
    row: int
    day: str
    pressure_kpa: float
    low_kpa: float
    high_kpa: float
    out_of_range: tuple[OutOfRange, ...]
    trend: TyreTrend
    missing: tuple[str, ...]
    highest_kpa: float = math.nan

    @property
    def has_fallen(self) -> bool:
        """Whether the last reading is below an earlier one by more than a gauge may be out."""
        tolerance = data_table("fit_checks")["pressure"]["tolerance"]
        return bool(self.pressure_kpa < (1 - tolerance) * self.highest_kpa)

    @property
    def last_out_of_range(self) -> OutOfRange | None:
        """The last reading, where it is out."""
        return next((bad for bad in self.out_of_range if bad.row == self.row), None)

    @property
    def run_flat(self) -> tuple[OutOfRange, ...]:
        """The readings at which the tyre counts as run flat."""
        return tuple(bad for bad in self.out_of_range if bad.run_flat)

    @property
    def now(self) -> str:
        """Last reading: ``nearly flat``, ``below``, ``above``, ``in range`` or ``no chart``.

        ``set lower`` where it is below the chart, but as low as the machine file has it.
        """
        last = self.last_out_of_range
        if last is not None:
            if last.run_flat:
                return "nearly flat"
            return "set lower" if last.set_lower else last.side
        charted = not (math.isnan(self.low_kpa) and math.isnan(self.high_kpa))
        return "in range" if charted else "no chart"

    @property
    def order(self) -> tuple[bool, bool, bool, bool, bool, str]:
        """Sorts the tyre that matters most first."""
        return (
            not self.run_flat,
            not self.trend.slow_leak,
            self.now not in ("below", "above", "set lower"),
            not self.out_of_range,
            self.now != "no chart",
            self.tyre,
        )


@dataclass(frozen=True, slots=True)
class PressureReport:
    """The findings of one log.

    ``silent_days`` are calendar days between the first and the last reading on which nobody read
    any tyre; whether the machine worked then, the log does not tell. ``without_chart`` names the
    tyres with a reading that could not be compared with any charted figure. ``tyres`` sums up each
    tyre, the one that matters most first.
    """

    readings: int
    first_day: str
    last_day: str
    out_of_range: tuple[OutOfRange, ...]
    trends: tuple[TyreTrend, ...]
    missing: tuple[MissingDays, ...]
    silent_days: tuple[str, ...]
    without_chart: tuple[str, ...]
    tyres: tuple[TyreState, ...]

    @property
    def slow_leaks(self) -> tuple[TyreTrend, ...]:
        """The trends that are slow leaks."""
        return tuple(trend for trend in self.trends if trend.slow_leak)


def analyse_pressures(
    day: ArrayLike,
    tyre: Sequence[str],
    pressure_kpa: ArrayLike,
    low_kpa: ArrayLike = math.nan,
    high_kpa: ArrayLike = math.nan,
    charted_kpa: ArrayLike = math.nan,
    permitted_kpa: ArrayLike = math.nan,
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
