"""Block files, and the whole block they lead to."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest
from shapely.geometry import Point

from terrain.errors import InputRefused, Issue, errors_in
from terrain.inputs.block import inspect_block, load_block, read_block_file
from terrain.inputs.block_file import ISSUE_CODES as BLOCK_CODES
from terrain.inputs.ground import ISSUE_CODES as GROUND_CODES
from terrain.inputs.ground import published_film_cap
from tests.inputs.made_block import BLOCK, CRS, SOUTH, WEST, make_block


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder = tmp_path / "blöck with blanks"
    folder.mkdir()
    return make_block(folder)


def codes(issues: list[Issue] | tuple[Issue, ...], severity: str = "error") -> list[str]:
    return [issue.code for issue in issues if issue.severity == severity]


def read(path: Path, **overrides: Any) -> list[Issue]:
    changes = {key.replace("__", "."): value for key, value in overrides.items()}
    block, issues = read_block_file(path, changes)
    assert (block is None) == bool(errors_in(issues))
    return issues


def test_a_block_is_loaded_whole(path: Path) -> None:
    block = load_block(path)
    assert block.name == "Test block"
    assert block.invented
    assert block.dem.crs == CRS
    assert list(block.trails.index) == ["T1", "T2"]
    assert list(block.soils.index) == ["S1", "S2"]
    assert list(block.landings.index) == ["L1"]
    assert block.boundary is None
    assert block.trails.crs == block.soils.crs == block.landings.crs == CRS
    assert block.machine.wheels == 8
    assert len(block.aids) > 5
    assert block.settings.terrain.slope_bands == (0.1, 0.2, 0.33, 0.5)
    assert "not resampled" in block.crs_note
    assert "EPSG:32633" in block.crs_note
    assert [file.role for file in block.files] == [
        "block",
        "machine",
        "aids",
        "dem",
        "trails",
        "landings",
        "soils",
    ]
    assert all(len(file.sha256) == 64 for file in block.files)
    assert not errors_in(block.issues)


def test_only_the_window_round_the_trails_is_read(path: Path) -> None:
    dem = load_block(path).dem
    # trails span 60 to 240 m and 150 to 240 m, 20 m of buffer, cells of 2 m
    assert dem.bounds == (WEST + 40, SOUTH + 130, WEST + 260, SOUTH + 260)


def test_defaults_and_units_of_the_settings(path: Path) -> None:
    block, _ = read_block_file(path)
    assert block is not None
    assert block.settings.terrain.step_m == 5.0
    assert block.settings.terrain.snap_m == 3.0
    assert block.settings.terrain.buffer_m == 20.0
    assert block.settings.decision.slip_limit == 0.25
    assert block.soils.columns["drainage"] == "drainage"
    assert block.trails.columns["width_m"] is None
    assert block.dem.path == path.parent / "dem.tif"


def test_overrides_replace_values_of_the_file(path: Path) -> None:
    block = load_block(path, state="wet", overrides={"settings.step_m": 10.0})
    assert block.settings.ground.state == "wet"
    assert block.settings.terrain.step_m == 10.0


def test_another_machine_and_catalogue(path: Path, tmp_path: Path) -> None:
    machine = tmp_path / "other.toml"
    text = (path.parent / "forwarder_8.toml").read_text(encoding="utf-8")
    machine.write_text(text.replace("unladen_mass_kg = 20000", "unladen_mass_kg = 20001"))
    aids = tmp_path / "aids.toml"
    aids.write_text('[[aid]]\nkey="c"\nname="C"\nkind="chains"\nmass_kg=400\nfits_tyres=[]\n')
    block = load_block(path, machine=machine, aids=aids)
    assert block.machine.unladen_mass_kg == 20001
    assert [aid.key for aid in block.aids] == ["c"]


def test_an_invented_machine_in_a_real_block_is_said(path: Path) -> None:
    assert "BLK05" not in codes(load_block(path).issues, "warning")
    block = load_block(path, overrides={"block.invented": False})
    assert "BLK05" in codes(block.issues, "warning")


def test_an_override_needs_a_home(path: Path) -> None:
    assert codes(read(path, nonsense=1)) == ["BLK04"]
    assert codes(read(path, ground__stat="wet")) == ["TOML04"]
    assert codes(read(path, ground__state="soggy")) == ["TOML08"]


def test_problems_of_every_file_come_at_once(path: Path) -> None:
    text = BLOCK.replace('state = "moist"', 'state = "frozen"\nfrosty = true')
    path.write_text(text, encoding="utf-8")
    machine = path.parent / "forwarder_8.toml"
    machine.write_text(
        machine.read_text(encoding="utf-8").replace(
            "unladen_rear_kg = 9000", "unladen_rear_kg = 8000"
        ),
        encoding="utf-8",
    )
    (path.parent / "dem.tif").write_bytes(b"no raster")
    soils = gpd.read_file(path.parent / "soils.gpkg")
    soils["soil_class"] = [1, 9]
    soils.to_file(path.parent / "soils.gpkg")
    far = gpd.GeoDataFrame({"landing": ["L1"]}, geometry=[Point(WEST, SOUTH)], crs=CRS)
    far.to_file(path.parent / "landings.gpkg")
    with pytest.raises(InputRefused) as refusal:
        load_block(path)
    found = set(codes(refusal.value.issues))
    assert {"GND01", "TOML04", "MCH02", "INP23"} <= found
    assert any(code.startswith("SOIL") for code in found)
    assert any(code.startswith("LND") for code in found)


def test_a_word_of_the_command_line_is_told_as_such(path: Path) -> None:
    _, issues = inspect_block(path, state="muddy")
    assert [(issue.code, issue.where) for issue in issues] == [("TOML08", "--state")]
    path.write_text(BLOCK.replace('state = "moist"', 'state = "muddy"'), encoding="utf-8")
    _, issues = inspect_block(path)
    assert [issue.where for issue in errors_in(issues)] == ["block.toml, ground.state"]


def test_a_file_that_two_keys_name_is_told_with_both(path: Path) -> None:
    _, issues = inspect_block(
        path, overrides={"crossings.file": "water.gpkg", "boundary.file": "water.gpkg"}
    )
    wheres = {issue.where for issue in errors_in(issues)}
    assert wheres == {"block.toml, boundary.file and crossings.file: water.gpkg"}


def test_the_unit_of_the_heights_is_asked_for_in_words(path: Path) -> None:
    (issue,) = read(path, dem__elevation_unit="yd")
    assert issue.code == "TOML08"
    assert issue.fix == 'Allowed: "m", "ft", "us-ft".'


def test_a_machine_file_in_the_place_of_a_block_file(path: Path) -> None:
    block, issues = inspect_block(path.parent / "forwarder_8.toml")
    assert block is None
    assert codes(issues) == ["TOML09"]


def test_a_missing_block_file(tmp_path: Path) -> None:
    block, issues = inspect_block(tmp_path / "none.toml")
    assert block is None
    assert codes(issues) == ["TOML01"]


@pytest.mark.parametrize("name", ["dem.tif", "soils.gpkg", "trails.gpkg", "landings.gpkg"])
def test_a_missing_layer_is_named(path: Path, name: str) -> None:
    (path.parent / name).unlink()
    block, issues = inspect_block(path)
    assert block is None
    missing = [issue for issue in errors_in(issues) if issue.code == "INP20"]
    assert len(missing) == 1
    key = name.split(".")[0]
    assert missing[0].where == f"block.toml, {key}.file: {name}"


def test_missing_machine_and_catalogue(path: Path) -> None:
    (path.parent / "forwarder_8.toml").unlink()
    _, issues = inspect_block(path, overrides={"aids.file": "none.toml"})
    assert codes(issues) == ["TOML01", "TOML01"]


def test_without_any_layer_everything_is_still_reported(path: Path) -> None:
    for name in ("dem.tif", "soils.gpkg", "trails.gpkg", "landings.gpkg"):
        (path.parent / name).unlink()
    _, issues = inspect_block(path)
    assert codes(issues) == ["INP20"] * 4


def test_a_required_key_and_a_required_table(path: Path) -> None:
    path.write_text(BLOCK.replace('id = "trail"\n', "").replace("[landings]", "[landing]"))
    block, issues = read_block_file(path)
    assert block is None
    assert [(issue.code, issue.where) for issue in issues] == [
        ("TOML05", "block.toml, trails.id"),
        ("TOML05", "block.toml, landings"),
        ("TOML04", "block.toml, landing"),
    ]
    assert "Did you mean landings?" in issues[2].fix


def test_a_block_without_soils_is_told_what_they_are_for(path: Path) -> None:
    """What the message allows is what the rules allow: gaps, and classes that nobody knows."""
    text = BLOCK.split("[soils]")[0] + "[trails]" + BLOCK.split("[trails]")[1]
    path.write_text(text)
    _, (issue,) = read_block_file(path)
    assert (issue.code, issue.where) == ("TOML05", "block.toml, soils")
    assert issue.fix.startswith("Add it: the soil map")
    assert "no setup can be judged" in issue.fix
    assert "its class empty" in issue.fix
    assert "not assessed, neither passed nor short" in issue.fix


def test_soils_need_a_class_or_drainage_and_texture(path: Path) -> None:
    both = BLOCK.replace('soil_class = "soil_class"\n', "")
    path.write_text(both)
    assert read(path) == []
    path.write_text(both.replace('texture = "texture"\n', ""))
    assert codes(read(path)) == ["BLK01"]


@pytest.mark.parametrize("bands", [[20.0, 10.0], [10.0, 10.0], [0.0, 10.0], [0.1, 0.2], [400.0]])
def test_slope_bands(path: Path, bands: list[float]) -> None:
    assert codes(read(path, settings__slope_bands_percent=bands)) == ["BLK02"]


def test_one_column_for_two_meanings_and_one_layer_for_two_roles(path: Path) -> None:
    assert codes(read(path, trails__volume_m3="trail")) == ["BLK03"]
    assert codes(read(path, landings__file="trails.gpkg")) == ["BLK03"]
    same_file = {"landings.file": "trails.gpkg", "landings.layer": "landings"}
    assert read_block_file(path, same_file)[1] == []


def test_frozen_needs_a_verified_depth(path: Path) -> None:
    assert codes(read(path, ground__state="frozen")) == ["GND01", "GND01"]
    good = {"ground.state": "frozen", "ground.frost_depth_m": 0.2, "ground.frost_verified_by": "A"}
    block, issues = read_block_file(path, good)
    assert issues == []
    assert block is not None
    assert block.settings.ground.frost_depth_m == 0.2
    assert codes(read(path, **{k: v for k, v in good.items() if k != "ground.frost_depth_m"})) == [
        "GND01"
    ]
    assert codes(read(path, ground__frost_depth_m=0.2)) == ["GND01"]


def test_a_thin_frost_is_not_credited(path: Path) -> None:
    # Frankenstein & Koenig 2004, pp. 50-51, after Richmond 1991: 5 cm of surface frost
    verified = {"ground.state": "frozen", "ground.frost_verified_by": "A"}
    (thin,) = read_block_file(path, {**verified, "ground.frost_depth_m": 0.049})[1]
    assert (thin.code, thin.severity) == ("GND01", "error")
    assert "0.049" in thin.what
    assert "0.05 m" in thin.what
    assert read_block_file(path, {**verified, "ground.frost_depth_m": 0.05})[1] == []


def test_film_caps(path: Path) -> None:
    def ground(**changes: Any) -> Any:
        block, issues = read_block_file(path, {f"ground.{k}": v for k, v in changes.items()})
        return None if block is None else block.settings.ground, issues

    # vehicle traction experiments on snow and ice, 1993-94: trucks 0.15 packed snow, 0.04 ice
    for film, cap in (("packed snow", 0.15), ("ice", 0.04)):
        settings, issues = ground(film=film)
        assert settings.film_grip_cap == cap
        assert settings.film_cap_status == "published"
        assert codes(issues, "note") == ["GND04"]
    for film in ("litter or sod over firm ground", "wet clay film"):
        refused, issues = ground(film=film)
        assert refused is None
        (unknown,) = [issue for issue in issues if issue.code == "GND03"]
        assert unknown.severity == "error"
        assert film in unknown.what
        assert "no figure is published" in unknown.what
        for way_on in ("film_grip_cap", "film_cap_source", "bare mineral"):
            assert way_on in unknown.fix
        settings, issues = ground(film=film, film_grip_cap=0.35, film_cap_source="pull test 3 May")
        assert settings.film_grip_cap == 0.35
        assert "pull test 3 May" in settings.film_cap_status
        assert issues == []
    settings, issues = ground(film="ice", film_grip_cap=0.1)
    assert settings.film_grip_cap == 0.1
    assert codes(issues, "warning") == ["GND05", "GND09"]
    settings, issues = ground()
    assert (settings.film_grip_cap, settings.film_cap_status, issues) == (None, "", [])
    assert codes(ground(film_grip_cap=0.3)[1]) == ["GND02"]
    assert codes(ground(film="ice", film_grip_cap=35)[1]) == ["TOML07"]


def test_gear_on_ice_and_snow_has_the_users_figure_or_none(path: Path) -> None:
    def ground(**changes: Any) -> Any:
        block, issues = read_block_file(path, {f"ground.{k}": v for k, v in changes.items()})
        return None if block is None else block.settings.ground, issues

    for film in ("packed snow", "ice"):
        settings, issues = ground(film=film)
        assert settings.film_grip_cap_with_aids is None
        (unknown,) = [issue for issue in issues if issue.code == "GND09"]
        assert unknown.severity == "warning"
        assert "bite into it, not through it" in unknown.what
        assert "nothing is assessed there for setups that have them" in unknown.what
        assert "film_grip_cap_with_aids" in unknown.fix
        settings, issues = ground(
            film=film, film_grip_cap_with_aids=0.25, film_cap_source="pull test 9 Jan"
        )
        known = settings.cap_of(film)
        assert (known.status, known.cap_with_aids) == ("published", 0.25)
        assert known.aids_status == "user's figure: pull test 9 Jan"
        assert codes(issues, "warning") == []
        assert codes(issues, "note") == ["GND04"]  # plain tyres keep the published figure
    assert codes(ground(film="ice", film_grip_cap_with_aids=0.2)[1], "warning") == ["GND05"]
    # gear bites through clay: a cap on it would count for nothing; no film, no cap
    wrong = {"film_grip_cap": 0.3, "film_cap_source": "test", "film_grip_cap_with_aids": 0.4}
    assert codes(ground(film="wet clay film", **wrong)[1]) == ["GND02"]
    assert codes(ground(film_grip_cap_with_aids=0.4)[1]) == ["GND02"]
    assert codes(ground(film="ice", film_grip_cap_with_aids=25)[1]) == ["TOML07"]


ICE_TABLE = """
[[films]]
name = "ice"
grip_cap_with_aids = 0.22
source = "pull test 9 Jan"
"""


def test_a_film_of_a_trail_may_give_the_figure_of_gear_alone(path: Path) -> None:
    block, issues = inspect_block(with_films(path, ["ice", None], ICE_TABLE))
    assert block is not None
    assert "GND09" not in codes(issues, "warning")
    assert codes(issues, "note") == ["GND04"]
    ice = block.settings.ground.cap_of("ice")
    assert ice is not None
    assert (ice.grip_cap, ice.status) == (0.04, "published")
    assert (ice.cap_with_aids, ice.aids_status) == (0.22, "user's figure: pull test 9 Jan")
    # without a figure the trail is named
    block, issues = inspect_block(with_films(path, ["ice", None]))
    assert block is not None
    (unknown,) = [issue for issue in issues if issue.code == "GND09"]
    assert "ice lies on T1" in unknown.what
    # a film without a published figure needs that of plain tyres too
    clay = ICE_TABLE.replace('"ice"', '"wet clay film"')
    assert codes(inspect_block(with_films(path, ["ice", None], clay))[1])[:2] == ["GND02", "GND03"]
    # the block's film may take it from there, but not twice
    path.write_text(BLOCK + ICE_TABLE)
    block, issues = read_block_file(path, {"ground.film": "ice"})
    assert block is not None
    assert block.settings.ground.film_grip_cap_with_aids == 0.22
    twice = {"ground.film": "ice", "ground.film_grip_cap_with_aids": 0.3}
    assert "GND06" in codes(read_block_file(path, twice)[1])


def test_a_remoulding_index_says_who_measured_it(path: Path) -> None:
    def ground(**changes: Any) -> Any:
        block, issues = read_block_file(path, {f"ground.{k}": v for k, v in changes.items()})
        return None if block is None else block.settings.ground, issues

    settings, issues = ground(remoulding_index=0.7, remoulding_source="cylinder test 3 May")
    assert (settings.remoulding_index, settings.remoulding_source, issues) == (
        0.7, "cylinder test 3 May", []
    )  # fmt: skip
    assert codes(ground(remoulding_index=0.7)[1], "warning") == ["GND10"]
    assert codes(ground(remoulding_source="somebody")[1], "warning") == ["GND10"]
    assert codes(ground(remoulding_index=1.2)[1]) == ["TOML07"]


FILM_TABLE = """
[[films]]
name = "wet clay film"
grip_cap = 0.30
source = "pull test 3 May"
"""


def with_films(path: Path, films: list[str | None], text: str = "") -> Path:
    """Give the two trails a column of films, named in the block file; add ``text`` to it."""
    layer = gpd.read_file(path.parent / "trails.gpkg").assign(surface=films)
    layer.to_file(path.parent / "trails.gpkg")
    named = BLOCK.replace('id = "trail"\n', 'id = "trail"\nfilm = "surface"\n')
    path.write_text(named + text, encoding="utf-8")
    return path


def test_a_trail_may_name_its_own_film(path: Path) -> None:
    block, issues = inspect_block(with_films(path, ["Wet  clay film", None], FILM_TABLE))
    assert block is not None
    assert codes(issues) == []
    assert block.trails["film"].tolist() == ["wet clay film", None]
    known = block.settings.ground.cap_of("wet clay film")
    assert known is not None
    assert (known.grip_cap, known.status) == (0.30, "user's figure: pull test 3 May")
    # the block's own film stays what it was, and published figures need no table
    assert block.settings.ground.film == "bare mineral"
    assert block.settings.ground.cap_of("bare mineral") is None
    ice = block.settings.ground.cap_of("ice")
    assert ice is not None
    assert (ice.grip_cap, ice.status) == (0.04, "published")


def test_a_published_film_on_a_trail_is_noted(path: Path) -> None:
    block, issues = inspect_block(with_films(path, [None, "packed snow"]))
    assert block is not None
    (note,) = [issue for issue in issues if issue.code == "GND04"]
    assert note.severity == "note"
    assert "T2" in note.what
    assert "0.15" in note.what


def test_an_unknown_film_names_its_trails_and_the_allowed_words(path: Path) -> None:
    block, issues = inspect_block(with_films(path, ["mud", "mud"]))
    assert block is None
    assert codes(issues) == ["GND08"]
    assert 'no film is called "mud": trail T1, T2' in issues[-1].what
    assert "wet clay film" in issues[-1].fix


def test_a_film_on_a_trail_needs_a_known_grip(path: Path) -> None:
    block, issues = inspect_block(with_films(path, ["wet clay film", "wet clay film"]))
    assert block is None
    assert codes(issues) == ["GND07"]
    (found,) = [issue for issue in issues if issue.code == "GND07"]
    assert "lies on T1, T2" in found.what
    assert "[[films]]" in found.fix
    # the figure of the block's own film serves the trail that names the same film
    text = 'film = "wet clay film"\nfilm_grip_cap = 0.3\n'
    path.write_text(path.read_text().replace('film = "bare mineral"\n', text))
    block, issues = inspect_block(path)
    assert block is not None
    assert codes(issues) == []


def test_the_block_film_may_take_its_figure_from_the_films(path: Path) -> None:
    path.write_text(BLOCK + FILM_TABLE)
    block, issues = read_block_file(path, {"ground.film": "wet clay film"})
    assert block is not None
    assert codes(issues, "warning") == []
    assert block.settings.ground.film_grip_cap == 0.30
    assert "pull test 3 May" in block.settings.ground.film_cap_status
    twice = {"ground.film": "wet clay film", "ground.film_grip_cap": 0.4}
    assert codes(read_block_file(path, twice)[1]) == ["GND06"]
    path.write_text(BLOCK + FILM_TABLE + FILM_TABLE)
    assert codes(read_block_file(path)[1]) == ["GND06"]
    path.write_text(BLOCK + FILM_TABLE.replace("wet clay film", "bare mineral"))
    assert codes(read_block_file(path)[1]) == ["GND02"]
    path.write_text(BLOCK + FILM_TABLE.replace("wet clay film", "mud"))
    assert codes(read_block_file(path)[1]) == ["TOML08"]
    path.write_text(BLOCK + FILM_TABLE.replace("0.30", "30"))
    assert codes(read_block_file(path)[1]) == ["TOML07"]
    path.write_text(BLOCK + FILM_TABLE.replace('source = "pull test 3 May"', ""))
    assert codes(read_block_file(path)[1], "warning") == ["GND05"]


def test_published_caps_exist_only_where_one_was_read() -> None:
    assert published_film_cap("bare mineral") == (None, "")
    assert published_film_cap("wet clay film") == (None, "")


def test_the_demonstration_block_is_sound() -> None:
    block = load_block(Path(str(resources.files("sample_data"))) / "block.toml")
    assert block.invented
    assert block.machine.invented


def test_codes_are_distinct() -> None:
    assert not set(BLOCK_CODES) & set(GROUND_CODES)


def test_a_film_that_nobody_named_is_told(tmp_path: Path) -> None:
    path = make_block(tmp_path)
    text = path.read_text()
    assert "GND11" not in codes(read_block_file(path)[1], "note")
    path.write_text(text.replace('film = "bare mineral"\n', ""))
    (issue,) = read_block_file(path)[1]
    assert (issue.code, issue.severity) == ("GND11", "note")
    column = 'volume_m3 = "volume_m3"\nfilm = "film"'
    bare = text.replace('film = "bare mineral"\n', "")
    path.write_text(bare.replace('volume_m3 = "volume_m3"', column))
    assert "GND11" not in codes(read_block_file(path)[1], "note")


def doubles(path: Path, *compare: str, **options: Any) -> tuple[list[str], list[str]]:
    """What is said about machines that are named twice, and the machines that are compared."""
    block, issues = inspect_block(path, overrides={"machine.compare": list(compare)}, **options)
    assert block is not None
    said = [issue for issue in issues if issue.code == "BLK08"]
    assert {(issue.severity, issue.where) for issue in said} <= {
        ("warning", "block.toml, machine.compare")
    }
    kept = [file.name for file in block.files if file.role == "machine"]
    assert len(kept) == 1 + len(block.other_machines)
    told = [issue.where for issue in issues if issue.code == "MCH13"]
    assert {where.split(",")[0] for where in told} <= set(kept)  # a double brings no warning again
    assert len(told) == len(set(told))
    return [issue.what.removesuffix(": it is compared once.") for issue in said], kept[1:]


@pytest.fixture
def machines(path: Path) -> Path:
    """Return the block file, with a second machine and copies of both beside it."""
    folder = path.parent
    own = (folder / "forwarder_8.toml").read_bytes()
    other = resources.files("sample_data").joinpath("machines/skidder_6.toml").read_bytes()
    (folder / "own_copy.toml").write_bytes(own)
    (folder / "other.toml").write_bytes(other)
    (folder / "copy.toml").write_bytes(other)
    (folder / "remark.toml").write_bytes(b"# the same figures\n" + other)
    (folder / "link.toml").symlink_to(folder / "other.toml")
    (folder / "sub").mkdir()
    return path


@pytest.mark.parametrize(
    ("compare", "said", "kept"),
    [
        (["other.toml"], [], ["other.toml"]),
        (["other.toml", "other.toml"], ["other.toml is named twice"], ["other.toml"]),
        (["forwarder_8.toml"], ["forwarder_8.toml is named twice"], []),
        (
            ["other.toml", "sub/../other.toml"],
            ["sub/../other.toml is the same file as other.toml"],
            ["other.toml"],
        ),
        (
            ["link.toml", "other.toml"],
            ["other.toml is the same file as link.toml"],
            ["link.toml"],
        ),
        (
            ["own_copy.toml", "other.toml"],
            ["own_copy.toml holds the same machine as forwarder_8.toml"],
            ["other.toml"],
        ),
        (
            ["other.toml", "copy.toml", "remark.toml"],
            [f"{name}.toml holds the same machine as other.toml" for name in ("copy", "remark")],
            ["other.toml"],
        ),
    ],
)
def test_a_machine_that_is_named_twice_is_compared_once(
    machines: Path, compare: list[str], said: list[str], kept: list[str]
) -> None:
    # source: own rule; one row of the report for one machine
    assert doubles(machines, *compare) == (said, kept)


def test_a_machine_of_the_command_line_may_be_among_the_compared(machines: Path) -> None:
    other = machines.parent / "other.toml"
    said, kept = doubles(machines, "other.toml", "forwarder_8.toml", machine=other)
    assert said == [f"other.toml is the same file as {other.absolute()}"]
    assert kept == ["forwarder_8.toml"]


def test_machines_that_differ_in_one_figure_are_both_compared(machines: Path) -> None:
    text = (machines.parent / "other.toml").read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith("engine_power_kw"))
    changed = text.replace(line, "engine_power_kw = 123.0")
    (machines.parent / "copy.toml").write_text(changed, encoding="utf-8")
    assert doubles(machines, "other.toml", "copy.toml") == ([], ["other.toml", "copy.toml"])


def test_copies_of_a_broken_machine_file_are_told_once(machines: Path) -> None:
    for name in ("copy.toml", "other.toml"):
        (machines.parent / name).write_text("[machine]\nspeed = 1\n", encoding="utf-8")
    changes = {"machine.compare": ["copy.toml", "other.toml", "none.toml", "./none.toml"]}
    block, issues = inspect_block(machines, overrides=changes)
    assert block is None
    assert {issue.where.split(",")[0] for issue in errors_in(issues)} == {"copy.toml", "block.toml"}
    assert sum(issue.code == "TOML01" for issue in issues) == 1
    assert sum(issue.code == "BLK08" for issue in issues) == 2
