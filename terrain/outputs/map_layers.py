"""The vector layers of the map as plain data: coordinates, looks and texts for the pop-ups."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
from shapely.geometry import mapping

from terrain.decision.results import Plan
from terrain.grid import Grid
from terrain.outputs.geometry import to_degrees
from terrain.outputs.map_contours import contour_lines
from terrain.outputs.map_trails import latlon
from terrain.outputs.page_parts import SOIL_CLASS_WORDS, keyed
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN
from terrain.units import FOOT_M

__all__ = [
    "boundary_item",
    "contour_items",
    "detour_items",
    "emergency_items",
    "landing_items",
    "soil_items",
]

Items = list[dict[str, Any]]


def _grid_words(x_m: float, y_m: float, shown: Shown) -> str:
    """Grid figures as the page's readout writes them; metres in both systems of units."""
    return f"E {shown.number(x_m)} m, N {shown.number(y_m)} m"


def _at(point: shapely.Geometry) -> list[float]:
    return latlon(point)[0]


def contour_items(dem: Grid, shown: Shown = METRIC) -> dict[str, Any]:
    """Contour lines by level with a label for every heavy one, and the interval in words.

    Levels are even metres, or even feet in US units.
    """
    moved, unit = to_degrees(dem.crs), shown.unit("m")
    interval, levels = contour_lines(dem, FOOT_M if shown.is_us else 1.0)
    items: Items = []
    for level in levels:
        longest = max(level.lines, key=lambda line: line.length)
        items.append(
            {
                "heavy": level.heavy,
                "lines": [latlon(moved(line)) for line in level.lines],
                "l": f"{level.level:g} {unit}" if level.heavy else "",
                "ats": [
                    _at(moved(longest.interpolate(share, normalized=True)))
                    for share in (0.5, 0.3, 0.7, 0.15, 0.85)
                ],
            }
        )
    return {"interval": f"{interval:g} {unit}", "items": items}


def soil_items(plan: Plan) -> Items:
    """Soil polygons with a pattern for each class and places where a label may stand."""
    moved = to_degrees(plan.dem.crs)
    near_trails = plan.trails.geometry.union_all().buffer(25.0)
    items: Items = []
    for _, row in keyed(plan.soils, "polygon").iterrows():
        free = row["geometry"].difference(near_trails)
        known = not pd.isna(row["soil_class"])
        number = int(row["soil_class"]) if known else 0
        words = SOIL_CLASS_WORDS.get(number, UNKNOWN)
        texts = [row.get(name) for name in ("drainage", "texture", "class_from")]
        drainage, texture, origin = (text if isinstance(text, str) else UNKNOWN for text in texts)
        items.append(
            {
                "id": str(row["polygon"]),
                "n": f"Soil {row['polygon']}",
                "l": f"{row['polygon']}: class {number if known else '?'}",
                "g": mapping(moved(row["geometry"])),
                "ats": [
                    _at(moved(point))
                    for point in _places(row["geometry"] if free.is_empty else free)
                ],
                "fill": f"url(#rw-soil-{number})",
                "r": [
                    ["Sensitivity class as mapped", words],
                    ["Class comes from", origin],
                    ["Drainage", drainage],
                    ["Texture", texture],
                ],
            }
        )
    return items


def _places(area: shapely.Geometry) -> list[shapely.Point]:
    """Points inside ``area``: one for the whole, one for each quarter of its frame."""
    west, south, east, north = area.bounds
    x, y = (west + east) / 2, (south + north) / 2
    quarters = (
        shapely.box(west, south, x, y), shapely.box(x, south, east, y),
        shapely.box(west, y, x, north), shapely.box(x, y, east, north),
    )  # fmt: skip
    parts = [area, *(area.intersection(quarter) for quarter in quarters)]
    return [part.representative_point() for part in parts if not part.is_empty]


def boundary_item(boundary: gpd.GeoDataFrame, crs: str) -> dict[str, Any]:
    """Block boundary as one GeoJSON geometry."""
    return mapping(to_degrees(crs)(boundary.geometry.union_all()))


def landing_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Landings by name, with their position in the working CRS."""
    moved = to_degrees(plan.dem.crs)
    lead = plan.stations.groupby("landing")["length_m"].sum()
    return [
        {
            "id": str(row["landing"]),
            "n": f"Landing {row['landing']}",
            "at": _at(moved(row["geometry"])),
            "r": [
                ["Grid figures", _grid_words(row["geometry"].x, row["geometry"].y, shown)],
                ["Grid", plan.dem.crs],
                ["Trail leading here", shown.length(float(lead.get(row["landing"], 0.0)))],
            ],
        }
        for _, row in keyed(plan.landings, "landing").iterrows()
    ]


def detour_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Computed ways round weak stretches, with their figures."""
    if plan.reroutes is None or not len(plan.reroutes):
        return []
    moved = to_degrees(plan.dem.crs)
    table = plan.ranking.setups.set_index("setup")["description"]
    return [
        {
            "n": f"Way round {row['stretch']}",
            "g": mapping(moved(row["geometry"])),
            "r": [
                ["Computed for", str(table.get(row["setup"], row["setup"]))],
                [
                    "Length, in place of",
                    f"{shown.length(row['length_m'])}, {shown.length(row['replaced_m'])}",
                ],
                ["Smallest reserve", shown.slope(row["worst_reserve"])],
                ["Steepest along it", shown.slope(row["max_grade"])],
                ["Steepest cross slope", shown.slope(row["max_cross"])],
                ["Wet", shown.length(row["wet_m"])],
                ["Standing", "a line to look at in the field, not a cleared way"],
            ],
        }
        for _, row in plan.reroutes.iterrows()
    ]


def emergency_items(plan: Plan, shown: Shown = METRIC) -> Items:
    """Meeting point for help, when the block names one."""
    if plan.emergency is None:
        return []
    place, moved = plan.emergency, to_degrees(plan.dem.crs)
    return [
        {
            "id": "help",
            "also": "emergency rescue",
            "k": "rw-help",
            "l": "+",
            "n": f"Meeting point for help: {place.name}",
            "at": _at(moved(shapely.Point(place.x_m, place.y_m))),
            "r": [
                ["Grid figures", _grid_words(place.x_m, place.y_m, shown)],
                ["Grid", plan.dem.crs],
                ["Note", place.note or "none given"],
            ],
        }
    ]
