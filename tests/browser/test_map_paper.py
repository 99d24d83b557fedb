"""The map on sheets of paper: few of them, the verdict beside the map, no group cut in two."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import pytest

from terrain.outputs.web_map import map_html
from tests.browser.conftest import Page
from tests.outputs.map_slope_plan import with_slopes

pytestmark = pytest.mark.browser

PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}  # inches
MILLIMETRE = 96 / 25.4


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("paper") / "map.html"
    made.write_text(map_html(with_slopes()), encoding="utf-8")
    return made


def sheets(page: Page, paper: str, lying: bool) -> list[str]:
    """Text of every sheet, words parted by single blanks."""
    from pypdf import PdfReader

    wide, high = PAPERS[paper]
    made = page.driver.execute_cdp_cmd(
        "Page.printToPDF",
        {"printBackground": True, "paperWidth": wide, "paperHeight": high, "landscape": lying},
    )
    document = PdfReader(io.BytesIO(base64.b64decode(made["data"])))
    return [" ".join(sheet.extract_text().split()) for sheet in document.pages]


@pytest.mark.parametrize("chosen", [False, True], ids=["plain", "trail open"])
@pytest.mark.parametrize("lying", [False, True], ids=["portrait", "landscape"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheets(browser: Any, path: Path, paper: str, lying: bool, chosen: bool) -> None:
    page = Page(browser, path, 1280, 860)
    page.wait("window.rutwise && rutwise.live")
    if chosen:
        page.run("rutwise.openTrail(rutwise.live.map, rutwise.live.model, rutwise.live.strip, 0)")
    text = sheets(page, paper, lying)
    assert len(text) <= 5
    first = text[0]
    assert "suits" in first  # the verdict
    assert "Over a level rating on slopes: 40 m" in first
    assert "T2" in first.split("Rutwise approves nothing")[1]  # and the map below it
    legend = [k for k, sheet in enumerate(text) if "Soil sensitivity class" in sheet]
    assert len(legend) == 1
    for words in ("Traction reserve", "short: below 0 %", "Slope of the ground", "over 50 %",
                  "block boundary", "strength reading"):  # fmt: skip
        assert words in text[legend[0]]
    if chosen:
        (strip,) = [k for k, sheet in enumerate(text) if "Trail T1" in sheet]
        assert strip <= legend[0]
        assert "Reserve" in text[strip]


def test_names_without_room_are_told(browser: Any, path: Path) -> None:
    """With a name that is made to find no room; none is told where all found some."""
    page = Page(browser, path, 1280, 860)
    page.wait("window.rutwise && rutwise.live")
    page.run(
        "var place = rutwise.placeLabels; rutwise.placeLabels = function (map, lines, leaders) {"
        "place(map, lines, leaders); document.querySelectorAll('.rw-mark').forEach(e => {"
        "if (e.textContent === 'T2-60') e.classList.add('rw-away'); }); };"
    )
    text = sheets(page, "A4", False)
    assert "Names without room on this map: " in text[0]
    assert "T2-60" in text[0].split("Names without room on this map: ")[1].split(".")[0]
    assert page.run("return document.getElementById('rw-left-out').getClientRects().length") == 0


def test_after_printing_the_page_is_as_it_was(browser: Any, path: Path) -> None:
    page = Page(browser, path, 1280, 860)
    page.wait("window.rutwise && rutwise.live")
    order = "return [...document.querySelectorAll('details')].map(d => d.id + d.open)"
    before = page.run(order)
    sheets(page, "Letter", False)
    assert page.run(order) == before
    assert page.run("return document.querySelector('body > main') !== null")
