"""Columns about wet ground, as rows of the column registry: see :mod:`terrain.columns`."""

from __future__ import annotations

from typing import Any

__all__ = ["STATIONS", "STRENGTH", "TRAILS"]

Row = tuple[Any, ...]

_NO_DEPTH = "a DEM void or edge there"
_NO_SOIL = "no soil polygon there, or its class is unknown"
_BY = "decision.ground"
_AT = "stations.wet_ground"


def _depth(name: str, area: str, missing: str = _NO_DEPTH) -> Row:
    meaning = f"Depth to water with channels from {area} ha; at the cap it means the cap or more."
    return (name, "m", meaning, _AT, missing, 0, None)


STATIONS: tuple[Row, ...] = (
    ("wet_by_soil", "", "Wet by the polygon's class or drainage in that state.", _BY, _NO_SOIL),
    ("wet_by_water", "", "Wet by depth to water in that state.", _BY, _NO_DEPTH),
    ("cone_index_low_kpa", "kPa", "Low cone index, as the likely one.", _BY, _NO_SOIL, 0, None),
    ("cone_index_high_kpa", "kPa", "High cone index, as the likely one.", _BY, _NO_SOIL, 0, None),
    ("bearing_low_kpa", "kPa", "Low bearing capacity.", _BY, _NO_SOIL, 0, None),
    ("bearing_high_kpa", "kPa", "High bearing capacity.", _BY, _NO_SOIL, 0, None),
    _depth("depth_to_water_16ha_m", "16", "not asked for ([flow] dry_16_ha), or a DEM void"),
    _depth("depth_to_water_4ha_m", "4"),
    _depth("depth_to_water_1ha_m", "1"),
    _depth("depth_to_water_025ha_m", "0.25"),
    (
        "above_stream_m",
        "m",
        "Height above the stream that the place drains to.",
        _AT,
        "not asked for ([flow] above_stream), or no stream below",
        0,
        None,
    ),
    (
        "wetness_index",
        "",
        "Topographic wetness index on cells of about 16 m.",
        _AT,
        "not asked for ([flow] wetness_index), or a DEM void",
    ),
    (
        "to_water_m",
        "m",
        "Distance to mapped water; where none is mapped, to channels from 4 ha.",
        _AT,
        "no water is known in the window",
        0,
        None,
    ),
    ("in_buffer", "", "In the machine-free strip along water.", _AT, "no buffer is stated"),
    ("depression", "", "Number of the listed depression there.", _AT, "in none"),
    (
        "depression_depth_m",
        "m",
        "Depth below the spill level of a listed depression; 0 in none.",
        _AT,
        "a DEM void",
        0,
        None,
    ),
)
"""Columns that stand between ``bearing_kpa`` and ``passes`` in the stations table."""


def _wet_in(state: str) -> Row:
    meaning = f"Metres with wet-soil exposure in the state {state}."
    return (f"wet_in_{state}_m", "m", meaning, "decision.wet_summaries", None, 0, None)


TRAILS: tuple[Row, ...] = (
    _wet_in("dry"),
    _wet_in("moist"),
    _wet_in("wet"),
    _wet_in("saturated"),
    (
        "wetness_unknown_m",
        "m",
        "Metres where wetness in the chosen state is not known.",
        "decision.wet_summaries",
        None,
        0,
        None,
    ),
    (
        "buffer_m",
        "m",
        "Metres in the machine-free strip along water.",
        "decision.wet_summaries",
        "no buffer is stated",
        0,
        None,
    ),
    (
        "least_to_water_m",
        "m",
        "Shortest distance to water.",
        "decision.wet_summaries",
        "no water is known in the window",
        0,
        None,
    ),
    (
        "depressions",
        "",
        "Number of listed depressions that the trail crosses.",
        "decision.wet_summaries",
        None,
        0,
        None,
    ),
    (
        "depression_m",
        "m",
        "Metres in listed depressions.",
        "decision.wet_summaries",
        None,
        0,
        None,
    ),
)
"""Columns about wet ground at the end of the trails table."""

_STRENGTH_BY = "decision.strength"

STRENGTH: tuple[Row, ...] = (
    ("polygon", "", "Soil polygon.", _STRENGTH_BY),
    ("state", "", "Moisture state that the row is about.", _STRENGTH_BY),
    ("measure", "", "Cone index, or bearing capacity by plate.", _STRENGTH_BY),
    ("prior_low_kpa", "kPa", "Low figure before readings.", _STRENGTH_BY, _NO_SOIL),
    ("prior_kpa", "kPa", "Likely figure before readings.", _STRENGTH_BY, _NO_SOIL),
    ("prior_high_kpa", "kPa", "High figure before readings.", _STRENGTH_BY, _NO_SOIL),
    ("prior_from", "", "What the figure before readings rests on.", _STRENGTH_BY),
    ("read_in", "", "Moisture state in which the readings were taken.", _STRENGTH_BY, "none"),
    ("places", "", "Places read.", _STRENGTH_BY, None, 0, None),
    ("median_kpa", "kPa", "Median of the places.", _STRENGTH_BY, "no readings", 0, None),
    (
        "spread_kpa",
        "kPa",
        "Robust spread of the places (1.48 times the median absolute deviation).",
        _STRENGTH_BY,
        "fewer than three places",
        0,
        None,
    ),
    ("weight", "ratio", "Weight of the readings.", _STRENGTH_BY, None, 0, 1),
    ("posterior_low_kpa", "kPa", "Low figure after readings.", _STRENGTH_BY, _NO_SOIL),
    ("posterior_kpa", "kPa", "Likely figure after readings.", _STRENGTH_BY, _NO_SOIL),
    ("posterior_high_kpa", "kPa", "High figure after readings.", _STRENGTH_BY, _NO_SOIL),
    ("note", "", "What else was done.", _STRENGTH_BY, "nothing else"),
)
"""Strength of each polygon in the chosen state: prior, readings, posterior."""
