"""Wet ground on the map: wetness by moisture state, buffers, crossings, depressions, readings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from shapely.geometry import mapping

from terrain.decision.ground import frost_is_verified
from terrain.decision.results import Plan
from terrain.decision.water_met import has_crossing
from terrain.decision.wet_results import WetGround
from terrain.grid import Grid
from terrain.mechanics.soil_strength import drainage_rank, wet_flag
from terrain.mechanics.wet_classes import effective_rule, water_rule
from terrain.models.soil import MOISTURE_STATES
from terrain.outputs.geometry import middle_of, to_degrees
from terrain.outputs.overlays import Overlay, class_overlay
from terrain.outputs.page_parts import keyed, rows_of
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import UNKNOWN

__all__ = [
    "WETNESS_CLASSES",
    "buffer_layer",
    "sign_layers",
    "water_layer",
    "wetness_grid",
    "wetness_overlays",
]

WETNESS_CLASSES: tuple[tuple[str, str], ...] = (
    ("wet by its soil: class or drainage", "#9cc9a6"),
    ("wet by water: depth to water up to 1 m", "#3f9e8c"),
    ("both", "#0d4f4a"),
)
"""Label and colour of wet ground, light to dark so that they part in grey too."""

Items = list[dict[str, Any]]


def wetness_grid(plan: Plan, wet: WetGround, state: str) -> Grid:
    """Where the ground is wet in ``state``: 0 not or not known, 1 by soil, 2 by water, 3 by both.

    The same rules as at the stations, cell by cell; where soil polygons overlap, wet rules.
    """
    from rasterio.features import rasterize
    from rasterio.transform import from_origin

    verified = frost_is_verified(plan.settings.ground)
    rule = effective_rule(state, frost_verified=verified)
    dem = plan.dem
    classes = plan.soils["soil_class"].fillna(0).to_numpy(dtype=np.int64)
    by_soil = wet_flag(classes, drainage_rank(plan.soils["drainage"]), rule) == 1
    grid = np.zeros(dem.shape, dtype=np.uint8)
    if by_soil.any():
        rasterize(
            [(shape, 1) for shape in plan.soils.geometry.values[by_soil]],
            out=grid,
            transform=from_origin(dem.west_m, dem.north_m, dem.cell_m, dem.cell_m),
        )
    if rule.wet_from_class is not None or rule.wet_from_drainage is not None:
        depth = wet.depth_to_water[rule.flow_initiation_ha].values
        grid[depth <= water_rule().wet_up_to_m] += 2
    grid[np.isnan(dem.values)] = 0
    return dem.with_values(grid)


def wetness_overlays(plan: Plan) -> dict[str, tuple[str, Overlay]]:
    """Picture of wet ground by moisture state, with its name.

    Verified frost has none; frost that nobody verified is drawn as the moist state it is taken for.
    """
    wet = plan.wet_ground
    if wet is None:
        return {}
    chosen = plan.settings.ground.state
    colours = tuple(colour for _, colour in WETNESS_CLASSES)
    made: dict[str, tuple[str, Overlay]] = {}
    for state in MOISTURE_STATES:
        words = f"Wet ground, {state}{' (this run)' if state == chosen else ''}"
        if state == "frozen":
            if frost_is_verified(plan.settings.ground):
                continue
            words += ", not verified: as moist"
        made[state] = (words, class_overlay(wetness_grid(plan, wet, state), colours))
    return made


def water_layer(plan: Plan) -> Items:
    """Mapped streams and open water near the block; empty where nothing is mapped."""
    wet = plan.wet_ground
    layers = [] if wet is None else [wet.streams, wet.open_water]
    shapes = [shape for layer in layers if layer is not None for shape in layer.geometry.values]
    return _areas(plan, shapes, lambda shape: "Mapped water", lambda shape: [])


def buffer_layer(plan: Plan, shown: Shown = METRIC) -> Items:
    """Machine-free strips; empty where none is stated."""
    wet = plan.wet_ground
    if wet is None or wet.buffers is None:
        return []
    rows = [
        ["Machine-free strip", shown.sentence(wet.buffer_words)],
        ["Rule", "the site's own rule decides"],
    ]
    return _areas(
        plan, list(wet.buffers.geometry.values), lambda shape: "Buffer", lambda shape: rows
    )


def _areas(
    plan: Plan,
    shapes: list[shapely.Geometry],
    name: Callable[[shapely.Geometry], str],
    rows: Callable[[shapely.Geometry], list[list[str]]],
) -> Items:
    moved, window = to_degrees(plan.dem.crs), shapely.box(*plan.dem.bounds)
    cut = [shapely.intersection(shape, window) for shape in shapes]
    return [
        {"n": name(shape), "g": mapping(moved(shape)), "r": rows(shape)}
        for shape in cut
        if not shape.is_empty
    ]


def sign_layers(plan: Plan, shown: Shown = METRIC) -> dict[str, Items]:
    """Signs by name of their layer; empty layers are left out.

    Crossings by their name, water that a trail meets without one, depressions to check, readings.
    Each item has a letter or name, a class for its look, a place and rows for its pop-up.
    """
    wet = plan.wet_ground
    if wet is None:
        return {}
    layers = {
        "Crossings": _crossings(plan, wet, shown),
        "Water without a mapped crossing": _uncrossed(plan, wet, shown),
        "Depressions to check in the field": _depressions(plan, wet, shown),
        "Strength readings": _readings(plan, wet, shown),
    }
    return {name: items for name, items in layers.items() if items}


def _sign(
    plan: Plan, look: str, words: tuple[str, str, str], place: Any, rows: list[list[str]]
) -> dict[str, Any]:
    """One sign; ``words`` are the text on it, its name in the search and that of the pop-up."""
    letter, identifier, name = words
    point = to_degrees(plan.dem.crs)(place)
    return {
        "id": identifier, "k": look, "l": letter, "n": name, "at": [point.y, point.x], "r": rows,
    }  # fmt: skip


def _span(row: dict[str, Any], shown: Shown) -> str:
    """Trail and metres along it of a stretch at water."""
    return f"{row['trail']}, {shown.bare(row['from_m'], 'm')} to {shown.length(row['to_m'])}"


def _crossings(plan: Plan, wet: WetGround, shown: Shown) -> Items:
    """Crossings under the names of their file, which the operator's page uses too."""
    if wet.crossings is None:
        return []
    met = [row for row in rows_of(wet.water_runs) if has_crossing(row)]
    items = []
    for _, row in keyed(wet.crossings, "crossing").iterrows():
        name = str(row["crossing"])
        trails = "; ".join(_span(run, shown) for run in met if run["crossing"] == name)
        flow = (
            "runs on under this crossing"
            if row["carved"]
            else "may be held up here: the crossing lies beyond the known elevation"
        )
        rows = [
            ["Kind", row["kind"] if isinstance(row["kind"], str) else UNKNOWN],
            ["Trail over it", trails or "no trail meets water here"],
            ["Computed water", flow],
            ["Before loading it", "see that it carries machine, load and aids; not judged here"],
        ]
        words = (name, name, f"Crossing {name}")
        items.append(_sign(plan, "rw-crossing", words, middle_of(row["geometry"]), rows))
    return items


def _uncrossed(plan: Plan, wet: WetGround, shown: Shown) -> Items:
    """Places where a trail meets water and no crossing is mapped, in the middle of the stretch."""
    lines = {
        str(row["trail"]): row["geometry"] for _, row in keyed(plan.trails, "trail").iterrows()
    }
    items = []
    for row in rows_of(wet.water_runs):
        if has_crossing(row):
            continue
        near = "none is mapped"
        if isinstance(row["crossing"], str):
            near = f"{row['crossing']}, {shown.length(row['to_crossing_m'])} away"
        rows = [
            ["Where", _span(row, shown)],
            ["Nearest mapped crossing", near],
            ["Do", "stop and ask: do not drive through, and lay no brash into water"],
        ]
        name = f"Water without a crossing: {_span(row, shown)}"
        place = lines[str(row["trail"])].interpolate((row["from_m"] + row["to_m"]) / 2)
        items.append(_sign(plan, "rw-water", ("!", name, name), place, rows))
    return items


def _depressions(plan: Plan, wet: WetGround, shown: Shown) -> Items:
    items = []
    for row in rows_of(keyed(wet.depressions, "depression")):
        rows = [
            ["Depth below its spill level", shown.fine_length(row["depth_m"])],
            ["Area", shown.amount(row["area_m2"], "m2")],
            ["Trail in it", shown.length(row["trail_m"])],
            ["Look for", "standing water, or a culvert that the elevation does not show"],
        ]
        name = f"Depression {row['depression']}"
        items.append(_sign(plan, "rw-hollow", ("D", name, name), row["geometry"], rows))
    return items


def _readings(plan: Plan, wet: WetGround, shown: Shown) -> Items:
    if wet.readings is None:
        return []
    items = []
    for row in rows_of(wet.readings):
        depth = UNKNOWN
        if not np.isnan(row["depth_cm"]):
            metres = row["depth_cm"] / 100
            depth = shown.fine_length(metres) if shown.is_us else f"{row['depth_cm']:g} cm"
        rows = [
            ["Kind", str(row["kind"])],
            ["Reading", shown.pressure(row["value_kpa"])],
            ["Depth", depth],
            ["Date", row["date"] if isinstance(row["date"], str) else UNKNOWN],
            ["State on that day", str(row["moisture_state"])],
            ["Soil polygon", str(row["polygon"])],
        ]
        name = f"Reading, row {row['row']}"
        items.append(_sign(plan, "rw-reading", ("", name, name), row["geometry"], rows))
    return items
