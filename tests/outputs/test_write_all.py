from __future__ import annotations

from pathlib import Path

from terrain.decision.results import Plan
from terrain.outputs.folder import FILES, write_outputs


def test_the_folder_is_the_same_byte_for_byte(small_plan: Plan, tmp_path: Path) -> None:
    first = write_outputs(small_plan, tmp_path / "a")
    second = write_outputs(small_plan, tmp_path / "b")
    missing = set(FILES) - {path.name for path in (tmp_path / "a").iterdir()}
    assert missing == {"depth_to_water.tif", "wet_ground.tif"}  # this plan has no routed water
    for one, other in zip(first, second, strict=True):
        if one.path.name in missing:
            assert one.purpose == "left out: the water was not routed"
            continue
        assert one.path.read_bytes() == other.path.read_bytes(), one.path.name
