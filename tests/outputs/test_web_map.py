from __future__ import annotations

import base64
import hashlib
import json
import re

import pytest

from terrain.decision.results import Plan
from terrain.outputs.leaflet import leaflet_style, leaflet_text, script_json
from terrain.outputs.web_map import map_html
from terrain.outputs.wording import CAUTIONS, DEFERRAL
from tests.outputs.synthetic import HOSTILE, make_plan, with_decision


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


def test_the_base_is_the_blocks_own_ground(page: str) -> None:
    assert "Shaded ground" in page
    assert "Contour lines" in page
    assert "img-src data:;" in page


def test_an_online_base_is_off_and_opens_one_door_only(page: str, small_plan: Plan) -> None:
    address = "https://tiles.example.org/{z}/{x}/{y}.png"
    online = map_html(small_plan, online_base=address)
    assert "img-src data: https://tiles.example.org;" in online
    assert "asked for over the network from tiles.example.org" in online
    assert set(re.findall(r"https?://[^/\s\"';]+", own_part(online))) == {
        "https://tiles.example.org"
    }
    assert "example.org" not in page


@pytest.mark.parametrize(
    "address",
    [
        True,
        "http://tiles.example.org/{z}/{x}/{y}.png",
        "https://tiles.example.org/",
        "https://a.example.org;script-src/{z}/{x}/{y}",
        'https://evil" onload/{z}/{x}/{y}',
    ],
)
def test_an_address_that_is_none_is_refused(small_plan: Plan, address: str | bool) -> None:
    with pytest.raises(ValueError, match="https address"):
        map_html(small_plan, online_base=address)


def test_the_page_has_every_view_and_setup(page: str, small_plan: Plan) -> None:
    for title in ("Traction reserve", "Demand of the ground", "Pressure ratio", "Passes"):
        assert title in page
    for description in small_plan.ranking.setups["description"]:
        assert description in page


def test_a_decided_plan_names_its_stretches() -> None:
    plan = with_decision(make_plan())
    page = map_html(plan)
    for name in plan.bottlenecks["stretch"]:
        assert str(name) in page
    assert "Ways round weak stretches" in page


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
