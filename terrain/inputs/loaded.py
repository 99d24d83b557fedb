"""What a block is once it has been read: everything in one metric CRS, nothing decided yet."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.errors import Issue
from terrain.grid import Grid
from terrain.models.aids import Aid
from terrain.models.emergency import Emergency
from terrain.models.machine import Machine
from terrain.models.settings import Settings
from terrain.models.site_rules import RuleProfile

__all__ = ["InputFile", "LoadedBlock", "LoadedWater", "softness"]

_SOFTER_THAN_ANY_CLASS = 9.0


def softness(soils: gpd.GeoDataFrame) -> NDArray[np.float64]:
    """Rank by which one of overlapping soil polygons rules, the softest highest: its class.

    An unknown class counts as softer than any known one: the unknown is not hidden.
    """
    known = soils["soil_class"].astype("Float64")
    return known.fillna(_SOFTER_THAN_ANY_CLASS).to_numpy(dtype=float)


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that shaped the run: ``role``, ``name`` as the block file has it, ``sha256``."""

    role: str
    name: str
    sha256: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class LoadedWater:
    """What a block file gives about water and strength beside the soil map; None: not given.

    Attributes
    ----------
    dem : Grid or None
        The wider window on which water is routed; its cells are those of ``LoadedBlock.dem``.
    streams, open_water, buffers : GeoDataFrame or None
        Lines, polygons, polygons; only ``geometry``, working CRS.
    crossings : GeoDataFrame or None
        Index ``crossing``; ``kind`` (str or None), ``carved`` (bool), Point or LineString.
    readings : GeoDataFrame or None
        See :func:`terrain.inputs.readings.read_readings`.
    moisture_state : str or None
        State in which the soil layer's ``moisture_percent`` was found.
    """

    dem: Grid | None = None
    streams: gpd.GeoDataFrame | None = None
    open_water: gpd.GeoDataFrame | None = None
    crossings: gpd.GeoDataFrame | None = None
    buffers: gpd.GeoDataFrame | None = None
    readings: gpd.GeoDataFrame | None = None
    moisture_state: str | None = None


@dataclass(frozen=True, slots=True)
class LoadedBlock:
    """The inputs of one harvest block.

    Attributes
    ----------
    name : str
        Name of the block as the planner wrote it.
    invented : bool
        True for demonstration data; every output then says so.
    settings : Settings
    dem : Grid
        Elevation in metres, float32, voids NaN, metric CRS, the window round the trails.
    soils : GeoDataFrame
        Index ``polygon`` (str, unique). Columns: ``soil_class`` (Int64 1-4, NA unknown),
        ``drainage`` (str or None), ``texture`` (str or None), ``class_from`` ("forester" or
        "suggested" or "unknown"), ``uscs`` (str or None), ``moisture_percent`` (NaN unknown),
        ``geometry`` (valid Polygon or MultiPolygon in ``dem.crs``).
        Polygons are not cut where they overlap: the overlap is an issue and the softer class rules.
    trails : GeoDataFrame
        Index ``trail`` (str, unique). Columns: ``trail_class`` (str or None), ``volume_m3``,
        ``width_m`` (float, NaN unknown), ``landing`` (assigned one, or None),
        ``film`` (its own surface film, None where the block's lies),
        ``geometry`` (LineString in ``dem.crs``, any direction).
    landings : GeoDataFrame
        Index ``landing`` (str, unique); ``geometry`` Point in ``dem.crs``.
    boundary : GeoDataFrame or None
        Block boundary, when given.
    machine : Machine
    aids : tuple of Aid
    files : tuple of InputFile
    issues : tuple of Issue
        Warnings and notes (a block with errors is never returned).
    crs_note : str
        One sentence: the CRS in use and whether the DEM was reprojected.
    water : LoadedWater
    stand : GeoDataFrame or None
        Polygons with ``volume_m3_per_ha``.
    rule_profile : RuleProfile or None
        The site's rule about ruts and trails; there is no default.
    other_machines : tuple of Machine
        Machines to hold beside the block's own.
    emergency : Emergency or None
        Where help is met; None when the block file names no point.
    """

    name: str
    invented: bool
    settings: Settings
    dem: Grid
    soils: gpd.GeoDataFrame
    trails: gpd.GeoDataFrame
    landings: gpd.GeoDataFrame
    boundary: gpd.GeoDataFrame | None
    machine: Machine
    aids: tuple[Aid, ...]
    files: tuple[InputFile, ...]
    issues: tuple[Issue, ...]
    crs_note: str
    water: LoadedWater = LoadedWater()
    stand: gpd.GeoDataFrame | None = None
    rule_profile: RuleProfile | None = None
    emergency: Emergency | None = None
    other_machines: tuple[Machine, ...] = ()
