"""Second opinions on each setup: other models, stability, tyre loads, work. Never a permission.

The primary answer is the traction reserve. Here other published routes look at the same setup, so
that a planner sees how far they agree and an engineer sees where they part.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.carried import Carried, group_loads
from terrain.decision.evaluation import evaluate
from terrain.decision.peaks import mean_maximum_kpa
from terrain.decision.published_practice import beyond_published
from terrain.decision.results import Evaluation
from terrain.decision.slip import slip_of_passed
from terrain.decision.trip_work import trip_work
from terrain.decision.vehicle_cone_index import weaker_than_vehicle
from terrain.mechanics import (
    cone_index,
    contact,
    loads,
    peak_pressure,
    stability,
    traction,
    traction_checks,
)
from terrain.mechanics.mounted import Mounted
from terrain.models.settings import Settings
from terrain.units import kn_from_kg

__all__ = ["second_opinions"]

Floats = NDArray[np.float64]

TALL_GROUSER_M = 0.0381
"""Grousers from 1.5 in count as tall in the mobility index of tracks (as quoted by others)."""

_CHECK_SLIP = 0.20
"""The cross-checks are published at this slip."""
_SHEAR_MODULI_M = (0.025, 0.006)
"""Soft and stiff end of K, as quoted by others after Wong (see ``contact_length_net_ratio``)."""
_CONSISTENT = 0.03
"""Within this the first two routes agree on a forest wheel at 400 to 1500 kPa (own arithmetic)."""
_ROUTES = {
    "Turnage and Maclaurin": ("net_maclaurin",),
    "Wismer and Luth": ("net_wismer_luth",),
    "contact length of the tracks": ("net_contact_low", "net_contact_high"),
}
_NETS = ("net_brixius", "net_maclaurin", "net_wismer_luth", "net_contact_low", "net_contact_high")


def second_opinions(
    stations: pd.DataFrame, items: Sequence[Carried], evaluation: Evaluation, settings: Settings
) -> pd.DataFrame:
    """Look at every setup by other routes than the primary one.

    Parameters
    ----------
    stations : DataFrame
        With ``grade``, ``cross_slope``, ``length_m`` and ``cone_index_kpa`` with its low and high
        ends.
    items : sequence of Carried
        In the order of ``evaluation.setups``.
    evaluation : Evaluation
    settings : Settings

    Returns
    -------
    DataFrame
        Columns as ``terrain.columns.TABLES["second_opinions"]``, one row a setup. A figure whose
        inputs the machine file lacks, or that no route covers (mixed wheels and bands), is NaN.

    Notes
    -----
    Net traction is that at the setup's worst station, in the direction of travel that
    leaves less there (loaded toward the landing, or empty away from it), on its likely cone index,
    by bare strength: a surface film is left out of it, and so are an aid's
    factors on grip (which counts only under a film) and resistance. The net traction of the
    cross-checks is load-weighted over the groups like the primary one; tracked groups enter with
    the same gain in contact. By the contact length only groups with band or wheel tracks are
    reckoned, the others as in the primary model. The slip needed is that of the plan's own balance,
    films and all (:func:`terrain.decision.slip.slip_of_passed`), over the stations that the setup
    passes.
    """
    rows = []
    ends = {
        name: _short_metres(stations, items, settings, column)
        for name, column in (
            ("short_if_strong_m", "cone_index_high_kpa"),
            ("short_if_weak_m", "cone_index_low_kpa"),
        )
    }
    for k, item in enumerate(items):
        row: dict[str, object] = {"setup": item.setup.id}
        both = (evaluation.reserve_loaded[:, k], evaluation.reserve_empty[:, k])
        slip = slip_of_passed(stations, item, settings, np.minimum(*both))
        row |= {"slip_needed": slip.tightest, "slip_needed_most": slip.most}
        row |= _at_worst_station(stations, item, *both)
        row |= {name: float(metres[k]) for name, metres in ends.items()}
        found = _screening(item)
        row |= found
        vci = (found["vci1_kpa"], found["vci50_kpa"])
        row |= weaker_than_vehicle(stations, item, settings.ground, *vci)
        row |= _published(stations, item, both[0])
        row |= _stability(stations, item)
        row["tyre_load_share"] = _tyre_load_share(item)
        rows.append(row)
    work_rows = trip_work(stations, items, settings.decision.slip_limit)
    rows = [row | done for row, done in zip(rows, work_rows, strict=True)]
    return pd.DataFrame(rows, columns=list(columns_of("second_opinions")))


def _short_metres(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings, column: str
) -> Floats:
    """Metres short of traction of each setup when the cone index is that of ``column``.

    Each setup on the stations where its own reserve is known; NaN where it is known nowhere.
    """
    ground = stations.assign(cone_index_kpa=stations[column])
    again, _ = evaluate(ground, items, settings)
    short = stations["length_m"].to_numpy(float) @ (again.reserve < 0)
    return np.where(np.isfinite(again.reserve).any(axis=0), short, np.nan)


def _numbers(g: Mounted, cone: Floats, load: Floats) -> tuple[Floats, Floats, Floats]:
    """Brixius, Turnage and Wismer-Luth numbers of a group; tracks with their gain in contact."""
    tyre = g.group.tyre
    wheel = load / g.tyres
    ratio = contact.deflection_ratio(wheel, g.inflation_kpa, tyre.section_height_m)
    gain = g.area_m2 / g.bare_area_m2 if g.aid and g.aid.kind.endswith("track") else 1.0
    turnage = traction_checks.turnage_number(cone, tyre.width_m, tyre.diameter_m, wheel, ratio)
    wismer = traction_checks.wismer_luth_number(cone, tyre.width_m, tyre.diameter_m, wheel)
    return g.mobility_number(cone, load), turnage * gain, wismer * gain


def _at_worst_station(
    stations: pd.DataFrame, item: Carried, loaded: Floats, empty: Floats
) -> dict[str, object]:
    reserve = np.minimum(loaded, empty)
    if not np.isfinite(reserve).any():
        unknown = (*_NETS, "models_low", "models_high")
        return {**dict.fromkeys(unknown, np.nan), "models_word": "not assessed"}
    worst = int(np.nanargmin(reserve))
    laden = not empty[worst] < loaded[worst]
    at = stations.iloc[[worst]]
    cross = at["cross_slope"].to_numpy(float)
    grade = at["grade"].to_numpy(float) * (1.0 if laden else -1.0)
    cone = at["cone_index_kpa"].to_numpy(float)
    group_load, _, _ = group_loads(item, laden, grade, cross)
    group_load = loads.resting_loads_kn(group_load)
    total = float(group_load.sum())
    sums = np.zeros(len(_NETS))
    for i, g in enumerate(item.groups):
        load = group_load[:, i]
        share = float(load[0]) / total
        if share == 0:  # it lifts off
            continue
        kind = g.group.tyre.construction
        brixius = g.mobility_number(cone, load)
        if g.group.driven:
            sums += share * _nets_of_group(g, cone, load)
        else:
            sums -= share * float(traction.towed_resistance_ratio(brixius, kind)[0])
    nets = dict(zip(_NETS, map(float, sums), strict=True))
    if not any(_tracked(g) and g.group.driven for g in item.groups):
        nets |= {"net_contact_low": np.nan, "net_contact_high": np.nan}
    return {
        **nets,
        "models_low": float(np.nanmin([*nets.values()])),
        "models_high": float(np.nanmax([*nets.values()])),
        "models_word": _agreement(nets),
    }


def _tracked(g: Mounted) -> bool:
    return g.aid is not None and g.aid.kind in ("band track", "wheel track")


def _nets_of_group(g: Mounted, cone: Floats, load: Floats) -> Floats:
    """Net traction ratio of a driven group by the routes of ``_NETS``, shape (5,)."""
    brixius, turnage, wismer = _numbers(g, cone, load)
    kind = g.group.tyre.construction
    primary = traction.net_traction_ratio(brixius, _CHECK_SLIP, kind)
    ends = [primary, primary]
    if _tracked(g):
        ends = [
            traction_checks.contact_length_net_ratio(
                brixius, g.contact_length_m, _CHECK_SLIP, kind, shear_modulus_m=modulus
            )
            for modulus in _SHEAR_MODULI_M
        ]
    maclaurin = traction_checks.maclaurin_net_ratio(turnage)
    wismer_luth = traction_checks.wismer_luth_net_ratio(wismer, _CHECK_SLIP)
    return np.array([float(net[0]) for net in (primary, maclaurin, wismer_luth, *ends)])


def _agreement(nets: dict[str, float]) -> str:
    """Which routes part from the primary one, in points (1 point is 1 % of the weight)."""
    said = []
    for name, keys in _ROUTES.items():
        apart = [100 * (nets[key] - nets["net_brixius"]) for key in keys]
        if max(map(abs, apart)) > 100 * _CONSISTENT:
            said.append(f"{name} {_points(apart)}")
    if not said:
        return f"the routes agree within {100 * _CONSISTENT:.0f} points"
    return "the routes part: " + ", ".join(said)


def _points(apart: list[float]) -> str:
    sides = ["higher" if points > 0 else "lower" for points in apart]
    if len({*sides}) > 1:
        return " to ".join(f"{abs(p):.0f} points {s}" for p, s in zip(apart, sides, strict=True))
    ends = dict.fromkeys(f"{abs(points):.0f}" for points in apart)
    return f"{' to '.join(ends)} points {sides[0]}"


def _screening(item: Carried) -> dict[str, float]:
    """Vehicle cone index and mean maximum pressure, loaded; NaN for mixed running gear.

    The vehicle cone index of band tracks has a form of its own, made for tracked vehicles. It asks
    for the area of one shoe and the height of the grousers
    (:func:`terrain.mechanics.cone_index.mobility_index_tracks`): only a catalogue with the
    supplier's figures holds them. Its figure for fifty passes is from memory.
    """
    machine = item.machine
    result = dict.fromkeys(("vci1_kpa", "vci50_kpa", "mmp_kpa", "limiting_ci_kpa"), np.nan)
    gross = item.empty_mass_kg + item.resting_load_kg
    axles = machine.wheels // 2
    tyre = machine.rear.tyre
    same = machine.front.tyre.designation == tyre.designation
    wheel = float(kn_from_kg(gross)) / machine.wheels
    # a band asks for the charted pressure, so a soft tyre earns nothing under it
    inflation = float(np.max([g.inflation_kpa for g in item.groups]))
    ratio = contact.deflection_ratio(wheel, inflation, tyre.section_height_m)
    kinds = {g.aid.kind if g.aid else "bare" for g in item.groups}
    driven = sum(g.group.wheels // 2 for g in item.groups if g.group.driven)
    if not same or driven != axles:
        return result
    if kinds <= {"bare", "chains"} and len(kinds) == 1:
        result["mmp_kpa"] = mean_maximum_kpa(item, True)
        if machine.ground_clearance_m is not None and machine.engine_power_kw is not None:
            index = cone_index.mobility_index_wheels(
                gross,
                axles,
                machine.wheels,
                tyre.width_m,
                tyre.diameter_m,
                machine.ground_clearance_m,
                machine.engine_power_kw,
                chains=kinds == {"chains"},
            )
            result["vci1_kpa"] = float(cone_index.vci1_wheels_kpa(index, ratio))
            result["vci50_kpa"] = float(cone_index.vci50_wheels_kpa(index))
    elif kinds == {"band track"}:
        width = min(g.aid.width_m or tyre.width_m for g in item.groups if g.aid)
        result["mmp_kpa"] = mean_maximum_kpa(item, True)
        aids = [g.aid for g in item.groups if g.aid is not None]
        shoes = [aid.shoe_area_m2 for aid in aids if aid.shoe_area_m2 is not None]
        grousers = [aid.grouser_height_m for aid in aids if aid.grouser_height_m is not None]
        power, clearance = machine.engine_power_kw, machine.ground_clearance_m
        if len(shoes) == len(grousers) == len(aids) and power and clearance:
            index = cone_index.mobility_index_tracks(
                gross,
                width,
                sum(g.area_m2 for g in item.groups),
                min(shoes),
                machine.wheels,
                clearance,
                power,
                tall_grousers=min(grousers) >= TALL_GROUSER_M,
            )
            result["vci1_kpa"] = float(cone_index.vci1_tracks_kpa(index))
            result["vci50_kpa"] = float(cone_index.vci50_tracks_kpa(index))
    result["limiting_ci_kpa"] = float(
        peak_pressure.limiting_cone_index_from_pressure_kpa(result["mmp_kpa"])
    )
    return result


def _stability(stations: pd.DataFrame, item: Carried) -> dict[str, float]:
    """Cross slope from which to check the side stability, and the metres that reach it."""
    machine, load = item.machine, item.machine.load
    heights = [machine.cg_height_m]
    if load is not None:
        masses = [machine.unladen_mass_kg, load.mass_kg * load.carried_share]
        _, _, height = loads.combine(masses, 0.0, [machine.cg_height_m, load.centre_height_m])
        heights.append(float(height))
    # of the machine without aids: their low mass is never credited with side stability
    check = float(stability.lateral_check_slope(max(heights), machine.track_gauge_m))
    over = stations["cross_slope"].abs().to_numpy(float) >= check
    return {
        "check_cross_slope": check,
        "check_cross_m": float(stations["length_m"].to_numpy()[over].sum()),
    }


def _tyre_load_share(item: Carried) -> float:
    """Largest wheel load over the rated load of its tyre, loaded, level; NaN without ratings.

    NaN too where a tyre is set below the pressure that its rating holds for. Dual tyres: the inner
    tyre as if it carried the whole wheel load; the outer's rating is unknown.
    """
    level = np.zeros(1)
    group_load, _, _ = group_loads(item, True, level, level)
    shares = [
        float(group_load[0, i]) / g.group.wheels / float(kn_from_kg(g.group.tyre.rated_load_kg))
        for i, g in enumerate(item.groups)
        if g.group.tyre.rated_load_kg and g.rated_load_holds
    ]
    return max(shares) if len(shares) == len(item.groups) else np.nan


def _published(stations: pd.DataFrame, item: Carried, reserve_loaded: Floats) -> dict[str, object]:
    """Loaded travel beyond published work of a cable skidder; empty for other machines."""
    beyond = beyond_published(stations, item, reserve_loaded)
    if beyond is None:
        names = ("published_descent", "published_climb", "beyond_published_m", "beyond_passed_m")
        return dict.fromkeys(names, np.nan)
    return {
        "published_descent": -beyond.down,
        "published_climb": beyond.up,
        "beyond_published_m": beyond.metres,
        "beyond_passed_m": beyond.passed_m,
    }
