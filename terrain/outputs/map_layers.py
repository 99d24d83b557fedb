"""The vector layers of the map as plain data: coordinates, looks and texts for the pop-ups."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer
from shapely.geometry import mapping

from terrain.decision.results import Plan
from terrain.grid import Grid
from terrain.outputs.geometry import to_degrees
from terrain.outputs.map_classes import STRETCH_LOOKS
from terrain.outputs.map_contours import contour_lines
from terrain.outputs.page_parts import SOIL_CLASS_WORDS, keyed
from terrain.outputs.shown_units import METRIC
from terrain.outputs.wording import UNKNOWN

__all__ = [
    "arrow_items",
    "boundary_item",
    "contour_items",
    "detour_items",
    "emergency_items",
    "label_items",
    "landing_items",
    "latlon",
    "soil_items",
    "stretch_items",
    "trail_rows",
]

Items = list[dict[str, Any]]


def latlon(geometry: shapely.Geometry) -> list[list[float]]:
    """Coordinates of ``geometry`` (in degrees) as latitude and longitude, the map's order."""
    return shapely.get_coordinates(geometry)[:, ::-1].tolist()


def _at(point: shapely.Geometry) -> list[float]:
    return latlon(point)[0]


def _steepest(up: float, down: float) -> list[list[str]]:
    uphill, downhill = METRIC.steepest(up, down)
    return [["Steepest uphill, loaded", uphill], ["Steepest downhill, loaded", downhill]]


def trail_rows(row: pd.Series) -> list[list[str]]:
    """Figures of a whole trail that no setup changes; ``row`` is one of the trail table."""
    trail_class = row.get("trail_class")
    return [
        ["Class", str(trail_class) if isinstance(trail_class, str) else "not given"],
        ["Length", METRIC.length(row["length_m"])],
        *_steepest(row["steepest_up"], row["steepest_down"]),
        ["Steepest cross slope", METRIC.slope(row["steepest_cross"])],
    ]


def contour_items(dem: Grid) -> dict[str, Any]:
    """Contour lines by level with a label for every heavy one, and the interval in words."""
    moved = to_degrees(dem.crs)
    interval, levels = contour_lines(dem)
    items: Items = []
    for level in levels:
        longest = max(level.lines, key=lambda line: line.length)
        items.append(
            {
                "heavy": level.heavy,
                "lines": [latlon(moved(line)) for line in level.lines],
                "l": f"{level.level_m:g} m" if level.heavy else "",
                "ats": [
                    _at(moved(longest.interpolate(share, normalized=True)))
                    for share in (0.5, 0.3, 0.7, 0.15, 0.85)
                ],
            }
        )
    return {"interval": f"{interval:g} m", "items": items}


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


def landing_items(plan: Plan) -> Items:
    """Landings with their position in the working CRS."""
    moved = to_degrees(plan.dem.crs)
    lead = plan.stations.groupby("landing")["length_m"].sum()
    return [
        {
            "n": f"Landing {row['landing']}",
            "at": _at(moved(row["geometry"])),
            "r": [
                ["Easting, northing", f"{row['geometry'].x:.0f}, {row['geometry'].y:.0f}"],
                ["Grid", plan.dem.crs],
                ["Trail leading here", METRIC.length(float(lead.get(row["landing"], 0.0)))],
            ],
        }
        for _, row in keyed(plan.landings, "landing").iterrows()
    ]


def label_items(plan: Plan) -> Items:
    """Trail names with the places along the trail where a name may stand."""
    moved = to_degrees(plan.dem.crs)
    return [
        {
            "l": str(row["trail"]),
            "ats": [
                _at(moved(row["geometry"].interpolate(share, normalized=True)))
                for share in (0.5, 0.35, 0.65, 0.2, 0.8)
            ],
        }
        for _, row in keyed(plan.trails, "trail").iterrows()
    ]


def stretch_items(plan: Plan) -> Items:
    """Weak stretches with id, trail, chainages and the figures of their pop-up."""
    if plan.bottlenecks is None or not len(plan.bottlenecks):
        return []
    moved = to_degrees(plan.dem.crs)
    kinds = [kind for kind, _ in STRETCH_LOOKS]
    return [
        {
            "id": str(row["stretch"]),
            "t": str(row["trail"]),
            "from": round(float(row["from_m"]), 1),
            "to": round(float(row["to_m"]), 1),
            "worst": round(float(row["worst_m"]), 1),
            "k": kinds.index(row["kind"]),
            "dash": STRETCH_LOOKS[kinds.index(row["kind"])][1],
            "kind": str(row["kind"]),
            "p": latlon(moved(row["geometry"])),
            "r": _stretch_rows(plan, row),
        }
        for _, row in keyed(plan.bottlenecks, "stretch").iterrows()
    ]


def _stretch_rows(plan: Plan, row: pd.Series) -> list[list[str]]:
    needs = row["needs"]
    table = plan.ranking.setups.set_index("setup")["description"]
    needed = "no listed setup" if pd.isna(needs) else str(table.get(needs, needs))
    cause = row["cause"]
    return [
        ["Kind", str(row["kind"])],
        ["Length", METRIC.length(row["length_m"])],
        ["What makes it weak", cause if isinstance(cause, str) and cause else UNKNOWN],
        ["Lightest usual setup that passes", needed],
        ["Smallest reserve there, shown setup", METRIC.slope(row["shown_reserve"])],
        *_steepest(row["grade_up"], row["grade_down"]),
        ["Steepest cross slope", METRIC.slope(row["cross_slope"])],
        ["Soil's likely strength, lowest", METRIC.pressure(row["cone_index_kpa"])],
    ]


def detour_items(plan: Plan) -> Items:
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
                    f"{METRIC.length(row['length_m'])}, {METRIC.length(row['replaced_m'])}",
                ],
                ["Smallest reserve", METRIC.slope(row["worst_reserve"])],
                ["Steepest along it", METRIC.slope(row["max_grade"])],
                ["Steepest cross slope", METRIC.slope(row["max_cross"])],
                ["Wet", METRIC.length(row["wet_m"])],
                ["Standing", "a line to look at in the field, not a cleared way"],
            ],
        }
        for _, row in plan.reroutes.iterrows()
    ]


def emergency_items(plan: Plan) -> Items:
    """Meeting point for help, when the block names one."""
    if plan.emergency is None:
        return []
    place, moved = plan.emergency, to_degrees(plan.dem.crs)
    return [
        {
            "k": "rw-help",
            "l": "+",
            "n": f"Meeting point for help: {place.name}",
            "at": _at(moved(shapely.Point(place.x_m, place.y_m))),
            "r": [
                ["Easting, northing", f"{place.x_m:.0f}, {place.y_m:.0f}"],
                ["Grid", plan.dem.crs],
                ["Note", place.note or "none given"],
            ],
        }
    ]


def arrow_items(plan: Plan, every_m: float = 200.0) -> Items:
    """Arrows in the direction of loaded travel, about every ``every_m`` metres of trail.

    ``turn`` is clockwise from the top of the map, which is not quite grid north.
    """
    moved = to_degrees(plan.dem.crs)
    to_web = Transformer.from_crs(plan.dem.crs, "EPSG:3857", always_xy=True)
    items: Items = []
    for _, here in plan.stations.groupby("trail", sort=False):
        total = float(here["length_m"].sum())
        number = max(1, round(total / every_m))
        wanted = (np.arange(number) + 0.25) * total / number
        order = np.abs(here["chainage_m"].to_numpy()[:, None] - wanted).argmin(axis=0)
        for _, row in here.iloc[np.unique(order)].iterrows():
            heading = np.radians(row["heading_deg"])
            ahead = (row["x_m"] + 5 * np.sin(heading), row["y_m"] + 5 * np.cos(heading))
            (x0, y0), (x1, y1) = to_web.transform(row["x_m"], row["y_m"]), to_web.transform(*ahead)
            turn = round(float(np.degrees(np.arctan2(x1 - x0, y1 - y0))) % 360)
            items.append({"at": _at(moved(row["geometry"])), "turn": turn})
    return items
