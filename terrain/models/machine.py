"""A wheeled forest machine as the planner describes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["AxleGroup", "Crane", "Load", "Machine", "MachineKind", "Tyre"]

MachineKind = Literal["forwarder", "skidder", "harvester", "feller-buncher"]


@dataclass(frozen=True, slots=True)
class Tyre:
    """One tyre size with its geometry (metres) and inflation (kPa, cold).

    ``designation`` is the standard size designation (ISO 4251 / ETRTO style), e.g. 710/45-26.5.
    ``charted_inflation_kpa`` is the pressure charted for the full wheel load; ``rated_load_kg``
    the load a tyre may carry at that pressure. ``lowest_inflation_kpa`` is how far down the tyre's
    chart lets the pressure go under the same load. All three are None when the planner does not
    know.
    """

    designation: str
    width_m: float
    diameter_m: float
    section_height_m: float
    inflation_kpa: float
    charted_inflation_kpa: float | None = None
    rated_load_kg: float | None = None
    construction: Literal["bias", "radial"] = "bias"
    liquid_ballast: bool = False
    lowest_inflation_kpa: float | None = None

    @property
    def radius_m(self) -> float:
        """Unloaded radius in metres."""
        return self.diameter_m / 2


@dataclass(frozen=True, slots=True)
class AxleGroup:
    """A single axle (2 wheels) or a bogie (4 wheels); ``name`` is ``front`` or ``rear``."""

    name: Literal["front", "rear"]
    kind: Literal["single", "bogie"]
    tyre: Tyre
    driven: bool = True
    bogie_spacing_m: float | None = None
    rated_mass_kg: float | None = None

    @property
    def wheels(self) -> int:
        """Number of wheels, both sides."""
        return 4 if self.kind == "bogie" else 2


@dataclass(frozen=True, slots=True)
class Load:
    """What the machine brings to the landing.

    A carried load (forwarder) has ``carried_share`` 1. A dragged load (skidder) rests on the
    machine with ``carried_share`` of its weight; the rest drags on the ground with
    ``drag_coefficient`` (pull over weight on the ground) at ``pull_height_m``.
    ``centre_ahead_of_rear_m`` is where the load, or the carried end, bears: metres ahead of the
    rear axle or bogie centre, negative behind it.
    """

    mass_kg: float
    centre_ahead_of_rear_m: float
    centre_height_m: float
    carried_share: float = 1.0
    drag_coefficient: float = 0.0
    pull_height_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Crane:
    """A crane that is out to one reach with one load; kg and m, all from the planner's papers.

    ``column_ahead_of_rear_m`` is the axis about which it slews, metres ahead of the rear group
    (negative behind it). ``lifted_mass_kg`` hangs ``reach_m`` from that axis, from a tip
    ``tip_height_m`` above the ground. ``boom_mass_kg`` are the booms with their grapple or felling
    head, without the column: a part of the machine's unladen mass. Its centre is ``boom_reach_m``
    from the axis and ``boom_height_m`` above the ground at that reach, and at the stowed place in
    the position of transport, for which the unladen figures of the machine hold.
    """

    column_ahead_of_rear_m: float
    reach_m: float
    lifted_mass_kg: float
    tip_height_m: float
    boom_mass_kg: float
    boom_reach_m: float
    boom_height_m: float
    boom_stowed_ahead_of_rear_m: float
    boom_stowed_height_m: float


@dataclass(frozen=True, slots=True)
class Machine:
    """Two axle groups, front and rear, with masses in kg and lengths in metres.

    ``unladen_mass_kg`` is ready to work without load and without any traction aid;
    ``unladen_front_kg`` is the part of it on the front group. ``load`` is None for a machine that
    carries no timber (harvester, feller-buncher). ``max_tractive_effort_kn`` is the driveline's
    largest pull at the rim on bare tyres; None when unknown (then no driveline cap is applied and
    the report says so). ``crane`` is None where the planner gave no figures of one; nothing of its
    work is computed then.
    """

    name: str
    kind: MachineKind
    groups: tuple[AxleGroup, AxleGroup]
    unladen_mass_kg: float
    unladen_front_kg: float
    wheelbase_m: float
    track_gauge_m: float
    width_m: float
    cg_height_m: float
    load: Load | None
    max_tractive_effort_kn: float | None = None
    rated_gross_mass_kg: float | None = None
    engine_power_kw: float | None = None
    ground_clearance_m: float | None = None
    invented: bool = False
    notes: str = ""
    crane: Crane | None = None

    @property
    def front(self) -> AxleGroup:
        """The front axle group."""
        return self.groups[0]

    @property
    def rear(self) -> AxleGroup:
        """The rear axle group."""
        return self.groups[1]

    @property
    def wheels(self) -> int:
        """Number of wheels: 4, 6 or 8."""
        return sum(group.wheels for group in self.groups)

    @property
    def unladen_rear_kg(self) -> float:
        """Unladen mass on the rear group, kg."""
        return self.unladen_mass_kg - self.unladen_front_kg

    @property
    def payload_kg(self) -> float:
        """Full load in kg, 0 for a machine that carries none."""
        return self.load.mass_kg if self.load else 0.0
