"""Read a layer of stands with the volume that is cut in them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from terrain.errors import Issue, errors_in
from terrain.inputs.attributes import find_column, number_values, rows_text
from terrain.inputs.guarded import open_layer, sha256_of, to_working_crs
from terrain.inputs.loaded import InputFile
from terrain.inputs.soils import polygonal

__all__ = ["ISSUE_CODES", "read_stand"]

ISSUE_CODES = {
    "STD01": "a stand is not an area",
    "STD02": "a stand's volume is not usable",
    "STD03": "stands overlap: their timber counts twice there",
}
"""Issue codes of this module and what they stand for."""

_OVERLAP_M2 = 1.0


def read_stand(
    path: Path,
    mapping: Mapping[str, str | None],
    crs: str,
    *,
    name: str | None = None,
    max_file_mb: float = 4000.0,
) -> tuple[gpd.GeoDataFrame | None, InputFile | None, list[Issue]]:
    """Read the stands in the working CRS.

    Parameters
    ----------
    path : Path
    mapping : mapping
        Column under the key ``volume_m3_per_ha``; ``layer`` where there is one.
    crs : str
        Working CRS in metres.

    Returns
    -------
    GeoDataFrame or None
        ``volume_m3_per_ha`` (solid m3 per hectare, NaN unknown) and valid polygons; None on errors.
    InputFile or None
    list of Issue
    """
    where = Path(path).name if name is None else name
    frame, issues = open_layer(path, mapping.get("layer"), name=name, max_file_mb=max_file_mb)
    if frame is None:
        return None, None, issues
    key = "volume_m3_per_ha"
    column, found = find_column(frame, mapping.get(key), key=key, where=where)
    issues = [*issues, *found]
    if column is None or errors_in(issues):
        return None, None, issues
    moved, found = to_working_crs(frame, crs, where=where)
    issues += found
    if moved is None:
        return None, None, issues
    kinds = ("Polygon", "MultiPolygon")
    wrong = [
        row
        for row, area in enumerate(moved.geometry.values)
        if area is None or area.is_empty or area.geom_type not in kinds
    ]
    if wrong:
        what = f"not an area: {rows_text(wrong)}"
        issues.append(Issue("STD01", "error", what, where, "Draw stands as closed areas."))
    volumes, bad = number_values(moved[column])
    bad = sorted({*bad, *np.flatnonzero(volumes < 0).tolist()})
    if bad:
        what = f"{column} is not usable in {rows_text(bad)}"
        fix = "Allowed: 0 or more, in m3 per hectare; leave it empty where unknown."
        issues.append(Issue("STD02", "error", what, where, fix))
    if errors_in(issues):
        return None, None, issues
    areas = np.array([polygonal(shapely.make_valid(a)) for a in moved.geometry.values])
    one, other = shapely.STRtree(areas).query(areas, predicate="intersects")
    pairs = one < other
    shared = shapely.area(shapely.intersection(areas[one[pairs]], areas[other[pairs]]))
    if (shared > _OVERLAP_M2).any():
        what = f"stands overlap on {shared.sum():.0f} m2; their timber would count twice there"
        issues.append(Issue("STD03", "warning", what, where, "Cut one of them back."))
    stand = gpd.GeoDataFrame({key: volumes}, geometry=areas, crs=moved.crs)
    return stand, InputFile("stand", where, sha256_of(Path(path)), f"{len(stand)} stands"), issues
