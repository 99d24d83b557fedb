"""A hand-built V-valley through the whole command line: its wet metres are known by arithmetic.

The valley runs south with a fall of 2 %; its sides rise 10 % to east and west, so Horn's slope on
a side is hypot(0.10, 0.02). Cells are 2 m; the channel is one column of cells. Every row sends its
160 cells (640 m2) straight down to the channel (diagonal fall 0.12 / sqrt(2) is less than 0.10), so
the channel has 640 m2 times the number of rows above. Depth-to-water k cells from the channel is
k * 2 m * 0.10198, so k <= 4 is wet: 9 cells, 18 m of a trail that crosses square (Murphy et al.
2009, sum of the slopes of the target cells).
"""

from __future__ import annotations

import json
import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point, box

from terrain.plan import plan_block
from tests.cli.run import rutwise
from tests.tiny_block import BLOCK, CRS, at, write_block

CELL, COLUMNS, ROWS = 2.0, 160, 200
CHANNEL = 80  # column
NORTH = 400.0
STEP = """step_m = 2.0
[flow]
margin_m = 5000.0
"""
SIDE = math.hypot(0.10, 0.02)


def valley():
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    z = 100 + 0.10 * CELL * np.abs(column - CHANNEL) - 0.02 * CELL * row
    return z.astype(np.float32), from_origin(*at(0, NORTH), CELL, CELL)


def crossing_trail(y):
    """From the western side over the channel to a landing in the east, through cell centres."""
    trail = LineString([at(100, y), at(260, y)])
    return {
        "trails": gpd.GeoDataFrame({"trail": ["T1"]}, geometry=[trail], crs=CRS),
        "landings": gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(at(260, y))], crs=CRS),
    }


def soil(number=1, drainage="well drained"):
    return gpd.GeoDataFrame(
        {"polygon": ["all"], "soil_class": [number], "drainage": [drainage]},
        geometry=[box(*at(0, 0), *at(320, 400))],
        crs=CRS,
    )


def valley_block(folder, y=339.0, soils=None, extra="", **layers):
    return write_block(
        folder,
        dem=valley(),
        soils=soil() if soils is None else soils,
        block=BLOCK + STEP + extra,
        **crossing_trail(y),
        **layers,
    )


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    # y = 339: 31st row, so 20 320 m2 or 2 ha above it: a channel from 1 ha and 0.25 ha, none from 4
    folder = tmp_path_factory.mktemp("valley")
    block = valley_block(folder, extra="[buffers]\nwidth_m = 15.0\n")
    return block, plan_block(block)


def test_wet_metres_by_state(planned):
    _, plan = planned
    metres = plan.wet_ground.wet_metres.loc["T1"]
    # dry: the channel from 4 ha starts with the 63rd row, 64 m farther on at 2 %: 1.28 m deep
    assert metres["dry"] == 0
    for state in ("moist", "wet", "saturated"):
        assert metres[state] == pytest.approx(18.0)
    assert metres["frozen"] == pytest.approx(18.0)  # nobody verified frost: as moist
    row = plan.trails.set_index("trail").loc["T1"]
    assert row["wet_m"] == row["wet_in_moist_m"] == pytest.approx(18.0)
    assert row["wet_in_dry_m"] == 0
    assert row["wetness_unknown_m"] == 0


def test_depth_to_water_is_slope_times_distance(planned):
    _, plan = planned
    stations = plan.stations
    k = np.abs(np.floor((stations["x_m"] - at(0, 0)[0]) / CELL) - CHANNEL)
    expected = np.minimum(k * CELL * SIDE, 2.0)
    assert stations["depth_to_water_1ha_m"].to_numpy() == pytest.approx(expected, abs=2e-4)
    assert stations["depth_to_water_m"].equals(stations["depth_to_water_1ha_m"].rename("d"))
    assert stations["depth_to_water_16ha_m"].isna().all()  # not asked for


def test_a_strip_of_15_m_on_each_side(planned, tmp_path):
    assert not planned[1].stations["in_buffer"].any()  # no 4 ha above that trail: no channel there
    extra = "[buffers]\nwidth_m = 15.0\n"
    plan = plan_block(valley_block(tmp_path, y=101.0, extra=extra))
    # from the centres of the channel's cells: cells k = -7..7, 15 x 2 m
    assert plan.stations.loc[plan.stations["in_buffer"], "length_m"].sum() == pytest.approx(30)
    (run,) = plan.wet_ground.buffer_runs.to_dict("records")
    assert (run["from_m"], run["to_m"]) == pytest.approx((46.0, 76.0))
    assert "channels computed from 4 ha" in plan.wet_ground.water_from


def test_water_makes_a_firm_soil_one_class_softer_and_no_more(planned):
    _, plan = planned
    wet = plan.stations["wet"].astype(bool)
    assert set(plan.stations.loc[wet, "ground_class"]) == {2}
    assert set(plan.stations.loc[~wet, "ground_class"]) == {1}
    assert set(plan.states["saturated"].loc[wet, "ground_class"]) == {3}


def test_the_same_through_the_command_line(planned, tmp_path):
    block, _ = planned
    out = tmp_path / "out"
    done = rutwise("plan", block, "-o", out, "--state", "wet")
    assert done.returncode in (0, 3), done.stderr
    assert pd.read_csv(out / "trails.csv")["wet_m"].item() == pytest.approx(18.0)
    stations = gpd.read_file(out / "block.gpkg", layer="stations")
    assert stations.loc[stations["wet"] == "true", "length_m"].sum() == pytest.approx(18.0)
    states = gpd.read_file(out / "block.gpkg", layer="states")
    assert len(states) == 5 * len(stations)
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))["wet_ground"]
    (metres,) = record["wet_metres_by_trail_and_state"]
    assert (metres["dry"], metres["wet"]) == (0, pytest.approx(18.0))
    # every catchment starts at the edge of this small model, and that is said
    assert record["share_of_channel_cells_cut_by_the_edge"] == {"4 ha": 1, "1 ha": 1, "0.25 ha": 1}
    report = (out / "report.html").read_text(encoding="utf-8")
    assert "Wet ground" in report
    assert "too dry" in report
    assert "Wet ground, wet (this run)" in (out / "map.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("number", "drainage", "expected"),
    [
        # mapped class, drainage -> class in dry, moist, wet, saturated under water
        (1, "well drained", [1, 2, 2, 3]),
        (2, "well drained", [2, 3, 3, 3]),
        (2, "poorly drained", [2, 2, 3, 3]),  # wet by its own drainage: the class says so already
        (3, "poorly drained", [3, 3, 4, 4]),
        (4, "very poorly drained", [4, 4, 4, 4]),
    ],
)
def test_no_double_shift_and_no_condemning(tmp_path, number, drainage, expected):
    plan = plan_block(valley_block(tmp_path, soils=soil(number, drainage)))
    under = plan.states["moist"]["wet_by_water"].to_numpy(bool)
    assert under.sum() == 9
    states = ("dry", "moist", "wet", "saturated")
    assert [set(plan.states[s].loc[under, "ground_class"]) for s in states] == [
        {n} for n in expected
    ]


def test_a_mapped_stream_is_wet_in_every_state(tmp_path):
    stream = gpd.GeoDataFrame(geometry=[LineString([at(161, 399), at(161, 1)])], crs=CRS)
    extra = '[water]\nstreams_file = "streams.gpkg"\n[buffers]\nwidth_m = 15.0\n'
    block = valley_block(tmp_path, extra=extra)
    stream.to_file(tmp_path / "streams.gpkg", driver="GPKG")
    plan = plan_block(block)
    metres = plan.wet_ground.wet_metres.loc["T1"]
    assert [metres[s] for s in ("dry", "moist", "wet")] == pytest.approx([18.0] * 3)
    assert plan.wet_ground.water_from == "mapped water"
    (run,) = plan.wet_ground.water_runs.to_dict("records")
    assert run["trail"] == "T1"
    assert run["from_m"] < 61 < run["to_m"]
    assert run["crossing"] is None
    assert plan.stations["to_water_m"].min() == pytest.approx(0, abs=1e-6)


def test_a_bank_dams_the_water_until_its_culvert_is_drawn(tmp_path):
    z, transform = valley()
    z[100:103, :] += 3.0  # a road bank across the whole valley, 6 m wide
    block = write_block(
        tmp_path / "dammed",
        dem=(z, transform),
        soils=soil(),
        block=BLOCK + STEP,
        **crossing_trail(205.0),  # 4 m upstream of the bank's crest: in the pond
    )
    dammed = plan_block(block)
    (run,) = dammed.wet_ground.depression_runs.to_dict("records")
    assert len(dammed.wet_ground.depressions) == 1
    # the pond stands up to the bank's lowest crest, 3 m less the bank's own fall of 3 cells at 2 %
    assert dammed.wet_ground.depressions["depth_m"].item() == pytest.approx(2.96, abs=0.05)
    assert run["depth_m"] > 2.5
    assert dammed.trails["depression_m"].item() > 20

    culvert = gpd.GeoDataFrame(
        {"name": ["C1"], "what": ["culvert"]},
        geometry=[LineString([at(161, 203), at(161, 191)])],
        crs=CRS,
    )
    extra = '[crossings]\nfile = "culverts.gpkg"\nid = "name"\nkind = "what"\n'
    block = write_block(
        tmp_path / "open",
        dem=(z, transform),
        soils=soil(),
        block=BLOCK + STEP + extra,
        **crossing_trail(205.0),
    )
    culvert.to_file(tmp_path / "open" / "culverts.gpkg", driver="GPKG")
    opened = plan_block(block)
    assert opened.wet_ground.depressions.empty
    assert opened.trails["depression_m"].item() == 0
    assert opened.wet_ground.crossings.index.tolist() == ["C1"]


def test_unknown_never_improves(tmp_path):
    known = plan_block(valley_block(tmp_path / "known"))
    z, transform = valley()
    z[24:40, 70:78] = np.nan  # a void over the trail west of the channel
    block = write_block(
        tmp_path / "void", dem=(z, transform), soils=soil(), block=BLOCK + STEP,
        **crossing_trail(339.0),
    )  # fmt: skip
    void = plan_block(block)
    blind = void.stations["depth_to_water_1ha_m"].isna()
    assert blind.any()
    assert void.stations.loc[blind, "wet"].isna().all()
    assert void.stations.loc[blind, "cone_index_kpa"].isna().all()
    assert void.trails["wetness_unknown_m"].item() == pytest.approx(
        void.stations.loc[blind, "length_m"].sum()
    )
    assert any("not known whether the ground is wet" in text for text in void.not_assessed)
    seen = ~blind
    worse = void.stations["cone_index_kpa"][seen] <= known.stations["cone_index_kpa"][seen]
    assert worse.all()


def test_verified_frost_is_credited_and_only_then(tmp_path):
    frost = 'state = "frozen"\nfrost_depth_m = 0.3\nfrost_verified_by = "forester"'
    text = BLOCK.replace('state = "moist"', frost) + STEP
    block = write_block(
        tmp_path, dem=valley(), soils=soil(3, "poorly drained"), block=text, **crossing_trail(339.0)
    )
    plan = plan_block(block)
    assert set(plan.stations["ground_class"]) == {2}
    assert not plan.stations["wet"].any()
    assert set(plan.states["moist"]["ground_class"]) == {3}
    assert any("springs" in text for text in plan.not_assessed)


def test_options_add_their_columns(tmp_path):
    extra = "dry_16_ha = true\nabove_stream = true\nwetness_index = true\n"
    plan = plan_block(valley_block(tmp_path, y=101.0, extra=extra))
    stations = plan.stations
    k = np.abs(np.floor((stations["x_m"] - at(0, 0)[0]) / CELL) - CHANNEL)
    # straight down the side to the channel: the true rise, 10 % of the distance
    assert stations["above_stream_m"].to_numpy() == pytest.approx(0.10 * CELL * k, abs=2e-3)
    assert stations["wetness_index"].notna().any()
    assert stations["depth_to_water_16ha_m"].notna().all()  # the whole valley holds 12.8 ha: none
    assert any("16 ha: there is none" in text for text in plan.not_assessed)
