"""A setup worked out on a machine: contacts, masses, the load within the ratings, axle loads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from terrain.mechanics import demand, loads, stability
from terrain.mechanics.mounted import Mounted, mounted
from terrain.models.aids import Setup
from terrain.models.machine import Load, Machine
from terrain.units import kn_from_kg

__all__ = [
    "Carried",
    "Stance",
    "carried",
    "group_loads",
    "low_places",
    "resting",
    "resting_cases",
    "stance_of",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Carried:
    """A setup worked out on a machine: contacts, masses, payload within the ratings.

    ``load`` is the full load cut down to what the rated masses leave on level ground, its pull
    included; None without load. It is an upper bound where a tyre is set below the pressure that
    its rating is charted for: that tyre carries less, how much only its load table says.
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
    def empty_mass_kg(self) -> float:
        """Machine ready to work with its aids, without load, kg."""
        return self.machine.unladen_mass_kg + self.added_mass_kg

    @property
    def payload_kg(self) -> float:
        """Load within the ratings, kg."""
        return self.load.mass_kg if self.load else 0.0

    @property
    def resting_load_kg(self) -> float:
        """Part of the load that rests on the wheels, kg; the rest of a dragged one does not."""
        return self.load.mass_kg * self.load.carried_share if self.load else 0.0

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

    def carrying(self, mass_kg: float) -> Carried:
        """The same setup with another mass of the load; itself where there is no load."""
        if self.load is None:
            return self
        return replace(self, load=replace(self.load, mass_kg=mass_kg))


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
            carried_share=load.carried_share,
            drag_coefficient=load.drag_coefficient,
            pull_height_m=load.pull_height_m,
        )
        load = replace(load, mass_kg=min(load.mass_kg, float(room)))
    return Carried(setup, machine, groups, load)


def _rated_kg(group: Mounted) -> float:
    """Smaller of the axle's rating and its tyres' ratings together; infinity where unknown.

    Of dual tyres only the inner ones count: the outer tyre is smaller and its rating is not known.
    """
    tyre = group.group.tyre.rated_load_kg
    tyres = np.inf if tyre is None else tyre * group.group.wheels
    return min(_or_inf(group.group.rated_mass_kg), tyres)


def _or_inf(value: float | None) -> float:
    return np.inf if value is None else value


@dataclass(frozen=True, slots=True)
class Stance:
    """Slopes (ratios) between which the machine stands on all wheels; see :func:`stance_of`.

    ``front_lifts`` and ``rear_lifts`` are signed grades in the direction of travel, (n,);
    ``side_lifts`` is the size of the cross slope, the same everywhere.
    """

    front_lifts: Floats
    rear_lifts: Floats
    side_lifts: float

    def left(self, grade: Floats, cross: Floats) -> tuple[Floats, Floats]:
        """How much steeper (ratio) until an axle group and until the uphill wheels lift.

        ``grade`` is in the direction of travel. Negative beyond, NaN where a slope is not known.
        """
        along = np.minimum(self.front_lifts - grade, grade - self.rear_lifts)
        return along, self.side_lifts - np.abs(cross)


def stance_of(item: Carried, laden: bool, grade: Floats, cross: Floats) -> Stance:
    """Slopes at which a rigid machine would begin to lift wheels: the one rule of every result.

    ``grade`` is in the direction of travel. The smallest of the zeros of :func:`group_loads`, which
    has the aids where they sit and the load within the ratings, and of those that credit nothing:
    without the aids, with them no lower than the machine's own centre of gravity, under the
    machine's full load and under that within the ratings, a drag never counted as steadying. So no
    aid, and no load that an aid has cut, ever lets a machine stand on a steeper slope. What to
    check with the maker is :mod:`terrain.decision.stability_checks`, far below these slopes. A
    cross slope that is not known lightens nothing.
    """
    m = item.machine
    looked_at = resting_cases(item, (item.load, m.load) if laden else (None,))
    front, rear, side = np.full(grade.shape, np.inf), np.full(grade.shape, -np.inf), np.inf
    for mass, centre, height, on_ground, *drag in looked_at:
        arms = (centre, height, m.wheelbase_m)
        pull = (on_ground / mass, *drag)
        up, down = stability.longitudinal_tip_slopes(*arms, *pull)
        lifts = stability.lift_off_grades(*arms, grade, cross, *pull)
        front = np.fmin(np.fmin(front, up), lifts[0])
        rear = np.fmax(np.fmax(rear, -down), lifts[1])
        side = min(side, float(stability.lateral_tip_slope(height, m.track_gauge_m)))
    return Stance(front, rear, side)


def resting_cases(
    item: Carried, carries: Iterable[Load | None]
) -> set[tuple[float, float, float, float, float, float]]:
    """What may rest on the wheels when no aid is to be credited; alike ones once.

    For every load the machine without its aids, with them as high as its own centre of gravity, and
    with them where they sit. Each is mass on the wheels (kg), its centre ahead of the rear group,
    its height (m), mass on the ground (kg), drag coefficient and height of the pull (m).
    """
    own = (item.machine.cg_height_m, item.machine.cg_height_m)
    return {
        (*resting(item, load, places), *_drag(load))
        for load in carries
        for places in (None, own, low_places(item))
    }


def _drag(load: Load | None) -> tuple[float, float, float]:
    """Mass on the ground (kg), its drag coefficient, height of the pull (m)."""
    if load is None:
        return 0.0, 0.0, 0.0
    return load.mass_kg * (1 - load.carried_share), load.drag_coefficient, load.pull_height_m


def low_places(item: Carried) -> tuple[float, float]:
    """Heights (m) at which the aids of the groups sit."""
    return item.machine.front.tyre.radius_m, item.machine.rear.tyre.radius_m


def resting(
    item: Carried, load: Load | None, aid_heights_m: tuple[float, float] | None
) -> tuple[float, float, float]:
    """Mass on the wheels (kg), its centre ahead of the rear group and its height (m).

    Without the aids where no heights of theirs are given.
    """
    m = item.machine
    masses = [m.unladen_mass_kg]
    x = [m.unladen_front_kg / m.unladen_mass_kg * m.wheelbase_m]
    height = [m.cg_height_m]
    if aid_heights_m is not None:
        masses += [group.aid_mass_kg for group in item.groups]
        x += [m.wheelbase_m, 0.0]
        height += aid_heights_m
    if load is not None:
        masses.append(load.mass_kg * load.carried_share)
        x.append(load.centre_ahead_of_rear_m)
        height.append(load.centre_height_m)
    mass, centre, high = loads.combine(masses, x, height)
    return float(mass), float(centre), float(high)


def group_loads(
    item: Carried, laden: bool, grade: Floats, cross: Floats
) -> tuple[Floats, Floats, float]:
    """Loads of the groups (n, 2) in kN, drag (n,) in kN, height of the centre of gravity in m.

    ``grade`` is in the direction of travel; the front group leads both ways. A negative load means
    that the group lifts off.
    """
    m = item.machine
    load = item.load if laden else None
    mass, centre, cg_height = resting(item, load, low_places(item))
    pull: Floats = np.zeros_like(grade)
    pull_height = 0.0
    if load is not None:
        dragged = kn_from_kg(load.mass_kg * (1 - load.carried_share))
        pull = loads.drag_pull_kn(dragged, load.drag_coefficient, grade)
        pull_height = load.pull_height_m
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
    return np.stack([front, rear], axis=-1), pull, cg_height
