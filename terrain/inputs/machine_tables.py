"""The keys of a machine file: one strict table per section, with their meaning and bounds."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from terrain.inputs.toml_files import StrictTable

__all__ = [
    "PLAUSIBLE",
    "CraneTable",
    "GroupTable",
    "LoadTable",
    "MachineFile",
    "MachineTable",
    "TyreTable",
]

PLAUSIBLE: dict[str, tuple[float, float]] = {
    "unladen_mass_kg": (2_000, 60_000),
    "unladen_front_kg": (500, 40_000),
    "unladen_rear_kg": (500, 40_000),
    "wheelbase_m": (1.5, 9),
    "track_gauge_m": (1, 4),
    "width_m": (1.4, 5),
    "cg_height_m": (0.4, 3),
    "max_tractive_effort_kn": (10, 800),
    "rated_gross_mass_kg": (3_000, 100_000),
    "engine_power_kw": (20, 600),
    "ground_clearance_m": (0.1, 1.5),
    "bogie_spacing_m": (0.8, 3),
    "rated_mass_kg": (1_000, 60_000),
    "tyre.width_m": (0.2, 1.5),
    "diameter_m": (0.6, 2.6),
    "section_height_m": (0.08, 0.8),
    "inflation_kpa": (40, 900),
    "charted_inflation_kpa": (40, 900),
    "lowest_inflation_kpa": (40, 900),
    "rated_load_kg": (500, 30_000),
    "mass_kg": (100, 40_000),
    "centre_height_m": (0.3, 4),
    "pull_height_m": (0, 3),
    "reach_m": (2, 20),
    "lifted_mass_kg": (50, 6_000),
    "tip_height_m": (0.5, 15),
    "boom_mass_kg": (200, 8_000),
    "boom_reach_m": (0.3, 12),
    "boom_height_m": (0.5, 10),
    "boom_stowed_height_m": (0.5, 5),
}
"""Low and high end of what a wheeled forest machine can have, in the unit of the key.

Wide planning assumptions whose only purpose is to catch a wrong unit or a lost digit.
"""


class TyreTable(StrictTable):
    """``[front.tyre]`` or ``[rear.tyre]``."""

    designation: str = Field(min_length=1, description="size as moulded on the sidewall")
    width_m: float | None = Field(None, gt=0, description="section width in metres")
    diameter_m: float | None = Field(None, gt=0, description="unloaded overall diameter in metres")
    section_height_m: float | None = Field(None, gt=0, description="bead to tread in metres")
    inflation_kpa: float = Field(gt=0, description="cold inflation pressure in kPa, 1 bar = 100")
    charted_inflation_kpa: float | None = Field(
        None, gt=0, description="pressure charted by the tyre's supplier for the full wheel load"
    )
    rated_load_kg: float | None = Field(
        None, gt=0, description="load one tyre may carry at the charted pressure"
    )
    lowest_inflation_kpa: float | None = Field(
        None, gt=0, description="lowest pressure the tyre's chart allows under the full wheel load"
    )
    construction: Literal["bias", "radial"] = Field("bias", description="carcass")
    liquid_ballast: bool = Field(False, description="true when the tyres hold water or the like")


class GroupTable(StrictTable):
    """``[front]`` or ``[rear]``: a single axle or a bogie."""

    kind: Literal["single", "bogie"] = Field(description="single axle or bogie")
    wheels: int | None = Field(None, ge=1, description="wheels, both sides: 2 or 4")
    driven: bool = Field(True, description="true when the wheels are driven")
    bogie_spacing_m: float | None = Field(
        None, gt=0, description="distance between the two wheel centres of a bogie in metres"
    )
    rated_mass_kg: float | None = Field(None, gt=0, description="rated mass of the axle or bogie")
    tyre: TyreTable = Field(description="the tyre of these wheels")


class LoadTable(StrictTable):
    """``[load]``: what the machine brings to the landing."""

    mass_kg: float = Field(gt=0, description="full load in kg")
    centre_ahead_of_rear_m: float = Field(
        description="where the load bears, metres ahead of the rear axle or bogie centre, "
        "negative behind it"
    )
    centre_height_m: float = Field(gt=0, description="height of the load's centre in metres")
    carried_share: float | None = Field(
        None, gt=0, le=1, description="share of the load's weight on the machine, 0 to 1"
    )
    drag_coefficient: float | None = Field(
        None, ge=0, le=2, description="pull over weight of the part that drags on the ground"
    )
    pull_height_m: float | None = Field(
        None, ge=0, description="height in metres at which the dragged part pulls"
    )


class CraneTable(StrictTable):
    """``[crane]``: the crane out to one reach, from its chart and the machine's papers."""

    column_ahead_of_rear_m: float = Field(
        description="axis about which the crane slews, metres ahead of the rear axle or bogie "
        "centre, negative behind it"
    )
    reach_m: float = Field(gt=0, description="from that axis to the tip in metres")
    lifted_mass_kg: float = Field(
        ge=0, description="what hangs at that reach beside grapple or head, in kg"
    )
    tip_height_m: float = Field(gt=0, description="height of the tip above the ground in metres")
    boom_mass_kg: float = Field(
        gt=0, description="booms with grapple or felling head, a part of the unladen mass, in kg"
    )
    boom_reach_m: float = Field(gt=0, description="from the axis to the centre of that mass")
    boom_height_m: float = Field(gt=0, description="height of that centre at that reach in metres")
    boom_stowed_ahead_of_rear_m: float = Field(
        description="where that centre is in transport, metres ahead of the rear, negative behind"
    )
    boom_stowed_height_m: float = Field(gt=0, description="its height in transport in metres")


class MachineTable(StrictTable):
    """``[machine]``."""

    name: str = Field(min_length=1, description="your own name for the machine")
    kind: Literal["forwarder", "skidder", "harvester", "feller-buncher"] = Field(
        description="kind of machine"
    )
    invented: bool = Field(False, description="true marks demonstration data")
    unladen_mass_kg: float = Field(gt=0, description="ready to work, no load, no traction aid")
    unladen_front_kg: float = Field(gt=0, description="part of the unladen mass on the front")
    unladen_rear_kg: float | None = Field(None, gt=0, description="part on the rear")
    wheelbase_m: float = Field(gt=0, description="front to rear axle or bogie centre in metres")
    track_gauge_m: float = Field(gt=0, description="tyre centre to tyre centre, left to right")
    width_m: float = Field(gt=0, description="overall width in metres")
    cg_height_m: float = Field(gt=0, description="height of the unladen centre of gravity")
    max_tractive_effort_kn: float | None = Field(
        None, gt=0, description="largest pull at the rim in kN"
    )
    rated_gross_mass_kg: float | None = Field(None, gt=0, description="rated gross mass in kg")
    engine_power_kw: float | None = Field(None, gt=0, description="engine power in kW")
    ground_clearance_m: float | None = Field(None, gt=0, description="clearance in metres")
    notes: str = Field("", description="free text")


class MachineFile(StrictTable):
    """A whole machine file."""

    machine: MachineTable
    front: GroupTable
    rear: GroupTable
    load: LoadTable | None = None
    crane: CraneTable | None = None
