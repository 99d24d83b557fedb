"""Season table, order of the trails and machines side by side, on the hand-built block."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from terrain.decision.assessment import with_payload
from terrain.plan import plan_block
from tests.builders import forwarder
from tests.tiny_block import BLOCK, CRS, MACHINE, at, plane, soils, write_block

THAWED = ("dry", "moist", "wet", "saturated")


@pytest.fixture(scope="module")
def tiny(tmp_path_factory):
    """Class 3 near the landing, at the upper end of T1; T2 joins T1 before it."""
    return plan_block(write_block(tmp_path_factory.mktemp("tiny")))


def test_the_chosen_state_says_what_the_ranking_says(tiny):
    own = tiny.seasons[tiny.seasons["state"] == "moist"].set_index("setup")
    ranked = tiny.ranking.setups.set_index("setup")
    for column in ("outcome", "short_m", "unsolved_m", "over_bearing_m"):
        assert (own[column] == ranked[column].reindex(own.index)).all()


def test_other_states_say_what_a_run_in_that_state_says(tiny, tmp_path):
    wet = plan_block(write_block(tmp_path / "again"), state="wet")
    here = tiny.seasons[tiny.seasons["state"] == "wet"].set_index("setup")
    there = wet.ranking.setups.set_index("setup")
    for column in ("short_m", "unsolved_m", "over_bearing_m"):
        np.testing.assert_allclose(here[column], there[column].reindex(here.index))
    assert (here["outcome"] == there["outcome"].reindex(here.index)).all()


def test_wetter_ground_never_has_fewer_short_metres(tiny):
    table = tiny.seasons.pivot_table(index="setup", columns="state", values="short_m")[list(THAWED)]
    assert (np.diff(table.to_numpy(), axis=1) >= -1e-9).all()


def test_frost_that_nobody_verified_is_no_season(tiny):
    assert "frozen" not in set(tiny.seasons["state"])
    assert tiny.trail_states["usable_frozen"].isna().all()


def test_verified_frost_is_a_season(tmp_path):
    text = BLOCK.replace(
        'state = "moist"',
        'state = "frozen"\nfrost_depth_m = 0.3\nfrost_verified_by = "probe, invented"',
    )
    plan = plan_block(write_block(tmp_path / "b", block=text))
    assert "frozen" in set(plan.seasons["state"])
    assert plan.trail_states["usable_frozen"].notna().all()


def test_a_shut_way_shuts_the_trails_behind_it(tmp_path):
    """Very soft ground at the landing: T2 passes by itself, its way does not."""
    soft = soils()
    soft["soil_class"] = [1, 4]
    soft["drainage"] = ["well drained", "very poorly drained"]
    plan = plan_block(write_block(tmp_path / "b", soils=soft))
    rows = plan.trail_states.set_index("trail")
    shown = plan.evaluation.column(plan.ranking.shown)
    reserve = plan.evaluations["saturated"].reserve[:, shown]
    on_t1 = (plan.stations["trail"] == "T1").to_numpy()
    assert (reserve[on_t1] < 0).any()
    assert not rows.loc["T2", "usable_saturated"]
    assert rows.loc["T2", "own_wettest"] == "saturated"
    assert rows.loc["T2", "wettest"] != "saturated"


def test_a_shut_place_behind_a_trail_leaves_it_open(tmp_path):
    """The same soft ground at the far end of T1, where T2's timber never goes."""
    soft = soils()
    soft["soil_class"] = [4, 1]
    soft["drainage"] = ["very poorly drained", "well drained"]
    soft.geometry = [box(*at(-60, -110), *at(60, 110)), box(*at(60, -110), *at(260, 110))]
    plan = plan_block(write_block(tmp_path / "b", soils=soft))
    rows = plan.trail_states.set_index("trail")
    assert not rows.loc["T1", "usable_wet"]
    assert rows.loc["T2", "usable_wet"]


@pytest.mark.parametrize(
    ("x", "crossed", "asked"),
    [(50, False, ["T1"]), (150, False, ["T1", "T2"]), (150, True, [])],
)
def test_water_without_a_crossing_is_a_question(tmp_path, x, crossed, asked):
    """T2 joins T1 at x = 100 and its timber goes on to the landing at x = 200."""
    text = BLOCK + '[water]\nstreams_file = "streams.gpkg"\n'
    text += '[crossings]\nfile = "bridge.gpkg"\nid = "name"\nkind = "what"\n' if crossed else ""
    firm = soils().assign(soil_class=1, drainage="well drained")
    path = write_block(tmp_path / "b", block=text, soils=firm, dem=plane(0.02))
    stream = gpd.GeoDataFrame(geometry=[LineString([at(x, -60), at(x, 59)])], crs=CRS)
    stream.to_file(path.parent / "streams.gpkg", driver="GPKG")
    bridge = gpd.GeoDataFrame(
        {"name": ["X1"], "what": ["bridge"]}, geometry=[Point(at(x, 0))], crs=CRS
    )
    bridge.to_file(path.parent / "bridge.gpkg", driver="GPKG")
    plan = plan_block(path)
    rows = plan.trail_states.set_index("trail")
    assert any("mapped crossings" in text for text in plan.not_assessed) == crossed
    place = f"T1 at {200 - x - 5} m"
    for name, row in rows.iterrows():
        where = row["water_here"] if name == "T1" else row["water_on_way"]
        if name in asked:
            assert where == place
            assert pd.isna(row["usable_dry"])
            assert f"({place}): stop and ask; else has traction" in row["advice"]
        else:
            assert row[["water_here", "water_on_way"]].isna().all()
            assert row["usable_dry"]
    last = rows.loc[asked, "order"]
    assert (last == rows["order"].max()).all()
    assert rows["wettest"].notna().all()  # what traction allows is told all the same


def test_what_is_not_assessed_is_told_as_not_known(tmp_path):
    """No soil polygon before the landing: neither trail failed, and nobody knows."""
    gap = soils().iloc[:1].assign(soil_class=1, drainage="well drained")
    plan = plan_block(write_block(tmp_path / "b", soils=gap, dem=plane(0.02)))
    rows = plan.trail_states.set_index("trail")
    assert rows[["usable_dry", "usable_moist", "wettest"]].isna().all(axis=None)
    assert rows["advice"].str.startswith("not known").all()
    assert plan.ranking.setups["outcome"].eq("cannot tell").all()
    assert plan.ranking.headline.startswith("Cannot tell: 50 m of 260 m are not assessed")


def test_order_puts_dry_day_trails_first(tiny):
    order = tiny.trail_states.dropna(subset="wettest")
    rank = order["wettest"].map(THAWED.index)
    assert (order["order"].rank(method="dense") == rank.rank(method="dense")).all()


def test_machines_and_loads_side_by_side(tmp_path):
    block = BLOCK.replace('file = "machine.toml"', 'file = "machine.toml"\ncompare = ["b.toml"]')
    block += "[decision]\npayload_shares = [1.0, 0.5]\n[traffic]\ngreen_density_kg_m3 = 900\n"
    block += "volume_m3_per_ha = 200\nserved_width_m = 20\n"
    path = write_block(tmp_path / "b", block=block)
    text = MACHINE.replace("invented forwarder", "second").replace("14000", "8000", 1)
    (path.parent / "b.toml").write_text(text)
    plan = plan_block(path)
    got = plan.machines
    assert got["machine"].tolist() == ["invented forwarder"] * 2 + ["second"] * 2
    assert got["payload_share"].tolist() == [1.0, 0.5, 1.0, 0.5]
    own = plan.ranking.setups.set_index("setup").loc[plan.ranking.shown]
    for column in ("outcome", "short_m", "over_bearing_m", "added_mass_kg", "payload_kg"):
        assert got.iloc[0][column] == own[column]
    # 260 m of trail, 20 m wide, 200 m3/ha: 104 m3 in loads of 14 t / 0.9
    assert got["loads"].tolist()[0] == np.ceil(104 / (own["payload_kg"] / 900))
    assert got["loads"].iloc[1] > got["loads"].iloc[0]
    assert {"machine.toml", "b.toml"} <= {file.name for file in plan.files}


@pytest.mark.parametrize(("share", "outcome"), [(0.05, None), (0.3, "suits with measures")])
def test_a_setup_to_ask_about_that_counts_against_the_usual_ones_is_named(tmp_path, share, outcome):
    """The last 50 m of 260 m are of class 2: only mixed setups, to be asked about, pass them."""
    block = f"{BLOCK}[decision]\nmeasures_share_max = {share}\n"
    plan = plan_block(
        write_block(tmp_path / "b", block=block, soils=soils().assign(soil_class=[1, 2]))
    )
    (row,) = plan.machines.to_dict("records")
    assert (row["outcome"], row["short_m"], row["unsolved_m"]) == ("does not suit", 50.0, 0.0)
    setups = plan.ranking.setups
    usual = setups["standing"] == "usual practice"
    assert (setups[usual]["short_m"] >= 50).all()
    named = setups[setups["description"] == row["passed_by"].split(" (ask the manu")[0]]
    assert named["short_m"].tolist() == [0.0]
    assert named["standing"].tolist() == ["ask the manufacturer first"]
    others = setups[~usual & (setups["short_m"] == 0)]
    assert named["added_mass_kg"].iloc[0] == others["added_mass_kg"].min()
    assert ": passes 50 m that no usual setup of this machine passes" in row["passed_by"]
    told = f'if no such setup were listed, the outcome would be "{outcome}"'
    assert (told in row["passed_by"]) == (outcome is not None)
    assert ("if no such" in row["passed_by"]) == (outcome is not None)


def test_no_setup_to_ask_about_is_named_where_none_helps_or_none_is_needed(tiny, tmp_path):
    firm = plan_block(write_block(tmp_path / "b", soils=soils().assign(soil_class=[1, 1])))
    assert firm.machines["outcome"].tolist() == ["suits"]
    assert tiny.machines["outcome"].tolist() == ["does not suit"]  # hopeless for every setup
    assert firm.machines["passed_by"].isna().all()
    assert tiny.machines["passed_by"].isna().all()


def test_a_missing_second_machine_is_named(tmp_path):
    from terrain.errors import InputRefused

    block = BLOCK.replace('file = "machine.toml"', 'file = "machine.toml"\ncompare = ["no.toml"]')
    with pytest.raises(InputRefused, match=r"no\.toml"):
        plan_block(write_block(tmp_path / "b", block=block))


def test_with_payload_changes_the_load_alone():
    machine = forwarder()
    half = with_payload(machine, 0.5)
    assert half.load.mass_kg == machine.load.mass_kg / 2
    assert half.unladen_mass_kg == machine.unladen_mass_kg
    assert with_payload(forwarder(load=None), 0.5).load is None
