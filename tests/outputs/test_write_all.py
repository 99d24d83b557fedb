from __future__ import annotations

from pathlib import Path

from terrain.decision.results import Plan
from terrain.outputs.file_names import LEFT_OUT
from terrain.outputs.folder import FILES, write_outputs
from tests.outputs.synthetic import with_decision


def test_the_folder_is_the_same_byte_for_byte(small_plan: Plan, tmp_path: Path) -> None:
    plan = with_decision(small_plan)
    first = write_outputs(plan, tmp_path / "a")
    second = write_outputs(plan, tmp_path / "b")
    missing = set(FILES) - {path.name for path in (tmp_path / "a").iterdir()}
    # this plan has no routed water
    assert {"depth_to_water.tif", "wet_ground.tif"} <= missing <= set(LEFT_OUT)
    assert not missing & {"stretches.csv", "remedies.csv", "seasons.csv"}
    for one, other in zip(first, second, strict=True):
        if one.path.name in missing:
            assert one.purpose == f"left out: {LEFT_OUT[one.path.name]}"
            continue
        assert one.path.read_bytes() == other.path.read_bytes(), one.path.name
