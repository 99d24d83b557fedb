"""The block template: whoever takes the # away from a part gets a part that is right."""

from __future__ import annotations

import re
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point, box

from terrain.errors import errors_in
from terrain.inputs.block import inspect_block
from terrain.outputs.block_template import BlockDraft, LayerDraft, block_text
from tests.inputs.made_block import CRS, SOUTH, WEST, make_block

LAYERS = {
    "soils": LayerDraft("soils.gpkg", None, {"id": "polygon", "soil_class": "soil_class"}),
    "trails": LayerDraft("trails.gpkg", None, {"id": "trail"}),
    "landings": LayerDraft("landings.gpkg", None, {"id": "landing"}),
}
TEXT = block_text(BlockDraft("a", layers=LAYERS, machine_file="forwarder_8.toml"))
PARTS = re.findall(r"^# \[(\w+)\]", TEXT, re.MULTILINE)
NEEDS = {"stand": ["traffic"]}  # volumes per hectare need the width that a trail serves


def without_marks(text: str, part: str) -> str:
    """Take the first # of every line of a commented part away, down to the next empty line."""
    start = text.index(f"# [{part}]")
    end = text.find("\n\n", start)
    end = len(text) if end < 0 else end
    bare = re.sub(r"^# ?", "", text[start:end], flags=re.MULTILINE)
    return text[:start] + bare + text[end:]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Every file that the template names, with the columns that it names."""
    make_block(tmp_path)

    def at(x: float, y: float) -> tuple[float, float]:
        return WEST + x, SOUTH + y

    def write(name: str, geometry: object, **columns: object) -> None:
        frame = gpd.GeoDataFrame({"n": [1], **columns}, geometry=[geometry], crs=CRS)
        frame.to_file(tmp_path / name)

    area = box(*at(100, 100), *at(200, 200))
    write("boundary.gpkg", area)
    write("lakes.gpkg", box(*at(10, 10), *at(20, 20)))
    write("streams.gpkg", LineString([at(10, 100), at(290, 100)]))
    write("crossings.gpkg", Point(at(150, 160)), crossing=["C1"], kind=["culvert"])
    write("stand.gpkg", area, m3_per_ha=[100.0])
    (tmp_path / "readings.csv").write_text(
        "x,y,depth_cm,value,unit,kind,date,moisture_state\n"
        f"{WEST + 100},{SOUTH + 100},15,250,,cone,2026-05-04,moist\n",
        encoding="utf-8",
    )
    (tmp_path / "aids.toml").write_text(
        '[[aid]]\nkey="c"\nname="C"\nkind="chains"\nmass_kg=400\nfits_tyres=[]\n', encoding="utf-8"
    )
    return tmp_path


def test_the_parts_are_those_that_the_template_leaves_out() -> None:
    assert PARTS == [
        "boundary", "water", "crossings", "buffers", "readings", "aids", "traffic", "stand",
        "brash", "emergency", "site_rules",
    ]  # fmt: skip


@pytest.mark.parametrize("part", PARTS)
def test_a_part_without_its_marks_is_right(folder: Path, part: str) -> None:
    text = TEXT
    for name in (part, *NEEDS.get(part, [])):
        text = without_marks(text, name)
    assert f"\n[{part}]" in text
    (folder / "block.toml").write_text(text, encoding="utf-8")
    block, issues = inspect_block(folder / "block.toml")
    assert [str(issue) for issue in errors_in(issues)] == []
    assert block is not None


def test_all_parts_together_are_right(folder: Path) -> None:
    text = TEXT
    for part in PARTS:
        text = without_marks(text, part)
    (folder / "block.toml").write_text(text, encoding="utf-8")
    block, issues = inspect_block(folder / "block.toml")
    assert [str(issue) for issue in errors_in(issues)] == []
    assert block is not None
    assert block.rule_profile is not None
    assert block.stand is not None


def test_the_figures_of_doubt_can_be_taken_in_too(folder: Path) -> None:
    start = TEXT.index("[doubt]")
    end = TEXT.index("\n\n", start)
    text = TEXT[:start] + re.sub(r"^# ?", "", TEXT[start:end], flags=re.MULTILINE) + TEXT[end:]
    (folder / "block.toml").write_text(text, encoding="utf-8")
    block, issues = inspect_block(folder / "block.toml")
    assert [str(issue) for issue in errors_in(issues)] == []
    assert block is not None
    assert block.settings.doubt.dem_error_m == 0.1


def test_no_figure_of_grip_is_lent_to_anybody() -> None:
    # a grip cap decides about traction: its place in the template is refused until it is filled in
    assert "# film_grip_cap = 0.0 " in TEXT
    assert "# frost_depth_m = 0.0 " in TEXT
