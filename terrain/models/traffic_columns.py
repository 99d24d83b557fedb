"""Columns about traffic and ruts, as rows of the column registry: see :mod:`terrain.columns`."""

from __future__ import annotations

from typing import Any

__all__ = ["CHECK_SETUPS", "CHECK_STRETCHES", "CHECK_TRAILS", "STATIONS"]

Row = tuple[Any, ...]

_NO_VOLUME = "the volume of the trail, or of one upstream, is not known"
_NO_PASSES = "no volume, no green density, or no load of the machine is known"
_NO_RUT = "not predicted: passes or strength unknown, or ground too strong for the relations"
_RUTS = "decision.ruts"
_SHEET = "decision.check_sheet"
_NO_RULE = "the block file names no rule, or the rule gives no depth"


def _metres(name: str, meaning: str, missing: str | None = None) -> Row:
    return (name, "m", meaning, _SHEET, missing, 0, None)


def _share(name: str, meaning: str) -> Row:
    return (name, "ratio", meaning, _SHEET, _NO_RULE, 0, None)


STATIONS: tuple[Row, ...] = (
    (
        "volume_m3",
        "m3",
        "Timber that leaves the station toward the landing, its trail's own part included.",
        "stations.traffic",
        _NO_VOLUME,
        0,
        None,
    ),
    ("loads", "", "Loads of the shown setup over the station.", _RUTS, _NO_PASSES, 0, None),
    (
        "mass_driven_t",
        "t",
        "Mass of the shown setup's loaded and empty passes; without the harvester.",
        "decision.exposure",
        _NO_PASSES,
        0,
        None,
    ),
    ("rut_class", "", "Likely rut class of the shown setup, 1 to 4.", _RUTS, _NO_RUT, 1, 4),
    ("rut_class_low", "", "Low end of the rut's band, class 1 to 4.", _RUTS, _NO_RUT, 1, 4),
    ("rut_class_high", "", "High end of the rut's band, class 1 to 4.", _RUTS, _NO_RUT, 1, 4),
)
"""Rows for the stations table."""

_BEYOND: tuple[Row, ...] = (
    _metres("beyond_low_m", "Metres whose rut counts at the low end of the band.", _NO_RULE),
    _metres("beyond_m", "Metres whose rut likely counts.", _NO_RULE),
    _metres("beyond_high_m", "Metres whose rut counts at the high end of the band.", _NO_RULE),
    _metres("not_predicted_m", "Metres without a predicted rut or without a depth in the rule."),
    _share("share_low", "Share that the rule looks at, low end."),
    _share("share", "Share that the rule looks at, likely."),
    _share("share_high", "Share that the rule looks at, high end and all that is not predicted."),
)

CHECK_SETUPS: tuple[Row, ...] = (
    ("setup", "", "Setup.", _SHEET),
    ("payload_m3", "m3", "Payload in solid timber.", _SHEET, _NO_PASSES, 0, None),
    ("loads_max", "", "Loads over the busiest station.", _SHEET, _NO_PASSES, 0, None),
    ("passes_max", "", "All passes over the busiest station.", _SHEET, _NO_PASSES, 0, None),
    ("mass_driven_max_t", "t", "Mass driven over that station.", _SHEET, _NO_PASSES, 0, None),
    _metres("over_bearing_m", "Metres where the pressure exceeds the likely bearing capacity."),
    *_BEYOND,
    ("verdict", "", "What the band says against the rule, in words.", _SHEET),
)
"""Rows of the check sheet by setup."""

CHECK_TRAILS: tuple[Row, ...] = (
    ("trail", "", "Trail.", _SHEET),
    ("volume_m3", "m3", "Timber cut along the trail.", _SHEET, _NO_VOLUME, 0, None),
    ("volume_from", "", "Where that figure comes from.", _SHEET),
    _metres("length_m", "Length of the trail."),
    ("width_m", "m", "Width of the trail.", _SHEET, "not given", 0, None),
    ("passes_max", "", "All passes over its busiest station.", _SHEET, _NO_PASSES, 0, None),
    ("pass_class", "", "Class by these passes.", _SHEET, _NO_PASSES),
    ("mass_driven_max_t", "t", "Mass driven over that station.", _SHEET, _NO_PASSES, 0, None),
    _metres("over_bearing_m", "Metres where the pressure exceeds the likely bearing capacity."),
    *_BEYOND[:4],
    _metres("in_buffer_m", "Metres inside a machine-free strip.", "no buffer is known"),
    _metres("brash_need_m", "Metres that ask for brash.", "no [brash] in the block file"),
    _metres("brash_short_m", "Of these, metres that the stand cannot cover.", "no [brash]"),
    (
        "brash_supply_kg_m2",
        "kg/m2",
        "Brash that the stand can lay on the trail.",
        _SHEET,
        "residue, width or spacing is not known",
        0,
        None,
    ),
)
"""Rows of the check sheet by trail, for the shown setup."""

CHECK_STRETCHES: tuple[Row, ...] = (
    ("trail", "", "Trail.", _SHEET),
    _metres("from_m", "Chainage where the stretch begins, as drawn."),
    _metres("to_m", "Chainage where it ends."),
    ("passes_max", "", "All passes over its busiest station.", _SHEET, _NO_PASSES, 0, None),
    ("rut_words", "", "Band of rut classes, in words.", _SHEET),
    ("ground_class", "", "Softest ground class on it.", _SHEET, "unknown", 1, 4),
)
"""Rows of the stretches whose rut likely counts with the shown setup."""
