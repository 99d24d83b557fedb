"""``rutwise new``: what it writes can be read, and what it guesses it says."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest
import typer
from shapely.geometry import LineString, Point, box
from typer.testing import CliRunner

from cli.commands import new as command
from terrain.errors import InputRefused
from terrain.inputs.block import inspect_block, read_block_file
from terrain.inputs.machines import read_machine
from terrain.outputs.block_template import BlockDraft, LayerDraft, block_text
from terrain.outputs.column_guess import guess_columns, id_candidates
from tests.inputs.made_block import CRS, make_block

MACHINE = "[machine]\n[front]\n[rear]\n"


def run(*words: object, text: str | None = None) -> Any:
    app = typer.Typer()
    app.command()(command.new)
    return CliRunner().invoke(app, [str(word) for word in words], input=text)


@pytest.fixture
def layers(tmp_path: Path) -> dict[str, Path]:
    folder = tmp_path / "läyers"
    folder.mkdir()
    make_block(folder)
    return {
        "--dem": folder / "dem.tif",
        "--soils": folder / "soils.gpkg",
        "--trails": folder / "trails.gpkg",
        "--landings": folder / "landings.gpkg",
    }


def words_of(layers: dict[str, Path]) -> list[object]:
    return [word for pair in layers.items() for word in pair]


def test_the_written_block_passes_its_own_reader(tmp_path: Path, layers: dict[str, Path]) -> None:
    block = tmp_path / "new" / "b.toml"
    done = run(block, *words_of(layers))
    assert done.exit_code == 0, done.output
    beside = block.parent / "machine.toml"
    assert done.stdout.splitlines() == [f"written: {block}", f"written: {beside}"]
    loaded, issues = inspect_block(block)
    assert [str(issue) for issue in issues if issue.severity == "error"] == []
    assert loaded is not None
    assert loaded.name == "b"
    assert list(loaded.trails.index) == ["T1", "T2"]
    assert loaded.trails["volume_m3"].tolist() == [0.0, 60.0]
    assert loaded.soils["soil_class"].tolist() == [1, 3]
    assert not loaded.invented
    assert loaded.machine.invented
    assert "läyers/soils.gpkg" in block.read_text(encoding="utf-8")


def test_what_was_guessed_is_said_on_stderr(tmp_path: Path, layers: dict[str, Path]) -> None:
    done = run(tmp_path / "b.toml", *words_of(layers))
    for text in ("trails: id = 'trail'", "volume_m3 = 'volume_m3'", "trails: no width_m found"):
        assert text in done.stderr
        assert text not in done.stdout
    assert "moist (not asked" in done.stderr
    assert "invented" in done.stderr


@pytest.mark.parametrize("example", list(command.Example))
def test_without_layers_a_template_is_written(tmp_path: Path, example: command.Example) -> None:
    block = tmp_path / "b.toml"
    done = run(block, "--example", example.value, "--name", 'A "quoted" \\ näme\x7f')
    assert done.exit_code == 0, done.output
    read, issues = read_block_file(block)
    assert issues == []
    assert read is not None
    assert read.name == 'A "quoted" \\ näme\x7f'
    machine, _, issues = read_machine(tmp_path / "machine.toml")
    assert {issue.code for issue in issues} == {"MCH13"}  # tyres below their charted pressure
    assert machine is not None
    assert f"{machine.kind}-{machine.wheels}" == example.value
    assert machine.invented
    assert "My machine" in machine.name
    assert "INVENTED" in (tmp_path / "machine.toml").read_text(encoding="utf-8")


def test_nothing_is_overwritten_unless_asked(tmp_path: Path) -> None:
    block, machine = tmp_path / "b.toml", tmp_path / "machine.toml"
    machine.write_text("mine")
    done = run(block)
    assert isinstance(done.exception, InputRefused)
    assert [issue.code for issue in done.exception.issues] == ["NEW01"]
    assert machine.read_text() == "mine"
    assert not block.exists()
    assert run(block, "--overwrite").exit_code == 0
    assert machine.read_text() != "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.toml", "machine.toml"]


def test_an_own_machine_file_is_used_and_left_alone(tmp_path: Path) -> None:
    own = tmp_path / "machines" / "own.toml"
    own.parent.mkdir()
    own.write_text(MACHINE)
    block = tmp_path / "b.toml"
    done = run(block, "--machine", own)
    assert done.exit_code == 0
    assert done.stdout.splitlines() == [f"written: {block}"]
    assert tomllib.loads(block.read_text())["machine"]["file"] == "machines/own.toml"
    assert not (tmp_path / "machine.toml").exists()


def test_a_name_without_an_ending_gets_one_and_another_ending_is_refused(tmp_path: Path) -> None:
    assert run(tmp_path / "x5").exit_code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["machine.toml", "x5.toml"]
    done = run(tmp_path / "x5.txt", "--overwrite")
    assert isinstance(done.exception, InputRefused)
    (issue,) = done.exception.issues
    assert issue.code == "NEW04"
    assert "x5.toml" in issue.fix
    done = run(tmp_path, "--overwrite")
    assert isinstance(done.exception, InputRefused)
    assert "There is a folder of that name." in [issue.what for issue in done.exception.issues]


def test_a_machine_file_that_is_there_can_be_used(tmp_path: Path) -> None:
    (tmp_path / "machine.toml").write_text("mine")
    done = run(tmp_path / "b.toml")
    assert isinstance(done.exception, InputRefused)
    assert f"--machine {tmp_path / 'machine.toml'}" in done.exception.issues[0].fix


def test_a_broken_raster_is_told_by_the_name_that_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_block(tmp_path)
    (tmp_path / "cut.tif").write_bytes((tmp_path / "dem.tif").read_bytes()[:60])
    monkeypatch.chdir(tmp_path)
    done = run("b.toml", "--dem", "cut.tif")
    assert isinstance(done.exception, InputRefused)
    (issue,) = done.exception.issues
    assert issue.code == "NEW03"
    assert str(tmp_path) not in str(issue)
    assert "cut.tif" in issue.what
    assert ".." not in issue.what


def test_the_cells_of_the_raster_have_a_unit(tmp_path: Path) -> None:
    make_block(tmp_path)
    done = run(tmp_path / "b.toml", "--dem", tmp_path / "dem.tif")
    assert "cells of 2 m, CRS EPSG:32633" in done.stderr


def test_a_missing_layer_is_not_said_to_be_relative_to_the_block(tmp_path: Path) -> None:
    done = run(tmp_path / "b.toml", "--dem", tmp_path / "none.tif")
    assert isinstance(done.exception, InputRefused)
    assert done.exception.issues[0].fix == "Check the spelling."


def test_bad_layers_are_refused_together_and_nothing_is_written(tmp_path: Path) -> None:
    virtual = tmp_path / "soils.geojson"
    virtual.write_text("<OGRVRTDataSource/>")
    block = tmp_path / "new" / "b.toml"
    done = run(
        block, "--soils", virtual, "--trails", tmp_path / "none.gpkg", "--dem", tmp_path / "no.tif"
    )
    assert isinstance(done.exception, InputRefused)
    assert sorted(issue.code for issue in done.exception.issues) == ["INP20", "INP20", "INP24"]
    assert not block.parent.exists()


def test_it_asks_in_a_terminal(
    tmp_path: Path, layers: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(command, "_asking", lambda: True)
    block = tmp_path / "b.toml"
    answers = "skidder-4\nMy block\nboggy\nwet\npacked snow\n"  # one answer is no moisture state
    done = run(block, *words_of(layers), text=answers)
    assert done.exit_code == 0, done.output
    read, _ = read_block_file(block)
    assert read is not None
    assert read.name == "My block"
    assert read.settings.ground.state == "wet"
    assert read.settings.ground.film == "packed snow"
    machine, _, _ = read_machine(tmp_path / "machine.toml")
    assert machine is not None
    assert machine.wheels == 4
    assert "Name of the block" not in done.stdout


def test_the_layer_of_a_file_with_several_is_found(tmp_path: Path) -> None:
    path = tmp_path / "all.gpkg"
    square = box(500000, 5300000, 500100, 5300100)
    line = LineString([(500000, 5300000), (500100, 5300100)])
    tables: dict[str, tuple[Any, dict[str, list[str]]]] = {
        "ground": (square, {"name": ["S1"], "texture": ["loam"], "drainage": ["WD"]}),
        "ditches": (line, {"name": ["D1"]}),
        "trails_2024": (line, {"name": ["T1"]}),
        "landing": (Point(500000, 5300000), {"name": ["L1"]}),
    }
    for layer, (geometry, columns) in tables.items():
        gpd.GeoDataFrame(columns, geometry=[geometry], crs=CRS).to_file(path, layer=layer)
    block = tmp_path / "b.toml"
    done = run(block, "--soils", path, "--trails", path, "--landings", path)
    assert done.exit_code == 0, done.output
    table = tomllib.loads(block.read_text())
    assert table["soils"]["layer"] == "ground"
    assert table["trails"]["layer"] == "trails_2024"
    assert table["landings"]["layer"] == "landing"
    assert table["soils"] == {
        "file": "all.gpkg",
        "layer": "ground",
        "id": "name",
        "drainage": "drainage",
        "texture": "texture",
    }


def frame(**columns: list[Any]) -> gpd.GeoDataFrame:
    count = len(next(iter(columns.values())))
    return gpd.GeoDataFrame(columns, geometry=[Point(n, n) for n in range(count)], crs=CRS)


def test_columns_are_told_by_their_values_first() -> None:
    soils = frame(
        objectid=[7, 8, 9],
        klass=["1", "4", "2"],
        water=["Well drained", "poorly drained", None],
        name=["loam", "silt loam", "peat"],
    )
    assert guess_columns("soils", soils) == {
        "drainage": "water",
        "texture": "name",
        "soil_class": "klass",
        "id": "objectid",
    }


def test_what_does_not_fit_is_not_guessed() -> None:
    soils = frame(soil_class=[1, 5], drainage=["good", "bad"], texture=[1.0, 2.0], n=["a", "a"])
    assert guess_columns("soils", soils)["soil_class"] is None
    assert guess_columns("soils", soils)["drainage"] is None
    assert guess_columns("soils", soils)["texture"] is None
    trails = frame(volume=[-1.0, 2.0], width=["wide", "wide"], code=["a", None])
    assert guess_columns("trails", trails) == {
        "volume_m3": None,
        "width_m": None,
        "trail_class": None,
        "id": None,
    }


def test_an_id_is_filled_and_unique_with_telling_names_first() -> None:
    trails = frame(length=[1.5, 2.5], remark=["x", "y"], fid=[1, 2], trail=["T1", "T2"])
    assert id_candidates(trails) == ["trail", "remark", "fid"]


def test_a_layer_without_an_id_is_left_to_the_person(tmp_path: Path) -> None:
    path = tmp_path / "t.gpkg"
    line = LineString([(500000, 5300000), (500100, 5300100)])
    rows = gpd.GeoDataFrame({"n": ["a", "a"]}, geometry=[line, line], crs=CRS)
    rows.to_file(path)
    done = run(tmp_path / "b.toml", "--trails", path)
    assert done.exit_code == 0
    assert "set id yourself" in done.stderr
    assert tomllib.loads((tmp_path / "b.toml").read_text())["trails"]["id"] == "?"


def test_hostile_names_stay_strings() -> None:
    name = 'x"\n[settings]\nstep_m = 1\n"'
    draft = BlockDraft(name=name, layers={"trails": LayerDraft('t".gpkg', None, {"id": 'i"$d'})})
    table = tomllib.loads(block_text(draft))
    assert table["block"]["name"] == name
    assert table["settings"]["step_m"] == 5.0
    assert table["trails"] == {"file": 't".gpkg', "id": 'i"$d', "snap_m": 3.0}


def test_help_shows_an_example() -> None:
    done = run("--help")
    assert done.exit_code == 0
    assert "rutwise new block.toml" in done.stdout


def test_no_invented_crane_is_left_in_by_oversight(tmp_path: Path) -> None:
    run(tmp_path / "b.toml")
    path = tmp_path / "machine.toml"
    text = path.read_text(encoding="utf-8")
    assert "# [crane]" in text
    machine, _, _ = read_machine(path)
    assert machine is not None
    assert machine.crane is None
    head, crane = text.split("# [crane]")
    lines = [line.removeprefix("# ") for line in crane.splitlines()]
    path.write_text(head + "[crane]" + "\n".join(lines), encoding="utf-8")
    machine, _, issues = read_machine(path)
    assert [str(issue) for issue in issues if issue.severity == "error"] == []
    assert machine is not None
    assert machine.crane is not None


def refusal(*words: object) -> tuple[str, str]:
    """Code and words of the only issue with which ``new`` refuses."""
    done = run(*words)
    assert isinstance(done.exception, InputRefused), done.output
    (issue,) = done.exception.issues
    assert "not asked" not in done.stderr  # refused before anything is asked
    return issue.code, str(issue)


@pytest.mark.parametrize("name", ["x/b.toml", "x/deeper/still/b.toml"])
def test_a_file_where_the_folder_is_wanted(tmp_path: Path, name: str) -> None:
    (tmp_path / "x").write_text("mine")
    code, words = refusal(tmp_path / name, "--overwrite")
    assert code == "NEW05"
    assert f"{tmp_path / 'x'} is a file" in words
    assert [path.name for path in tmp_path.iterdir()] == ["x"]
    assert (tmp_path / "x").read_text() == "mine"


def test_a_folder_that_the_system_refuses_is_told_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere" / "deeper")  # looks free, cannot be made
    done = run(tmp_path / "gone" / "b.toml")
    assert isinstance(done.exception, InputRefused)
    assert [issue.code for issue in done.exception.issues] == ["NEW05"]
    assert refusal(tmp_path / ("a" * 300) / "b.toml")[0] == "NEW05"

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    done = run(tmp_path / "new" / "b.toml")
    assert isinstance(done.exception, InputRefused)
    assert "No space left on device" in str(done.exception)
    assert list((tmp_path / "new").iterdir()) == []


def test_a_name_that_is_too_long_is_told_in_words(tmp_path: Path) -> None:
    done = run(tmp_path / ("a" * 300 + ".toml"))
    assert isinstance(done.exception, InputRefused)
    assert [issue.code for issue in done.exception.issues] == ["NEW05"]


def test_only_a_machine_file_is_taken_as_machine(tmp_path: Path) -> None:
    make_block(tmp_path)
    block = tmp_path / "b.toml"
    code, words = refusal(block, "--machine", tmp_path / "block.toml")
    assert code == "TOML09"
    assert "This is a block file; a machine file is asked for." in words
    assert "--machine" in words
    assert "forwarder_8.toml" in words
    assert refusal(block, "--machine", tmp_path / "dem.tif")[0] == "TOML03"
    assert refusal(block, "--machine", tmp_path / "none.toml")[0] == "NEW02"
    assert not block.exists()


def test_the_machine_file_is_never_replaced_by_the_block_file(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(MACHINE)
    code, _ = refusal(own, "--machine", own, "--overwrite")
    assert code == "NEW01"
    assert own.read_text() == MACHINE
