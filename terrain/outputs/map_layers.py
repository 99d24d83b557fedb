"""The vector layers of the map as plain data: coordinates, classes and texts for the pop-ups."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer
from shapely.geometry import mapping
from shapely.ops import substring

from terrain.decision.results import CAUSES, Plan
from terrain.outputs.page_parts import (
    PRESSURE_CLASSES,
    RESERVE_CLASSES,
    SOIL_CLASS_WORDS,
    DrawingClass,
    Run,
    classify,
    largest,
    runs_of,
    smallest,
)
from terrain.outputs.tables import keyed
from terrain.outputs.wording import UNKNOWN, kilopascals, metres, ratio_words, slope_words

__all__ = [
    "arrow_items",
    "boundary_item",
    "label_items",
    "landing_items",
    "pressure_layer",
    "reserve_layer",
    "soil_layer",
    "to_degrees",
]

Items = list[dict[str, Any]]
_DIGITS = 6  # a tenth of a metre


def to_degrees(crs: str) -> Callable[[shapely.Geometry], shapely.Geometry]:
    """Return a function that turns geometry in ``crs`` into longitude and latitude, rounded."""
    transformer = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)

    def moved(geometry: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(
            geometry,
            lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1])).round(_DIGITS),
        )

    return moved


def _latlon(geometry: shapely.Geometry) -> list[list[float]]:
    return shapely.get_coordinates(geometry)[:, ::-1].tolist()


def _at(point: shapely.Geometry) -> list[float]:
    return _latlon(point)[0]


def reserve_layer(plan: Plan) -> dict[str, Any]:
    """Runs of equal traction-reserve class of the shown setup."""
    column = plan.evaluation.column(plan.ranking.shown)
    number = classify(plan.evaluation.reserve[:, column], RESERVE_CLASSES)
    return _trail_layer(plan, number, RESERVE_CLASSES)


def pressure_layer(plan: Plan) -> dict[str, Any]:
    """Runs of equal pressure-ratio class of the shown setup."""
    column = plan.evaluation.column(plan.ranking.shown)
    number = classify(plan.evaluation.pressure_ratio[:, column], PRESSURE_CLASSES)
    return _trail_layer(plan, number, PRESSURE_CLASSES)


def _trail_layer(
    plan: Plan, number: np.ndarray, classes: tuple[DrawingClass, ...]
) -> dict[str, Any]:
    moved = to_degrees(plan.dem.crs)
    trails = keyed(plan.trails, "trail")
    lines = dict(zip(trails["trail"].astype(str), trails["geometry"], strict=True))
    runs = []
    for run in runs_of(plan.stations, number):
        line = moved(substring(lines[run.trail], run.start_m, run.end_m))
        if line.geom_type == "LineString":
            runs.append(
                {
                    "t": run.trail,
                    "c": run.number,
                    "p": _latlon(line),
                    "r": _run_rows(plan, run, classes[run.number].label),
                }
            )
    return {
        "runs": runs,
        "classes": [
            {"colour": item.colour, "width": item.width, "dash": item.dash} for item in classes
        ],
        "trails": {str(row["trail"]): _trail_rows(row) for _, row in trails.iterrows()},
        "trailWord": "Trail",
        "runTitle": "This stretch",
        "trailTitle": "The whole trail",
    }


def _run_rows(plan: Plan, run: Run, label: str) -> list[list[str]]:
    column = plan.evaluation.column(plan.ranking.shown)
    reserve = plan.evaluation.reserve[run.rows, column]
    pressure = plan.evaluation.pressure_kpa[run.rows, column]
    ratio = plan.evaluation.pressure_ratio[run.rows, column]
    grade = plan.stations["grade"].to_numpy(dtype=float)[run.rows]
    cross = np.abs(plan.stations["cross_slope"].to_numpy(dtype=float)[run.rows])
    cause = UNKNOWN
    if np.isfinite(reserve).any():
        worst = run.rows[int(np.nanargmin(reserve))]
        cause = CAUSES[int(plan.evaluation.cause[worst, column])]
    return [
        ["Class", label],
        ["From, to", f"{metres(run.start_m)} to {metres(run.end_m)} along the trail as drawn"],
        ["Smallest reserve", slope_words(smallest(reserve))],
        ["What binds there", cause],
        ["Largest nominal ground pressure", kilopascals(largest(pressure))],
        ["Largest pressure ratio", ratio_words(largest(ratio))],
        *_steepest(
            largest(np.where(grade > 0, grade, np.nan)),
            largest(np.where(grade < 0, -grade, np.nan)),
        ),
        ["Steepest cross slope", slope_words(largest(cross))],
    ]


def _steepest(up: float, down: float) -> list[list[str]]:
    """Rows for uphill and downhill; "none" where the assessed stations only go the other way."""
    other = UNKNOWN if np.isnan(up) and np.isnan(down) else "none"
    return [
        ["Steepest uphill, loaded", other if np.isnan(up) else slope_words(up)],
        ["Steepest downhill, loaded", other if np.isnan(down) else slope_words(down)],
    ]


def _trail_rows(row: pd.Series) -> list[list[str]]:
    trail_class = row.get("trail_class")
    return [
        ["Class", str(trail_class) if isinstance(trail_class, str) else "not given"],
        ["Length", metres(row["length_m"])],
        *_steepest(row["steepest_up"], row["steepest_down"]),
        ["Steepest cross slope", slope_words(row["steepest_cross"])],
        ["Wet", metres(row["wet_m"])],
        ["Short of traction", metres(row["short_m"])],
        ["Over the bearing capacity", metres(row["over_bearing_m"])],
        ["Not assessed", metres(row["not_assessed_m"])],
        ["Worst reserve", slope_words(row["worst_reserve"])],
    ]


def soil_layer(plan: Plan) -> dict[str, Any]:
    """Soil polygons with a pattern for each class."""
    moved = to_degrees(plan.dem.crs)
    near_trails = plan.trails.geometry.union_all().buffer(25.0)
    items: Items = []
    for _, row in keyed(plan.soils, "polygon").iterrows():
        free = row["geometry"].difference(near_trails)
        label = (row["geometry"] if free.is_empty else free).representative_point()
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
                "at": _at(moved(label)),
                "fill": f"url(#rw-soil-{number})",
                "r": [
                    ["Sensitivity class as mapped", words],
                    ["Class comes from", origin],
                    ["Drainage", drainage],
                    ["Texture", texture],
                ],
            }
        )
    return {"items": items}


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
                ["Trail leading here", metres(float(lead.get(row["landing"], 0.0)))],
            ],
        }
        for _, row in keyed(plan.landings, "landing").iterrows()
    ]


def label_items(plan: Plan) -> Items:
    """Trail names, each at the middle of its trail, with the figures of the trail."""
    moved = to_degrees(plan.dem.crs)
    return [
        {
            "l": str(row["trail"]),
            "n": f"Trail {row['trail']}",
            "at": _at(moved(row["geometry"].interpolate(0.5, normalized=True))),
            "r": _trail_rows(row),
        }
        for _, row in keyed(plan.trails, "trail").iterrows()
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
