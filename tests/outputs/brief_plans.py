"""Invented plans for the tests of the brief: any number of trails, weak stretches, crossings."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point, box
from shapely.ops import substring

from terrain.decision.results import Plan
from terrain.decision.water_met import NEAR_CROSSING_M
from terrain.decision.wet_results import WetGround
from terrain.models.emergency import Emergency
from terrain.models.site_rules import rule_profiles
from tests.outputs import synthetic
from tests.outputs.synthetic import CRS, SOUTH, WEST, make_plan

KINDS = (
    "no listed setup passes",
    "forces the choice",
    "over bearing capacity",
    "thin reserve",
)
CAUSES = (
    "climbing loaded, on soft ground, loaded and empty alike",
    "descending loaded",
    "soft ground: nominal ground pressure over the bearing capacity",
    "driveline effort, loaded, on soft ground",
)
STATES = ("dry", "moist", "wet", "saturated", None)


def trail_lines(count: int) -> list[LineString]:
    """A main trail with branches to both sides, on the 200 m square of the small plan."""
    lines = [
        LineString([(WEST + 15, SOUTH + 95), (WEST + 100, SOUTH + 105), (WEST + 190, SOUTH + 95)])
    ]
    for k in range(count - 1):
        x = WEST + 20 + 165 * (k // 2) / max(1, (count - 2) // 2)
        y = SOUTH + (185 if k % 2 else 12)
        lines.append(LineString([(x, SOUTH + 100), (x + 4, (SOUTH + 100 + y) / 2), (x, y)]))
    return lines


def brief_plan(
    count: int = 4,
    *,
    names: tuple[str, ...] | None = None,
    weak: int | None = None,
    state: str = "moist",
    block: str = "Test block",
) -> Plan:
    """A plan with ``count`` trails and everything that the brief can show.

    ``weak``: number of weak stretches, of all kinds in turn; by default one for every second trail.
    """
    plan = make_plan(block=block)
    names = names or tuple(f"T{k}" for k in range(1, count + 1))
    lines = trail_lines(len(names))
    trails = gpd.GeoDataFrame({"trail": list(names)}, geometry=lines, crs=CRS)
    classes = plan.slope_class.values
    stations = synthetic._stations(trails, plan.dem, classes)
    evaluation = synthetic._evaluation(stations)
    table = synthetic._trail_table(trails, stations, evaluation)
    settings = replace(plan.settings, ground=replace(plan.settings.ground, state=state))
    return replace(
        plan,
        settings=settings,
        trails=table,
        stations=stations,
        evaluation=evaluation,
        bottlenecks=stretches(names, lines, len(names) // 2 if weak is None else weak),
        trail_states=trail_states(names),
        wet_ground=wet_ground(names),
        check_sheet=SimpleNamespace(profile=rule_profiles()["finland_1996"]),
        ratings=synthetic.rating_table(plan.ranking.shown),
        emergency=Emergency("North gate", WEST + 30, SOUTH + 180, "invented number"),
    )


def stretches(names: tuple[str, ...], lines: list[LineString], count: int) -> gpd.GeoDataFrame:
    """Stretches of all kinds in turn; every fifth falls short although another setup passes."""
    rows: list[dict[str, Any]] = []
    shapes = []
    for k in range(count):
        place = k % len(names)
        start = 5.0 + 12 * (k // len(names))
        kind = KINDS[k % 4]
        short = kind == KINDS[0] or k % 5 == 1
        rows.append(
            {
                "stretch": f"{names[place]}-{start:.0f}",
                "trail": names[place],
                "from_m": start,
                "to_m": start + 20,
                "length_m": 20.0,
                "kind": kind,
                "cause": CAUSES[k % 4],
                "shown_reserve": -0.04 if short else 0.02,
                "over_bearing_m": 5.0 if kind == "over bearing capacity" else 0.0,
                "grade_up": 0.29 if k % 2 else np.nan,
                "grade_down": np.nan if k % 3 else 0.22,
            }
        )
        shapes.append(substring(lines[place], start, start + 20))
    columns = ["stretch", "trail", "from_m", "to_m", "length_m", "kind", "cause"]
    frame = pd.DataFrame(
        rows, columns=[*columns, "shown_reserve", "over_bearing_m", "grade_up", "grade_down"]
    )
    return gpd.GeoDataFrame(frame, geometry=shapes, crs=CRS)


def trail_states(names: tuple[str, ...]) -> pd.DataFrame:
    """Trails in turn usable up to dry, moist, wet, saturated and no ground; one unknown."""
    rows = []
    for k, name in enumerate(names):
        wettest = STATES[(k + 1) % 5]
        reach = -1 if wettest is None else STATES.index(wettest)
        usable: dict[str, Any] = {f"usable_{s}": STATES.index(s) <= reach for s in STATES[:4]}
        usable["usable_frozen"] = True
        if k == 3:
            usable = dict.fromkeys(usable, pd.NA)
        last = k == len(names) - 1
        water = {"water_here": f"{name} at 20 m" if last else None, "water_on_way": None}
        rows.append({"trail": name, **usable, "wettest": wettest, "order": 1 + k % 4, **water})
    table = pd.DataFrame(rows)
    for column in table.columns[1:6]:
        table[column] = table[column].astype("boolean")
    return table


def wet_ground(names: tuple[str, ...]) -> WetGround:
    """A stream along the east with one bridge, and water on a trail without a crossing."""
    stream = LineString(
        [(WEST + 170, SOUTH + 5), (WEST + 165, SOUTH + 100), (WEST + 172, SOUTH + 195)]
    )
    runs = pd.DataFrame(
        [
            (names[0], 140.0, 155.0, 15.0, "X1", 2.0),
            (names[-1], 20.0, 30.0, 10.0, "X1", NEAR_CROSSING_M + 60),
        ],
        columns=["trail", "from_m", "to_m", "length_m", "crossing", "to_crossing_m"],
    )
    return WetGround(
        depth_to_water={},
        edge_share={},
        routed_ha=4.0,
        water_from="mapped water",
        buffer_words="10 m on each side of mapped water",
        streams=gpd.GeoDataFrame(geometry=[stream], crs=CRS),
        open_water=gpd.GeoDataFrame(
            geometry=[box(WEST + 180, SOUTH + 20, WEST + 195, SOUTH + 40)], crs=CRS
        ),
        crossings=gpd.GeoDataFrame(
            {"kind": ["temporary bridge"], "carved": [True]},
            index=pd.Index(["X1"], name="crossing"),
            geometry=[Point(WEST + 165, SOUTH + 98)],
            crs=CRS,
        ),
        buffers=gpd.GeoDataFrame(geometry=[stream.buffer(10)], crs=CRS),
        depressions=gpd.GeoDataFrame(geometry=[], crs=CRS),
        wet_metres=pd.DataFrame(),
        buffer_runs=runs,
        water_runs=runs,
        depression_runs=pd.DataFrame(),
        strength=pd.DataFrame(),
        readings=None,
    )
