"""What a log of cold tyre pressures shows: readings, trends, gaps, and each tyre in a line."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.setups.fit_pressure import is_set_lower
from terrain.sources import data_table

__all__ = ["MissingDays", "OutOfRange", "PressureReport", "TyreState", "TyreTrend"]


@dataclass(frozen=True, slots=True)
class OutOfRange:
    """One cold reading outside the charted range, all pressures in kPa; ``row`` counts from 0.

    ``charted_kpa`` and ``permitted_kpa`` (what the machine file sets or permits) may be NaN. Under
    ``band_tracks`` no pressure below the chart is in order.
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
    band_tracks: bool = False

    @property
    def set_lower(self) -> bool:
        """Whether the machine file sets or permits this pressure below the chart: a question."""
        if self.run_flat or self.band_tracks or self.side == "above":
            return False
        return is_set_lower(self.pressure_kpa, self.charted_kpa, self.permitted_kpa)

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
    def to_mend(self) -> bool:
        """Whether a reading is out of range beyond what the machine file has, or a tyre leaks."""
        return bool(self.slow_leaks) or any(not bad.set_lower for bad in self.out_of_range)

    @property
    def slow_leaks(self) -> tuple[TyreTrend, ...]:
        """The trends that are slow leaks."""
        return tuple(trend for trend in self.trends if trend.slow_leak)
