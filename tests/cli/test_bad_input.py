"""Bad input ends with words, exit code 2 and nothing written: one case a line of the promise."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point

from tests import tiny_block as tiny
from tests.cli.run import rutwise


def line_far_away():
    return gpd.GeoDataFrame(
        {"trail": ["T1"]},
        geometry=[LineString([tiny.at(90000, 0), tiny.at(90200, 0)])],
        crs=tiny.CRS,
    )


def landing_off_the_trail():
    return gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(tiny.at(150, 40))], crs=tiny.CRS)


def with_island():
    frame = tiny.trails()
    frame.loc[2] = ["T9", LineString([tiny.at(0, 90), tiny.at(60, 90)])]
    return frame


def all_void():
    z, transform = tiny.plane()
    return np.full_like(z, np.nan), transform


def rewritten(text, old, new):
    assert old in text
    return text.replace(old, new)


CASES = {
    "trails file is missing": (
        {"block": rewritten(tiny.BLOCK, "trails.gpkg", "trials.gpkg")},
        ["trials.gpkg", "cannot be found"],
    ),
    "layer without a CRS": ({"soils": tiny.soils().set_crs(None, allow_override=True)}, ["soils"]),
    "empty layer": ({"trails": tiny.trails().iloc[:0]}, ["trails.gpkg"]),
    "trail outside the DEM": ({"trails": line_far_away()}, ["dem.tif"]),
    "all-void DEM": ({"dem": all_void()}, ["dem.tif", "void"]),
    "axle masses that do not add up": (
        {
            "machine": rewritten(
                tiny.MACHINE,
                "unladen_front_kg = 11000",
                "unladen_front_kg = 11000\nunladen_rear_kg = 8000",
            )
        },
        ["machine.toml", "19000", "20000"],
    ),
    "tyre that contradicts its dimensions": (
        {
            "machine": rewritten(
                tiny.MACHINE,
                'designation = "710/45-26.5"\n',
                'designation = "710/45-26.5"\ndiameter_m = 1.6\n',
            )
        },
        ["diameter_m", "1.6", "710/45-26.5"],
    ),
    "unknown key": (
        {"block": rewritten(tiny.BLOCK, "buffer_m", "bufer_m")},
        ["bufer_m", "buffer_m", "block.toml"],
    ),
    "negative mass": (
        {"machine": rewritten(tiny.MACHINE, "mass_kg = 14000", "mass_kg = -14000")},
        ["load.mass_kg", "-14000"],
    ),
    "landing that touches no trail": ({"landings": landing_off_the_trail()}, ["L1", "40"]),
    "trail that reaches no landing": ({"trails": with_island()}, ["T9", "60 m"]),
    "not a TOML file": ({"block": "name = = 3"}, ["block.toml", "line 1"]),
}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_bad_input_is_refused_in_words(case, tmp_path):
    layers, words = CASES[case]
    block = tiny.write_block(tmp_path / "block", **layers)
    out = tmp_path / "out"
    planned = rutwise("plan", block, "-o", out)
    assert planned.returncode == 2, planned.stdout + planned.stderr
    for word in words:
        assert word in planned.stderr
    assert "Traceback" not in planned.stderr
    assert planned.stdout == ""
    assert not out.exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["block"]

    checked = rutwise("check", block)
    assert checked.returncode == 2
    assert "fix:" in checked.stdout
    for word in words:
        assert word in checked.stdout


def test_all_faults_of_all_files_come_at_once(tmp_path):
    block = tiny.write_block(
        tmp_path,
        machine=tiny.MACHINE.replace("mass_kg = 14000", "mass_kg = -14000"),
        landings=landing_off_the_trail(),
        block=tiny.BLOCK.replace("buffer_m", "bufer_m"),
    )
    said = rutwise("check", block).stdout
    for word in ("bufer_m", "-14000", "L1"):
        assert word in said


def test_a_missing_block_file_is_named(tmp_path):
    done = rutwise("plan", tmp_path / "nowhere.toml", "-o", tmp_path / "out")
    assert done.returncode == 2
    assert "nowhere.toml" in done.stderr
    assert "Traceback" not in done.stderr


def test_projection_data_of_another_program_does_not_break_the_run(tmp_path):
    block = tiny.write_block(tmp_path)
    done = rutwise("check", block, PROJ_LIB="/nonsense", PROJ_DATA="/nonsense")
    assert done.returncode == 0, done.stdout + done.stderr


def test_an_unknown_topic_and_an_unknown_option_are_usage_errors():
    assert rutwise("explain", "no such thing").returncode == 2
    assert rutwise("plan", "--no-such-option").returncode == 2
    assert rutwise("explain", "cross_slope").returncode == 0


def test_a_folder_that_cannot_be_made_is_refused_before_anything_is_computed(tmp_path):
    block = tiny.write_block(tmp_path)
    done = rutwise("plan", block, "-o", block / "out")
    assert done.returncode == 2
    assert "OUT05" in done.stderr
    assert "reading the inputs" not in done.stderr


def test_the_help_of_plan_tells_its_exit_codes():
    told = " ".join(rutwise("plan", "--help").stdout.split())
    words = (
        "When no usual setup suits, or too much is not known to tell, all files are written too, "
    )
    assert f"{words}and the exit code is 3." in told
