"""What a gauge says about a cold tyre: in order, a shortfall, a question, or run flat.

A tyre that lost much air is inspected, never inflated. A tyre may also have been set below its
chart on purpose: where the machine file sets or permits such a pressure, the share that counts as
run flat is taken of that pressure, and the shortfall against the chart is asked about. Pressures
are cold, in kPa. The figures stand in ``terrain/data/fit_checks.toml``.
"""

from __future__ import annotations

import math
from dataclasses import replace

from terrain.models.aids import AidKind
from terrain.models.machine import Tyre
from terrain.setups.fit import FitFinding, System, pressure_in_words
from terrain.setups.layouts import is_known
from terrain.sources import data_table

__all__ = [
    "OVER_INFLATION",
    "RUN_FLAT",
    "UNDER_INFLATION",
    "beside_the_file",
    "inflation",
    "is_run_flat",
    "is_set_lower",
    "permitted_kpa",
    "run_flat_advice",
    "shortfall_advice",
]

UNDER_INFLATION = (
    "Too little air costs load capacity, lets the rim slip in the tyre, tears valve stems and "
    "heats the carcass."
)
OVER_INFLATION = (
    "Too much air shortens the contact, so the ground pressure rises; never go above the figure "
    "printed on the sidewall."
)
RUN_FLAT = (
    "Do not drive and do not put air in: a tyre that ran nearly flat may be torn inside and burst "
    "when it is inflated. Keep away from it; have a trained tyre fitter take it off and inspect it."
)


def permitted_kpa(tyre: Tyre, kind: AidKind | None = None) -> float:
    """Return the lowest pressure in kPa that the machine file sets or permits for a tyre.

    ``kind`` is that of the aid on it. ``lowest_inflation_kpa`` counts for bare and dual tyres only:
    under chains and tracks a tyre is not let down (practice of the trade, no source).
    """
    let_down = kind is None or kind == "dual tyres"
    lowest = tyre.lowest_inflation_kpa if let_down else None
    return min(tyre.inflation_kpa, lowest) if is_known(lowest) else tyre.inflation_kpa


def inflation(
    measured_kpa: float | None,
    charted_kpa: float | None,
    *,
    permitted_kpa: float | None = None,
    band_tracks: bool = False,
    system: System = "metric",
    where: str = "",
) -> FitFinding:
    """Compare a cold pressure with the charted one, within the reading error of a hand gauge.

    A tyre that counts as run flat, see :func:`is_run_flat`, is never told to be inflated. One that
    stands below its chart but not below ``permitted_kpa``, the pressure that the machine file sets
    or permits, is asked about: nobody can tell from the gauge whether that was on purpose. Under
    band tracks it is not in order, since the plan counts on the charted pressure there.
    """
    check, row = "cold tyre pressure", data_table("fit_checks")["pressure"]
    tracks = (
        " Under band tracks suppliers mostly ask for the highest pressure charted for the tyre."
        if band_tracks
        else ""
    )
    measured = pressure_in_words(measured_kpa, system)
    value = measured_kpa if is_known(measured_kpa) else math.nan
    if is_run_flat(measured_kpa, charted_kpa, permitted_kpa):
        basis = data_table("fit_checks")["run_flat"]["status"]
        allowed = _run_flat_from(charted_kpa, permitted_kpa, system)
        todo = run_flat_advice(value)
        return FitFinding(check, False, measured, allowed, todo, where, value, "kPa", basis)
    if not is_known(charted_kpa):
        todo = "Look up the pressure charted for the wheel load and compare with the sidewall."
        return FitFinding(
            check, None, measured, "charted pressure not given", todo + tracks, where, value, "kPa"
        )
    allowed = (
        f"{pressure_in_words(charted_kpa, system)} as charted, "
        f"give or take {100 * row['tolerance']:.0f} %"
    )
    if not is_known(measured_kpa):
        todo = "Measure it cold." + tracks
        return FitFinding(check, None, measured, allowed, todo, where)
    slack = row["tolerance"] * charted_kpa * (1 + 1e-9)
    ok: bool | None = abs(measured_kpa - charted_kpa) <= slack
    if ok:
        todo = "Nothing; check daily where the machine does not watch it."
    elif measured_kpa < charted_kpa:
        todo = shortfall_advice(
            measured_kpa, charted_kpa, permitted_kpa, band_tracks=band_tracks, system=system
        )
        if not band_tracks and is_set_lower(measured_kpa, charted_kpa, permitted_kpa):
            ok = None
    else:
        todo = f"Let air out to {pressure_in_words(charted_kpa, system)}. {OVER_INFLATION}"
    return FitFinding(
        check, ok, measured, allowed, todo + tracks, where, value, "kPa", row["status"]
    )


def beside_the_file(
    finding: FitFinding,
    charted_kpa: float | None,
    file_kpa: float | None,
    *,
    system: System = "metric",
) -> FitFinding:
    """Name the chart of the machine file in a finding that was made with another one.

    ``charted_kpa`` is the one given in its place, in ``system``; ``finding`` comes back as it is
    where either is unknown, or both are the same figure in that system.
    """
    if not is_known(charted_kpa) or not is_known(file_kpa):
        return finding
    given, file = (pressure_in_words(kpa, system) for kpa in (charted_kpa, file_kpa))
    if given.split(" (")[0] == file.split(" (")[0]:
        return finding
    return replace(
        finding,
        allowed=f"{finding.allowed}; the machine file has {file} as charted",
        what_to_do=(
            f"{finding.what_to_do} Judged by {given}, though the machine file has {file} as "
            "charted: find out which one holds for the wheel load, and correct the other."
        ),
    )


def is_run_flat(
    pressure_kpa: float | None, charted_kpa: float | None, permitted_kpa: float | None = None
) -> bool:
    """Tell whether a cold pressure is so low that the tyre counts as run flat.

    At or below the share in ``fit_checks.toml``, row ``run_flat``, of the charted pressure, or of
    ``permitted_kpa`` where that is lower; or below the row's floor, which needs neither. False
    where nothing was measured.
    """
    row = data_table("fit_checks")["run_flat"]
    if not is_known(pressure_kpa):
        return False
    known = [kpa for kpa in (charted_kpa, permitted_kpa) if is_known(kpa)]
    if pressure_kpa < row["floor_kpa"]:
        return True
    return bool(known) and pressure_kpa <= row["share"] * min(known) * (1 + 1e-9)


def is_set_lower(
    pressure_kpa: float, charted_kpa: float | None, permitted_kpa: float | None
) -> bool:
    """Tell whether a cold pressure short of its chart is one that the machine file has.

    It is no more than the reading error below ``permitted_kpa``, and that is below the chart.
    """
    if not (is_known(charted_kpa) and is_known(permitted_kpa)) or permitted_kpa >= charted_kpa:
        return False
    tolerance = data_table("fit_checks")["pressure"]["tolerance"]
    return permitted_kpa - pressure_kpa <= tolerance * permitted_kpa * (1 + 1e-9)


def shortfall_advice(
    pressure_kpa: float,
    charted_kpa: float,
    permitted_kpa: float | None = None,
    *,
    band_tracks: bool = False,
    system: System = "metric",
) -> str:
    """Say what to do with a tyre that stands below its chart and does not count as run flat.

    Where the machine file has a lower pressure the first sentence is a question. Whoever answers
    it with no puts air in only while the tyre is not run flat by its chart.
    """
    chart = pressure_in_words(charted_kpa, system)
    flat = is_run_flat(pressure_kpa, charted_kpa)
    asked = is_known(permitted_kpa) and permitted_kpa < charted_kpa
    if not asked or (band_tracks and not flat):
        return f"Inflate to {chart}. {UNDER_INFLATION}"
    unasked = f"If nobody set it so: {RUN_FLAT[0].lower()}{RUN_FLAT[1:]}"
    if band_tracks:
        return f"Set on purpose? Then set {chart} before the band tracks are worked with. {unasked}"
    file = pressure_in_words(permitted_kpa, system)
    said = [
        f"Set on purpose? The chart asks {chart} for the rated load; at a lower pressure the tyre "
        "carries less: ask for its load table."
    ]
    if not is_set_lower(pressure_kpa, charted_kpa, permitted_kpa):
        said.append(f"It falls short of the {file} in the machine file as well.")
    said.append(unasked if flat else f"If nobody set it so, inflate to {chart}. {UNDER_INFLATION}")
    return " ".join(said)


def run_flat_advice(pressure_kpa: float) -> str:
    """Say what to do with a tyre that counts as run flat."""
    if pressure_kpa >= data_table("fit_checks")["run_flat"]["floor_kpa"]:
        return (
            f"{RUN_FLAT} If it was set so low on purpose, compare with the pressure charted for "
            "that load."
        )
    return RUN_FLAT


def _run_flat_from(charted: float | None, permitted: float | None, system: System) -> str:
    """The pressure from which a tyre counts as run flat, in words."""
    row = data_table("fit_checks")["run_flat"]
    share = f"{100 * row['share']:.0f} % of it and less counts as run flat"
    if is_known(permitted) and not (is_known(charted) and charted <= permitted):
        chart = f"{pressure_in_words(charted, system)} as charted; " if is_known(charted) else ""
        return f"{chart}{pressure_in_words(permitted, system)} in the machine file; {share}"
    if is_known(charted):
        return f"{pressure_in_words(charted, system)} as charted; {share}"
    floor = pressure_in_words(row["floor_kpa"], system)
    return f"not below {floor}; charted pressure not given"
