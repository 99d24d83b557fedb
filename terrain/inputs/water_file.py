"""What a block file says about water: which layers there are, and the settings of the flow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from terrain.errors import Issue
from terrain.inputs.refs import LayerRef
from terrain.inputs.water_tables import ReadingsTable
from terrain.models.settings import FlowSettings

if TYPE_CHECKING:
    from terrain.inputs.block_tables import BlockTables

__all__ = ["ISSUE_CODES", "WaterRefs", "flow_settings", "water_issues", "water_refs"]

ISSUE_CODES = {
    "BLK06": "a part about water names no file, or gives one thing twice",
    "BLK07": "moisture without soil type or without the state in which it was found",
}
"""Issue codes of this module and what they stand for."""


@dataclass(frozen=True, slots=True)
class WaterRefs:
    """Layers about water that a block file names; None where it names none.

    ``readings`` carries its column names; ``readings_table`` the rest of that part.
    ``moisture_state`` is the state in which the soils' water content was found.
    """

    streams: LayerRef | None = None
    open_water: LayerRef | None = None
    crossings: LayerRef | None = None
    buffers: LayerRef | None = None
    readings: LayerRef | None = None
    readings_table: ReadingsTable | None = None
    moisture_state: str | None = None


def flow_settings(file: BlockTables) -> FlowSettings:
    """Settings of the flow, with the burn depth and the buffer width beside them, in metres."""
    return FlowSettings(
        burn_depth_m=file.water.burn_depth_m if file.water else None,
        buffer_width_m=file.buffers.width_m if file.buffers else None,
        **file.flow.model_dump(),
    )


def water_refs(folder: Path, file: BlockTables) -> WaterRefs:
    """Resolve the layers about water beside the block file in ``folder``."""
    water, crossings, readings = file.water, file.crossings, file.readings

    def layer(
        name: str | None, inside: str | None, columns: Mapping[str, str | None] | None = None
    ) -> LayerRef | None:
        if name is None:
            return None
        return LayerRef(folder / name, name, inside, MappingProxyType(dict(columns or {})))

    names = ("x", "y", "depth_cm", "value", "unit", "kind", "date", "moisture_state")
    return WaterRefs(
        streams=layer(water.streams_file, water.streams_layer) if water else None,
        open_water=layer(water.open_water_file, water.open_water_layer) if water else None,
        crossings=layer(
            crossings.file, crossings.layer, {"id": crossings.id, "kind": crossings.kind}
        )
        if crossings
        else None,
        buffers=layer(file.buffers.file, file.buffers.layer) if file.buffers else None,
        readings=layer(
            readings.file, readings.layer, {name: getattr(readings, name) for name in names}
        )
        if readings
        else None,
        readings_table=readings,
        moisture_state=file.soils.moisture_state,
    )


def water_issues(file: BlockTables, where: str) -> list[Issue]:
    """List contradictions between the keys about water; each is an error."""
    issues = []

    def wrong(code: str, what: str, key: str, fix: str) -> None:
        issues.append(Issue(code, "error", what, f"{where}, {key}", fix))

    water, buffers, soils = file.water, file.buffers, file.soils
    if water:
        for key in ("streams", "open_water"):
            if getattr(water, f"{key}_layer") and not getattr(water, f"{key}_file"):
                fix = f"Add water.{key}_file."
                wrong("BLK06", f"{key}_layer is given without {key}_file.", f"water.{key}", fix)
        if not (water.streams_file or water.open_water_file):
            fix = "Name streams_file or open_water_file, or take [water] out."
            wrong("BLK06", "[water] names no file.", "water", fix)
    if buffers:
        if buffers.file is None and buffers.width_m is None:
            fix = "Give width_m, or a file of polygons."
            wrong("BLK06", "[buffers] has neither width_m nor file.", "buffers", fix)
        if buffers.file is not None and buffers.width_m is not None:
            fix = "Keep one: the strip of a width, or the polygons as drawn."
            wrong("BLK06", "[buffers] has both width_m and file.", "buffers", fix)
        if buffers.layer and not buffers.file:
            wrong("BLK06", "buffers.layer is given without file.", "buffers.layer", "Add file.")
    if bool(soils.uscs) != bool(soils.moisture_percent):
        fix = "Name both columns, or none: the relation needs soil type and moisture."
        wrong("BLK07", "Only one of uscs and moisture_percent is named.", "soils.uscs", fix)
    if bool(soils.moisture_percent) != bool(soils.moisture_state):
        what = "moisture_percent and moisture_state belong together."
        fix = "Say in soils.moisture_state in which state that water content was found."
        wrong("BLK07", what, "soils.moisture_state", fix)
    if soils.moisture_state == "frozen":
        fix = "Give the water content of thawed ground, with its state."
        wrong("BLK07", "The moisture relation does not hold frozen.", "soils.moisture_state", fix)
    return issues
