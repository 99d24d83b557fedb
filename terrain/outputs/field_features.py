"""What goes into the field on a phone or a GPS receiver: trails, places and areas with their words.

The formats (:mod:`terrain.outputs.gps`, :mod:`terrain.outputs.exchange`) write these records and
decide nothing themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from terrain.decision.bottlenecks import GRIP_KINDS
from terrain.decision.results import Plan
from terrain.decision.water_met import NEAR_CROSSING_M
from terrain.outputs.brief_shut import (
    IN_WATER,
    KEEP_OUT,
    NOT_KNOWN,
    ON_CLOSED,
    behind_water,
    closed_crossings,
    closed_trails,
    stretch_places,
    unsure_trails,
    water_stops,
)
from terrain.outputs.brief_steep import BRAKING, steep_stretch
from terrain.outputs.geometry import middle_of
from terrain.outputs.load_words import load_words
from terrain.outputs.page_parts import keyed
from terrain.outputs.rating_words import rating_words, slope_words
from terrain.outputs.shown_units import METRIC
from terrain.outputs.wording import UNKNOWN

__all__ = [
    "CLOSED",
    "DIGITS",
    "NO_CROSSING",
    "STOP",
    "WATER_ASK",
    "Feature",
    "Words",
    "area_features",
    "place_features",
    "sentence",
    "stretch_features",
    "trail_features",
    "trail_warnings",
]

DIGITS = 7
"""Decimals of longitude and latitude: about a centimetre on the ground."""

Words = tuple[tuple[str, str], ...]

CLOSED, STOP, NO_CROSSING = "CLOSED", "KEEP OUT", "WATER, NO CROSSING"
WATER_ASK, ASK_FIRST, STEEP_ASK = "WATER, ASK", "NOT KNOWN, ASK", "STEEP, ASK"
"""Warnings in front of names."""

_WARNINGS = {KEEP_OUT: STOP, ON_CLOSED: CLOSED, IN_WATER: NO_CROSSING, NOT_KNOWN: ASK_FIRST}
_RESERVE = "Smallest traction reserve with the setup to carry"
_ASK = "no crossing is mapped, stop and ask"
_OVER = "Over a rating of the machine file with the setup to carry"


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing on the map: ``geometry`` in the working CRS, ``words`` as label and text.

    ``kind`` is ``trail``, ``stretch``, ``landing``, ``crossing``, ``no crossing``, ``emergency``,
    ``boundary``, ``strip`` or ``water``; ``name`` is as the planner wrote it. ``warning`` is
    :data:`CLOSED`, :data:`STOP` or :data:`NO_CROSSING` where nobody drives on, :data:`WATER_ASK` or
    :data:`ASK_FIRST` where nobody does before asking, else empty.
    """

    kind: str
    name: str
    geometry: shapely.Geometry
    words: Words = ()
    warning: str = ""

    @property
    def label(self) -> str:
        """Name with the warning before it: small displays show nothing else."""
        return f"{self.warning} {self.name}" if self.warning else self.name


def sentence(words: Words) -> str:
    """Return ``words`` as one line of text: ``Length: 240 m; Wet: 12 m``."""
    return "; ".join(f"{label}: {text}" for label, text in words)


def trail_warnings(plan: Plan) -> dict[str, str]:
    """Warning before the name of each trail that has one: closed, water on it, or not known.

    The water is such at which no crossing is mapped. A closed trail is told as closed alone.
    """
    found = dict.fromkeys(unsure_trails(plan), ASK_FIRST)
    found |= dict.fromkeys([stop.trail for stop in water_stops(plan)], WATER_ASK)
    found |= dict.fromkeys(behind_water(plan), WATER_ASK)
    return found | dict.fromkeys(closed_trails(plan), CLOSED)


def trail_features(plan: Plan) -> list[Feature]:
    """One feature for each trail, drawn as the planner drew it.

    Closed trails say so first, and those with water on the way at which no crossing is mapped; then
    those on which the shown setup comes near tipping over, those steep beyond a rule's slope, and
    those on which it exceeds a rating.
    """
    closed, behind = set(closed_trails(plan)), set(behind_water(plan))
    over, slopes, warnings = rating_words(plan), slope_words(plan), trail_warnings(plan)
    loads = load_words(plan)
    wet: dict[str, list[str]] = {}
    for stop in water_stops(plan):
        span = f"{METRIC.length(stop.from_m)} to {METRIC.length(stop.to_m)}"
        wet.setdefault(stop.trail, []).append(span)

    def first_words(name: str) -> Words:
        words = []
        if name in closed:
            words.append(("CLOSED", "closed on this ground, or cut off from the landing"))
        if name in wet:
            words.append((f"Water on it at {', '.join(wet[name])}", _ASK))
        if name in behind:
            words.append(("Water on the way to the landing", _ASK))
        words += slopes.get(name, ())
        if name in over:
            words.append((_OVER, over[name]))
        return tuple(words)

    towards = plan.stations.groupby(plan.stations["trail"].astype(str), sort=False)["landing"]
    landing = towards.first().to_dict()
    return [
        Feature(
            "trail",
            str(row["trail"]),
            row["geometry"],
            (
                *first_words(str(row["trail"])),
                *([("Load", loads[str(row["trail"])])] if str(row["trail"]) in loads else []),
                ("Length", METRIC.length(row["length_m"])),
                ("Loaded toward landing", _text(landing.get(str(row["trail"])))),
                *_slopes(row["steepest_up"], row["steepest_down"], row["steepest_cross"]),
                (_RESERVE, METRIC.slope(row["worst_reserve"])),
                ("Short of traction", METRIC.length(row["short_m"])),
                ("Over the bearing capacity", METRIC.length(row["over_bearing_m"])),
                ("Not assessed", METRIC.length(row["not_assessed_m"])),
            ),
            warnings.get(str(row["trail"]), ""),
        )
        for _, row in keyed(plan.trails, "trail").iterrows()
    ]


def stretch_features(plan: Plan) -> list[Feature]:
    """One feature for each stretch that decides or is weak, most pressing first."""
    frame = plan.bottlenecks
    if frame is None:
        return []
    described = plan.ranking.setups.set_index("setup")["description"].to_dict()
    made = []
    for (_, row), place in zip(frame.iterrows(), stretch_places(plan), strict=True):
        needs = row.get("needs")
        steep = steep_stretch(row, plan.machine.kind)
        blank = row.get("kind") != "no listed setup passes" and pd.isna(row.get("shown_reserve"))
        answer = _text(described.get(needs, needs), UNKNOWN if blank else "no listed setup")
        said = {
            KEEP_OUT: (("KEEP OUT", "the setup to carry falls short here"),),
            ON_CLOSED: (("CLOSED", "the whole trail is closed on this ground"),),
            IN_WATER: (("Water here", _ASK),),
            NOT_KNOWN: (("Not known", "whether the setup to carry holds here: walk it and ask"),),
        }
        words = (
            *said.get(place, ()),
            *([("Steep", BRAKING)] if steep else []),
            ("Stretch", _text(row.get("kind"))),
            ("Why", _text(row.get("cause"))),
            ("Trail", _text(row.get("trail"))),
            (
                "Along it as drawn",
                f"{METRIC.length(row.get('from_m'))} to {METRIC.length(row.get('to_m'))}",
            ),
            *(
                [("Enough traction with", answer)]
                if row.get("kind") in GRIP_KINDS and place != IN_WATER
                else []
            ),
            (_RESERVE, METRIC.slope(row.get("shown_reserve"))),
            ("Over the bearing capacity", METRIC.length(row.get("over_bearing_m"))),
            *_slopes(row.get("grade_up"), row.get("grade_down"), row.get("cross_slope")),
        )
        warning = _WARNINGS.get(place, STEEP_ASK if steep else "")
        made.append(Feature("stretch", str(row["stretch"]), row["geometry"], words, warning))
    return made


def place_features(plan: Plan) -> list[Feature]:
    """Points to steer to, or to stop at.

    Emergency point, landings, stretches to keep out of, water without a crossing, crossings, worst
    place of the weak stretches, what lies on closed trails: in that order, so that a receiver that
    cuts long lists keeps what matters most.
    """
    made = []
    if plan.emergency is not None:
        point = shapely.Point(plan.emergency.x_m, plan.emergency.y_m)
        note = plan.emergency.note
        words: Words = (("Emergency point", note),) if note else (("Emergency point", "meet here"),)
        made.append(Feature("emergency", plan.emergency.name, point, words))
    for _, row in keyed(plan.landings, "landing").iterrows():
        where = f"{row['geometry'].x:.0f}, {row['geometry'].y:.0f} in {plan.dem.crs}"
        words = (("Landing; easting, northing", where),)
        made.append(Feature("landing", str(row["landing"]), row["geometry"], words))
    stretches = [
        replace(stretch, geometry=_worst_point(plan, stretch)) for stretch in stretch_features(plan)
    ]
    crossings, stops = _crossings(plan), _water_places(plan)
    stretches = [  # one point is enough where the worst place is the water itself
        item
        for item in stretches
        if item.warning != NO_CROSSING or _farther(item, stops, NEAR_CROSSING_M)
    ]
    made += [item for item in stretches if item.warning == STOP]
    made += stops
    made += [item for item in crossings if not item.warning]
    made += [item for item in stretches if item.warning not in (STOP, CLOSED)]
    return made + [item for item in (*crossings, *stretches) if item.warning == CLOSED]


def _farther(item: Feature, others: list[Feature], distance_m: float) -> bool:
    return all(item.geometry.distance(other.geometry) > distance_m for other in others)


def _water_places(plan: Plan) -> list[Feature]:
    """Places where a trail meets water at which no crossing is mapped."""
    return [
        Feature(
            "no crossing",
            stop.name,
            stop.point,
            (
                ("Water", _ASK),
                ("Trail", stop.trail),
                (
                    "Along it as drawn",
                    f"{METRIC.length(stop.from_m)} to {METRIC.length(stop.to_m)}",
                ),
            ),
            NO_CROSSING,
        )
        for stop in water_stops(plan)
    ]


def _crossings(plan: Plan) -> list[Feature]:
    layer = None if plan.wet_ground is None else plan.wet_ground.crossings
    if layer is None:
        return []
    closed = closed_crossings(plan)

    def check(name: str) -> str:
        if name in closed:
            return f"not in use: on closed trails only ({', '.join(closed[name])})"
        return "look at it before driving over"

    return [
        Feature(
            "crossing",
            str(row["crossing"]),
            middle_of(row["geometry"]),
            (("Crossing", _text(row.get("kind"))), ("Check", check(str(row["crossing"])))),
            CLOSED if str(row["crossing"]) in closed else "",
        )
        for _, row in keyed(layer, "crossing").iterrows()
    ]


def _worst_point(plan: Plan, stretch: Feature) -> shapely.Geometry:
    """Place of the worst station; the middle of the stretch where none is known."""
    assert plan.bottlenecks is not None
    row = plan.bottlenecks[plan.bottlenecks["stretch"].astype(str) == stretch.name].iloc[0]
    x, y = row.get("x_m"), row.get("y_m")
    if pd.isna(x) or pd.isna(y):
        return middle_of(stretch.geometry)
    return shapely.Point(float(x), float(y))


def area_features(plan: Plan) -> list[Feature]:
    """Block boundary, machine-free strips and mapped water, cut to the elevation's window."""
    made = []
    window = shapely.box(*plan.dem.bounds)
    if plan.boundary is not None:
        made.append(Feature("boundary", plan.name, plan.boundary.geometry.union_all()))
    wet = plan.wet_ground
    layers: list[tuple[str, str, gpd.GeoDataFrame | None, Words]] = []
    if wet is not None:
        rule = (("Machine-free strip", wet.buffer_words), ("Rule", "the site's own rule decides"))
        layers = [
            ("strip", "Machine-free strip", wet.buffers, rule),
            ("water", "Mapped water", wet.open_water, ()),
            ("water", "Mapped stream", wet.streams, ()),
        ]
    for kind, name, layer, words in layers:
        if layer is None or not len(layer):
            continue
        shape = shapely.intersection(layer.geometry.union_all(), window)
        if not shape.is_empty:
            made.append(Feature(kind, name, shape, words))
    return made


def _text(value: Any, missing: str = UNKNOWN) -> str:
    return missing if value is None or pd.isna(value) else str(value)


def _slopes(up: Any, down: Any, cross: Any) -> Words:
    uphill, downhill = METRIC.steepest(up, down)
    return (
        ("Steepest uphill, loaded", uphill),
        ("Steepest downhill, loaded", downhill),
        ("Steepest cross slope", METRIC.slope(cross)),
    )
