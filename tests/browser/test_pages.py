"""The pages in a real browser: they draw, answer a tap, load nothing and say no error."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Page

pytestmark = pytest.mark.browser

SIZES = [(1280, 860), (360, 740)]
TAP = """
var line = document.querySelectorAll('.rw-hit')[arguments[0] || 1];
var box = line.getBoundingClientRect();
line.dispatchEvent(new MouseEvent('click', {bubbles: true,
  clientX: box.x + box.width / 2, clientY: box.y + box.height / 2}));
"""


@pytest.fixture(params=SIZES, ids=["wide", "narrow"])
def map_page(request: pytest.FixtureRequest, browser: Any, written: Path) -> Page:
    page = Page(browser, written / "map.html", *request.param)
    page.wait("document.querySelector('.rw-run')")
    return page


def test_every_layer_of_the_map_draws(map_page: Page) -> None:
    assert map_page.count(".leaflet-image-layer") == 2
    assert map_page.run(
        "return [...document.querySelectorAll('.leaflet-image-layer')]"
        ".every(i => i.complete && i.naturalWidth > 50)"
    )
    assert map_page.count("path.rw-run") >= 3
    assert map_page.count("path.rw-soil-area") == 2
    assert map_page.count("path.rw-boundary") == 1
    assert map_page.count(".rw-landing") == 1
    assert map_page.count(".rw-arrow") >= 3
    assert map_page.count(".rw-label:not(.rw-soil)") == 3


def test_the_map_shows_all_trails_and_no_error(map_page: Page) -> None:
    inside = map_page.run(
        "var f = document.querySelector('.folium-map').getBoundingClientRect();"
        "return [...document.querySelectorAll('path.rw-run')].every(p => {"
        "var b = p.getBoundingClientRect(); return b.width + b.height > 0 &&"
        "b.left >= f.left - 9 && b.right <= f.right + 9 && b.top >= f.top - 9"
        "&& b.bottom <= f.bottom + 9})"
    )
    assert inside
    assert map_page.outside_requests() == []
    assert map_page.console() == []


def test_the_page_is_not_wider_than_the_screen(map_page: Page) -> None:
    assert map_page.run("return document.documentElement.scrollWidth <= window.innerWidth")


def test_a_tap_on_a_trail_opens_its_figures(map_page: Page) -> None:
    map_page.run(TAP)
    map_page.wait("document.querySelector('.rw-pop')")
    text = map_page.run("return document.querySelector('.rw-pop').innerText")
    for word in (
        "Trail T",
        "This stretch",
        "Smallest reserve",
        "kPa",
        "% (",
        "°)",
        "The whole trail",
    ):
        assert word in text
    button = "document.querySelector('.leaflet-popup-close-button').getBoundingClientRect()"
    on_top = map_page.run(
        f"var b = {button}; return document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2)"
        ".closest('.leaflet-popup-close-button') !== null"
    )
    assert on_top  # no control lies over it
    assert map_page.console() == []


def test_switching_layers_redraws_and_hides(map_page: Page) -> None:
    colours = "[...document.querySelectorAll('path.rw-run')].map(p => p.getAttribute('stroke'))"
    before = map_page.run(f"return {colours}")
    inputs = "document.querySelectorAll('.leaflet-control-layers-base input')"
    map_page.run(f"{inputs}[1].click()")
    map_page.wait(f"{inputs}[1].checked")
    after = map_page.run(f"return {colours}")
    assert after
    assert set(after).isdisjoint(set(before) - {"#4a4a4a"})
    over = "document.querySelectorAll('.leaflet-control-layers-overlays input')"
    map_page.run(f"[...{over}].forEach(i => i.click())")
    assert map_page.count(".leaflet-image-layer") == 0
    assert map_page.count("path.rw-soil-area") == 0
    assert map_page.count(".rw-landing") == 0
    assert map_page.console() == []


def test_legend_answer_and_deferral_are_read(map_page: Page) -> None:
    text = map_page.run("return document.querySelector('.rw-panel').textContent")
    for words in ("Rutwise approves nothing", "Trails by traction reserve", "0-10 %", "Cautions"):
        assert words in text


@pytest.mark.parametrize("size", SIZES, ids=["wide", "narrow"])
def test_the_report_opens_without_error(browser: Any, written: Path, size: tuple[int, int]) -> None:
    page = Page(browser, written / "report.html", *size)
    assert page.count("h2") == 6
    assert page.count("figure svg") == 3
    assert page.run(
        "return [...document.querySelectorAll('figure svg')]"
        ".every(s => s.getBoundingClientRect().width > 200)"
    )
    assert page.run("return document.documentElement.scrollWidth <= window.innerWidth")
    assert page.outside_requests() == []
    assert page.console() == []


def test_hostile_names_are_text_on_the_map(browser: Any, written_hostile: Path) -> None:
    page = Page(browser, written_hostile / "map.html", 1280, 860)
    page.wait("document.querySelector('.rw-run')")
    for number in range(1, page.count(".rw-hit"), 5):
        page.run(TAP.replace("arguments[0]", str(number)))
        page.wait("document.querySelector('.rw-pop')")
    assert page.run("return window.hurt === undefined")
    assert page.count(".rw-pop img, .rw-panel img, .rw-label img, .rw-pop script") == 0
    assert "<script>" in page.run("return document.querySelector('h1').textContent")
    assert page.console() == []


def test_hostile_names_are_text_in_the_report(browser: Any, written_hostile: Path) -> None:
    page = Page(browser, written_hostile / "report.html", 360, 740)
    assert page.run("return window.hurt === undefined")
    assert page.count("img, script") == 0
    assert page.run("return document.documentElement.scrollWidth <= window.innerWidth")
    assert page.console() == []
