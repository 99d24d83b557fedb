"""Which addresses of a base map are accepted, and that the command refuses others in words."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from terrain.decision.results import Plan
from terrain.errors import InputRefused
from terrain.outputs.folder import check_base_map
from terrain.outputs.leaflet import leaflet_text
from terrain.outputs.map_base import base_map_origin
from terrain.outputs.web_map import map_html
from tests.cli.run import rutwise

GOOD = {
    "https://tiles.example.org/{z}/{x}/{y}.png": "https://tiles.example.org",
    "https://tiles.example.org:8443/wmts/{z}/{y}/{x}{r}.jpg?key=a-1": (
        "https://tiles.example.org:8443"
    ),
    "https://a.b.example.org/map?z={z}&x={x}&y={y}": "https://a.b.example.org",
}
BAD = (
    True,
    "",
    "none",
    "http://tiles.example.org/{z}/{x}/{y}.png",
    "https://tiles.example.org/",
    "https://tiles.example.org/{z}/{x}.png",
    "https://{s}.example.org/{z}/{x}/{y}.png",
    "https://tiles.example.org/{z}/{x}/{y}/{key}.png",
    "https://user@tiles.example.org/{z}/{x}/{y}.png",
    "https://tiles.example.org;script-src/{z}/{x}/{y}",
    "https://tiles.example.org /{z}/{x}/{y}.png",
    'https://tiles.example.org/{z}/{x}/{y}.png" onload="x',
    "https://tiles.example.org/{z}/{x}/{y}.png</script>",
    "https://tiles.example.org/{z}/{x}/{y}.png\n",
    "file:///{z}/{x}/{y}.png",
)


@pytest.mark.parametrize("address", GOOD)
def test_a_good_address_opens_its_host_only(address: str) -> None:
    assert base_map_origin(address) == GOOD[address]
    check_base_map(address)


@pytest.mark.parametrize("address", BAD)
def test_another_is_refused(address: str | bool) -> None:
    with pytest.raises(ValueError, match="https address"):
        base_map_origin(address)


@pytest.mark.parametrize("none", [None, False])
def test_without_one_nothing_is_opened(small_plan: Plan, none: bool | None) -> None:
    assert base_map_origin(none) == ""
    assert map_html(small_plan, online_base=none) == map_html(small_plan)


@pytest.mark.parametrize("address", GOOD)
def test_the_page_holds_the_address_as_text(small_plan: Plan, address: str) -> None:
    page = map_html(small_plan, online_base=address).replace(leaflet_text().strip(), "")
    found = re.search(r'L\.tileLayer\(\s*("[^"]*")', page)
    assert found
    assert json.loads(found.group(1)) == address
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy
    assert f"img-src data: {GOOD[address]};" in policy.group(1)
    assert policy.group(1).count("https:") == 1


def test_a_refusal_says_what_is_wanted() -> None:
    with pytest.raises(InputRefused) as refusal:
        check_base_map("tiles.example.org")
    issue = refusal.value.issues[0]
    assert (issue.code, issue.severity) == ("OUT04", "error")
    assert "tiles.example.org is no address of a base map" in issue.what
    assert "{z}, {x} and {y}" in issue.fix


def test_the_command_refuses_before_it_plans(tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = rutwise("plan", tmp_path / "none.toml", "-o", out, "--base-map", "http://x/{z}/{x}/{y}")
    assert done.returncode == 2
    assert "OUT04" in done.stderr
    assert "Traceback" not in done.stderr
    assert not out.exists()


def test_the_help_says_that_a_network_is_asked() -> None:
    words = " ".join(rutwise("plan", "--help").stdout.split())
    assert "--base-map" in words
    assert "needs a network" in words
