from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest

from terrain.columns import columns_of
from terrain.decision.results import Plan
from terrain.outputs.tables import (
    evaluation_table,
    guard_formulas,
    plan_record,
    runs_table,
    write_tables,
)
from terrain.outputs.wording import CAUTIONS, DEFERRAL
from tests.outputs.synthetic import FORMULA, HOSTILE, make_plan


@pytest.fixture(scope="module")
def folder(small_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tables")
    write_tables(small_plan, path)
    return path


def test_csv_holds_every_station_and_column(folder: Path, small_plan: Plan) -> None:
    table = pd.read_csv(folder / "stations.csv")
    assert list(table["station"]) == list(small_plan.stations.index)
    assert set(columns_of("stations")) <= set(table.columns)
    np.testing.assert_allclose(table["grade"], small_plan.stations["grade"])


def test_an_unknown_value_is_an_empty_cell_not_zero(folder: Path) -> None:
    with (folder / "stations.csv").open(encoding="utf-8-sig") as lines:
        row = next(csv.DictReader(lines))
    assert row["depth_to_water_m"] == ""


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " =", "\n+"])
def test_a_text_cell_never_starts_a_formula(start: str) -> None:
    table = pd.DataFrame({"name": [f"{start}1+2", "plain"], "value": [-1.5, 2.0]})
    guarded = guard_formulas(table)
    assert guarded["name"].tolist() == [f"'{start}1+2", "plain"]
    assert guarded["value"].tolist() == [-1.5, 2.0]


def test_a_trail_called_like_a_formula_is_guarded_in_every_csv(tmp_path: Path) -> None:
    write_tables(make_plan((FORMULA, "-T2", "@T3")), tmp_path)
    files = list(tmp_path.glob("*.csv"))
    assert {"stations.csv", "trails.csv"} <= {file.name for file in files}
    for file in files:
        with file.open(encoding="utf-8-sig", newline="") as lines:
            cells = [cell for row in csv.reader(lines) for cell in row]
        texts = [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
        assert all(_is_number(cell) for cell in texts), file


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_geopackage_layers_read_back_with_counts_and_descriptions(
    folder: Path, small_plan: Plan
) -> None:
    path = folder / "block.gpkg"
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    assert {"stations", "trails", "runs", "soils", "landings", "boundary"} <= layers
    assert {"setups", "excluded", "evaluation", "columns", "notes"} <= layers
    stations = gpd.read_file(path, layer="stations")
    assert len(stations) == len(small_plan.stations)
    assert stations.crs == small_plan.stations.crs
    described = pyogrio.read_dataframe(
        path, sql="SELECT * FROM gpkg_data_columns", read_geometry=False
    )
    grade = described[(described.table_name == "stations") & (described.column_name == "grade")]
    assert "positive uphill" in grade["description"].iloc[0]
    notes = pyogrio.read_dataframe(path, layer="notes", read_geometry=False)
    assert notes["note"].iloc[0] == DEFERRAL


def test_runs_cover_every_trail_end_to_end(small_plan: Plan) -> None:
    runs = runs_table(small_plan)
    for trail, here in runs.groupby("trail"):
        assert here["from_m"].iloc[0] == pytest.approx(0, abs=1e-9)
        np.testing.assert_allclose(here["from_m"].to_numpy()[1:], here["to_m"].to_numpy()[:-1])
        assert here.length.sum() == pytest.approx(small_plan.trails.loc[trail, "length_m"])
    short = runs.loc[runs["reserve_class"].str.startswith("short"), "worst_reserve"]
    assert (short < 0).all()


def test_evaluation_rows_point_at_station_and_setup(small_plan: Plan) -> None:
    table = evaluation_table(small_plan)
    answer = small_plan.evaluation
    row = table.iloc[5 * len(answer.setups) + 2]
    assert row["station"] == 5
    name = small_plan.ranking.setups["setup"].iloc[row["setup_number"] - 1]
    assert answer.column(name) == 2
    assert row["reserve_loaded"] == answer.reserve_loaded[5, 2]


def test_plan_json_is_complete_and_strict(folder: Path, small_plan: Plan) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in plan.json")

    text = (folder / "plan.json").read_text(encoding="utf-8")
    record = json.loads(text, parse_constant=refuse)
    assert record["deferral"] == DEFERRAL
    assert record["cautions"] == list(CAUTIONS)
    assert record["inputs"][0]["sha256"] == small_plan.files[0].sha256
    assert record["findings"][0]["code"] == "SOIL03"
    assert record["candidate_for_the_manufacturers_approval"] == small_plan.ranking.candidate
    assert record["excluded"][1]["codes"] == ["MNT07", "MNT09"]
    assert record["versions"]["rutwise"] == small_plan.version
    assert record["trails"][0]["trail"] == "T1"


def test_unknown_becomes_null_in_json(small_plan: Plan) -> None:
    setups = small_plan.ranking.setups.assign(effort_cap_kn=np.nan)
    changed = replace(small_plan, ranking=replace(small_plan.ranking, setups=setups))
    assert plan_record(changed)["setups"][0]["effort_cap_kn"] is None


def test_the_same_plan_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    write_tables(make_plan(), tmp_path)
    assert (folder / "plan.json").exists()
    for file in folder.iterdir():
        assert (tmp_path / file.name).read_bytes() == file.read_bytes(), file.name


def test_hostile_names_survive_unchanged_in_the_geopackage(
    hostile_plan: Plan, tmp_path: Path
) -> None:
    write_tables(hostile_plan, tmp_path)
    names = set(gpd.read_file(tmp_path / "block.gpkg", layer="trails")["trail"])
    assert HOSTILE[1] in names
    assert HOSTILE[3] in names
