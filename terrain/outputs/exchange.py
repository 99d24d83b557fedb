"""``block.geojson`` and ``block.kml``: the block for phones, tablets and web maps.

GeoJSON follows RFC 7946 (Butler et al. 2016, The GeoJSON Format): WGS 84, no ``crs`` member, outer
rings counter-clockwise, seven decimals. KML follows OGC 07-147r2 (OGC KML 2.2, 2008). Equal plans
give equal bytes.
"""

from __future__ import annotations

import html
import json
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree as Xml

import pandas as pd
import shapely
from shapely.geometry import mapping

from terrain.decision.results import Plan
from terrain.outputs.field_features import (
    CLOSED,
    DIGITS,
    Feature,
    area_features,
    place_features,
    stretch_features,
    trail_features,
    trail_warnings,
)
from terrain.outputs.geometry import to_degrees
from terrain.outputs.page_parts import RESERVE_CLASSES, keyed, note_words, without_geometry
from terrain.outputs.shown_units import METRIC
from terrain.outputs.tables import plain, runs_table
from terrain.outputs.wording import slope_words
from terrain.outputs.xml_text import add, document

__all__ = ["geojson_text", "kml_text"]

_KML = "http://www.opengis.net/kml/2.2"
_LOOKS: dict[str, tuple[str, float, float]] = {
    "boundary": ("#1d2430", 2.0, 0.0),
    "strip": ("#7a1f5c", 1.5, 0.25),
    "water": ("#0b3f5e", 1.5, 0.5),
    "trail": ("#1d2430", 2.0, 0.0),
    "stretch": ("#a3123f", 7.0, 0.0),
    "landing": ("#0072b2", 1.0, 0.0),
    "crossing": ("#0b3f5e", 1.0, 0.0),
    "no-crossing": ("#a3123f", 1.0, 0.0),
    "emergency": ("#d55e00", 1.0, 0.0),
    "closed": ("#7a7a7a", 4.0, 0.0),
}
"""Colour, line width in pixels and opacity of the fill, by kind of feature."""
_FOLDERS = (
    ("emergency", "Emergency point"),
    ("landing", "Landings"),
    ("no crossing", "Water without a crossing: stop and ask"),
    ("crossing", "Crossings"),
    ("worst place", "Weakest place of each stretch"),
    ("stretch", "Weak stretches"),
    ("reserve", "Traction reserve of the shown setup"),
    ("trail", "Trails"),
    ("strip", "Machine-free strip along water"),
    ("water", "Mapped water"),
    ("boundary", "Block boundary"),
)


def geojson_text(plan: Plan) -> str:
    """Return the block as one feature collection.

    Each feature has the properties ``layer``, ``name`` and ``words`` (as people read them), and
    ``warning`` where nobody drives on, or not before asking. Trails and stretches also have their
    figures, in metres, ratios and the other units that the names of the columns tell; an unknown
    figure is ``null``.
    """
    moved = to_degrees(plan.dem.crs, DIGITS)
    figures = {"trail": _figures(keyed(plan.trails, "trail"), "trail")}
    if plan.bottlenecks is not None:
        figures["stretch"] = _figures(plan.bottlenecks, "stretch")
    features = []
    shapes = []
    for item in _features(plan):
        shape = shapely.orient_polygons(moved(item.geometry), exterior_cw=False)
        shapes.append(shape)
        properties = {"layer": item.kind, "name": item.name, "words": dict(item.words)}
        if item.warning:
            properties["warning"] = item.warning
        properties.update(figures.get(item.kind, {}).get(item.name, {}))
        features.append({"type": "Feature", "geometry": mapping(shape), "properties": properties})
    collection = {
        "type": "FeatureCollection",
        "bbox": [round(float(value), DIGITS) for value in shapely.total_bounds(shapes)],
        "title": plan.name,
        "note": note_words(plan),
        "features": features,
    }
    return json.dumps(collection, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def kml_text(plan: Plan) -> str:
    """Return the block as a KML 2.2 document with one folder for each kind of feature.

    Names are plain text. Descriptions are HTML by the standard, so what people wrote is escaped.
    """
    moved = to_degrees(plan.dem.crs, DIGITS)
    root = Xml.Element("kml", {"xmlns": _KML})
    body = Xml.SubElement(root, "Document")
    add(body, "name", plan.name)
    add(body, "description", html.escape(note_words(plan)))
    for kind, look in _LOOKS.items():
        _style(body, kind, *look)
    for number, drawn in enumerate(RESERVE_CLASSES):
        _style(body, f"reserve-{number}", drawn.colour, drawn.width, 0.0)
    features = _features(plan)
    for kind, title in _FOLDERS:
        inside = [item for item in features if item.kind == kind]
        if not inside:
            continue
        folder = Xml.SubElement(body, "Folder")
        add(folder, "name", title)
        for item in inside:
            _placemark(folder, item, moved(item.geometry))
    return document(root)


def _features(plan: Plan) -> list[Feature]:
    """Every feature of the two formats, big ones first, so that small ones are drawn above."""
    places = [
        replace(item, kind="worst place") if item.kind == "stretch" else item
        for item in place_features(plan)
    ]
    return [
        *area_features(plan),
        *trail_features(plan),
        *_reserve_features(plan),
        *stretch_features(plan),
        *places,
    ]


def _reserve_features(plan: Plan) -> list[Feature]:
    """Stretches of equal traction-reserve class, as on the map; those of closed trails say so.

    So do those of trails with water on them or on the way at which no crossing is mapped.
    """
    made = []
    warnings = trail_warnings(plan)
    for _, row in runs_table(plan).iterrows():
        if row["geometry"].geom_type != "LineString":
            continue
        words = (
            ("Class", str(row["reserve_class"])),
            (
                "From, to",
                f"{METRIC.length(row['from_m'])} to {METRIC.length(row['to_m'])} as drawn",
            ),
            ("Smallest reserve", slope_words(row["worst_reserve"])),
            ("What binds there", str(row["cause"])),
        )
        trail = str(row["trail"])
        warning = warnings.get(trail, "")
        made.append(Feature("reserve", trail, row["geometry"], words, warning))
    return made


def _figures(frame: pd.DataFrame, key: str) -> dict[str, dict[str, Any]]:
    return {
        str(row[key]): {str(name): plain(value) for name, value in row.items() if name != key}
        for row in without_geometry(frame).astype(object).to_dict("records")
    }


def _style(body: Xml.Element, name: str, colour: str, width: float, fill: float) -> None:
    style = Xml.SubElement(body, "Style", {"id": name})
    icon = Xml.SubElement(style, "IconStyle")
    add(icon, "color", _kml_colour(colour, 1.0))
    line = Xml.SubElement(style, "LineStyle")
    add(line, "color", _kml_colour(colour, 1.0))
    add(line, "width", f"{width:g}")
    area = Xml.SubElement(style, "PolyStyle")
    add(area, "color", _kml_colour(colour, fill))
    add(area, "fill", "1" if fill else "0")


def _kml_colour(colour: str, opacity: float) -> str:
    """Turn ``#rrggbb`` into the order of KML: opacity, blue, green, red."""
    return f"{round(255 * opacity):02x}{colour[5:7]}{colour[3:5]}{colour[1:3]}"


def _placemark(folder: Xml.Element, item: Feature, shape: shapely.Geometry) -> None:
    mark = Xml.SubElement(folder, "Placemark")
    add(mark, "name", item.label)
    if item.words:
        rows = (f"{html.escape(label)}: {html.escape(text)}" for label, text in item.words)
        add(mark, "description", "<br/>".join(rows))
    add(mark, "styleUrl", "#" + _style_of(item))
    _kml_geometry(mark, shape)


def _style_of(item: Feature) -> str:
    if item.warning == CLOSED:
        return "closed"
    if item.kind == "no crossing":
        return "no-crossing"
    if item.kind == "worst place":
        return "stretch"
    if item.kind != "reserve":
        return item.kind
    labels = [entry.label for entry in RESERVE_CLASSES]
    return f"reserve-{labels.index(dict(item.words)['Class'])}"


def _kml_geometry(parent: Xml.Element, shape: shapely.Geometry) -> None:
    if shape.geom_type == "Point":
        add(Xml.SubElement(parent, "Point"), "coordinates", _kml_coordinates(shape))
    elif shape.geom_type == "LineString":
        line = Xml.SubElement(parent, "LineString")
        add(line, "tessellate", "1")
        add(line, "coordinates", _kml_coordinates(shape))
    elif shape.geom_type == "Polygon":
        turned = shapely.orient_polygons(shape, exterior_cw=False)
        area = Xml.SubElement(parent, "Polygon")
        add(area, "tessellate", "1")
        for tag, rings in (("outer", [turned.exterior]), ("inner", turned.interiors)):
            for ring in rings:
                edge = Xml.SubElement(area, f"{tag}BoundaryIs")
                add(Xml.SubElement(edge, "LinearRing"), "coordinates", _kml_coordinates(ring))
    else:
        several = Xml.SubElement(parent, "MultiGeometry")
        for part in shapely.get_parts(shape):
            _kml_geometry(several, part)


def _kml_coordinates(shape: shapely.Geometry) -> str:
    return " ".join(f"{x:.{DIGITS}f},{y:.{DIGITS}f}" for x, y in shapely.get_coordinates(shape))
