"""The hand-built block through the whole command line: every figure by arithmetic."""

from __future__ import annotations

import json

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from terrain.columns import columns_of
from terrain.plan import plan_block
from tests.cli.run import rutwise
from tests.tiny_block import plane, write_block


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("a block with spaces")
    block = write_block(folder)
    return block, plan_block(block)


def test_lengths_slopes_and_soil_by_arithmetic(planned):
    _, plan = planned
    stations = plan.stations
    t1 = stations[stations["trail"] == "T1"]
    t2 = stations[stations["trail"] == "T2"]
    assert t1["length_m"].sum() == pytest.approx(200)
    assert t2["length_m"].sum() == pytest.approx(60)
    # T1 is drawn downhill, but the load climbs to the landing: +10 % grade, level across
    assert t1["grade"].to_numpy() == pytest.approx(0.10, abs=1e-4)  # float32 elevations
    assert t1["cross_slope"].to_numpy() == pytest.approx(0.0, abs=1e-4)
    assert t1["grade_profile"].to_numpy() == pytest.approx(0.10, abs=1e-4)
    # T2 runs south along the contour; the ground rises to the east, which is its left
    assert t2["grade"].to_numpy() == pytest.approx(0.0, abs=1e-4)
    assert t2["cross_slope"].to_numpy() == pytest.approx(0.10, abs=1e-4)
    soft = stations["soil_class"] == 3
    assert stations.loc[soft, "length_m"].sum() == pytest.approx(50)
    assert stations.loc[stations["wet"].fillna(False), "length_m"].sum() == pytest.approx(50)
    assert (stations["landing"] == "L1").all()


def test_bare_wheels_are_short_on_the_soft_metres_and_bands_answer_them(planned):
    _, plan = planned
    table = plan.ranking.setups.set_index("setup")
    bare = table[table["added_mass_kg"] == 0].iloc[0]
    assert bare["short_loaded_m"] == pytest.approx(50)
    assert bare["worst_trail"] == "T1"
    assert bare["worst_cause"] == "rolling resistance, loaded"
    assert bare["not_assessed_m"] == 0
    # a class-3 soil carries 50 kPa (likely): no setup of this machine presses less when loaded
    assert (table["over_bearing_m"] >= 50).all()


def test_the_tables_hold_exactly_the_registered_columns(planned):
    _, plan = planned
    assert tuple(plan.stations.columns.drop("geometry")) == columns_of("stations")
    assert tuple(plan.trails.columns.drop("geometry")) == columns_of("trails")
    assert tuple(plan.ranking.setups.columns) == columns_of("setups")
    assert tuple(plan.ranking.excluded.columns) == columns_of("excluded")


def test_plan_writes_a_folder_and_its_tables_read_back(planned, tmp_path):
    block, plan = planned
    out = tmp_path / "out"
    done = rutwise("plan", block, "-o", out)
    assert done.returncode in (0, 3), done.stderr
    assert (done.returncode == 3) == (plan.ranking.candidate is None)
    for name in ("map.html", "report.html", "plan.json", "block.gpkg"):
        assert (out / name).stat().st_size > 1000
    stations = gpd.read_file(out / "block.gpkg", layer="stations")
    assert len(stations) == len(plan.stations)
    assert stations["length_m"].sum() == pytest.approx(260)
    table = pd.read_csv(out / "setups.csv")
    assert table["setup"].tolist() == plan.ranking.setups["setup"].tolist()
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert "approves nothing" in json.dumps(record)
    assert "approves nothing" in done.stdout
    assert "reading the inputs" in done.stderr
    assert "reading the inputs" not in done.stdout

    again = rutwise("plan", block, "-o", out)
    assert again.returncode == 2
    assert "--overwrite" in again.stderr
    assert rutwise("plan", block, "-o", out, "--overwrite").returncode == done.returncode


def test_a_void_under_a_trail_is_not_assessed(tmp_path):
    z, transform = plane()
    z[:, 100:106] = np.nan  # x from 140 to 152
    plan = plan_block(write_block(tmp_path, dem=(z, transform)))
    table = plan.ranking.setups
    # 12 m of void, and on either side the two cells of the least-squares plane's half window
    assert table["not_assessed_m"].iloc[0] == pytest.approx(20, abs=5)
    blind = plan.stations["grade"].isna()
    assert (plan.stations.loc[blind, "slope_class"] == 0).all()
    assert any("voids" in sentence for sentence in plan.not_assessed)


def test_state_on_the_command_line_rules_over_the_block_file(tmp_path):
    block = write_block(tmp_path)
    moist = plan_block(block)
    saturated = plan_block(block, state="saturated")
    assert (saturated.stations["ground_class"] >= moist.stations["ground_class"]).all()
    assert saturated.stations["ground_class"].max() == 4
    refused = rutwise("check", block, "--state", "frozen")
    assert refused.returncode == 2  # frost that nobody verified earns nothing
    assert "verified" in refused.stdout
