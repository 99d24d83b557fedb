"""The emergency point of a block file: read, checked, and brought to the working CRS."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from pydantic import Field

from terrain.errors import Issue
from terrain.inputs.toml_files import StrictTable
from terrain.models.emergency import Emergency

if TYPE_CHECKING:
    import geopandas as gpd

__all__ = ["FARTHEST_M", "ISSUE_CODES", "EmergencyTable", "emergency_issues", "place_emergency"]

ISSUE_CODES = {
    "EMG01": "the emergency point has no place, or two",
    "EMG02": "the CRS of the emergency point is not understood, or the place is not in it",
    "EMG03": "the emergency point lies far from the block",
}
"""Issue codes of this module and what they stand for."""

FARTHEST_M = 1000.0
"""A point so far outside the block is reported, metres: a planning assumption that catches swapped
numbers. A point that is meant to be far off is used all the same."""


class EmergencyTable(StrictTable):
    """``[emergency]``: where help is met, and what the planner writes about it."""

    name: str = Field(min_length=1, max_length=200, description="name of the meeting point")
    x: float | None = Field(default=None, description="easting in crs")
    y: float | None = Field(default=None, description="northing in crs")
    crs: str | None = Field(default=None, description="CRS of x and y; left out: the elevation's")
    lat: float | None = Field(default=None, ge=-90, le=90, description="latitude, WGS 84 degrees")
    lon: float | None = Field(
        default=None, ge=-180, le=180, description="longitude, WGS 84 degrees"
    )
    note: str = Field(default="", max_length=300, description="phone, way in, who waits there")


def emergency_issues(table: EmergencyTable | None, where: str) -> list[Issue]:
    """Say when the point has no place or two: it is either x and y, or lat and lon."""
    if table is None:
        return []
    grid, globe = (table.x, table.y), (table.lat, table.lon)
    one_of_them = (None not in grid and globe == (None, None)) or (
        None not in globe and grid == (None, None) and table.crs is None
    )
    if one_of_them:
        return []
    what = "The emergency point needs one place: x and y, or lat and lon."
    fix = "Give x and y (with crs, if it is not that of the elevation), or lat and lon."
    return [Issue("EMG01", "error", what, f"{where}, emergency", fix)]


def place_emergency(
    table: EmergencyTable | None,
    crs: str,
    trails: gpd.GeoDataFrame | None,
    where: str,
    boundary: gpd.GeoDataFrame | None = None,
) -> tuple[Emergency | None, list[Issue]]:
    """Bring the point to the working CRS.

    Parameters
    ----------
    table : EmergencyTable or None
        None: the block file names no point.
    crs : str
        Working CRS, metres.
    trails : GeoDataFrame or None
        In ``crs``. Without a boundary the distance to the nearest of them counts.
    where : str
        File name for the messages.
    boundary : GeoDataFrame or None
        In ``crs``; a point outside it by more than :data:`FARTHEST_M` is reported.

    Returns
    -------
    Emergency or None
        None without a table, and where an issue is an error.
    list of Issue
    """
    if table is None or emergency_issues(table, where):
        return None, []  # the block file itself has been reported
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError
    from shapely import Point

    own = "EPSG:4326" if table.lat is not None else table.crs or crs
    x, y = (table.lon, table.lat) if table.lat is not None else (table.x, table.y)
    issues: list[Issue] = []
    try:
        move = Transformer.from_crs(CRS.from_user_input(own), CRS(crs), always_xy=True)
        x_m, y_m = move.transform(x, y)
    except ProjError:
        x_m = y_m = np.nan
    if not np.isfinite([x_m, y_m]).all():
        what = f"The emergency point cannot be placed: {x:g}, {y:g} in {own[:40]!r}."
        fix = 'Write a code such as crs = "EPSG:32633", and x before y; or give lat and lon.'
        issues.append(Issue("EMG02", "error", what, f"{where}, emergency", fix))
        return None, issues
    block, edge = trails, "from the nearest trail"
    if boundary is not None:
        block, edge = boundary, "outside the boundary"
    if block is not None and len(block):
        away_m = float(block.distance(Point(x_m, y_m)).min())
        if away_m > FARTHEST_M:
            what = f"The emergency point lies {away_m / 1000:,.1f} km {edge} of the block."
            fix = "Look whether x and y are swapped, and crs is right; leave it if it is meant so."
            issues.append(Issue("EMG03", "warning", what, f"{where}, emergency", fix))
    return Emergency(table.name, float(x_m), float(y_m), table.note.strip()), issues
