"""What a planner is told when one stretch forces the choice, and when nothing suits."""

from __future__ import annotations

import json

import pytest

from terrain.plan import plan_block
from tests.cli.run import rutwise
from tests.decision.test_drop_it import RATED, TEXT, comb, landings, one_soft_place, patches
from tests.tiny_block import plane, write_block


@pytest.fixture(scope="module")
def hopeless(tmp_path_factory):
    """Steep and soft nearly everywhere: no setup meets the need."""
    soils = patches(0, n=0)
    soils["soil_class"] = [3]
    return write_block(
        tmp_path_factory.mktemp("hopeless") / "b",
        block=TEXT,
        machine=RATED,
        dem=plane(gx=0.25),
        trails=comb(),
        soils=soils,
        landings=landings(),
    )


def test_nothing_suits_ends_with_code_3_and_says_what_would_help(hopeless):
    out = hopeless.parent / "out"
    done = rutwise("plan", hopeless, "-o", out)
    assert done.returncode == 3, done.stderr
    assert "No usual setup meets the traction need" in done.stdout
    assert "Other measures are needed" in done.stdout
    page = (out / "report.html").read_text(encoding="utf-8").replace("m³", "m3")
    plan = plan_block(hopeless)
    assert plan.ranking.candidate is None
    solving = plan.remedies[plan.remedies["solves"].isin(["yes", "partly"])]
    assert len(solving)
    # what would help stands on the page: the remedies, and what leaving out would take
    assert any(str(told)[:40] in page for told in solving["does"])
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert record["candidate_for_the_manufacturers_approval"] is None


def test_the_one_stretch_is_named_everywhere(tmp_path):
    path = one_soft_place(tmp_path)
    out = path.parent / "out"
    done = rutwise("plan", path, "-o", out)
    assert done.returncode == 0, done.stderr
    plan = plan_block(path)
    forcing = plan.bottlenecks[plan.bottlenecks["kind"] == "forces the choice"]
    assert forcing["stretch"].tolist() == ["M-50"]
    assert plan.drop_it["stretches"].tolist()[0] == "M-50"
    for name in ("report.html", "map.html", "brief.html", "trails.gpx", "block.kml"):
        assert "M-50" in (out / name).read_text(encoding="utf-8"), name
    needs = forcing["needs"].iloc[0]
    assert needs == plan.ranking.candidate
