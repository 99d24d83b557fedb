"""The pages in a real browser: they draw, answer a tap, load nothing and say no error."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Page

pytestmark = pytest.mark.browser

SIZES = [(1280, 860), (360, 740)]
TAP = """
var line = document.querySelectorAll('.rw-hit')[arguments[0] || 0];
var box = line.getBoundingClientRect();
line.dispatchEvent(new MouseEvent('click', {bubbles: true,
  clientX: box.x + box.width / 2, clientY: box.y + box.height / 2}));
"""


@pytest.mark.parametrize("size", SIZES, ids=["wide", "narrow"])
def test_the_report_opens_without_error(browser: Any, written: Path, size: tuple[int, int]) -> None:
    page = Page(browser, written / "report.html", *size)
    assert page.count("h2") == 6
    assert page.count("figure svg") >= 3
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
    for number in range(page.count(".rw-hit")):
        page.run(TAP.replace("arguments[0]", str(number)))
        page.wait("!document.getElementById('rw-strip').hidden")
        page.run("document.querySelectorAll('#rw-weak-list button').forEach(b => b.click())")
    page.run(
        "document.querySelector('path.rw-soil-area').dispatchEvent("
        "new MouseEvent('click', {bubbles: true}))"
    )
    page.wait("document.querySelector('.rw-pop')")
    assert page.run("return window.hurt === undefined")
    assert page.count(".folium-map :not(.leaflet-image-pane) img:not(.leaflet-image-layer)") == 0
    assert page.count(".rw-panel img, #rw-strip img, .rw-pop script, .rw-panel script") == 0
    assert "<script>" in page.run("return document.querySelector('h1').textContent")
    assert page.run("return document.documentElement.scrollWidth <= window.innerWidth")
    assert page.console() == []


def test_hostile_names_are_text_in_the_report(browser: Any, written_hostile: Path) -> None:
    page = Page(browser, written_hostile / "report.html", 360, 740)
    assert page.run("return window.hurt === undefined")
    assert page.count("img, script") == 0
    assert page.run("return document.documentElement.scrollWidth <= window.innerWidth")
    assert page.console() == []
