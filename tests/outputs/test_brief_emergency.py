"""The emergency point: from the block file to the working CRS, and every way to get it wrong."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pytest
from pyproj import Transformer
from shapely.geometry import box

from terrain.errors import Issue, errors_in
from terrain.inputs.block import ISSUE_CODES, inspect_block, load_block
from terrain.outputs.block_template import BlockDraft, block_text
from tests.inputs.made_block import BLOCK, CRS, SOUTH, WEST, make_block


def inspected(folder: Path, lines: str) -> tuple[object, list[Issue]]:
    return inspect_block(make_block(folder, f"{BLOCK}\n[emergency]\n{lines}\n"))


def test_a_block_without_a_point_has_none(tmp_path: Path) -> None:
    assert load_block(make_block(tmp_path)).emergency is None


def test_x_and_y_are_taken_in_the_working_crs(tmp_path: Path) -> None:
    lines = f'name = "Gate"\nx = {WEST + 60}\ny = {SOUTH + 150}\nnote = " call 000 "'
    block, issues = inspected(tmp_path, lines)
    assert not errors_in(issues)
    found = block.emergency
    assert (found.name, found.x_m, found.y_m) == ("Gate", WEST + 60, SOUTH + 150)
    assert found.note == "call 000"


def test_latitude_and_longitude_lead_to_the_same_place(tmp_path: Path) -> None:
    lon, lat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(
        WEST + 60, SOUTH + 150
    )
    for lines in (f"lat = {lat!r}\nlon = {lon!r}", f'x = {lon!r}\ny = {lat!r}\ncrs = "EPSG:4326"'):
        block, issues = inspected(tmp_path, f'name = "Gate"\n{lines}')
        assert not errors_in(issues)
        assert block.emergency.x_m == pytest.approx(WEST + 60, abs=1e-3)
        assert block.emergency.y_m == pytest.approx(SOUTH + 150, abs=1e-3)


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ("", "EMG01"),
        ("x = 1.0", "EMG01"),
        ("lat = 1.0", "EMG01"),
        ("x = 1.0\ny = 1.0\nlat = 1.0\nlon = 1.0", "EMG01"),
        ('lat = 1.0\nlon = 1.0\ncrs = "EPSG:32633"', "EMG01"),
        ('x = 1.0\ny = 1.0\ncrs = "nonsense"', "EMG02"),
        ("lat = 91.0\nlon = 1.0", "TOML07"),
        ('x = "1"\ny = 1.0', "TOML06"),
        ("x = 1.0\ny = 1.0\nphone = 1", "TOML04"),
    ],
)
def test_a_point_without_one_clear_place_is_an_error(tmp_path: Path, lines: str, code: str) -> None:
    block, issues = inspected(tmp_path, f'name = "Gate"\n{lines}')
    assert block is None
    assert [issue.code for issue in errors_in(issues)] == [code]


def test_a_point_far_away_is_reported_but_kept(tmp_path: Path) -> None:
    block, issues = inspected(tmp_path, f'name = "Gate"\nx = {SOUTH}\ny = {WEST}')
    assert block is not None
    assert "EMG03" in [issue.code for issue in issues if issue.severity == "warning"]


@pytest.mark.parametrize(
    ("east_m", "boundary", "said"),
    [
        # trails end at x = 240 m, the boundary below at 300 m
        (1230, False, None),
        (1250, False, "1.0 km from the nearest trail"),
        (1290, True, None),
        (3300, True, "3.0 km outside the boundary"),
    ],
)
def test_from_a_kilometre_outside_the_block_on_a_point_is_reported(
    tmp_path: Path, east_m: float, boundary: bool, said: str | None
) -> None:
    lines = f'name = "Gate"\nx = {WEST + east_m}\ny = {SOUTH + 150}'
    if boundary:
        area = box(WEST, SOUTH, WEST + 300, SOUTH + 300)
        gpd.GeoDataFrame(geometry=[area], crs=CRS).to_file(tmp_path / "boundary.gpkg")
        lines += '\n[boundary]\nfile = "boundary.gpkg"'
    block, issues = inspected(tmp_path, lines)
    assert block is not None
    found = [issue.what for issue in issues if issue.code == "EMG03"]
    assert len(found) == (said is not None)
    assert said is None or said in found[0]


def test_codes_are_explained_and_the_template_shows_the_part() -> None:
    assert {"EMG01", "EMG02", "EMG03"} <= set(ISSUE_CODES)
    assert "# [emergency]" in block_text(BlockDraft("x"))
