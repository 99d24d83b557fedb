"""The column registry: every column of every table, with unit, meaning and what missing means.

Reference pages, report footnotes and GeoPackage field descriptions are made from it, and a test
holds it against the tables that a run really makes.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.models import traffic_columns, wet_columns

__all__ = ["TABLES", "Column", "column", "columns_of"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: ``unit`` is empty for words and identifiers, ``ratio`` for slopes and shares."""

    table: str
    name: str
    unit: str
    meaning: str
    made_by: str
    missing: str = "never missing"
    low: float | None = None
    high: float | None = None


_NO_DEM = "not assessed: a DEM void or the DEM's edge is under or near the station"
_NO_SOIL = "no soil polygon there, or its class is unknown"

_STATIONS = (
    ("trail", "", "Trail that the station stands on.", "stations.along"),
    (
        "chainage_m",
        "m",
        "Distance along the trail as drawn, to the station.",
        "stations.along",
        None,
        0,
        None,
    ),
    (
        "length_m",
        "m",
        "Trail length that the row stands for; the weight of every summary.",
        "stations.along",
        None,
        0,
        None,
    ),
    ("x_m", "m", "Easting in the working CRS.", "stations.along"),
    ("y_m", "m", "Northing in the working CRS.", "stations.along"),
    (
        "heading_deg",
        "degrees",
        "Direction of loaded travel, clockwise from grid north.",
        "stations.along",
        None,
        0,
        360,
    ),
    (
        "landing",
        "",
        "Landing that the load goes to: the nearest along the trails.",
        "stations.along",
    ),
    (
        "to_landing_m",
        "m",
        "Distance to that landing along the trails.",
        "stations.along",
        None,
        0,
        None,
    ),
    ("elevation_m", "m", "Elevation of the DEM, bilinear.", "stations.profile", _NO_DEM),
    (
        "gradient_east",
        "ratio",
        "Uphill gradient toward east, least-squares plane at machine scale.",
        "stations.profile",
        _NO_DEM,
    ),
    (
        "gradient_north",
        "ratio",
        "Uphill gradient toward north, least-squares plane at machine scale.",
        "stations.profile",
        _NO_DEM,
    ),
    ("slope", "ratio", "Steepest slope of that plane.", "stations.profile", _NO_DEM, 0, None),
    (
        "slope_native",
        "ratio",
        "Steepest slope on the DEM's own cells (Horn), for comparison.",
        "stations.profile",
        _NO_DEM,
        0,
        None,
    ),
    (
        "grade",
        "ratio",
        "Slope along the trail, positive uphill in the direction of loaded travel.",
        "stations.profile",
        _NO_DEM,
    ),
    (
        "cross_slope",
        "ratio",
        "Slope across the trail, positive where the ground rises to the left.",
        "stations.profile",
        _NO_DEM,
    ),
    (
        "grade_profile",
        "ratio",
        "Rise over run between the two ends of one machine length along the trail.",
        "stations.profile",
        _NO_DEM,
    ),
    (
        "slope_class",
        "",
        "Slope class by the bands of the block file, 1 is the gentlest; 0 is not assessed.",
        "stations.profile",
        None,
        0,
        None,
    ),
    (
        "soil_polygon",
        "",
        "Soil polygon at the station; where polygons overlap, the softer one.",
        "stations.exposure",
        "no soil polygon there",
    ),
    (
        "soil_class",
        "",
        "Soil sensitivity class as mapped, 1 strong to 4 very soft.",
        "stations.exposure",
        _NO_SOIL,
        1,
        4,
    ),
    (
        "drainage",
        "",
        "USDA natural drainage class of the polygon.",
        "stations.exposure",
        "not given in the soil layer",
    ),
    (
        "wet",
        "",
        "Wet-soil exposure in the chosen moisture state, by soil or by depth to water.",
        "decision.ground",
        "neither says wet, and one of them is not known",
    ),
    (
        "ground_class",
        "",
        "Soil class after the shifts of the moisture state and of computed wetness.",
        "decision.ground",
        _NO_SOIL,
        1,
        4,
    ),
    (
        "cone_index_kpa",
        "kPa",
        "Likely cone index of that class.",
        "decision.ground",
        _NO_SOIL,
        0,
        None,
    ),
    (
        "bearing_kpa",
        "kPa",
        "Likely bearing capacity of that class.",
        "decision.ground",
        _NO_SOIL,
        0,
        None,
    ),
    (
        "depth_to_water_m",
        "m",
        "Depth to water by the chosen state's flow-initiation area; at the cap: the cap or more.",
        "decision.ground",
        "a DEM void or edge there",
        0,
        None,
    ),
    *wet_columns.STATIONS,
    (
        "passes",
        "",
        "Passes over the station with the shown setup: loaded, empty, and the harvester's.",
        "decision.ruts",
        "no volume, no green density, or no load of the machine is known",
        0,
        None,
    ),
    *traffic_columns.STATIONS,
)

_TRAILS = (
    ("trail", "", "Trail.", "decision.summaries"),
    ("trail_class", "", "Class as given in the trail layer.", "decision.summaries", "not given"),
    ("length_m", "m", "Length of the trail.", "decision.summaries", None, 0, None),
    (
        "steepest_up",
        "ratio",
        "Steepest stretch climbed loaded.",
        "decision.summaries",
        "no assessed station climbs",
    ),
    (
        "steepest_down",
        "ratio",
        "Steepest stretch descended loaded, as a positive figure.",
        "decision.summaries",
        "no assessed station descends",
    ),
    (
        "steepest_cross",
        "ratio",
        "Steepest cross slope, either side.",
        "decision.summaries",
        _NO_DEM,
    ),
    (
        "steepest_native",
        "ratio",
        "Steepest slope on the DEM's own cells.",
        "decision.summaries",
        _NO_DEM,
    ),
    ("wet_m", "m", "Metres with wet-soil exposure.", "decision.summaries", None, 0, None),
    (
        "no_traffic_m",
        "m",
        "Metres on ground of class 4, which the class card calls unsuitable for traffic.",
        "decision.summaries",
        None,
        0,
        None,
    ),
    (
        "not_assessed_m",
        "m",
        "Metres without elevation or soil strength.",
        "decision.summaries",
        None,
        0,
        None,
    ),
    (
        "short_m",
        "m",
        "Metres short of traction with the chosen setup.",
        "decision.summaries",
        "no setup is named",
        0,
        None,
    ),
    (
        "over_bearing_m",
        "m",
        "Metres where the chosen setup's nominal ground pressure exceeds the bearing capacity.",
        "decision.summaries",
        "no setup is named",
        0,
        None,
    ),
    (
        "worst_reserve",
        "ratio",
        "Smallest traction reserve with the chosen setup.",
        "decision.summaries",
        "no setup is named",
    ),
    *wet_columns.TRAILS,
)

_SETUPS = (
    ("setup", "", "Setup.", "decision.ranking"),
    ("description", "", "What each axle group carries, in words.", "decision.ranking"),
    (
        "standing",
        "",
        "usual practice, ask the manufacturer first, or excluded.",
        "decision.ranking",
    ),
    ("standing_codes", "", "Codes of the rules that decided the standing.", "decision.ranking"),
    ("added_mass_kg", "kg", "Mass of the aids.", "decision.ranking", None, 0, None),
    ("payload_kg", "kg", "Payload within the ratings.", "decision.ranking", None, 0, None),
    (
        "payload_lost_kg",
        "kg",
        "Payload lost to the rated masses.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "ngp_front_empty_kpa",
        "kPa",
        "Nominal ground pressure, front group, empty, level.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "ngp_rear_empty_kpa",
        "kPa",
        "Nominal ground pressure, rear group, empty, level.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "ngp_front_loaded_kpa",
        "kPa",
        "Nominal ground pressure, front group, loaded, level.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "ngp_rear_loaded_kpa",
        "kPa",
        "Nominal ground pressure, rear group, loaded, level.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "effort_cap_kn",
        "kN",
        "Largest tractive effort after the change of rolling radius.",
        "decision.ranking",
        "the machine file gives none",
        0,
        None,
    ),
    (
        "short_loaded_m",
        "m",
        "Metres short of traction, loaded toward the landing.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "short_empty_m",
        "m",
        "Metres short of traction, empty away from it.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "short_m",
        "m",
        "Metres short of traction in either state.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "unsolved_m",
        "m",
        "Of these, metres that no listed setup passes.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "worst_reserve",
        "ratio",
        "Smallest traction reserve of all stations, both states.",
        "decision.ranking",
        "no station assessed",
    ),
    ("worst_trail", "", "Trail of that station.", "decision.ranking", "no station assessed"),
    (
        "worst_chainage_m",
        "m",
        "Chainage of that station.",
        "decision.ranking",
        "no station assessed",
    ),
    ("worst_cause", "", "What binds there, in words.", "decision.ranking", "no station assessed"),
    (
        "over_bearing_m",
        "m",
        "Metres where nominal ground pressure exceeds the bearing capacity.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "not_assessed_m",
        "m",
        "Metres without elevation or soil strength.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "extrapolated_m",
        "m",
        "Metres where a relation is used outside its published range.",
        "decision.ranking",
        None,
        0,
        None,
    ),
    (
        "work_ratio",
        "ratio",
        "Motion-resistance work of a round trip over all trails, relative to bare.",
        "decision.ranking",
        "no station assessed",
        0,
        None,
    ),
    (
        "traction_score",
        "ratio",
        "Share of the assessed metres short of traction.",
        "decision.ranking",
        "no station assessed",
        0,
        1,
    ),
    (
        "pressure_score",
        "ratio",
        "Share of the assessed metres over the bearing capacity.",
        "decision.ranking",
        "no station assessed",
        0,
        1,
    ),
    (
        "score",
        "ratio",
        "The two weighted; smaller is better; comparable within this run only.",
        "decision.ranking",
        "no station assessed",
        0,
        1,
    ),
    (
        "dominated_by",
        "",
        "A setup that is as good in every measure and better in one.",
        "decision.ranking",
        "no setup dominates it",
    ),
    ("outcome", "", "suits, suits with measures, or does not suit.", "decision.ranking"),
    ("verdict", "", "The verdict in words.", "decision.ranking"),
)

_EXCLUDED = (
    ("setup", "", "Setup.", "decision.ranking"),
    ("description", "", "What each axle group would carry.", "decision.ranking"),
    ("codes", "", "Codes of the rules that exclude it.", "decision.ranking"),
    ("reasons", "", "The reasons, in words.", "decision.ranking"),
)

_SECOND_OPINIONS = (
    ("setup", "", "Setup.", "decision.second_opinions"),
    ("slip_needed", "ratio", "Slip at which the bare strength carries the setup over its worst station, loaded.", "decision.second_opinions", "not even at 60 % slip, or no station assessed", 0, 1),
    ("net_brixius", "ratio", "Net traction there at 20 % slip, primary model.", "decision.second_opinions", "no station assessed"),
    ("net_maclaurin", "ratio", "The same by Turnage and Maclaurin.", "decision.second_opinions", "no station assessed"),
    ("net_wismer_luth", "ratio", "The same by Wismer and Luth.", "decision.second_opinions", "no station assessed"),
    ("vci1_kpa", "kPa", "Rating cone index that the loaded machine needs for one pass on level ground.", "decision.second_opinions", "mixed or tracked running gear, or power or clearance not given", 0, None),
    ("vci50_kpa", "kPa", "The same for fifty passes.", "decision.second_opinions", "as for one pass", 0, None),
    ("mmp_kpa", "kPa", "Mean maximum pressure of the loaded machine; about five times a nominal pressure.", "decision.second_opinions", "mixed running gear", 0, None),
    ("limiting_ci_kpa", "kPa", "Cone index that this pressure just passes.", "decision.second_opinions", "mixed running gear", 0, None),
    ("check_cross_slope", "ratio", "Cross slope from which the manufacturer's stability data must be looked up.", "decision.second_opinions", None, 0, None),
    ("check_cross_m", "m", "Metres of trail that reach it.", "decision.second_opinions", None, 0, None),
    ("tyre_load_share", "ratio", "Largest wheel load over the rated load of its tyre, loaded, level.", "decision.second_opinions", "rated tyre load not given", 0, None),
    ("round_trip_mj", "MJ", "Work at the wheels of one loaded and one empty trip over every trail.", "decision.second_opinions", "no station assessed", 0, None),
    ("fuel_low_l", "L", "Low end of the fuel for that work.", "decision.second_opinions", "no station assessed", 0, None),
    ("fuel_high_l", "L", "High end of the fuel for that work.", "decision.second_opinions", "no station assessed", 0, None),
)


def _table(name: str, rows: tuple[tuple, ...]) -> tuple[Column, ...]:
    made = []
    for row in rows:
        column_name, unit, meaning, made_by, *rest = row
        missing, low, high = (*rest, None, None, None)[:3]
        made.append(
            Column(name, column_name, unit, meaning, made_by, missing or "never missing", low, high)
        )
    return tuple(made)


TABLES: dict[str, tuple[Column, ...]] = {
    "stations": _table("stations", _STATIONS),
    "trails": _table("trails", _TRAILS),
    "setups": _table("setups", _SETUPS),
    "excluded": _table("excluded", _EXCLUDED),
    "second_opinions": _table("second_opinions", _SECOND_OPINIONS),
    "strength": _table("strength", wet_columns.STRENGTH),
    "check_setups": _table("check_setups", traffic_columns.CHECK_SETUPS),
    "check_trails": _table("check_trails", traffic_columns.CHECK_TRAILS),
    "check_stretches": _table("check_stretches", traffic_columns.CHECK_STRETCHES),
}
"""Columns by table, in the order in which they are written."""


def columns_of(table: str) -> tuple[str, ...]:
    """Return the names of the columns of ``table``, in order."""
    return tuple(item.name for item in TABLES[table])


def column(table: str, name: str) -> Column:
    """Return one column; raise KeyError naming the table's columns when there is none."""
    for item in TABLES[table]:
        if item.name == name:
            return item
    raise KeyError(f"table {table!r} has no column {name!r}; it has {', '.join(columns_of(table))}")
