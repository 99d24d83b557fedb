"""``map.html``: one Folium map of the block that opens without a network."""

from __future__ import annotations

import html
from typing import Any

import folium
from branca.element import Element, Figure, MacroElement
from folium.map import Layer
from folium.template import Template

from terrain.decision.results import Plan
from terrain.outputs import map_layers
from terrain.outputs.leaflet import LEAFLET_SCRIPT, LEAFLET_STYLE, one_file, script_json
from terrain.outputs.overlays import class_overlay, shade_overlay
from terrain.outputs.page_parts import (
    PRESSURE_CLASSES,
    RESERVE_CLASSES,
    SLOPE_COLOURS,
    SOIL_CLASS_WORDS,
    environment,
    template_text,
)
from terrain.outputs.wet_layers import (
    WETNESS_CLASSES,
    buffer_layer,
    sign_layers,
    water_layer,
    wetness_overlays,
)
from terrain.outputs.wording import CAUTIONS, DEFERRAL, DEFINITIONS, INVENTED, UNKNOWN

__all__ = ["map_html"]


class _Raw(Element):
    """Text that is written as it is; Folium never reads it as a template."""

    _template = Template("{{ this.text }}")

    def __init__(self, text: str) -> None:
        super().__init__()
        self._name = "Raw"
        self.text = text


class _Map(folium.Map):
    """A map whose only assets are Leaflet's own, put into the page later."""

    default_js = [("leaflet", LEAFLET_SCRIPT)]  # noqa: RUF012
    default_css = [("leaflet_css", LEAFLET_STYLE)]  # noqa: RUF012


class _Drawn(Layer):
    """A layer drawn by one helper of ``map.js`` from plain data."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "var {{ this.get_name() }} = rutwise.{{ this.helper }}({{ this.data }});"
        "{% endmacro %}"
    )

    def __init__(
        self, helper: str, data: Any, name: str, overlay: bool = True, show: bool = True
    ) -> None:
        super().__init__(name=name, overlay=overlay, show=show)
        self._name = "Drawn"
        self.helper = helper
        self.data = script_json(data)


class _Helpers(MacroElement):
    """Puts ``map.js`` before the layers and makes the panes."""

    _template = Template(
        "{% macro script(this, kwargs) %}{{ this.text }}\n"
        "rutwise.panes({{ this._parent.get_name() }});{% endmacro %}"
    )

    def __init__(self) -> None:
        super().__init__()
        self._name = "Helpers"
        self.text = template_text("map.js")


class _Settle(MacroElement):
    """Last touches once every layer and control is there."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "rutwise.settle({{ this._parent.get_name() }}, {{ this.control.get_name() }}, "
        "{{ this.bounds }}, {{ this.note }});{% endmacro %}"
    )

    def __init__(self, control: folium.LayerControl, bounds: list[list[float]], note: str) -> None:
        super().__init__()
        self._name = "Settle"
        self.control = control
        self.bounds = script_json(bounds)
        self.note = script_json(note)


def map_html(plan: Plan) -> str:
    """Return the map of ``plan`` as one page, the same bytes for the same plan.

    The page loads nothing, runs only its own scripts, and shows names as text whatever they hold.
    """
    west, south, east, north = map_layers.to_degrees(plan.dem.crs)(
        plan.trails.geometry.union_all()
    ).bounds
    page = _Map(
        location=[(south + north) / 2, (west + east) / 2],
        tiles=None,
        control_scale=True,
        zoom_start=15,
        min_zoom=9,
        max_zoom=21,
        zoom_snap=0.25,
        zoom_delta=0.5,
    )
    figure = page.get_root()
    assert isinstance(figure, Figure)
    figure.header.add_child(_Raw(f"<title>{html.escape(plan.name)}: Rutwise map</title>"))
    figure.html.add_child(_Raw(_panel(plan)))
    page.add_child(_Helpers())
    for layer in _layers(plan):
        page.add_child(layer)
    control = folium.LayerControl(position="topright", collapsed=True)
    page.add_child(control)
    page.add_child(_Settle(control, [[south, west], [north, east]], html.escape(DEFERRAL, False)))
    figure.header.add_child(_Raw(f"<style>{template_text('map.css')}</style>"))
    return one_file(figure)


def _layers(plan: Plan) -> list[Layer]:
    shade = shade_overlay(plan.dem)
    slope = class_overlay(plan.slope_class, SLOPE_COLOURS)
    layers: list[Layer] = [
        _Drawn("trails", map_layers.reserve_layer(plan), "Trails by traction reserve", False),
        _Drawn(
            "trails", map_layers.pressure_layer(plan), "Trails by pressure ratio", False, show=False
        ),
        folium.raster_layers.ImageOverlay(
            shade.uri, shade.bounds, name="Shaded ground", alt="shaded ground", zindex=1
        ),
        folium.raster_layers.ImageOverlay(
            slope.uri,
            slope.bounds,
            name="Slope classes",
            alt="slope classes",
            opacity=0.55,
            zindex=2,
        ),
        _Drawn("polygons", map_layers.soil_layer(plan), "Soil classes"),
        *_wet_layers(plan),
    ]
    if plan.boundary is not None:
        outline = map_layers.boundary_item(plan.boundary, plan.dem.crs)
        layers.append(_Drawn("outline", outline, "Block boundary"))
    layers += [
        _Drawn("arrows", map_layers.arrow_items(plan), "Direction of loaded travel"),
        _Drawn("labels", map_layers.label_items(plan), "Trail names"),
        _Drawn("landings", map_layers.landing_items(plan), "Landings"),
    ]
    return layers


def _wet_layers(plan: Plan) -> list[Layer]:
    """Wet ground by state, water, strips along it, crossings, depressions and readings."""
    layers: list[Layer] = [
        folium.raster_layers.ImageOverlay(
            picture.uri, picture.bounds, name=name, alt=name, opacity=0.75, zindex=3, show=show
        )
        for name, picture, show in wetness_overlays(plan)
    ]
    if water := water_layer(plan):
        look = {"items": water, "colour": "#0b3f5e", "weight": 2.5, "fill": 0.5}
        layers.append(_Drawn("areas", look, "Mapped water"))
    if strips := buffer_layer(plan):
        look = {"items": strips, "colour": "#7a1f5c", "weight": 1.5, "dash": "6 3", "fill": 0.16}
        layers.append(_Drawn("areas", look, "Machine-free strip along water"))
    # crossings and readings lie on the very stretches that decide: they must not hide them at first
    layers += [
        _Drawn("signs", items, name, show=name == "Depressions to check in the field")
        for name, items in sign_layers(plan).items()
    ]
    return layers


def _panel(plan: Plan) -> str:
    count = len(plan.slope_labels)
    colours = [SLOPE_COLOURS[min(k, len(SLOPE_COLOURS) - 1)] for k in range(count)]
    return (
        environment()
        .get_template("map_panel.html")
        .render(
            plan=plan,
            shown=_shown_words(plan),
            invented=INVENTED if plan.invented or plan.machine.invented else "",
            reserve_classes=RESERVE_CLASSES[1:] + RESERVE_CLASSES[:1],
            pressure_classes=PRESSURE_CLASSES[1:] + PRESSURE_CLASSES[:1],
            slope_classes=list(zip(plan.slope_labels, colours, strict=True)),
            wetness_classes=WETNESS_CLASSES if plan.wet_ground is not None else (),
            soil_classes=[*SOIL_CLASS_WORDS.items(), (0, f"class {UNKNOWN}")],
            definitions=list(DEFINITIONS.items()),
            cautions=CAUTIONS,
        )
    )


def _shown_words(plan: Plan) -> str:
    table = plan.ranking.setups
    found = table.loc[table["setup"] == plan.ranking.shown, "description"]
    return str(found.iloc[0]) if len(found) else plan.ranking.shown
