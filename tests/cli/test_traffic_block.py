"""The Y-shaped block through the command line: passes, ruts, rule, brash and survey."""

from __future__ import annotations

import json
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from terrain.columns import columns_of
from terrain.decision.ruts import evaluate_ruts
from terrain.decision.survey import compare_survey
from terrain.errors import InputRefused
from terrain.inputs.survey import read_survey
from terrain.plan import plan_block
from tests.cli.run import rutwise
from tests.tiny_block import CRS, at
from tests.tiny_traffic import Y_BLOCK, y_block, y_soils, y_trails


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    block = y_block(tmp_path_factory.mktemp("y"))
    return block, plan_block(block)


def test_passes_by_arithmetic_through_the_command(planned, tmp_path):
    block, _ = planned
    out = tmp_path / "out"
    done = rutwise("plan", block, "-o", out)
    assert done.returncode in (0, 3), done.stderr
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    check = record["soil_disturbance_check"]
    assert check["arrivals_m3"] == {"L1": pytest.approx(213)}
    bare = next(row for row in check["setups"] if "bare" in row["setup"] and row["payload_m3"])
    assert bare["payload_m3"] == pytest.approx(16)
    # 213 m3 in loads of 16 m3 are 14 loads; twice that and one pass of the harvester
    assert bare["loads_max"] == 14
    assert bare["passes_max"] == 29
    assert check["trail_area_share"] == pytest.approx(320 * 4 / (280 * 160))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "Soil-disturbance check" in page
    assert "Ruts in stands, severity by share of track length" in page
    assert "check the current text" in page
    stations = pd.read_csv(out / "stations.csv")
    shown_payload = next(
        row["payload_m3"] for row in check["setups"] if row["setup"] == check["shown_setup"]
    )
    expected = 2 * np.ceil(stations["volume_m3"] / shown_payload - 1e-9) + 1
    assert stations["passes"].to_numpy() == pytest.approx(expected)
    t2 = stations[stations["trail"] == "T2"]
    assert t2["volume_m3"].max() == pytest.approx(80)


def test_tables_hold_the_registered_columns_and_sums_agree(planned):
    _, plan = planned
    sheet = plan.check_sheet
    assert tuple(sheet.setups.columns) == columns_of("check_setups")
    assert tuple(sheet.trails.columns) == columns_of("check_trails")
    assert tuple(sheet.stretches.columns) == columns_of("check_stretches")
    shown = sheet.setups.set_index("setup").loc[sheet.shown]
    for name in ("beyond_low_m", "beyond_m", "beyond_high_m", "not_predicted_m"):
        assert sheet.trails[name].sum() == pytest.approx(shown[name]), name
    assert sheet.trails["length_m"].sum() == pytest.approx(320)
    stretches = sheet.stretches["to_m"] - sheet.stretches["from_m"]
    assert stretches.sum() == pytest.approx(shown["beyond_m"])
    assert (sheet.setups["beyond_low_m"] <= sheet.setups["beyond_m"]).all()
    assert (sheet.setups["beyond_m"] <= sheet.setups["beyond_high_m"]).all()
    chosen = sheet.states[sheet.states["state"] == "moist"].set_index("setup").loc[sheet.shown]
    assert chosen["beyond_m"] == pytest.approx(shown["beyond_m"])


def test_the_soft_metres_are_the_ones_beyond_the_rule(planned):
    # 50 m of class 3 under 29 passes; class 1 at its likely strength stays far below 10 cm
    _, plan = planned
    assert plan.check_sheet.setups.set_index("setup").loc[plan.check_sheet.shown, "beyond_m"] == 50
    soft = plan.stations["soil_class"] == 3
    assert (plan.stations.loc[soft, "rut_class"] == 4).all()
    assert (plan.stations.loc[~soft, "rut_class"] <= 2).all()


def test_brash_balance_by_arithmetic(planned):
    # 40 000 kg/ha over 4 m at 20 m spacing: 20 kg/m2, more than the 15 asked for
    _, plan = planned
    brash = plan.check_sheet.brash
    assert brash.supply_kg_m2.to_numpy() == pytest.approx(20)
    assert brash.need_m.sum() == pytest.approx(50)
    assert brash.short_m.sum() == 0
    assert brash.missing_t == 0
    assert brash.covered_m == brash.beyond_m == pytest.approx(50)


def test_too_little_brash_is_said_in_metres_and_tonnes(tmp_path):
    text = Y_BLOCK.replace("residue_kg_per_ha = 40000.0", "residue_kg_per_ha = 20000.0")
    brash = plan_block(y_block(tmp_path, text)).check_sheet.brash
    assert brash.short_m.sum() == pytest.approx(50)
    assert brash.missing_t == pytest.approx((15 - 10) * 50 * 4 / 1000)  # kg/m2, m, m
    assert brash.covered_m == 0


def test_without_density_nothing_is_passed_off_as_known(tmp_path):
    plan = plan_block(y_block(tmp_path, Y_BLOCK.replace("green_density_kg_m3 = 875.0\n", "")))
    assert plan.stations["passes"].isna().all()
    assert plan.stations["rut_class"].isna().all()
    assert plan.check_sheet.setups["not_predicted_m"].to_numpy() == pytest.approx(320)
    assert (plan.check_sheet.setups["share_high"] == 1).all()
    assert any("green_density_kg_m3" in sentence for sentence in plan.not_assessed)


def test_unknown_volume_is_said_in_metres(tmp_path):
    plan = plan_block(y_block(tmp_path, trails=y_trails((100.0, None, 33.0))))
    # T2 and all of T1 behind it, not T3; served width alone gives no volume
    assert plan.check_sheet.unknown_volume_m == pytest.approx(260)
    assert any("260 m" in s and "not known" in s for s in plan.not_assessed)
    trails = plan.check_sheet.trails.set_index("trail")
    assert np.isnan(trails.loc["T1", "passes_max"])
    assert trails.loc["T3", "passes_max"] > 0


def test_wrong_keys_of_the_new_sections_are_refused(tmp_path):
    text = Y_BLOCK.replace('profile = "finland_1996"', 'profile = "finland"')
    text = text.replace("served_width_m = 20.0", "served_with_m = 20.0")
    done = rutwise("check", y_block(tmp_path, text))
    assert done.returncode == 2
    assert "RUL01" in done.stdout
    assert "finland_1996" in done.stdout
    assert "served_width_m" in done.stdout
    other = Y_BLOCK.replace("served_width_m = 20.0", "volume_m3_per_ha = 100.0")
    assert "TRF01" in rutwise("check", y_block(tmp_path / "b", other)).stdout


def test_an_own_rule_by_area_and_a_rule_by_trail_share(tmp_path):
    text = Y_BLOCK.replace('"finland_1996"', '"ours"\nfile = "own.toml"')
    block = y_block(tmp_path, text)
    (tmp_path / "own.toml").write_text(
        '[[profile]]\nkey = "ours"\ntitle = "own"\ndepth_mineral_cm = 15.0\n'
        'depth_organic_cm = 15.0\nreference_surface = "original ground"\n'
        'share_of = "block area"\nmax_share = 0.01\naction = "stop"\nsource = "contract"\n'
        'date = "2026-01-05"\n',
        encoding="utf-8",
    )
    sheet = plan_block(block).check_sheet
    shown = sheet.setups.set_index("setup").loc[sheet.shown]
    assert shown["share"] == pytest.approx(50 * 4 / (280 * 160))
    german = plan_block(y_block(tmp_path / "de", Y_BLOCK.replace("finland_1996", "fsc_germany")))
    verdicts = german.check_sheet.setups["verdict"]
    assert (verdicts == "the whole band stays within the rule").all()
    swedish = plan_block(y_block(tmp_path / "se", Y_BLOCK.replace("finland_1996", "sweden_2012")))
    assert swedish.check_sheet.setups["verdict"].str.contains("judged by effect").all()
    assert swedish.check_sheet.setups["beyond_m"].isna().all()


def test_organic_soil_follows_its_own_depth(tmp_path):
    # Québec gives no depth for organic soil: those metres are not predicted, never "within"
    text = Y_BLOCK.replace("finland_1996", "quebec_45")
    peat = plan_block(y_block(tmp_path / "p", text)).check_sheet.setups
    mineral = plan_block(y_block(tmp_path / "m", text, soils=y_soils("silt"))).check_sheet.setups
    assert peat["not_predicted_m"].to_numpy() == pytest.approx(50)
    assert peat["beyond_m"].to_numpy() == pytest.approx(0)
    assert mineral["not_predicted_m"].to_numpy() == pytest.approx(0)
    assert mineral["beyond_m"].max() == pytest.approx(50)


def test_ruts_follow_strength_passes_and_footprint(planned):
    _, plan = planned
    from terrain.decision.carried import carried
    from terrain.inputs.block import load_block
    from terrain.setups.rulebook import Standing, judge_all

    block = load_block(planned[0])
    kept = [
        s for s, j in judge_all(block.machine, block.aids) if j.standing is not Standing.EXCLUDED
    ]
    items = [carried(setup, block.machine) for setup in kept]
    volume = plan.check_sheet.traffic.volume_m3
    base = evaluate_ruts(plan.stations, plan.stations, items, volume, plan.settings)
    assert (base.low_cm <= base.likely_cm).all()
    assert (base.likely_cm <= base.high_cm).all()
    more = evaluate_ruts(plan.stations, plan.stations, items, 3 * volume, plan.settings)
    assert (more.likely_cm >= base.likely_cm).all()
    assert more.likely_cm.max() > base.likely_cm.max()
    firm = plan.stations.assign(
        cone_index_kpa=1501.0, cone_index_low_kpa=1400.0, cone_index_high_kpa=1600.0
    )
    silent = evaluate_ruts(plan.stations, firm, items, volume, plan.settings)
    assert np.isnan(silent.likely_cm).all()
    assert silent.too_strong.all()
    none = evaluate_ruts(plan.stations, plan.stations, items, 0 * volume, plan.settings)
    assert (none.high_cm == 0).all()
    bare = next(k for k, item in enumerate(items) if item.setup.is_bare)
    bands = [
        k
        for k, item in enumerate(items)
        if all(g.aid is not None and g.aid.kind == "band track" for g in item.groups)
    ]
    assert bands
    for k in bands:
        assert (base.likely_cm[:, k] < base.likely_cm[:, bare]).all()
    # own arithmetic: two passes of equal wheels grow as 2^(1/a), checked with the harvester alone
    settings = replace(plan.settings, traffic=replace(plan.settings.traffic, harvester_passes=0))
    once = evaluate_ruts(plan.stations, plan.stations, items, np.full(len(volume), 1.0), settings)
    thrice = evaluate_ruts(
        plan.stations, plan.stations, items, np.full(len(volume), 40.0), settings
    )
    soft = (plan.stations["ground_class"] == 3).to_numpy()
    growth = thrice.likely_cm[soft, bare] / once.likely_cm[soft, bare]
    assert growth == pytest.approx(3 ** (1 / 2.5))  # 40 m3 are three loads; exponent 2 to 3


def test_half_loads_trade_mass_for_passes(planned):
    parts = planned[1].check_sheet.part_loads.set_index("payload_share")
    assert parts.loc[0.5, "loads"] >= 2 * parts.loc[1.0, "loads"] - 1
    assert parts.loc[0.5, "ngp_rear_loaded_kpa"] < parts.loc[1.0, "ngp_rear_loaded_kpa"]
    assert parts.loc[0.5, "mass_driven_t"] > parts.loc[1.0, "mass_driven_t"]


SURVEY = """\
trail,chainage_m,depth_cm,length_m,rut_type,when
T1,160,30,5,3,after
T1,170,30,5,3,after
T1,180,4,5,1,after
T1,50,2,5,1,after
T1,60,25,5,2,after
T1,70,1,5,1,before
T9,10,5,5,1,after
T1,80,-3,5,1,after
T1,90,deep,5,1,after
,,8,5,1,after
"""


def test_survey_counts_hits_misses_and_false_alarms(planned, tmp_path):
    block, _ = planned
    path = tmp_path / "ruts.csv"
    path.write_text(SURVEY, encoding="utf-8")
    done = rutwise("survey", path, "--block", block)
    assert done.returncode == 0, done.stderr
    # soft ground is predicted over 20 cm: two hits, and one false alarm where 4 cm were found
    assert "over 20 cm" in done.stdout
    for code in ("SVY03", "SVY04", "SVY07"):
        assert code in done.stderr
    assert "row 10" in done.stderr
    assert "385" in done.stdout  # 1.96^2 x 0.25 / 0.05^2 = 384.1
    rows = json.loads(rutwise("survey", path, "--block", block, "--format", "json").stdout)
    assert len(rows) == 5
    # peat counts from 20 cm: rows 1 and 2; mineral from 10 cm: row 5
    assert [row["counts"] for row in rows] == [True, True, False, False, True]


def test_a_survey_is_looked_at_before_the_block_is_planned(planned, tmp_path):
    block, _ = planned
    path = tmp_path / "ruts.csv"
    path.write_text("trail,chainage_m,depth_cm\n", encoding="utf-8")
    done = rutwise("survey", path, "--block", block)
    assert done.returncode == 2
    assert "no row below the headings" in done.stderr
    assert "computing slopes" not in done.stderr


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("T9,10,5,after\nT1,999,5,after\n", "No row lies on the trails"),
        ("T1,10,5,before\n", "of before the harvest"),
    ],
)
def test_a_survey_without_a_usable_record_is_refused(planned, rows, said):
    path = planned[0].parent / "unusable.csv"
    path.write_text(f"trail,chainage_m,depth_cm,when\n{rows}", encoding="utf-8")
    measured, _ = read_survey(path, CRS)
    with pytest.raises(InputRefused) as refusal:
        compare_survey(planned[1], measured)
    assert refusal.value.issues[-1].code == "SVY08"
    assert said in refusal.value.issues[-1].what


def test_without_a_rule_the_surveyed_metres_are_still_told(tmp_path):
    text = Y_BLOCK.replace('[site_rules]\nprofile = "finland_1996"\n', "")
    block = y_block(tmp_path, text)
    path = tmp_path / "ruts.csv"
    path.write_text("trail,chainage_m,depth_cm,length_m\nT1,160,30,5\n", encoding="utf-8")
    done = rutwise("survey", path, "--block", block)
    assert done.returncode == 0, done.stderr
    assert "Surveyed: 5 m in 1 record after the harvest" in done.stdout
    assert "Counts by the rule" not in done.stdout
    assert "with the share seen here" not in done.stdout
    assert "1 records" not in done.stdout


def test_metres_that_the_rule_does_not_judge_are_told(planned, tmp_path):
    # Québec gives no depth for organic soil: the peat of T1 from 150 m on is not judged
    text = Y_BLOCK.replace("finland_1996", "quebec_45")
    plan = plan_block(y_block(tmp_path, text))
    path = tmp_path / "ruts.csv"
    path.write_text(SURVEY, encoding="utf-8")
    measured, _ = read_survey(path, CRS)
    result = compare_survey(plan, measured)
    assert (result.surveyed_m, result.judged_m) == (25, 10)
    assert result.share == pytest.approx(result.counts_m / 10)


def test_survey_of_points_and_its_refusals(planned, tmp_path):
    block, _ = planned
    points = gpd.GeoDataFrame(
        {"depth_cm": [12.0, 12.0]}, geometry=[Point(at(100, 2)), Point(at(100, 60))], crs=CRS
    )
    points.to_file(tmp_path / "ruts.gpkg")
    done = rutwise("survey", tmp_path / "ruts.gpkg", "--block", block)
    assert done.returncode == 0, done.stderr
    assert "SVY06" in done.stderr
    assert "row 2" in done.stderr
    (tmp_path / "bad.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    refused = rutwise("survey", tmp_path / "bad.csv", "--block", block)
    assert refused.returncode == 2
    assert "SVY02" in refused.stderr
    assert rutwise("survey", tmp_path / "none.csv", "--block", block).returncode == 2
    unknown = rutwise("survey", tmp_path / "ruts.gpkg", "--block", block, "--setup", "wings")
    assert unknown.returncode == 2
    assert "SVY09" in unknown.stderr


def test_rules_are_listed_and_shown():
    done = rutwise("rules", "--format", "json")
    keys = [row["key"] for row in json.loads(done.stdout)]
    assert {"finland_1996", "fiji_wet", "bc_slope"} <= set(keys)
    one = rutwise("rules", "texas_bmp")
    assert "50 ft" in one.stdout
    assert "dated copy" in one.stdout
    assert rutwise("rules", "nowhere").returncode == 2
