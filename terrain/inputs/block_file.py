"""Read a block file: where its layers are, which columns they have, and the settings of the run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Any

from terrain.errors import Issue, errors_in
from terrain.inputs.block_tables import BlockTables, LayerTable, SettingsTable
from terrain.inputs.doubt_table import doubt_issues, doubt_settings
from terrain.inputs.emergency import EmergencyTable, emergency_issues
from terrain.inputs.ground import film_caps_from, ground_from
from terrain.inputs.refs import FileRef, LayerRef
from terrain.inputs.toml_files import check_table, read_toml, without_unknown_keys
from terrain.inputs.traffic_file import (
    TrafficRefs,
    brash_settings,
    traffic_issues,
    traffic_refs,
    traffic_settings,
)
from terrain.inputs.water_file import WaterRefs, flow_settings, water_issues, water_refs
from terrain.models.settings import DecisionSettings, GroundSettings, Settings, TerrainSettings

__all__ = [
    "ISSUE_CODES",
    "BlockFile",
    "FileRef",
    "LayerRef",
    "provisional_block_file",
    "read_block_file",
]

ISSUE_CODES = {
    "BLK01": "neither a soil class nor drainage and texture are mapped",
    "BLK02": "slope bands are not ascending percentages",
    "BLK03": "the same file or column is named twice",
    "BLK04": "an override names no key of a block file",
    "BLK05": "an invented machine in a block that is not marked invented",
    "BLK08": "a machine is named twice; it is compared once",
}
"""Issue codes of this module and what they stand for."""

_SOIL_COLUMNS = ("id", "soil_class", "drainage", "texture", "uscs", "moisture_percent")
_TRAIL_COLUMNS = ("id", "trail_class", "volume_m3", "width_m", "landing", "film")


@dataclass(frozen=True, slots=True)
class BlockFile:
    """A checked block file; nothing it names has been opened yet.

    Attributes
    ----------
    path, sha256 : Path, str
        The file and the digest of the bytes read.
    name, invented : str, bool
    dem, machine : FileRef
    elevation_unit : str or None
        ``m``, ``ft``, ``us-ft``; None: taken from the DEM's CRS, else metres.
    soils, trails, landings : LayerRef
    boundary : LayerRef or None
    aids : FileRef or None
        None: the shipped generic catalogue.
    settings : Settings
        Slope bands as ratios, lengths in metres.
    water : WaterRefs
        Layers of streams, open water, crossings, buffers and readings; each may be None.
    traffic : TrafficRefs
        Layer of stands, rule profile; each may be None.
    emergency : EmergencyTable or None
        Where help is met, as written; not yet in the working CRS.
    other_machines : tuple of FileRef
        Machines to hold beside the block's own, as written: a machine may be named twice.
    """

    path: Path
    sha256: str
    name: str
    invented: bool
    dem: FileRef
    elevation_unit: str | None
    soils: LayerRef
    trails: LayerRef
    landings: LayerRef
    boundary: LayerRef | None
    machine: FileRef
    aids: FileRef | None
    settings: Settings
    water: WaterRefs = field(default_factory=WaterRefs)
    traffic: TrafficRefs = field(default_factory=TrafficRefs)
    emergency: EmergencyTable | None = None
    other_machines: tuple[FileRef, ...] = ()


def read_block_file(
    path: str | Path, overrides: Mapping[str, Any] | None = None
) -> tuple[BlockFile | None, list[Issue]]:
    """Read and check a block file without opening what it names.

    Parameters
    ----------
    path : str or Path
    overrides : mapping, optional
        Values that replace those of the file, by dotted key: ``{"ground.state": "wet"}``. Paths
        among them stay relative to the block file.

    Returns
    -------
    BlockFile or None
        None when there is an error.
    list of Issue
        Every fault of the file at once.
    """
    block, issues = provisional_block_file(path, overrides)
    return (None if errors_in(issues) else block), issues


def provisional_block_file(
    path: str | Path, overrides: Mapping[str, Any] | None = None
) -> tuple[BlockFile | None, list[Issue]]:
    """Like :func:`read_block_file`, but hand out the block file in spite of milder errors.

    With it the files that the block names can be checked in the same go. It is None when a
    required key is missing or a value is of the wrong kind; never use it for a run while the
    issues hold an error.
    """
    path = Path(path)
    file, issues = read_toml(path, "block file")
    if file is None:
        return None, issues
    where = path.name
    table, found = _overridden(file.table, overrides or {}, where)
    issues += found
    checked, found = check_table(BlockTables, table, where)
    issues += found
    if checked is None:
        checked, _ = check_table(BlockTables, without_unknown_keys(BlockTables, table), where)
    if checked is None:
        return None, issues
    film_caps, found = film_caps_from(checked.films, where)
    issues += found
    ground, found = ground_from(checked.ground, where, film_caps)
    issues += _film_note(checked, where)
    issues += found + _soil_issues(checked, where) + _band_issues(checked.settings, where)
    issues += _duplicate_issues(checked, where) + water_issues(checked, where)
    issues += traffic_issues(checked, where) + emergency_issues(checked.emergency, where)
    issues += doubt_issues(checked.doubt, where)
    keys = checked.settings.model_dump(exclude={"slip_limit", "slope_bands_percent"})
    bands = tuple(percent / 100 for percent in checked.settings.slope_bands_percent)
    terrain = TerrainSettings(slope_bands=bands, snap_m=checked.trails.snap_m, **keys)
    weighing = checked.decision.model_dump()
    weighing["payload_shares"] = tuple(weighing["payload_shares"])
    decision = DecisionSettings(slip_limit=checked.settings.slip_limit, **weighing)
    folder = path.parent
    block = BlockFile(
        path=path,
        sha256=file.sha256,
        name=checked.block.name,
        invented=checked.block.invented,
        dem=_file(folder, checked.dem.file),
        elevation_unit=checked.dem.elevation_unit,
        soils=_layer(folder, checked.soils, *_SOIL_COLUMNS),
        trails=_layer(folder, checked.trails, *_TRAIL_COLUMNS),
        landings=_layer(folder, checked.landings, "id"),
        boundary=_layer(folder, checked.boundary) if checked.boundary else None,
        machine=_file(folder, checked.machine.file),
        aids=_file(folder, checked.aids.file) if checked.aids else None,
        settings=Settings(
            terrain,
            ground or replace(GroundSettings(), film_caps=film_caps),
            decision,
            flow_settings(checked),
            traffic_settings(checked),
            brash_settings(checked),
            doubt_settings(checked.doubt),
        ),
        water=water_refs(folder, checked),
        traffic=traffic_refs(folder, checked),
        emergency=checked.emergency,
        other_machines=tuple(_file(folder, name) for name in checked.machine.compare),
    )
    return block, issues


def _file(folder: Path, name: str) -> FileRef:
    return FileRef(folder / name, name)


def _layer(folder: Path, table: LayerTable, *columns: str) -> LayerRef:
    mapping = MappingProxyType({column: getattr(table, column) for column in columns})
    return LayerRef(folder / table.file, table.file, table.layer, mapping)


def _overridden(
    table: dict[str, Any], overrides: Mapping[str, Any], where: str
) -> tuple[dict[str, Any], list[Issue]]:
    """Copy of ``table`` with the overrides in place; an override without a home is an error."""
    table = {key: dict(value) if isinstance(value, dict) else value for key, value in table.items()}
    issues = []
    for dotted, value in overrides.items():
        section, _, key = dotted.partition(".")
        home = table.setdefault(section, {}) if section in BlockTables.model_fields else None
        if not key or not isinstance(home, dict):
            what = f"The override {dotted} is no key of a block file."
            fix = "Write table.key, for example ground.state."
            issues.append(Issue("BLK04", "error", what, where, fix))
            continue
        home[key] = value
    return table, issues


def _film_note(tables: BlockTables, where: str) -> list[Issue]:
    """A word where nobody said what lies on the ground, of the block or of its trails."""
    if "film" in tables.ground.model_fields_set or tables.trails.film is not None:
        return []
    what = "film is not given, so bare mineral ground is taken: nothing lies on it."
    fix = "Say what lies there; on litter, sod, wet clay, snow or ice wheels hold less."
    return [Issue("GND11", "note", what, f"{where}, ground.film", fix)]


def _soil_issues(file: BlockTables, where: str) -> list[Issue]:
    soils = file.soils
    if soils.soil_class or (soils.drainage and soils.texture):
        return []
    what = "The soils have neither soil_class nor both drainage and texture."
    fix = "Name the column of the forester's class 1-4, or those of drainage and texture."
    return [Issue("BLK01", "error", what, f"{where}, soils", fix)]


def _band_issues(settings: SettingsTable, where: str) -> list[Issue]:
    bands = settings.slope_bands_percent
    place = f"{where}, settings.slope_bands_percent"
    ascending = all(low < high for low, high in pairwise(bands))
    if not ascending or bands[0] <= 0 or bands[-1] > 300:
        fix = "Write ascending percentages above 0 and at most 300, for example [10, 20, 33, 50]."
        return [Issue("BLK02", "error", f"slope_bands_percent is {bands}.", place, fix)]
    if bands[-1] <= 1:
        what = f"slope_bands_percent is {bands}: these look like ratios."
        fix = "Write percent, for example [10, 20, 33, 50]."
        return [Issue("BLK02", "error", what, place, fix)]
    return []


def _duplicate_issues(file: BlockTables, where: str) -> list[Issue]:
    """One column for two meanings, or one layer for two roles, is a slip of the pen."""
    issues = []
    for section, table, keys in (
        ("soils", file.soils, _SOIL_COLUMNS),
        ("trails", file.trails, _TRAIL_COLUMNS),
    ):
        seen: dict[str, str] = {}
        for key in keys:
            column = getattr(table, key)
            if column and column in seen:
                what = f"{section}.{seen[column]} and {section}.{key} both name {column!r}."
                place = f"{where}, {section}.{key}"
                issues.append(Issue("BLK03", "error", what, place, "Name two columns."))
            elif column:
                seen[column] = key
    layers: dict[tuple[str, str | None], str] = {}
    for section in ("soils", "trails", "landings", "boundary"):
        table = getattr(file, section)
        if table is None:
            continue
        layer = (table.file, table.layer)
        if layer in layers:
            what = f"{section} and {layers[layer]} name the same file and layer."
            fix = "Name the layer of each with layer = ..., or correct the file."
            issues.append(Issue("BLK03", "error", what, f"{where}, {section}.file", fix))
        layers.setdefault(layer, section)
    return issues
