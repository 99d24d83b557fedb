"""Styles inside ``block.gpkg``: a table that a desktop GIS reads when it opens a layer.

The table ``layer_styles`` is a convention, no part of the GeoPackage standard. Each row holds the
look of one layer twice: in the open standard OGC 02-070 (OGC Styled Layer Descriptor 1.0, 2002),
and in the XML of the open-source desktop GIS that the table comes from, because it reads only that.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree as Xml

import pandas as pd

from terrain.outputs.gpkg_looks import LAYER_LOOKS, LayerLook, Look
from terrain.outputs.xml_text import add

__all__ = ["gis_style", "layer_styles", "sld_style", "write_styles"]

_WHITE = "255,255,255,255"
_PLACEMENT = {  # beside the sign, above the line, over the area
    "point": {"placement": "0", "dist": "1.5"},
    "line": {"placement": "2", "placementFlags": "10"},
    "area": {"placement": "1"},
}
_MM_PER_PIXEL = 25.4 / 96  # a CSS pixel
_MARKS = {"cross": ("x", "cross2")}  # well-known name of the standard, name in the GIS


def write_styles(path: Path, date: str) -> None:
    """Add the table of styles to the GeoPackage ``path``, for every spatial layer that has a look.

    ``date`` is as for :func:`layer_styles`.
    """
    import pyogrio

    with closing(sqlite3.connect(path)) as base:
        found = base.execute("SELECT table_name, column_name FROM gpkg_geometry_columns").fetchall()
    table = layer_styles(dict(found), date)
    if len(table):
        pyogrio.write_dataframe(
            table,
            path,
            layer="layer_styles",
            driver="GPKG",
            append=True,
            layer_options={"FID": "id"},
        )
        with closing(sqlite3.connect(path)) as base, base:
            base.execute("UPDATE layer_styles SET update_time = ?", (date,))


def layer_styles(geometry_columns: Mapping[str, str], date: str) -> pd.DataFrame:
    """Return the rows of the table ``layer_styles``.

    Parameters
    ----------
    geometry_columns : mapping
        Name of the geometry column by name of the spatial layer that the file holds.
    date : str
        What stands for the time of writing: fixed, so that equal plans give equal bytes.
    """
    rows = [
        {
            "f_table_catalog": "",
            "f_table_schema": "",
            "f_table_name": name,
            "f_geometry_column": geometry_columns[name],
            "styleName": name,
            "styleQML": gis_style(look),
            "styleSLD": sld_style(name, look),
            "useAsDefault": True,
            "description": f"Look of the layer {name}",
            "owner": "",
            "ui": None,
            "update_time": pd.Timestamp(date),
        }
        for name, look in LAYER_LOOKS.items()
        if name in geometry_columns
    ]
    return pd.DataFrame(rows).astype({"ui": "string"})


def sld_style(name: str, layer: LayerLook) -> str:
    """Return the look of ``layer`` as a Styled Layer Descriptor 1.0."""
    root = Xml.Element(
        "StyledLayerDescriptor",
        {
            "version": "1.0.0",
            "xmlns": "http://www.opengis.net/sld",
            "xmlns:ogc": "http://www.opengis.net/ogc",
        },
    )
    named = Xml.SubElement(root, "NamedLayer")
    add(named, "Name", name)
    style = Xml.SubElement(named, "UserStyle")
    add(style, "IsDefault", "1")
    rules = Xml.SubElement(style, "FeatureTypeStyle")
    for look in layer.looks:
        rule = Xml.SubElement(rules, "Rule")
        add(rule, "Title", look.label)
        if layer.attribute:
            equal = Xml.SubElement(Xml.SubElement(rule, "ogc:Filter"), "ogc:PropertyIsEqualTo")
            add(equal, "ogc:PropertyName", layer.attribute)
            add(equal, "ogc:Literal", str(look.value))
        _sld_symbol(rule, layer.kind, look)
        if layer.label_from:
            text = Xml.SubElement(rule, "TextSymbolizer")
            add(Xml.SubElement(text, "Label"), "ogc:PropertyName", layer.label_from)
            _sld_parameters(Xml.SubElement(text, "Font"), {"font-size": "11"})
            halo = Xml.SubElement(text, "Halo")
            add(halo, "Radius", "1.5")
            _sld_parameters(Xml.SubElement(halo, "Fill"), {"fill": "#ffffff"})
            _sld_parameters(Xml.SubElement(text, "Fill"), {"fill": "#1d2430"})
    return _text(root)


def _sld_symbol(rule: Xml.Element, kind: str, look: Look) -> None:
    stroke = {"stroke": look.colour, "stroke-width": f"{look.width:g}"}
    if look.dash:
        stroke["stroke-dasharray"] = look.dash
    if kind == "line":
        _sld_parameters(Xml.SubElement(Xml.SubElement(rule, "LineSymbolizer"), "Stroke"), stroke)
    elif kind == "area":
        symbol = Xml.SubElement(rule, "PolygonSymbolizer")
        if look.fill:
            fill = {"fill": look.colour, "fill-opacity": f"{look.fill:g}"}
            _sld_parameters(Xml.SubElement(symbol, "Fill"), fill)
        _sld_parameters(Xml.SubElement(symbol, "Stroke"), stroke)
    else:
        graphic = Xml.SubElement(Xml.SubElement(rule, "PointSymbolizer"), "Graphic")
        mark = Xml.SubElement(graphic, "Mark")
        add(mark, "WellKnownName", _MARKS.get(look.shape, (look.shape,))[0])
        _sld_parameters(Xml.SubElement(mark, "Fill"), {"fill": look.colour})
        edge = {"stroke": "#ffffff", "stroke-width": "1"}
        if look.shape == "cross":
            edge = {"stroke": look.colour, "stroke-width": "2"}
        _sld_parameters(Xml.SubElement(mark, "Stroke"), edge)
        add(graphic, "Size", f"{look.width:g}")


def _sld_parameters(parent: Xml.Element, values: Mapping[str, str]) -> None:
    for name, value in values.items():
        add(parent, "CssParameter", value).set("name", name)


def gis_style(layer: LayerLook) -> str:
    """Return the look of ``layer`` in the XML that the desktop GIS reads from the table."""
    root = Xml.Element(
        "qgis",
        {
            "version": "3.22.0",
            "styleCategories": "Symbology|Labeling",
            "labelsEnabled": "1" if layer.label_from else "0",
        },
    )
    kind = "categorizedSymbol" if layer.attribute else "singleSymbol"
    renderer = Xml.SubElement(root, "renderer-v2", {"type": kind})
    if layer.attribute:
        renderer.set("attr", layer.attribute)
        classes = Xml.SubElement(renderer, "categories")
        for number, look in enumerate(layer.looks):
            Xml.SubElement(
                classes,
                "category",
                {
                    "symbol": str(number),
                    "value": str(look.value),
                    "type": "long" if isinstance(look.value, int) else "string",
                    "label": look.label,
                    "render": "true",
                },
            )
    symbols = Xml.SubElement(renderer, "symbols")
    for number, look in enumerate(layer.looks):
        _gis_symbol(symbols, str(number), layer.kind, look)
    if layer.label_from:
        labels = Xml.SubElement(root, "labeling", {"type": "simple"})
        settings = Xml.SubElement(labels, "settings")
        words = Xml.SubElement(
            settings,
            "text-style",
            {"fieldName": layer.label_from, "isExpression": "0", "fontSize": "9"},
        )
        Xml.SubElement(
            words, "text-buffer", {"bufferDraw": "1", "bufferSize": "0.8", "bufferColor": _WHITE}
        )
        Xml.SubElement(settings, "placement", {**_PLACEMENT[layer.kind], "priority": "5"})
        Xml.SubElement(settings, "rendering", {"obstacle": "0", "drawLabels": "1"})
    return _text(root)


def _gis_symbol(symbols: Xml.Element, name: str, kind: str, look: Look) -> None:
    symbol = Xml.SubElement(
        symbols,
        "symbol",
        {"name": name, "type": {"point": "marker", "line": "line", "area": "fill"}[kind]},
    )
    colour = ",".join(str(int(look.colour[k : k + 2], 16)) for k in (1, 3, 5))
    size = f"{look.width * _MM_PER_PIXEL:.3f}"
    if kind == "line":
        values = {"line_color": f"{colour},255", "line_width": size, "line_width_unit": "MM"}
        if look.dash:
            lengths = (f"{float(part) * _MM_PER_PIXEL:.3f}" for part in look.dash.split())
            values.update({"use_custom_dash": "1", "customdash": ";".join(lengths)})
            values["customdash_unit"] = "MM"
        made = "SimpleLine"
    elif kind == "area":
        values = {
            "color": f"{colour},{round(255 * look.fill)}",
            "style": "solid" if look.fill else "no",
            "outline_color": f"{colour},255",
            "outline_style": "dash" if look.dash else "solid",
            "outline_width": size,
            "outline_width_unit": "MM",
        }
        made = "SimpleFill"
    else:
        values = {
            "name": _MARKS.get(look.shape, ("", look.shape))[1],
            "color": f"{colour},255",
            "outline_color": f"{colour},255" if look.shape == "cross" else _WHITE,
            "outline_width": "0.5" if look.shape == "cross" else "0.2",
            "size": size,
            "size_unit": "MM",
        }
        made = "SimpleMarker"
    layer = Xml.SubElement(symbol, "layer", {"class": made, "enabled": "1"})
    for key, value in values.items():
        Xml.SubElement(layer, "prop", {"k": key, "v": value})


def _text(root: Xml.Element) -> str:
    Xml.indent(root, " ")
    return Xml.tostring(root, "unicode")
