"""``trails.gpx``: trails as tracks and places as waypoints for a GPS receiver.

GPX 1.1 (Topografix 2004, GPX 1.1 Schema Documentation): elements stand in the order of the schema,
positions are WGS 84. Nothing holds the time of day, so equal plans give equal bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from xml.etree import ElementTree as Xml

import numpy as np
import shapely

from terrain.decision.results import Plan
from terrain.outputs.field_features import (
    DIGITS,
    Feature,
    place_features,
    sentence,
    trail_features,
)
from terrain.outputs.geometry import to_degrees
from terrain.outputs.page_parts import note_words
from terrain.outputs.xml_text import add, document

__all__ = ["gpx_text"]

_NAMESPACE = "http://www.topografix.com/GPX/1/1"
_PREFIX = {"emergency": "Emergency: ", "landing": "Landing ", "crossing": "Crossing "}

Moved = Callable[[shapely.Geometry], shapely.Geometry]


def gpx_text(plan: Plan) -> str:
    """Return the trails and places of ``plan`` as a GPX 1.1 document.

    Tracks are drawn as the planner drew the trails, because chainages and stretch names count from
    there. Names of closed trails and of places to stop at begin with the warning. Heights are the
    elevation model's, left out where it is void.
    """
    trails, places = trail_features(plan), place_features(plan)
    moved = to_degrees(plan.dem.crs, DIGITS)
    root = Xml.Element(
        "gpx", {"version": "1.1", "creator": f"Rutwise {plan.version}", "xmlns": _NAMESPACE}
    )
    _metadata(root, plan, [moved(item.geometry) for item in (*trails, *places)])
    for item in places:
        point = _point(root, "wpt", plan, item.geometry, moved)
        add(point, "name", _name(item))
        add(point, "desc", sentence(item.words))
        add(point, "type", item.kind)
    for item in trails:
        _track(root, plan, item, moved)
    return document(root)


def _name(item: Feature) -> str:
    """Name of a waypoint, a warning before everything else."""
    name = _PREFIX.get(item.kind, "") + item.name
    return f"{item.warning} {name}" if item.warning else name


def _metadata(root: Xml.Element, plan: Plan, shapes: list[shapely.Geometry]) -> None:
    head = Xml.SubElement(root, "metadata")
    add(head, "name", plan.name)
    add(head, "desc", note_words(plan))
    west, south, east, north = shapely.total_bounds(shapes)
    edges = {"minlat": south, "minlon": west, "maxlat": north, "maxlon": east}
    Xml.SubElement(head, "bounds", {name: _degrees(value) for name, value in edges.items()})


def _track(root: Xml.Element, plan: Plan, item: Feature, moved: Moved) -> None:
    track = Xml.SubElement(root, "trk")
    add(track, "name", item.label)
    add(track, "desc", sentence(item.words))
    add(track, "type", "extraction trail")
    for part in shapely.get_parts(item.geometry):
        segment = Xml.SubElement(track, "trkseg")
        for point in shapely.points(shapely.get_coordinates(part)):
            _point(segment, "trkpt", plan, point, moved)


def _point(
    parent: Xml.Element, tag: str, plan: Plan, point: shapely.Geometry, moved: Moved
) -> Xml.Element:
    place = moved(point)
    made = Xml.SubElement(parent, tag, {"lat": _degrees(place.y), "lon": _degrees(place.x)})
    height = float(plan.dem.bilinear(point.x, point.y))
    if np.isfinite(height):
        add(made, "ele", f"{height:.2f}")
    return made


def _degrees(value: float) -> str:
    return f"{value:.{DIGITS}f}"
