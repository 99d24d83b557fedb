"""The optional keys of a block file about water: streams, crossings, buffers, readings, flow."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from terrain.inputs.toml_files import StrictTable
from terrain.models.soil import MoistureState

__all__ = ["BuffersTable", "CrossingsTable", "FlowTable", "ReadingsTable", "WaterTable"]


class WaterTable(StrictTable):
    """``[water]``: mapped streams and open water."""

    streams_file: str | None = Field(default=None, min_length=1, description="file of lines")
    streams_layer: str | None = Field(default=None, min_length=1, description="layer in it")
    open_water_file: str | None = Field(
        default=None, min_length=1, description="file of polygons: lakes, ponds, broad rivers"
    )
    open_water_layer: str | None = Field(default=None, min_length=1, description="layer in it")
    burn_depth_m: float | None = Field(
        default=None,
        gt=0,
        le=50,
        description="mapped water is lowered by so much before the flow is routed, metres",
    )


class CrossingsTable(StrictTable):
    """``[crossings]``: culverts and bridges, points or lines."""

    file: str = Field(min_length=1, description="path relative to the block file")
    layer: str | None = Field(default=None, min_length=1, description="layer name inside the file")
    id: str | None = Field(
        default=None, min_length=1, description="column with the crossing's name"
    )
    kind: str | None = Field(default=None, min_length=1, description="column with culvert, bridge")


class BuffersTable(StrictTable):
    """``[buffers]``: the machine-free strip along water, by width or as drawn."""

    width_m: float | None = Field(
        default=None, gt=0, le=500, description="machine-free strip on each side of water, metres"
    )
    file: str | None = Field(default=None, min_length=1, description="polygons drawn as buffers")
    layer: str | None = Field(default=None, min_length=1, description="layer name inside the file")


class ReadingsTable(StrictTable):
    """``[readings]``: the planner's own penetrometer, vane or plate readings."""

    file: str = Field(min_length=1, description="CSV table, or a layer of points")
    layer: str | None = Field(default=None, min_length=1, description="layer name inside the file")
    crs: str | None = Field(
        default=None, min_length=1, description='CRS of x and y in a CSV, for example "EPSG:32633"'
    )
    x: str = Field(default="x", min_length=1, description="column with the easting (CSV)")
    y: str = Field(default="y", min_length=1, description="column with the northing (CSV)")
    depth_cm: str = Field(default="depth_cm", min_length=1, description="column with the depth, cm")
    value: str = Field(default="value", min_length=1, description="column with the reading")
    unit: str = Field(default="unit", min_length=1, description="column with its unit")
    kind: str = Field(default="kind", min_length=1, description="column with cone, vane or plate")
    date: str = Field(default="date", min_length=1, description="column with the day, 2026-05-04")
    moisture_state: str = Field(
        default="moisture_state", min_length=1, description="column with the state on that day"
    )
    unit_of_all: str | None = Field(
        default=None, min_length=1, description="unit where the column or cell is empty"
    )
    kind_of_all: Literal["cone", "vane", "plate"] | None = Field(
        default=None, description="kind where the column or cell is empty"
    )
    state_of_all: MoistureState | None = Field(
        default=None, description="moisture state where the column or cell is empty"
    )


class FlowTable(StrictTable):
    """``[flow]``: how water is routed over the DEM."""

    margin_m: float = Field(
        default=500.0,
        ge=0,
        le=20000,
        description="DEM read round the trails for the flow, metres; at least buffer_m is read",
    )
    cap_m: float = Field(
        default=2.0, gt=1, le=20, description="depth to water is searched down to here, metres"
    )
    form: Literal["target cell", "mean of both cells"] = Field(
        default="target cell", description="slope that a step of the search counts"
    )
    depression_min_depth_m: float = Field(
        default=0.3, gt=0, le=20, description="a filled hollow so deep is listed, metres"
    )
    depression_min_area_m2: float = Field(
        default=50.0, gt=0, description="a filled hollow so large is listed, square metres"
    )
    dry_16_ha: bool = Field(
        default=False, description="true adds depth to water for channels from 16 ha"
    )
    above_stream: bool = Field(
        default=False, description="true adds the height above the stream that a place drains to"
    )
    wetness_index: bool = Field(
        default=False, description="true adds the topographic wetness index on cells of 16 m"
    )
