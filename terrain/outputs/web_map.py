"""``map.html``: one Folium map of the block that opens without a network."""

from __future__ import annotations

import html
from typing import Any

import folium
from branca.element import Element, Figure, MacroElement
from folium.map import Layer
from folium.template import Template

from terrain.decision.results import Plan
from terrain.outputs import map_layers, map_slopes, map_trails
from terrain.outputs.geometry import to_degrees
from terrain.outputs.leaflet import LEAFLET_SCRIPT, LEAFLET_STYLE, one_file, script_json
from terrain.outputs.map_base import base_map_origin
from terrain.outputs.map_classes import NOT_JUDGED, STRETCH_LOOKS, MapClass, View, casing, views
from terrain.outputs.map_data import evaluations_of, map_data, states_judged
from terrain.outputs.map_place import grid_table
from terrain.outputs.overlays import class_overlay, shade_overlay
from terrain.outputs.page_parts import (
    SLOPE_COLOURS,
    SOIL_CLASS_WORDS,
    environment,
    invented_words,
    template_text,
)
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wet_layers import (
    WETNESS_CLASSES,
    buffer_layer,
    sign_layers,
    water_layer,
    wetness_overlays,
)
from terrain.outputs.wording import CAUTIONS, DEFERRAL, DEFINITIONS, UNKNOWN

__all__ = ["map_html"]

_SCRIPTS = (
    "map.js", "map_labels.js", "map_place.js", "map_trails.js", "map_use.js", "map_strip.js",
    "map_weak.js", "map_find.js", "map_print.js", "map_panel.js",
)  # fmt: skip


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

    def __init__(self, helper: str, data: Any, name: str, show: bool = True) -> None:
        super().__init__(name=name, overlay=True, show=show)
        self._name = "Drawn"
        self.helper = helper
        self.data = script_json(data)


class _Helpers(MacroElement):
    """Puts the page's scripts before the layers and makes the panes."""

    _template = Template(
        "{% macro script(this, kwargs) %}{{ this.text }}\n"
        "rutwise.panes({{ this._parent.get_name() }});{% endmacro %}"
    )

    def __init__(self) -> None:
        super().__init__()
        self._name = "Helpers"
        self.text = "\n".join(template_text(name) for name in _SCRIPTS)


class _Start(MacroElement):
    """Starts the page once every layer is there."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "rutwise.start({{ this._parent.get_name() }}, {layers: ["
        "{% for layer in this.layers %}{name: {{ this.words(layer.layer_name) }}, "
        "layer: {{ layer.get_name() }}, show: {{ 'true' if layer.show else 'false' }}},{% endfor %}"
        "], wetness: { "
        "{% for state, layer in this.wetness.items() %}{{ state }}: {{ layer.get_name() }},"
        "{% endfor %} }, names: {{ this.names }}, bounds: {{ this.bounds }}, "
        "north: {{ this.north }}, note: {{ this.note }}}, {{ this.data }});{% endmacro %}"
    )

    def __init__(
        self,
        plan: Plan,
        shown: Shown,
        layers: list[Layer],
        wetness: dict[str, Layer],
        bounds: Any,
        north: str,
    ) -> None:
        super().__init__()
        self._name = "Start"
        self.layers = layers
        self.wetness = wetness
        self.words = script_json
        self.names = script_json(map_trails.label_items(plan))
        self.bounds = script_json(bounds)
        self.north = script_json(north)
        self.note = script_json(html.escape(DEFERRAL, False))
        self.data = script_json(map_data(plan, shown))


def map_html(plan: Plan, *, shown: Shown = METRIC, online_base: str | bool | None = False) -> str:
    """Return the map of ``plan`` as one page, the same bytes for the same plan.

    The page runs only its own scripts, and shows names as text whatever they hold.

    Parameters
    ----------
    plan : Plan
    shown : Shown
        The units that people read; percent and degrees of slopes are the same in both.
    online_base : str, False or None
        False or None: the page loads nothing at all; hillshade and contour lines from the elevation
        model are its base. An ``https`` address of map tiles with ``{z}``, ``{x}`` and ``{y}`` that
        the user is entitled to use: the page asks that server, and only it, for a base map. The
        page says so. No address is built in. A key in the address stands in the page for everybody
        who gets it.

    Raises
    ------
    ValueError
        If ``online_base`` is no such address.
    """
    origin = base_map_origin(online_base)
    west, south, east, north = to_degrees(plan.dem.crs)(plan.trails.geometry.union_all()).bounds
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
    north_words = _north_words(plan)
    contours = map_layers.contour_items(plan.dem, shown)
    figure.header.add_child(_Raw(f"<title>{html.escape(plan.name)}: Rutwise map</title>"))
    figure.html.add_child(_Raw(_panel(plan, shown, north_words, contours["interval"], origin)))
    page.add_child(_Helpers())
    layers = _layers(plan, shown, contours)
    if origin:
        layers.insert(0, _online(str(online_base), origin))
    wetness = _wetness(plan)
    for layer in (*layers, *wetness.values()):
        page.add_child(layer)
    bounds = [[south, west], [north, east]]
    page.add_child(_Start(plan, shown, layers, wetness, bounds, north_words))
    figure.header.add_child(_Raw(f"<style>{template_text('map.css')}</style>"))
    return one_file(figure, images_from=origin)


def _online(address: str, origin: str) -> Layer:
    return folium.TileLayer(
        tiles=address,
        attr=html.escape(f"Base map from {origin.removeprefix('https://')}"),
        name="Base map from the network",
        overlay=True,
        max_native_zoom=18,
        max_zoom=21,
    )


def _picture(overlay: Any, name: str, opacity: float, level: int, show: bool = True) -> Layer:
    return folium.raster_layers.ImageOverlay(
        overlay.uri, overlay.bounds, name=name, alt=name, opacity=opacity, z_index=level, show=show
    )


def _layers(plan: Plan, shown: Shown, contours: dict[str, Any]) -> list[Layer]:
    """Everything that the list of what is drawn switches on and off, but trails and wetness."""
    layers: list[Layer] = [
        _picture(shade_overlay(plan.dem), "Shaded ground", 1.0, 1),
        _Drawn("contours", contours["items"], "Contour lines"),
        _picture(class_overlay(plan.slope_class, SLOPE_COLOURS), "Slope classes", 0.5, 2),
        _Drawn("polygons", map_layers.soil_items(plan), "Soil classes"),
    ]
    if water := water_layer(plan):
        look = {"items": water, "colour": "#0b3f5e", "weight": 2.5, "fill": 0.5}
        layers.append(_Drawn("areas", look, "Mapped water"))
    if strips := buffer_layer(plan, shown):
        look = {"items": strips, "colour": "#7a1f5c", "weight": 1.5, "dash": "6 3", "fill": 0.16}
        layers.append(_Drawn("areas", look, "Machine-free strip along water"))
    if detours := map_layers.detour_items(plan, shown):
        look = {"items": detours, "colour": "#00563f", "weight": 3.5, "dash": "2 5", "fill": 0}
        layers.append(_Drawn("areas", look, "Ways round weak stretches", show=False))
    if plan.boundary is not None:
        outline = map_layers.boundary_item(plan.boundary, plan.dem.crs)
        layers.append(_Drawn("outline", outline, "Block boundary"))
    layers += [
        _Drawn("arrows", map_trails.arrow_items(plan), "Direction of loaded travel"),
        _Drawn("landings", map_layers.landing_items(plan, shown), "Landings"),
    ]
    if meeting := map_layers.emergency_items(plan, shown):
        layers.append(_Drawn("signs", meeting, "Meeting point for help"))
    layers += [
        _Drawn("signs", items, name, show=name != "Strength readings")
        for name, items in sign_layers(plan, shown).items()
    ]
    return layers


def _wetness(plan: Plan) -> dict[str, Layer]:
    """Picture of wet ground for each moisture state; the page shows that of the chosen one."""
    return {
        state: _picture(picture, name, 0.75, 3, show=False)
        for state, (name, picture) in wetness_overlays(plan).items()
    }


def _north_words(plan: Plan) -> str:
    turn = grid_table(plan.dem).convergence_deg
    side = "east" if turn > 0 else "west"
    if abs(turn) < 0.05:
        return "North is up; grid north is within 0.05° of it."
    return f"North is up; grid north lies {abs(turn):.1f}° to the {side} of it."


def _key(item: MapClass) -> dict[str, Any]:
    return {
        "label": item.label,
        "colour": item.colour,
        "width": item.width,
        "dash": item.dash,
        "ticks": item.ticks,
        "edge": casing(item.colour),
    }


def _gap(plan: Plan, view: View) -> tuple[MapClass, ...]:
    """Look of a state without an answer, where the map offers one."""
    without = set(evaluations_of(plan)) - states_judged(plan)
    return (NOT_JUDGED,) if view.judged and without else ()


def _plain(length_m: float, shown: Shown) -> str:
    """Write a setting as it is in metric units, to a tenth in feet."""
    return shown.fine_length(length_m) if shown.is_us else f"{length_m:g} m"


def _panel(plan: Plan, shown: Shown, north: str, interval: str, origin: str) -> str:
    count = len(plan.slope_labels)
    colours = [SLOPE_COLOURS[min(k, len(SLOPE_COLOURS) - 1)] for k in range(count)]
    drawn = [
        {
            "key": view.key,
            "title": view.title,
            "note": view.note,
            "follows": view.follows,
            "drawn": [_key(c) for c in (*view.classes[1:], view.classes[0], *_gap(plan, view))],
        }
        for view in views(plan)
    ]
    return (
        environment()
        .get_template("map_panel.html")
        .render(
            plan=plan,
            invented=invented_words(plan),
            views=drawn,
            stretches=map_trails.stretch_table(plan, shown),
            stretch_looks=STRETCH_LOOKS,
            detours=plan.reroutes is not None and len(plan.reroutes) > 0,
            slope_classes=list(zip(plan.slope_labels, colours, strict=True)),
            wetness_classes=[(shown.sentence(label), colour) for label, colour in WETNESS_CLASSES]
            if plan.wet_ground is not None
            else (),
            soil_classes=[*SOIL_CLASS_WORDS.items(), (0, f"class {UNKNOWN}")],
            definitions=list(DEFINITIONS.items()),
            cautions=CAUTIONS,
            north=north,
            interval=interval,
            grid_error=shown.fine_length(grid_table(plan.dem).error_m),
            machine_scale=_plain(plan.settings.terrain.machine_scale_m, shown),
            cell=_plain(plan.dem.cell_m, shown),
            headline=map_trails.one_way(shown.sentence(plan.ranking.headline), shown),
            rule_slopes=map_slopes.rule_slope_words(shown),
            units=shown.words,
            us=shown.is_us,
            online=origin.removeprefix("https://"),
        )
    )
