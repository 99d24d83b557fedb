"""Load a whole harvest block: block file, machine, aids and layers, in one metric CRS.

The order is: trails where they were drawn, for the window of the DEM; the DEM, which sets the
working CRS; then trails, landings, soils and boundary in that CRS. Nothing stops at the first
fault: every file is read as far as it can be, and all issues come together.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.errors import InputRefused, Issue, errors_in
from terrain.inputs import block_file as block_files
from terrain.inputs import emergency, ground, traffic_file, water_file
from terrain.inputs.aids import read_aids
from terrain.inputs.block_file import (
    BlockFile,
    FileRef,
    LayerRef,
    provisional_block_file,
    read_block_file,
)
from terrain.inputs.machines import read_machine
from terrain.inputs.named_files import with_keys, with_options

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.grid import Grid
    from terrain.inputs.loaded import InputFile, LoadedBlock, LoadedWater
    from terrain.models.machine import Machine

__all__ = [
    "ISSUE_CODES",
    "BlockFile",
    "FileRef",
    "LayerRef",
    "inspect_block",
    "load_block",
    "read_block_file",
]

ISSUE_CODES = {
    **block_files.ISSUE_CODES,
    **ground.ISSUE_CODES,
    **water_file.ISSUE_CODES,
    **traffic_file.ISSUE_CODES,
    **emergency.ISSUE_CODES,
}
"""Issue codes of the block file and of its tables about ground, water, timber, emergency point."""


def load_block(
    path: str | Path,
    *,
    state: str | None = None,
    machine: str | Path | None = None,
    aids: str | Path | None = None,
    overrides: Mapping[str, Any] | None = None,
) -> LoadedBlock:
    """Read everything a run needs, or refuse it with every problem at once.

    Parameters
    ----------
    path : str or Path
        Block file.
    state : str, optional
        Moisture state in place of ``ground.state``.
    machine, aids : str or Path, optional
        Other machine file or aid catalogue, relative to the current folder.
    overrides : mapping, optional
        Further values by dotted key, for example ``{"settings.step_m": 10.0}``.

    Returns
    -------
    LoadedBlock
        Lengths in metres, masses in kg; ``issues`` holds the warnings and notes.

    Raises
    ------
    InputRefused
        When any file holds an error; its ``issues`` list all of all files.
    """
    block, issues = inspect_block(
        path, state=state, machine=machine, aids=aids, overrides=overrides
    )
    if block is None:
        raise InputRefused(issues)
    return block


def inspect_block(
    path: str | Path,
    *,
    state: str | None = None,
    machine: str | Path | None = None,
    aids: str | Path | None = None,
    overrides: Mapping[str, Any] | None = None,
) -> tuple[LoadedBlock | None, list[Issue]]:
    """Read a block as far as it can be read and return it with all issues; never raises for input.

    Parameters are those of :func:`load_block`.

    Returns
    -------
    LoadedBlock or None
        None when any issue is an error.
    list of Issue
        In the order block file, machine, aids, trails, DEM, landings, soils, boundary, water.
    """
    changes = dict(overrides or {})
    if state is not None:
        changes["ground.state"] = state
    for key, other in (("machine", machine), ("aids", aids)):
        if other is not None:
            changes[f"{key}.file"] = str(Path(other).absolute())
    block_file, issues = provisional_block_file(path, changes)
    if state is not None:
        issues = with_options(issues, {"ground.state": "--state"})
    if block_file is None:
        return None, issues
    reading = _Reading(block_file, issues)
    read_vehicle, read_catalogue = reading.machine(), reading.aids()
    read_others = reading.other_machines()
    profile = reading.profile()
    layers = reading.layers()
    meeting_point = None
    if layers is not None:
        meeting_point, found = emergency.place_emergency(
            block_file.emergency,
            layers.dem.crs,
            layers.trails,
            block_file.path.name,
            layers.boundary,
        )
        issues += found
    issues = with_keys(issues, block_file)
    if errors_in(issues) or read_vehicle is None or layers is None:
        return None, issues

    from terrain.inputs.loaded import InputFile, LoadedBlock

    own = InputFile("block", block_file.path.name, block_file.sha256)
    loaded = LoadedBlock(
        name=block_file.name,
        invented=block_file.invented,
        settings=block_file.settings,
        dem=layers.dem,
        soils=layers.soils,
        trails=layers.trails,
        landings=layers.landings,
        boundary=layers.boundary,
        machine=read_vehicle,
        aids=read_catalogue,
        files=(own, *reading.files),
        issues=tuple(issues),
        crs_note=_crs_note(layers.dem, issues),
        water=layers.water,
        stand=layers.stand,
        rule_profile=profile,
        emergency=meeting_point,
        other_machines=tuple(read_others),
    )
    return loaded, issues


@dataclass(frozen=True, slots=True)
class _Layers:
    dem: Grid
    soils: gpd.GeoDataFrame
    trails: gpd.GeoDataFrame
    landings: gpd.GeoDataFrame
    boundary: gpd.GeoDataFrame | None
    water: LoadedWater
    stand: gpd.GeoDataFrame | None


@dataclass(frozen=True, slots=True)
class _Met:
    """A machine file that was read: as it is written, where it lies, and what it holds."""

    name: str
    place: str
    sha256: str | None
    machine: Machine | None


@dataclass(slots=True)
class _Reading:
    """One go through the files of a block; fills ``issues`` and ``files`` on the way."""

    block: BlockFile
    issues: list[Issue]
    files: list[InputFile] = field(default_factory=list)
    met: list[_Met] = field(default_factory=list)

    def keep(self, result: tuple[Any, InputFile | None, list[Issue]]) -> Any:
        """Note file and issues of a reader's answer, hand on its first part."""
        value, file, found = result
        self.issues += found
        if file is not None:
            self.files.append(file)
        return value

    def machine(self) -> Machine | None:
        return self._machine(self.block.machine)

    def other_machines(self) -> list[Machine]:
        """The machines to compare that could be read; each stands there once."""
        read = [self._machine(ref) for ref in self.block.other_machines]
        return [machine for machine in read if machine is not None]

    def _machine(self, ref: FileRef) -> Machine | None:
        """The machine of a file; None when it cannot be read, or was met before."""
        place = os.path.normcase(os.path.realpath(ref.path))
        for first in self.met:
            if first.place == place:
                self._say_double(ref, first, "is the same file as")
                return None
        machine, file, found = read_machine(ref.path, ref.name)
        for first in self.met:
            if (machine and machine == first.machine) or (file and file.sha256 == first.sha256):
                self._say_double(ref, first, "holds the same machine as")
                return None
        self.met.append(_Met(ref.name, place, file.sha256 if file else None, machine))
        self.keep((machine, file, found))
        if machine is not None and machine.invented and not self.block.invented:
            what = "The machine is marked invented, but the block is not."
            fix = "Enter the real machine's figures and remove invented = true from its file."
            self.issues.append(Issue("BLK05", "warning", what, ref.name, fix))
        return machine

    def _say_double(self, ref: FileRef, first: _Met, how: str) -> None:
        pair = "is named twice" if ref.name == first.name else f"{how} {first.name}"
        what = f"{ref.name} {pair}: it is compared once."
        place = f"{self.block.path.name}, machine.compare"
        fix = "Take it out of machine.compare, or name the file of another machine."
        self.issues.append(Issue("BLK08", "warning", what, place, fix))

    def aids(self) -> Any:
        ref = self.block.aids
        return self.keep(read_aids(ref.path, ref.name) if ref else read_aids())

    def profile(self) -> Any:
        """The site's rule profile; None where the block file names none."""
        refs = self.block.traffic
        if refs.profile is None:
            return None
        from terrain.inputs.site_rules import read_profile

        own = refs.profile_file
        path, name = (own.path, own.name) if own else (None, "")
        return self.keep(read_profile(refs.profile, path, name, where=self.block.path.name))

    def layers(self) -> _Layers | None:
        """Every layer, or None when one of them could not be read."""
        from terrain.inputs.elevation import read_dem, trails_off_dem
        from terrain.inputs.guarded import layer_extent
        from terrain.inputs.soils import read_soils
        from terrain.inputs.stand import read_stand
        from terrain.inputs.trails import read_boundary, read_landings, read_trails
        from terrain.inputs.water_reading import cropped, read_water

        block, terrain = self.block, self.block.settings.terrain
        cap = {"max_file_mb": terrain.max_file_mb}
        # issues of the extent come again from the reader itself, so only the place is used here
        extent, _ = layer_extent(
            block.trails.path, block.trails.layer, name=block.trails.name, **cap
        )
        dem = wide = None
        if extent is None:
            self.check_dem_file()
        else:
            wide = self.keep(
                read_dem(
                    block.dem.path,
                    bounds_of_trails=extent[0],
                    trails_crs=extent[1],
                    buffer_m=max(terrain.buffer_m, block.settings.flow.margin_m),
                    elevation_unit=block.elevation_unit,
                    max_cells=terrain.max_cells,
                    name=block.dem.name,
                    **cap,
                )
            )
        if wide is not None and extent is not None:
            dem = cropped(wide, extent[0], extent[1], terrain.buffer_m)
        crs = dem.crs if dem is not None else self.stand_in_crs(extent)
        trails = self.keep(
            read_trails(
                block.trails.path,
                _mapping(block.trails),
                crs,
                terrain.snap_m,
                name=block.trails.name,
                **cap,
            )
        )
        if trails is not None:
            own = trails["film"].items()
            name = block.path.name
            self.issues += ground.trail_film_issues(own, block.settings.ground, name)
        if dem is not None and trails is not None:
            self.issues += trails_off_dem(dem, trails, where=block.dem.name)
        landings = self.keep(
            read_landings(
                block.landings.path,
                _mapping(block.landings),
                crs,
                trails=trails,
                snap_m=terrain.snap_m,
                name=block.landings.name,
                **cap,
            )
        )
        soils = self.keep(
            read_soils(
                block.soils.path,
                _mapping(block.soils),
                crs,
                _no_lines(crs) if trails is None else trails,
                name=block.soils.name,
                **cap,
            )
        )
        boundary = None
        if block.boundary is not None:
            ref = block.boundary
            boundary = self.keep(read_boundary(ref.path, _mapping(ref), crs, name=ref.name, **cap))
        water = read_water(block.water, crs, wide, soils, self.keep, terrain.max_file_mb)
        stand = None
        if block.traffic.stand is not None:
            ref = block.traffic.stand
            stand = self.keep(read_stand(ref.path, _mapping(ref), crs, name=ref.name, **cap))
        if dem is None or trails is None or landings is None or soils is None:
            return None
        return _Layers(dem, soils, trails, landings, boundary, water, stand)

    def check_dem_file(self) -> None:
        """Look at the DEM file alone, when there are no trails to tell the window."""
        from terrain.inputs.guarded import RASTER_FORMATS, check_file, not_allowed, sniff_raster

        ref = self.block.dem
        resolved, found = check_file(
            ref.path, name=ref.name, max_file_mb=self.block.settings.terrain.max_file_mb
        )
        self.issues += found
        if resolved is not None and sniff_raster(resolved) is None:
            self.issues.append(not_allowed(resolved, ref.name, RASTER_FORMATS))

    def stand_in_crs(self, extent: Any) -> str:
        """A metric CRS near the layers, so that they can be checked although the DEM failed."""
        import geopandas as gpd
        from shapely import box

        from terrain.inputs.guarded import layer_extent

        candidates = [extent]
        for ref in (self.block.soils, self.block.landings, self.block.boundary):
            if ref is not None:
                candidates.append(layer_extent(ref.path, ref.layer, name=ref.name)[0])
        for candidate in candidates:
            if candidate is None:
                continue
            bounds, crs = candidate
            try:
                utm = gpd.GeoSeries([box(*bounds)], crs=crs).estimate_utm_crs()
            except (RuntimeError, ValueError):
                continue
            return f"EPSG:{utm.to_epsg()}"
        return "EPSG:32633"


def _mapping(ref: LayerRef) -> dict[str, str | None]:
    return {**ref.columns, "layer": ref.layer}


def _no_lines(crs: str) -> gpd.GeoDataFrame:
    """An empty table of trails, for checks that go on when the trails themselves failed."""
    import geopandas as gpd

    return gpd.GeoDataFrame({"geometry": []}, geometry="geometry", crs=crs)


def _crs_note(dem: Grid, issues: list[Issue]) -> str:
    """One sentence on the CRS in use and on what happened to the DEM."""
    from pyproj import CRS

    name = CRS(dem.crs).name
    resampled = [issue for issue in issues if issue.code == "DEM08"]
    label = f"{name} ({dem.crs})" if dem.crs.startswith("EPSG") else name
    if resampled:
        return f"All layers are in {label}; of the elevation model: {resampled[0].what}."
    return f"All layers are in {label}, the CRS of the elevation model, which was not resampled."
