"""The keys of a block file: one strict table per section, with their meaning and bounds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from terrain.inputs.doubt_table import DoubtTable
from terrain.inputs.emergency import EmergencyTable
from terrain.inputs.toml_files import StrictTable
from terrain.inputs.traffic_tables import (
    BrashTable,
    SiteRulesTable,
    StandTable,
    TrafficTable,
)
from terrain.inputs.water_tables import (
    BuffersTable,
    CrossingsTable,
    FlowTable,
    ReadingsTable,
    WaterTable,
)
from terrain.models.soil import MoistureState, SurfaceFilm

__all__ = ["BlockTables", "FilmTable", "GroundTable", "LayerTable", "SettingsTable"]


class BlockTable(StrictTable):
    """``[block]``."""

    name: str = Field(min_length=1, description="name of the block")
    invented: bool = Field(default=False, description="true marks demonstration data")


class LayerTable(StrictTable):
    """What every layer has: a file beside the block file, and a layer in it."""

    file: str = Field(min_length=1, description="path relative to the block file")
    layer: str | None = Field(default=None, min_length=1, description="layer name inside the file")


class DemTable(StrictTable):
    """``[dem]``."""

    file: str = Field(min_length=1, description="path relative to the block file")
    elevation_unit: Literal["m", "ft", "us-ft"] | None = Field(
        default=None, description='"m", "ft" or "us-ft"'
    )


class SoilsTable(LayerTable):
    """``[soils]``: names of columns in the layer."""

    id: str = Field(min_length=1, description="column with the polygon's name")
    soil_class: str | None = Field(default=None, description="column with the forester's class 1-4")
    drainage: str | None = Field(default=None, description="column with the USDA drainage class")
    texture: str | None = Field(default=None, description="column with the USDA texture class")
    uscs: str | None = Field(default=None, description="column with the USCS soil symbol")
    moisture_percent: str | None = Field(
        default=None, description="column with the water content, percent of dry mass"
    )
    moisture_state: MoistureState | None = Field(
        default=None, description="moisture state in which moisture_percent was found"
    )


class TrailsTable(LayerTable):
    """``[trails]``: names of columns in the layer."""

    id: str = Field(min_length=1, description="column with the trail's name")
    trail_class: str | None = Field(default=None, description="column with the trail's class")
    volume_m3: str | None = Field(default=None, description="column with the volume in solid m3")
    width_m: str | None = Field(default=None, description="column with the trail's width in metres")
    landing: str | None = Field(default=None, description="column with the assigned landing")
    film: str | None = Field(
        default=None, description="column with the surface film, where it is not the block's"
    )
    snap_m: float = Field(default=3.0, gt=0, le=50, description="ends this near are joined, metres")


class LandingsTable(LayerTable):
    """``[landings]``."""

    id: str = Field(min_length=1, description="column with the landing's name")


class FileTable(StrictTable):
    """``[machine]`` or ``[aids]``: another TOML file."""

    file: str = Field(min_length=1, description="path relative to the block file")


class MachineTable(FileTable):
    """``[machine]``: the machine of the run, and others to hold beside it."""

    compare: list[Annotated[str, Field(min_length=1)]] = Field(
        default=[], description="more machine files, relative to the block file"
    )


class GroundTable(StrictTable):
    """``[ground]``: the state that somebody chose for this run."""

    state: MoistureState = Field(default="moist", description="moisture state of the ground")
    film: SurfaceFilm = Field(
        default="bare mineral", description="what lies on the ground's surface"
    )
    film_grip_cap: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="gross traction ratio of plain tyres on the film, 0 to 1",
    )
    film_grip_cap_with_aids: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="the same of chains and tracks on packed snow or ice, 0 to 1",
    )
    film_cap_source: str = Field(default="", description="where your figures come from")
    frost_depth_m: float | None = Field(
        default=None, gt=0, le=3, description="verified depth of frost"
    )
    frost_verified_by: str = Field(default="", description="who verified the frost in the field")
    remoulding_index: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="strength of the kneaded soil over its cone index, 0 to 1",
    )
    remoulding_source: str = Field(default="", description="who measured it, where and how")


class FilmTable(StrictTable):
    """``[[films]]``: your figure for a film that lies on the block or on single trails."""

    name: SurfaceFilm = Field(description="the film")
    grip_cap: float | None = Field(
        default=None, gt=0, le=1, description="gross traction ratio of plain tyres on it, 0 to 1"
    )
    grip_cap_with_aids: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="the same of chains and tracks on packed snow or ice, 0 to 1",
    )
    source: str = Field(default="", description="where your figure comes from")


class SettingsTable(StrictTable):
    """``[settings]``: how the terrain is read, and the slip at which traction is counted."""

    step_m: float = Field(default=5.0, ge=0.5, le=50, description="spacing of stations in metres")
    machine_scale_m: float = Field(default=5.0, ge=1, le=50, description="side of the slope window")
    slope_bands_percent: list[float] = Field(
        default=[10.0, 20.0, 33.0, 50.0],
        min_length=1,
        description="upper edges in percent, ascending",
    )
    buffer_m: float = Field(
        default=150.0, ge=0, le=5000, description="DEM read round the trails, metres"
    )
    slip_limit: float = Field(default=0.25, gt=0, lt=1, description="a fraction, 0.25 is 25 %")
    max_cells: int = Field(
        default=100_000_000, ge=1, description="largest number of DEM cells read"
    )
    max_file_mb: float = Field(default=4000.0, gt=0, description="largest file read, in megabytes")


class DecisionTable(StrictTable):
    """``[decision]``: visible weights."""

    traction_weight: float = Field(
        default=0.5, ge=0, le=1, description="share of the weight, 0 to 1"
    )
    measures_share_max: float = Field(default=0.05, ge=0, le=1, description="a share, 0.05 is 5 %")
    thin_reserve: float = Field(default=0.03, ge=0, le=1, description="a ratio, 0.03 is 3 %")
    reroute_corridor_m: float = Field(
        default=60.0, gt=0, le=1000, description="metres on each side of the trail"
    )
    payload_shares: list[Annotated[float, Field(gt=0, le=1)]] = Field(
        default=[1.0], min_length=1, description="shares of the full load, such as [1.0, 0.75]"
    )


class BlockTables(StrictTable):
    """A whole block file."""

    block: BlockTable = Field(description="the name of the block")
    dem: DemTable = Field(description="the elevation model, from which the slopes are made")
    soils: SoilsTable = Field(
        description=(
            "the soil map, polygons with a class or with drainage and texture. Without it the "
            "strength of the ground is known nowhere, so no setup can be judged; cone readings "
            "need its polygons too. It may have gaps: leave ground that nobody knows without a "
            "polygon, or its class empty, and the trails there are told as not assessed, neither "
            "passed nor short"
        )
    )
    trails: TrailsTable = Field(description="the trails that the machine is to drive")
    landings: LandingsTable = Field(description="the places on the trails where loads are put")
    boundary: LayerTable | None = None
    water: WaterTable | None = None
    crossings: CrossingsTable | None = None
    buffers: BuffersTable | None = None
    readings: ReadingsTable | None = None
    stand: StandTable | None = None
    machine: MachineTable = Field(description="the file of the machine that is to go in")
    aids: FileTable | None = None
    ground: GroundTable = GroundTable()
    films: list[FilmTable] = Field(default=[], description="one [[films]] for each own figure")
    flow: FlowTable = FlowTable()
    settings: SettingsTable = SettingsTable()
    decision: DecisionTable = DecisionTable()
    traffic: TrafficTable = TrafficTable()
    brash: BrashTable | None = None
    site_rules: SiteRulesTable | None = None
    emergency: EmergencyTable | None = None
    doubt: DoubtTable = DoubtTable()
