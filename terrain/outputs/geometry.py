"""Places for maps and exchange files: longitude and latitude, and where a sign stands."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from pyproj import Transformer

__all__ = ["middle_of", "to_degrees"]


def to_degrees(crs: str, digits: int = 6) -> Callable[[shapely.Geometry], shapely.Geometry]:
    """Return a function that turns geometry in ``crs`` into longitude and latitude on WGS 84.

    Heights are dropped; the numbers are rounded to ``digits`` decimals (6 are a tenth of a metre
    on the ground, 7 a centimetre).
    """
    transformer = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)

    def moved(geometry: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(
            shapely.force_2d(geometry),
            lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1])).round(digits),
        )

    return moved


def middle_of(geometry: shapely.Geometry) -> shapely.Point:
    """Return a point as it is, the middle of a line, and a point inside anything else."""
    if geometry.geom_type == "Point":
        return geometry
    if geometry.geom_type == "LineString":
        return geometry.interpolate(0.5, normalized=True)
    return geometry.representative_point()
