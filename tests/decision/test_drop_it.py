"""What a lighter setup would need, held against an exhaustive search."""

from __future__ import annotations

from itertools import combinations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from terrain.decision.bottlenecks import bottlenecks, stretch_rows
from terrain.decision.drop_it import drop_it, fewest_stretches
from terrain.decision.leave_out import leave_out
from terrain.decision.ranking import measure_setups
from terrain.plan import plan_block
from tests.situations import situation_of
from tests.tiny_block import BLOCK, CRS, MACHINE, at, plane, write_block

RATED = MACHINE.replace("bogie_spacing_m = 1.5", "bogie_spacing_m = 1.5\nrated_mass_kg = 40000")
TEXT = BLOCK.replace('id = "trail"', 'id = "trail"\nvolume_m3 = "volume_m3"').replace(
    "[settings]", "[traffic]\ngreen_density_kg_m3 = 875.0\n[settings]"
)


def comb(*, loop=False, seed=0):
    """A main trail with four side trails; with a loop a second way joins two of them."""
    rng = np.random.default_rng(seed)
    lines = {"M": [(0, 0), (200, 0)]}
    for k, x in enumerate((30, 70, 110, 150)):
        lines[f"S{k}"] = [(x, 80 if k % 2 else -80), (x, 0)]
    if loop:
        lines["R"] = [(30, -80), (110, -80)]
        lines["Q"] = [(70, 80), (150, 80)]
    return gpd.GeoDataFrame(
        {"trail": list(lines), "volume_m3": rng.integers(10, 200, len(lines)).astype(float)},
        geometry=[LineString([at(*p) for p in line]) for line in lines.values()],
        crs=CRS,
    )


def patches(seed, n=7):
    """Firm ground with soft squares thrown on it."""
    rng = np.random.default_rng(seed)
    boxes = [box(*at(-60, -110), *at(260, 110))]
    for _ in range(n):
        x, y = rng.uniform(-10, 190), rng.choice([0.0, 0.0, 40.0, -40.0, 80.0, -80.0])
        boxes.append(box(*at(x, y - 8), *at(x + rng.uniform(6, 14), y + 8)))
    return gpd.GeoDataFrame(
        {
            "polygon": [f"P{k}" for k in range(len(boxes))],
            "soil_class": [1] + [3] * n,
            "drainage": ["well drained"] + ["poorly drained"] * n,
        },
        geometry=boxes,
        crs=CRS,
    )


def landings(two=False):
    places = [Point(at(200, 0)), Point(at(0, 0))]
    names = ["L1", "L2"]
    many = 2 if two else 1
    return gpd.GeoDataFrame({"landing": names[:many]}, geometry=places[:many], crs=CRS)


def meets(situation, left, setup):
    """The verdict's own rule on what is left."""
    table = measure_setups(left.evaluation, situation.along.stations, situation.settings.decision)
    return bool(left.kept.any()) and table.loc[setup, "outcome"] != "does not suit"


def exhaustive(situation, setup, rows):
    """Smallest set over all subsets; of equally many the least timber, then the fewest metres."""
    for size in range(len(rows) + 1):
        found = []
        for chosen in combinations(range(len(rows)), size):
            left = leave_out(situation, [rows[k] for k in chosen])
            if meets(situation, left, setup):
                lost = left.left_out_m + left.cut_off_m
                found.append((left.stranded_m3, lost, chosen))
        if found:
            return size, *min(found)
    return None


CASES = [(seed, loop, two) for seed in range(4) for loop in (False, True) for two in (False, True)]


@pytest.mark.parametrize(("seed", "loop", "two"), CASES)
def test_the_fewest_stretches_are_those_of_an_exhaustive_search(tmp_path, seed, loop, two):
    path = write_block(
        tmp_path / "b",
        block=TEXT,
        machine=RATED,
        dem=plane(gx=0.04, gy=0.02),
        trails=comb(loop=loop, seed=seed),
        soils=patches(seed),
        landings=landings(two),
    )
    situation = situation_of(path, state="wet")
    assessment, stations = situation.assessment, situation.along.stations
    stretches = stretch_rows(stations, assessment, situation.settings)
    looked = 0
    for setup in assessment.usual:
        reserve = assessment.evaluation.reserve[:, assessment.evaluation.column(setup)]
        rows = [r for kind, r in stretches if kind in (0, 1) and (reserve[r] < 0).any()]
        if not 1 <= len(rows) <= 9:
            continue
        looked += 1
        wanted = exhaustive(situation, setup, rows)
        assert wanted is not None
        found = fewest_stretches(situation, setup, rows)
        assert found is not None
        assert found.sure
        assert len(found.stretches) == wanted[0]
        assert found.left.stranded_m3 == pytest.approx(wanted[1])
        assert meets(situation, found.left, setup)
    assert looked


def one_soft_place(tmp_path, text=TEXT):
    """Firm ground but for 15 m of the main trail: exactly one stretch forces the choice."""
    soils = patches(0, n=1)
    soils["soil_class"], soils["drainage"] = [1, 2], "well drained"
    soils.geometry = [box(*at(-60, -110), *at(260, 110)), box(*at(50, -8), *at(65, 8))]
    return write_block(
        tmp_path / "b", block=text, machine=RATED, dem=plane(gx=0.16), trails=comb(), soils=soils,
        landings=landings(),
    )  # fmt: skip


def test_one_stretch_forces_the_choice_and_the_answer_names_it(tmp_path):
    path = one_soft_place(tmp_path)
    situation = situation_of(path)
    stations, assessment = situation.along.stations, situation.assessment
    stretches = stretch_rows(stations, assessment, situation.settings)
    table = bottlenecks(situation.block.trails, stations, assessment, situation.settings, stretches)
    forcing = table[table["kind"] == "forces the choice"]
    assert forcing["stretch"].tolist() == ["M-50"]
    names = [f"M-{stations['chainage_m'].iloc[r[0]] - 2.5:.0f}" for _, r in stretches]
    got = drop_it(situation, stretches, names).set_index("setup")
    assert got.loc["bare", "stretches"] == "M-50"
    assert got.loc["bare", "left_out_m"] == pytest.approx(15.0)
    assert got.loc["bare", "stranded_trails"] == "M, S0"
    volumes = situation.along.traffic.volumes["volume_m3"]
    # 65 m of the main trail's 200 m, and all of S0, reach no landing any more
    assert got.loc["bare", "stranded_m3"] == pytest.approx(volumes["M"] * 65 / 200 + volumes["S0"])
    assert "M-50" not in got.loc["bare", "sentence"]
    assert "15 m of trail M" in got.loc["bare", "sentence"]


def test_the_plan_without_the_stretch_keeps_the_promise(tmp_path):
    """The trail drawn anew without what is left out or cut off: bare wheels suit."""
    path = one_soft_place(tmp_path)
    before = plan_block(path)
    assert before.ranking.setups.set_index("setup").loc["bare", "outcome"] == "does not suit"
    trails = comb()
    trails = trails[trails["trail"] != "S0"].copy()
    trails.loc[trails["trail"] == "M", "geometry"] = LineString([at(65, 0), at(200, 0)])
    after = plan_block(
        write_block(
            tmp_path / "a",
            block=TEXT,
            machine=RATED,
            dem=plane(gx=0.16),
            trails=trails,
            soils=gpd.read_file(path.parent / "soils.gpkg"),
            landings=landings(),
        )
    )
    assert after.ranking.candidate == "bare"


def test_nothing_is_listed_where_the_lightest_setup_suits(tmp_path):
    path = write_block(
        tmp_path / "b", block=TEXT, machine=RATED, dem=plane(gx=0.02), trails=comb(),
        soils=patches(0, n=0), landings=landings(),
    )  # fmt: skip
    situation = situation_of(path, state="dry")
    assert situation.assessment.ranking.candidate == "bare"
    stretches = stretch_rows(situation.along.stations, situation.assessment, situation.settings)
    assert drop_it(situation, stretches, [str(k) for k in range(len(stretches))]).empty


def test_what_lies_beyond_a_place_that_nothing_passes_is_told_as_out_of_reach(tmp_path):
    """Very soft ground near the landing; behind it the place that bare wheels fail on."""
    soils = patches(0, n=2)
    soils["soil_class"], soils["drainage"] = [1, 2, 4], "well drained"
    soils.geometry = [
        box(*at(-60, -110), *at(260, 110)),
        box(*at(50, -8), *at(65, 8)),
        box(*at(170, -8), *at(185, 8)),
    ]
    path = write_block(
        tmp_path / "b", block=TEXT, machine=RATED, dem=plane(gx=0.16), trails=comb(), soils=soils,
        landings=landings(),
    )  # fmt: skip
    plan = plan_block(path)
    assert plan.ranking.candidate != "bare"
    row = plan.drop_it.set_index("setup").loc["bare"]
    assert row["kind"] == "out of reach"
    assert row["stretches"] == "M-170"
    assert "M-50 is out of reach then" in row["sentence"]
    assert row["sentence"] in plan.ranking.headline


def test_a_setup_that_fails_everywhere_is_helped_by_no_leaving_out(tmp_path):
    """One trail, too steep for bare wheels all along: nothing would be left to drive on."""
    soils = patches(0, n=0)
    soils["soil_class"] = [2]
    trails = comb()
    trails = trails[trails["trail"] == "M"]
    path = write_block(
        tmp_path / "b", block=TEXT, machine=RATED, dem=plane(gx=0.16), trails=trails, soils=soils,
        landings=landings(),
    )  # fmt: skip
    situation = situation_of(path)
    stretches = stretch_rows(situation.along.stations, situation.assessment, situation.settings)
    rows = [rows for _, rows in stretches]
    assert len(rows) == 1
    assert fewest_stretches(situation, "bare", rows) is None
    assert exhaustive(situation, "bare", rows) is None
    assert "bare" not in set(drop_it(situation, stretches, ["M-0"])["setup"])
