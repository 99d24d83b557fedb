"""A small invented plan for the tests of the outputs, built without the pipeline."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import shapely.ops
from shapely.geometry import LineString, Point, box

from terrain.columns import columns_of
from terrain.decision.doubt_results import Doubt
from terrain.decision.ratings import ANSWERS
from terrain.decision.results import Evaluation, Plan, Ranking, StatusRow
from terrain.errors import Issue
from terrain.grid import Grid
from terrain.inputs.loaded import InputFile
from terrain.models.machine import AxleGroup, Load, Machine, Tyre
from terrain.models.settings import Settings

CRS = "EPSG:25833"
WEST, SOUTH = 400_000.0, 5_600_000.0
SETUPS = ("bare", "ring + ring", "open + open", "bare + open")

SCRIPT = "<script>window.hurt = 1</script>"
IMAGE = "<img src=x onerror=window.hurt=2>"
QUOTES = "\"quoted\" 'single' `tick` ${window.hurt=3} {{ 7 * 7 }} $x^2$"
LONG = "L" * 200
RIGHT_TO_LEFT = "\u05d7\u05dc\u05e7\u05d4 \u202eabc"
EMOJI = "\U0001f332 block & </style>"
FORMULA = "=1+2"
HOSTILE = (SCRIPT, IMAGE, QUOTES, LONG, RIGHT_TO_LEFT, EMOJI, FORMULA)


def machine(name: str = "Invented forwarder") -> Machine:
    tyre = Tyre("710/45-26.5", 0.71, 1.34, 0.33, 400.0, 450.0)
    return Machine(
        name=name,
        kind="forwarder",
        groups=(
            AxleGroup("front", "bogie", tyre, True, 1.5),
            AxleGroup("rear", "bogie", tyre, True, 1.5),
        ),
        unladen_mass_kg=20_000.0,
        unladen_front_kg=12_000.0,
        wheelbase_m=5.5,
        track_gauge_m=2.3,
        width_m=3.0,
        cg_height_m=1.4,
        load=Load(14_000.0, -0.2, 1.9),
        max_tractive_effort_kn=190.0,
        invented=True,
    )


def make_plan(names: tuple[str, ...] = ("T1", "T2", "T3"), block: str = "Test block") -> Plan:
    """Return a plan on a 200 x 200 cell DEM with three trails and two soil polygons."""
    n = 200
    rng = np.random.default_rng(3)
    y, x = np.mgrid[0:n, 0:n]
    z = 300 + 0.12 * x + 9 * np.sin(x / 31) + 6 * np.cos(y / 27) + rng.normal(0, 0.03, (n, n))
    z[:12, :20] = np.nan
    dem = Grid(z.astype(np.float32), WEST, SOUTH + n, 1.0, CRS)
    north, east = np.gradient(z)
    slope = dem.with_values(np.hypot(north, east))
    bands = (0.10, 0.20, 0.33, 0.50)
    classes = np.where(np.isnan(slope.values), 0, np.searchsorted(bands, slope.values) + 1).astype(
        np.int8
    )
    lines = (
        LineString([(WEST + 20, SOUTH + 30), (WEST + 90, SOUTH + 60), (WEST + 185, SOUTH + 55)]),
        LineString([(WEST + 90, SOUTH + 60), (WEST + 80, SOUTH + 120), (WEST + 60, SOUTH + 170)]),
        LineString([(WEST + 185, SOUTH + 55), (WEST + 150, SOUTH + 180)]),
    )
    trails = gpd.GeoDataFrame({"trail": list(names)}, geometry=list(lines), crs=CRS)
    stations = _stations(trails, dem, classes)
    evaluation = _evaluation(stations)
    trails = _trail_table(trails, stations, evaluation)
    soils = gpd.GeoDataFrame(
        {
            "soil_class": pd.array([2, 4], dtype="Int64"),
            "drainage": ["well drained", None],
            "texture": ["medium", None],
            "class_from": ["forester", "suggested"],
        },
        index=pd.Index([f"S {names[0]}", "S2"], name="polygon"),
        geometry=[
            box(WEST, SOUTH, WEST + 110, SOUTH + n),
            box(WEST + 110, SOUTH, WEST + n, SOUTH + n),
        ],
        crs=CRS,
    )
    landings = gpd.GeoDataFrame(
        index=pd.Index([f"Landing {names[-1]}"], name="landing"),
        geometry=[Point(WEST + 20, SOUTH + 30)],
        crs=CRS,
    )
    boundary = gpd.GeoDataFrame(
        geometry=[box(WEST + 5, SOUTH + 5, WEST + n - 5, SOUTH + n - 5)], crs=CRS
    )
    return Plan(
        name=block,
        invented=True,
        version="0.0.test",
        settings=Settings(),
        machine=machine(),
        dem=dem,
        slope=slope,
        slope_class=dem.with_values(classes),
        slope_labels=(
            "0-10 % (0-6 degrees)",
            "10-20 % (6-11 degrees)",
            "20-33 % (11-18 degrees)",
            "33-50 % (18-27 degrees)",
            "over 50 % (over 27 degrees)",
        ),
        soils=soils,
        landings=landings,
        boundary=boundary,
        trails=trails,
        stations=stations,
        evaluation=evaluation,
        ranking=_ranking(stations, evaluation),
        second_opinions=pd.DataFrame(
            {
                name: list(evaluation.setups) if name == "setup" else np.nan
                for name in columns_of("second_opinions")
            }
        ),
        statuses=(
            StatusRow("Slip limit", "25 %", "planning assumption", "lyasko_2010", "Table 1"),
            StatusRow("Mass of open band track", "1100 kg", "invented demo", ""),
        ),
        files=(InputFile("DEM", "dem.tif", "ab" * 32, "200 x 200 cells of 1 m"),),
        issues=(
            Issue("SOIL03", "warning", "12 m of trail lie on no polygon.", names[0], "Draw one."),
        ),
        not_assessed=("Overturning was not assessed.", f"Trail {names[1]} has no width."),
        crs_note="Worked in EPSG:25833.",
    )


def _stations(trails: gpd.GeoDataFrame, dem: Grid, classes: np.ndarray) -> gpd.GeoDataFrame:
    rows = []
    for name, line in zip(trails["trail"], trails.geometry, strict=True):
        parts = int(np.ceil(line.length / 5))
        step = line.length / parts
        for k in range(parts):
            middle = (k + 0.5) * step
            a, b = line.interpolate(middle - 1), line.interpolate(middle + 1)
            here = line.interpolate(middle)
            rows.append(
                {
                    "trail": name,
                    "chainage_m": middle,
                    "length_m": step,
                    "x_m": here.x,
                    "y_m": here.y,
                    "heading_deg": np.degrees(np.arctan2(a.x - b.x, a.y - b.y)) % 360,
                    "landing": "Landing",
                    "to_landing_m": middle,
                    "grade": (dem.bilinear(a.x, a.y) - dem.bilinear(b.x, b.y)).item() / 2,
                }
            )
    table = pd.DataFrame(rows, index=pd.RangeIndex(len(rows), name="station"))
    count = len(table)
    table["elevation_m"] = dem.bilinear(table["x_m"], table["y_m"])
    table["gradient_east"] = 0.1
    table["gradient_north"] = 0.05
    table["cross_slope"] = 0.08 * np.sin(np.arange(count))
    table["slope"] = np.hypot(table["grade"], table["cross_slope"])
    table["slope_native"] = table["slope"] * 1.1
    table["grade_profile"] = table["grade"]
    table["slope_class"] = dem.with_values(classes).at(table["x_m"], table["y_m"], 0)
    table["soil_polygon"] = "S2"
    table["soil_class"] = pd.array(np.where(np.arange(count) % 9 < 6, 2, 4), dtype="Int64")
    table["drainage"] = None
    table["wet"] = pd.array(table["soil_class"] == 4, dtype="boolean")
    table["ground_class"] = table["soil_class"]
    table["cone_index_kpa"] = 400.0
    table["bearing_kpa"] = 70.0
    table["depth_to_water_m"] = np.nan
    table["passes"] = np.nan
    table = table.reindex(columns=list(columns_of("stations")))  # what is not set here is unknown
    points = shapely.points(table["x_m"], table["y_m"])
    return gpd.GeoDataFrame(table, geometry=points, crs=CRS)


def _evaluation(stations: gpd.GeoDataFrame) -> Evaluation:
    count = len(stations)
    capacity = np.array([0.10, 0.40, 0.60, 0.50])
    grade = stations["grade"].to_numpy()[:, None]
    loaded = capacity - np.abs(grade)
    empty = capacity + 0.02 - np.abs(grade)
    loaded[:3] = np.nan
    empty[:3] = np.nan
    pressure = np.broadcast_to([95.0, 100.0, 62.0, 80.0], (count, 4)).copy()
    cause = np.where(np.isnan(loaded), 0, np.where(grade > 0, 1, 2)).astype(np.int8)
    return Evaluation(
        setups=SETUPS,
        reserve_loaded=loaded,
        reserve_empty=empty,
        cause=cause,
        pressure_kpa=pressure,
        pressure_ratio=pressure / stations["bearing_kpa"].to_numpy()[:, None],
        extrapolated=np.zeros((count, 4), dtype=bool),
    )


def _trail_table(
    trails: gpd.GeoDataFrame, stations: gpd.GeoDataFrame, evaluation: Evaluation
) -> gpd.GeoDataFrame:
    column = evaluation.column("open + open")
    length = stations["length_m"].to_numpy()
    rows = []
    for name in trails["trail"]:
        here = (stations["trail"] == name).to_numpy()
        reserve = evaluation.reserve[here, column]
        over = evaluation.pressure_ratio[here, column] > 1
        rows.append(
            {
                "trail_class": "main" if name == trails["trail"].iloc[0] else None,
                "length_m": length[here].sum(),
                "steepest_up": max(np.nanmax(stations["grade"][here]), 0) or np.nan,
                "steepest_down": -min(np.nanmin(stations["grade"][here]), 0) or np.nan,
                "steepest_cross": np.nanmax(np.abs(stations["cross_slope"][here])),
                "steepest_native": np.nanmax(stations["slope_native"][here]),
                "wet_m": length[here & stations["wet"].fillna(False).to_numpy()].sum(),
                "no_traffic_m": 0.0,
                "not_assessed_m": length[here][np.isnan(reserve)].sum(),
                "short_m": length[here][reserve < 0].sum(),
                "over_bearing_m": length[here][over].sum(),
                "worst_reserve": np.nanmin(reserve),
            }
        )
    table = pd.DataFrame(rows, index=pd.Index(list(trails["trail"]), name="trail"))
    return gpd.GeoDataFrame(table, geometry=list(trails.geometry), crs=CRS)


def _ranking(stations: gpd.GeoDataFrame, evaluation: Evaluation) -> Ranking:
    length = stations["length_m"].to_numpy()
    words = {
        "bare": "no traction aid on any wheel",
        "ring + ring": "ring chains on both bogies",
        "open + open": "open band tracks on both bogies",
        "bare + open": "nothing on the front bogie, open band tracks on the rear bogie",
    }
    rows = []
    for name in ("open + open", "bare + open", "ring + ring", "bare"):
        k = evaluation.column(name)
        reserve = evaluation.reserve[:, k]
        short = length[reserve < 0].sum()
        worst = int(np.nanargmin(reserve))
        rows.append(
            {
                "setup": name,
                "description": words[name],
                "standing": "ask the manufacturer first"
                if name == "bare + open"
                else "usual practice",
                "standing_codes": "MNT12, MNT13",
                "added_mass_kg": {"bare": 0.0, "ring + ring": 1600.0}.get(name, 4400.0),
                "payload_kg": 14_000.0,
                "payload_lost_kg": 0.0,
                "ngp_front_empty_kpa": 60.0,
                "ngp_rear_empty_kpa": 45.0,
                "ngp_front_loaded_kpa": 71.0,
                "ngp_rear_loaded_kpa": float(evaluation.pressure_kpa[0, k]),
                "effort_cap_kn": 190.0,
                "short_loaded_m": short,
                "short_empty_m": 0.0,
                "short_m": short,
                "unsolved_m": 0.0,
                "worst_reserve": reserve[worst],
                "worst_trail": stations["trail"].iloc[worst],
                "worst_chainage_m": stations["chainage_m"].iloc[worst],
                "worst_cause": "climbing loaded",
                "over_bearing_m": length[evaluation.pressure_ratio[:, k] > 1].sum(),
                "not_assessed_m": length[np.isnan(reserve)].sum(),
                "extrapolated_m": 0.0,
                "work_ratio": 1.0 + 0.1 * k,
                "traction_score": short / length.sum(),
                "pressure_score": 0.1,
                "score": 0.2,
                "dominated_by": None,
                "outcome": "suits" if short == 0 else "does not suit",
                "verdict": f"Short on {short:.0f} m.",
            }
        )
    excluded = pd.DataFrame(
        [
            ("track + open", "wheel tracks on the front", "MNT07", "The front bogie cannot."),
            ("open + track", "wheel tracks on the rear", "MNT07 MNT09", "The rear bogie cannot."),
        ],
        columns=["setup", "description", "codes", "reasons"],
    ).reindex(columns=list(columns_of("excluded")))
    return Ranking(
        setups=pd.DataFrame(rows).reindex(columns=list(columns_of("setups"))),
        excluded=excluded,
        candidate="open + open",
        shown="open + open",
        headline="Open band tracks on both bogies are the lightest usual setup that suits.",
    )


STATES = ("dry", "moist", "wet", "saturated", "frozen")


def rating_table(setup: str) -> pd.DataFrame:
    """Ratings of one setup: tyres over on slopes, a bogie within its rating, no gross rating."""
    rows = [
        ("tyres of the rear bogie", ANSWERS["slope"], 0.88, 1.14, 1.54, 1951.0, 4264.0, 0.0),
        ("tyres of the front bogie", ANSWERS["bogie"], 0.54, 0.97, 1.07, 0.0, 15.0, 0.0),
        ("rear bogie", ANSWERS["within"], 0.80, 0.95, 0.95, 0.0, 0.0, 0.0),
        ("whole machine", ANSWERS["none"], np.nan, np.nan, np.nan, np.nan, np.nan, 100.0),
    ]
    names = ("rating", "answer", "level_share", "balanced_share", "largest_share")
    table = pd.DataFrame(rows, columns=[*names, "over_balanced_m", "over_m", "unknown_m"]).assign(
        setup=setup, state="loaded"
    )
    return table.reindex(columns=list(columns_of("ratings")))


def decided(plan: Plan) -> Plan:
    """Return ``plan`` with everything that a full run decides: invented, but of the right shape."""
    trails = [str(name) for name in plan.trails.index]
    evaluations = dict.fromkeys(STATES, plan.evaluation)
    lines = [plan.trails.geometry.loc[name] for name in trails]
    kinds = ("no listed setup passes", "forces the choice", "over bearing capacity", "thin reserve")
    bottlenecks = gpd.GeoDataFrame(
        [
            {
                "stretch": f"{trails[k % len(trails)]}-{20 + 40 * (k // len(trails))}",
                "trail": trails[k % len(trails)],
                "from_m": 20.0 + 40 * (k // len(trails)),
                "to_m": 35.0 + 40 * (k // len(trails)),
                "length_m": 15.0,
                "kind": kinds[min(k, 3)],
                "needs": None if k == 0 else "open + open",
                "cause": "climbing loaded, on soft ground",
                "cause_setup": "bare",
                "worst_reserve": -0.08 + 0.03 * k,
                "shown_reserve": 0.02,
                "worst_m": 27.0,
                "x_m": WEST + 60,
                "y_m": SOUTH + 60,
                "grade_up": 0.18,
                "grade_down": np.nan,
                "cross_slope": 0.06,
                "cone_index_kpa": 250.0,
                "soil_polygons": "S2",
                "landing": "Landing",
                "volume_m3": 120.0,
                "loads": 9.0,
                "passes": 19.0,
                "over_bearing_m": 0.0,
            }
            for k in range(5)
        ],
        geometry=[shapely.ops.substring(lines[k % len(lines)], 20, 35) for k in range(5)],
        crs=CRS,
    )
    stretches = [str(name) for name in bottlenecks["stretch"]]
    season_rows = [
        (setup, state, outcome, 10.0 * k, 5.0, 20.0, 0.0, f"{trails[0]} 10 m")
        for k, state in enumerate(STATES[:4])
        for setup, outcome in zip(
            SETUPS,
            (
                "does not suit",
                "does not suit",
                "suits" if k < 2 else "suits with measures",
                "suits",
            ),
            strict=True,
        )
    ]
    return replace(
        plan,
        evaluations=evaluations,
        bottlenecks=bottlenecks,
        stretch_setups=_table(
            "stretch_setups",
            [(name, setup, 5.0, -0.02, 0.0) for name in stretches for setup in SETUPS],
        ),
        seasons=_table("seasons", season_rows),
        trail_states=_table(
            "trail_states",
            [
                (name, True, True, pd.NA, False, pd.NA, "moist", "moist", k + 1, 80.0,
                 None, None, "first")
                for k, name in enumerate(trails)
            ],
        ),
        remedies=_table(
            "remedies",
            [
                (stretches[1], "ring + ring", "smaller payload", "Carry 9000 kg.", "yes", 0.0, 0.0,
                 9000.0, 4.0, np.nan, None, np.nan, "Charted loads.", 0.01),
                (stretches[1], "bare", "short way round", "Cut 60 m to the east.", "partly", 4.0,
                 np.nan, np.nan, np.nan, np.nan, None, 60.0, None, 0.02),
                (stretches[0], "open + open", "winch assist", "Ask a specialist.", "named only",
                 np.nan, np.nan, np.nan, np.nan, np.nan, None, np.nan, None, np.nan),
            ],
        ),
        reroutes=gpd.GeoDataFrame(
            _table("reroutes", [(stretches[1], "bare", 60.0, 15.0, 0.05, 0.12, 0.08, 0.0)]),
            geometry=[LineString([(WEST + 60, SOUTH + 60), (WEST + 80, SOUTH + 90)])],
            crs=CRS,
        ),
        drop_it=_table(
            "drop_it",
            [
                ("ring + ring", "leave out", stretches[1], 1, 15.0, 40.0, 15.0, trails[1], None,
                 f"Without 15 m of trail {trails[0]}, ring chains are enough.")
            ],
        ),
        doubt=_doubt(trails),
        ratings=rating_table(plan.ranking.shown),
        weights=_table(
            "weights",
            [
                ("open + open", 0.0, 40.0, True, 0.2, 1.0),
                ("bare", 300.0, 60.0, False, np.nan, np.nan),
            ],
        ),
        machines=_table(
            "machines",
            [
                ("Invented forwarder", 1.0, 14_000.0, "open + open", "suits", 0.0, 0.0, 40.0, 0.0,
                 4400.0, 20.0, 280.0, 62.0, "Open band tracks.", None),
                ("Invented forwarder", 0.5, 7_000.0, "ring + ring", "suits", 0.0, 0.0, 10.0, 0.0,
                 1600.0, 40.0, 280.0, 80.0, "Ring chains.", None),
            ],
        ),
    )  # fmt: skip


def _table(name: str, rows: list[tuple]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list(columns_of(name)))


def _doubt(trails: list[str]) -> Doubt:
    return Doubt(
        draws=100,
        seed=7,
        block=pd.DataFrame(
            [
                (setup, state, chance, chance - 0.05, min(chance + 0.05, 1.0))
                for state in STATES[:4]
                for setup, chance in zip(SETUPS, (0.05, 0.4, 0.93, 0.9), strict=True)
            ],
            columns=["setup", "state", "chance", "low", "high"],
        ),
        trails=pd.DataFrame(
            [
                (name, setup, 0.9 if name == trails[0] else 1.0)
                for name in trails
                for setup in SETUPS
            ],
            columns=["trail", "setup", "chance"],
        ),
        sources=pd.DataFrame(
            [("strength of polygon S2", "soil", 0.9, 0.5), ("elevation", "elevation", 0.1, np.nan)],
            columns=["source", "kind", "share", "settled"],
        ),
        leaders=pd.DataFrame(
            [("open + open", 0.93), ("ring + ring", 0.07)], columns=["setup", "chance"]
        ),
        sentence="Open band tracks suffice in 93 of 100 draws; the doubt is nearly all soil.",
        measure_next="Three cone readings on polygon S2.",
        counted=("Cone index of each polygon, spread from its class.", "Density was not varied."),
    )


def with_decision(plan: Plan) -> Plan:
    """:func:`decided` with answers that differ between the states, and the seasons that follow.

    Drier is stronger by a fixed step of reserve, wetter weaker: invented, for looks only.
    """
    steps = {"dry": 0.08, "moist": 0.0, "wet": -0.12, "saturated": -0.3, "frozen": 0.05}
    own, length = plan.evaluation, plan.stations["length_m"].to_numpy()
    evaluations = {
        state: replace(
            own,
            reserve_loaded=own.reserve_loaded + step,
            reserve_empty=own.reserve_empty + step,
            pressure_ratio=own.pressure_ratio * (1 - step),
        )
        for state, step in steps.items()
    }
    evaluations[plan.settings.ground.state] = own
    seasons = [
        {
            "setup": setup,
            "state": state,
            "outcome": "suits" if np.nanmin(answer.reserve[:, k]) >= 0 else "does not suit",
            "short_m": length[answer.reserve[:, k] < 0].sum(),
            "unsolved_m": 0.0,
            "over_bearing_m": length[answer.pressure_ratio[:, k] > 1].sum(),
            "decides": "",
        }
        for state, answer in evaluations.items()
        for k, setup in enumerate(answer.setups)
    ]
    made = decided(plan)
    weak = made.bottlenecks.assign(worst_m=made.bottlenecks["from_m"] + 7.0)
    lines = [
        shapely.ops.substring(plan.trails.geometry.loc[row["trail"]], row["from_m"], row["to_m"])
        for _, row in weak.iterrows()
    ]
    return replace(
        made,
        evaluations=evaluations,
        bottlenecks=weak.set_geometry(lines, crs=CRS),
        seasons=pd.DataFrame(seasons).reindex(columns=list(columns_of("seasons"))),
    )
