"""What a lighter setup would need, held against an exhaustive search."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import combinations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from terrain.decision.bottlenecks import bottlenecks, stretch_rows
from terrain.decision.drop_it import (
    _short_when_drier,
    _some,
    drop_it,
    fewest_stretches,
    reach_words,
)
from terrain.decision.leave_out import evaluated_anew, leave_out
from terrain.decision.ranking import carry_over, measure_setups
from terrain.models.soil import THAWED_STATES
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
    """The verdict's own rule on what is left, with what carries over from drier ground."""
    if not left.kept.any():
        return False
    reserve = left.evaluation.reserve
    own = reserve[:, left.evaluation.column(setup)]
    if ((own < 0) & ~(reserve < 0).all(axis=1)).any():  # spares most looks, which are slow
        return False
    chosen, stations = situation.settings.ground.state, situation.along.stations[left.kept]
    tables = {}
    for state in THAWED_STATES[THAWED_STATES.index(chosen) :: -1]:
        found = evaluated_anew(
            situation, situation.assessment.items, left.turned, left.against, ~left.kept, state
        )
        names = [field.name for field in fields(found) if field.name != "setups"]
        kept = replace(found, **{name: getattr(found, name)[left.kept] for name in names})
        tables[state] = measure_setups(kept, stations, situation.settings.decision)
        if tables[state].loc[setup, "outcome"] == "does not suit":
            return False
    outcome = carry_over(tables)[chosen].loc[setup, "outcome"]
    return outcome in ("suits", "suits with measures")


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


CASES = [(seed, loop, two) for seed in range(2) for loop in (False, True) for two in (False, True)]
CASES += [(2, True, False), (3, False, False)]


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
        if not 1 <= len(rows) <= 7:
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
    sentence = got.loc["bare", "sentence"]
    assert sentence.startswith("Without M-50 (15 m of trail M): no traction aid on any wheel would")
    # own arithmetic: 200 m and four times 80 m, less 65 m of the main trail and all of S0
    assert sentence.endswith("375 m of 520 m of trail stay reachable.")


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
    block = {"block": TEXT, "machine": RATED, "dem": plane(gx=0.16), "soils": soils,
             "landings": landings()}  # fmt: skip
    before = gpd.GeoDataFrame(
        {"trail": ["N"], "volume_m3": [5000.0]},
        geometry=[LineString([at(200, 0), at(200, 80)])],
        crs=CRS,
    )
    trails = pd.concat([comb(), before], ignore_index=True)
    plan = plan_block(write_block(tmp_path / "b", trails=trails, **block))
    assert plan.ranking.candidate != "bare"
    row = plan.drop_it.set_index("setup").loc["bare"]
    assert row["kind"] == "out of reach"
    assert row["stretches"] == "M-170"
    assert "Out of reach then: M-50." in row["sentence"]
    words = reach_words(plan.drop_it)
    assert words == (
        "Without M-170 and 490 m behind it: no traction aid on any wheel would do, by the likely "
        "figures alone."
    )
    assert row["sentence"].startswith(words)
    assert plan.ranking.headline.endswith(words)
    # own arithmetic: of 200 m, four times 80 m and the 80 m of N, 15 m of M and N stay
    assert row["sentence"].endswith("95 m of 600 m of trail stay reachable.")
    # without that timber before it most of the block would be lost: then that is no answer
    plan = plan_block(write_block(tmp_path / "c", trails=comb(), **block))
    assert "bare" not in set(plan.drop_it["setup"])
    assert reach_words(plan.drop_it) == ""


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


def listed_for(situation):
    stretches = stretch_rows(situation.along.stations, situation.assessment, situation.settings)
    return drop_it(situation, stretches, [f"S-{k}" for k in range(len(stretches))])


@pytest.mark.parametrize(("column", "value"), [("drier_state", "dry"), ("outcome", "cannot tell")])
def test_only_what_falls_short_in_the_chosen_state_is_looked_at(tmp_path, column, value):
    situation = situation_of(one_soft_place(tmp_path))
    assert "bare" in set(listed_for(situation)["setup"])
    ranking = situation.assessment.ranking
    setups = ranking.setups.copy()
    setups[column] = setups[column].astype(object) if column in setups else None
    setups.loc[setups["setup"] == "bare", column] = value
    changed = replace(situation.assessment, ranking=replace(ranking, setups=setups))
    assert "bare" not in set(listed_for(replace(situation, assessment=changed))["setup"])


def test_no_answer_where_more_than_half_would_stay_behind(tmp_path):
    """65 m of the 200 m of M and all of S0 stay behind; S0 is made to hold most of the timber."""
    path = one_soft_place(tmp_path)
    trails = comb()
    for rest, answered in ((150.0, True), (300.0, False)):
        trails["volume_m3"] = [100.0, rest, 50.0, 50.0, 50.0]
        trails.to_file(path.parent / "trails.gpkg", driver="GPKG")
        # own arithmetic: 32.5 m3 of M and all of S0, of 400 or of 550 m3
        lost = (32.5 + rest) / (250 + rest)
        assert (lost <= 0.5) == answered
        assert ("bare" in set(listed_for(situation_of(path))["setup"])) == answered


def test_without_known_timber_metres_decide_what_is_most_of_the_block(tmp_path):
    text = TEXT.replace('\nvolume_m3 = "volume_m3"', "")
    path = one_soft_place(tmp_path, text)
    row = listed_for(situation_of(path)).set_index("setup").loc["bare"]
    assert np.isnan(row["stranded_m3"])  # 145 m of 520 m
    trails = comb()
    kept = trails[trails["trail"].isin(["M", "S0"])]  # 145 m of 280 m
    kept.to_file(path.parent / "trails.gpkg", driver="GPKG")
    assert "bare" not in set(listed_for(situation_of(path))["setup"])


def test_many_stretches_are_counted_in_the_sentence(tmp_path):
    """Four soft places on side trails: two are named, the others counted; the table has them."""
    soils = patches(0, n=4)
    soils["soil_class"], soils["drainage"] = [1, 3, 3, 3, 3], "well drained"
    tops = [box(*at(x - 6, -60), *at(x + 6, -50)) for x in (30, 110)]
    tops += [box(*at(x - 6, 50), *at(x + 6, 60)) for x in (70, 150)]
    soils.geometry = [box(*at(-60, -110), *at(260, 110)), *tops]
    path = write_block(
        tmp_path / "b", block=TEXT, machine=RATED, dem=plane(gx=0.1), trails=comb(),
        soils=soils, landings=landings(),
    )  # fmt: skip
    situation = situation_of(path)
    table = listed_for(situation).set_index("setup")
    assert len(table.loc["bare", "stretches"].split(", ")) == 4
    sentence = table.loc["bare", "sentence"]
    assert "and 2 more stretches (" in sentence
    assert "40 m on 4 trails): " in sentence


def test_words_for_the_headline_stay_short():
    names = [f"T{k}-{k}" for k in range(28)]
    assert _some(names) == "T0-0, T1-1 and 26 more stretches"
    assert _some(names[:3]) == "T0-0, T1-1 and T2-2"
    long = f"Without {_some(names)} and 4321 m behind them: chains would do, by the likely figures "
    long += "alone."
    table = pd.DataFrame({"kind": ["out of reach"], "sentence": [f"{long} 80 m3. Cut off: 9 m."]})
    assert reach_words(table) == long
    assert len(long) < 130


def test_metres_that_are_hopeless_only_while_it_is_wet_count_as_in_drier_ground(tmp_path):
    """In wet ground nothing passes them, in moist ground a heavier setup does and bare does not."""
    path = write_block(
        tmp_path / "b", block=TEXT, machine=RATED, dem=plane(gx=0.04, gy=0.02), trails=comb(),
        soils=patches(3), landings=landings(),
    )  # fmt: skip
    situation = situation_of(path, state="wet")
    evaluations = situation.assessment.evaluations
    nothing = leave_out(situation, [])
    for setup in situation.assessment.usual:
        column = situation.assessment.evaluation.column(setup)
        wanted = np.zeros(len(nothing.kept), dtype=bool)
        for state in ("dry", "moist"):
            reserve = evaluations[state].reserve
            wanted |= (reserve[:, column] < 0) & ~(reserve < 0).all(axis=1)
        assert (_short_when_drier(situation, nothing, column) == wanted).all()
