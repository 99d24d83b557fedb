from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace

import pytest

from terrain.decision.results import Plan
from terrain.outputs.leaflet import leaflet_style, leaflet_text, script_json
from terrain.outputs.map_layers import arrow_items, reserve_layer
from terrain.outputs.web_map import map_html
from terrain.outputs.wording import CAUTIONS, DEFERRAL
from tests.outputs.synthetic import HOSTILE, make_plan


@pytest.fixture(scope="module")
def page(small_plan: Plan) -> str:
    return map_html(small_plan)


def own_part(page: str) -> str:
    """The page without Leaflet's script, which names an SVG namespace and its home page."""
    return page.replace(leaflet_text().strip(), "")


def test_the_page_names_no_address(page: str) -> None:
    assert re.findall(r"https?://[^\s\"']+", own_part(page)) == []
    assert not re.search(r"<(script|link|img|iframe)[^>]*\s(src|href)=", own_part(page))


def test_the_policy_allows_exactly_the_scripts_in_the_page(page: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy
    assert policy.group(1).startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe-eval" not in policy.group(1)
    allowed = set(re.findall(r"'sha256-([^']+)'", policy.group(1)))
    bodies = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert allowed == {
        base64.b64encode(hashlib.sha256(body.encode()).digest()).decode() for body in bodies
    }


def test_the_page_says_who_decides_and_warns(page: str) -> None:
    escaped = DEFERRAL.replace("'", "&#39;")
    assert escaped in page
    for caution in CAUTIONS:
        assert caution.replace("'", "&#39;") in page


def test_every_slope_class_is_in_the_legend(page: str, small_plan: Plan) -> None:
    for label in small_plan.slope_labels:
        assert label in page


def test_zooming_by_hand_is_not_forbidden(page: str) -> None:
    assert "user-scalable=no" not in page


def test_the_same_plan_gives_the_same_bytes(page: str) -> None:
    assert map_html(make_plan()) == page


def test_leaflet_needs_no_file_beside_the_page() -> None:
    assert "sourceMappingURL" not in leaflet_text()
    assert "url(images" not in leaflet_style()
    assert leaflet_style().count("url(data:image/png") == 3


def test_runs_on_the_map_carry_the_shown_setup(small_plan: Plan) -> None:
    layer = reserve_layer(small_plan)
    assert {run["t"] for run in layer["runs"]} == {"T1", "T2", "T3"}
    bare = replace(small_plan, ranking=replace(small_plan.ranking, shown="bare"))
    shown = [run["c"] for run in layer["runs"]]
    assert 1 in [run["c"] for run in reserve_layer(bare)["runs"]]
    assert 1 not in shown


def test_a_stretch_without_a_climb_says_none_and_an_unknown_one_says_so(small_plan: Plan) -> None:
    rows = {key: dict(value) for key, value in reserve_layer(small_plan)["trails"].items()}
    assert rows["T1"]["Steepest uphill, loaded"].endswith("°)")
    trails = small_plan.trails.assign(steepest_up=float("nan"))
    down_only = dict(reserve_layer(replace(small_plan, trails=trails))["trails"]["T1"])
    assert down_only["Steepest uphill, loaded"] == "none"
    unknown = trails.assign(steepest_down=float("nan"))
    nothing = dict(reserve_layer(replace(small_plan, trails=unknown))["trails"]["T1"])
    assert nothing["Steepest uphill, loaded"] == "not known"


def test_arrows_point_the_way_the_load_travels(small_plan: Plan) -> None:
    """T2 is drawn northward and the load goes back south; own arithmetic."""
    turns = [item["turn"] for item in arrow_items(small_plan)]
    assert any(abs(turn - 172) < 15 for turn in turns)


def test_json_in_a_script_cannot_end_it() -> None:
    value = {"name": "</script><!--\u2028&"}
    text = script_json(value)
    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == value


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_never_becomes_markup(name: str) -> None:
    page = own_part(map_html(make_plan((name, "T2", "T3"), block=name)))
    outside = re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL)
    assert "<img" not in outside
    assert "<script" not in outside
    assert "49" not in re.findall(r"<title>(.*?):", page)[0]  # no template ran
    assert page.count("<script>") == map_html(make_plan()).count("<script>")
