"""Every setup at every station: traction reserve and nominal ground pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.results import Evaluation
from terrain.mechanics import demand, loads, traction
from terrain.mechanics.mounted import Mounted, mounted
from terrain.models.aids import Setup
from terrain.models.machine import Load, Machine
from terrain.models.settings import Settings
from terrain.units import kn_from_kg

__all__ = ["Carried", "carried", "evaluate", "group_loads", "setup_facts"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Carried:
    """A setup worked out on a machine: contacts, masses, payload within the ratings.

    ``load`` is the full load cut down to what the rated masses leave; None without load.
    """

    setup: Setup
    machine: Machine
    groups: tuple[Mounted, Mounted]
    load: Load | None

    @property
    def added_mass_kg(self) -> float:
        """Mass of all aids, kg."""
        return sum(group.aid_mass_kg for group in self.groups)

    @property
    def payload_kg(self) -> float:
        """Load within the ratings, kg."""
        return self.load.mass_kg if self.load else 0.0

    @property
    def effort_cap_kn(self) -> float:
        """Driveline's largest pull at the ground, kN; infinity when the machine file has none."""
        if self.machine.max_tractive_effort_kn is None:
            return np.inf
        return min(
            float(
                demand.effort_at_radius_kn(
                    self.machine.max_tractive_effort_kn, g.group.tyre.radius_m, g.thickness_m
                )
            )
            for g in self.groups
            if g.group.driven
        )


def carried(setup: Setup, machine: Machine) -> Carried:
    """Work out what a kept setup weighs and how much load it leaves."""
    groups = (mounted(machine.front, setup.front), mounted(machine.rear, setup.rear))
    load = machine.load
    if load is not None:
        room = loads.payload_within_ratings_kg(
            machine.unladen_front_kg + groups[0].aid_mass_kg,
            machine.unladen_rear_kg + groups[1].aid_mass_kg,
            load.centre_ahead_of_rear_m,
            machine.wheelbase_m,
            _rated_kg(groups[0]),
            _rated_kg(groups[1]),
            _or_inf(machine.rated_gross_mass_kg),
        )
        # only the carried share rests on the wheels; the rest drags on the ground
        allowed = float(room) / load.carried_share if load.carried_share > 0 else np.inf
        load = Load(
            min(load.mass_kg, allowed),
            load.centre_ahead_of_rear_m,
            load.centre_height_m,
            load.carried_share,
            load.drag_coefficient,
            load.pull_height_m,
        )
    return Carried(setup, machine, groups, load)


def _rated_kg(group: Mounted) -> float:
    """Smaller of the axle's rating and its tyres' ratings together; infinity where unknown."""
    tyre = group.group.tyre.rated_load_kg
    tyres = np.inf if tyre is None else tyre * group.tyres
    return min(_or_inf(group.group.rated_mass_kg), tyres)


def _or_inf(value: float | None) -> float:
    return np.inf if value is None else value


def group_loads(
    item: Carried, laden: bool, grade: Floats, cross: Floats
) -> tuple[Floats, Floats, float]:
    """Loads of the groups (n, 2) in kN, drag (n,) in kN, height of the centre of gravity in m.

    ``grade`` is in the direction of travel; the front group leads both ways.
    """
    m = item.machine
    front_radius = m.front.tyre.radius_m
    masses = [m.unladen_mass_kg, item.groups[0].aid_mass_kg, item.groups[1].aid_mass_kg]
    x = [m.unladen_front_kg / m.unladen_mass_kg * m.wheelbase_m, m.wheelbase_m, 0.0]
    height = [m.cg_height_m, front_radius, m.rear.tyre.radius_m]
    pull: Floats = np.zeros_like(grade)
    pull_height = 0.0
    if laden and item.load is not None:
        masses.append(item.load.mass_kg * item.load.carried_share)
        x.append(item.load.centre_ahead_of_rear_m)
        height.append(item.load.centre_height_m)
        dragged = kn_from_kg(item.load.mass_kg * (1 - item.load.carried_share))
        pull = loads.drag_pull_kn(dragged, item.load.drag_coefficient, grade)
        pull_height = item.load.pull_height_m
    mass, centre, cg_height = loads.combine(masses, x, height)
    front, rear = loads.axle_loads_kn(
        kn_from_kg(mass),
        centre,
        cg_height,
        m.wheelbase_m,
        grade,
        np.maximum(pull, 0.0),
        pull_height,
        cross,
    )
    return np.stack([front, rear], axis=-1), pull, float(cg_height)


def evaluate(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> tuple[Evaluation, pd.Series]:
    """Fill the dense arrays for every station and setup.

    Parameters
    ----------
    stations : DataFrame
        With ``grade``, ``cross_slope``, ``cone_index_kpa``, ``bearing_kpa``, ``length_m``.
    items : sequence of Carried
        The kept setups.
    settings : Settings
        Slip limit, surface film.

    Returns
    -------
    Evaluation
    Series
        Work against motion resistance of one loaded and one empty trip over all assessed metres,
        MJ, by setup. It rests on the towed resistance; grade work is left out because it differs
        between setups by their mass alone.

    Notes
    -----
    A setup passes where the machine holds loaded toward the landing and empty away from it. A
    machine without load is looked at with its one mass in both directions. The front group leads
    both ways. Pressure is that of the downhill side on the cross slope, the larger of the groups
    and of the two states.
    """
    n = len(stations)
    grade = stations["grade"].to_numpy(dtype=float)
    cross = stations["cross_slope"].to_numpy(dtype=float)
    cone_index = stations["cone_index_kpa"].to_numpy(dtype=float)
    bearing = stations["bearing_kpa"].to_numpy(dtype=float)
    length = stations["length_m"].to_numpy(dtype=float)
    shape = (n, len(items))
    reserve = np.full((2, *shape), np.nan)
    cause = np.zeros((2, *shape), dtype=np.int8)
    pressure = np.full(shape, np.nan)
    outside = np.zeros(shape, dtype=bool)
    work = {}
    for k, item in enumerate(items):
        force = np.zeros(n)
        pressures = []
        for state, laden in enumerate((True, False)):
            travel = grade if laden else -grade
            group_load, drag, cg_height = group_loads(item, laden, travel, cross)
            ratios = _ratios(item, cone_index, group_load, settings)
            balance = demand.grip_balance(
                group_load,
                ratios.gross,
                ratios.resistance,
                ratios.towed,
                np.array([g.group.driven for g in item.groups]),
                travel,
                cross,
                item.effort_cap_kn,
                drag,
            )
            reserve[state, :, k] = balance.reserve_ratio
            cause[state, :, k] = _cause(balance.binding, travel, laden)
            _, downhill = loads.side_shares(cross, cg_height, item.machine.track_gauge_m)
            heavier = 2 * downhill / loads.normal_share(0.0, cross)
            pressures += [
                g.nominal_pressure_kpa(group_load[:, i]) * heavier
                for i, g in enumerate(item.groups)
            ]
            for i, g in enumerate(item.groups):
                outside[:, k] |= g.outside_brixius(group_load[:, i])
            force += (group_load * ratios.towed).sum(axis=-1)
        pressure[:, k] = np.max(pressures, axis=0)
        assessed = np.isfinite(reserve[:, :, k]).all(axis=0)
        work[item.setup.id] = float((length * force)[assessed].sum() / 1000.0)
    smaller = np.argmin(np.nan_to_num(reserve, nan=np.inf), axis=0)
    result = Evaluation(
        setups=tuple(item.setup.id for item in items),
        reserve_loaded=reserve[0],
        reserve_empty=reserve[1],
        cause=np.where(smaller == 0, cause[0], cause[1]).astype(np.int8),
        pressure_kpa=pressure,
        pressure_ratio=pressure / bearing[:, None],
        extrapolated=outside,
    )
    return result, pd.Series(work, name="work_mj", dtype=float)


@dataclass(frozen=True, slots=True)
class _Ratios:
    gross: Floats
    resistance: Floats
    towed: Floats


def _ratios(item: Carried, cone_index: Floats, group_load: Floats, settings: Settings) -> _Ratios:
    """Gross traction, resistance at the slip limit and towed resistance, each (n, 2)."""
    slip = settings.decision.slip_limit
    cap = settings.ground.film_grip_cap
    gross, resistance, towed = [], [], []
    for i, g in enumerate(item.groups):
        bn = g.mobility_number(cone_index, group_load[:, i])
        construction = g.group.tyre.construction
        ratio = traction.gross_traction_ratio(
            bn,
            slip,
            construction,
            grip_factor=g.aid.grip_factor if g.aid else 1.0,
        )
        bites = g.aid is not None and g.aid.grip_through_film
        if cap is not None and not bites:
            ratio = np.minimum(ratio, cap)
        gross.append(ratio)
        resistance.append(traction.motion_resistance_ratio(bn, slip, construction))
        towed.append(traction.towed_resistance_ratio(bn, construction))
    return _Ratios(*(np.stack(part, axis=-1) for part in (gross, resistance, towed)))


def _cause(binding: NDArray[np.int8], travel: Floats, laden: bool) -> NDArray[np.int8]:
    """Codes of :data:`terrain.decision.results.CAUSES` from what binds in one travel state."""
    empty = 0 if laden else 1
    return np.select(
        [
            binding == demand.Binding.UNKNOWN,
            binding == demand.Binding.CROSS_SLOPE,
            binding == demand.Binding.DRIVELINE,
            binding == demand.Binding.GRIP_HOLDING,
        ],
        [0, 5 + empty, 7 + empty, 2 + 2 * empty],
        default=1 + 2 * empty,
    ).astype(np.int8)


def setup_facts(items: Sequence[Carried], work_mj: pd.Series) -> pd.DataFrame:
    """What each setup weighs and presses with on the level, index setup, columns as registered."""
    level = np.zeros(1)
    rows = []
    for item in items:
        empty, _, _ = group_loads(item, False, level, level)
        laden, _, _ = group_loads(item, True, level, level)
        pressure = [
            float(item.groups[i].nominal_pressure_kpa(state[0, i]))
            for state in (empty, laden)
            for i in (0, 1)
        ]
        full = item.machine.payload_kg
        cap = item.effort_cap_kn
        rows.append(
            {
                "setup": item.setup.id,
                "added_mass_kg": item.added_mass_kg,
                "payload_kg": item.payload_kg,
                "payload_lost_kg": full - item.payload_kg,
                "ngp_front_empty_kpa": pressure[0],
                "ngp_rear_empty_kpa": pressure[1],
                "ngp_front_loaded_kpa": pressure[2],
                "ngp_rear_loaded_kpa": pressure[3],
                "effort_cap_kn": cap if np.isfinite(cap) else np.nan,
            }
        )
    table = pd.DataFrame(rows).set_index("setup")
    bare = [item.setup.id for item in items if item.setup.is_bare]
    base = work_mj[bare[0]] if bare else np.nan
    with np.errstate(divide="ignore", invalid="ignore"):
        table["work_ratio"] = work_mj / base if base and base > 0 else np.nan
    return table
