"""The map in a real browser: every layer draws, choices recolour, the profile follows."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import Transformer

from terrain.outputs.map_classes import contrast
from terrain.outputs.shown_units import METRIC
from terrain.outputs.wording import DEFERRAL, slope_words
from tests.browser.conftest import Page
from tests.outputs.synthetic import make_plan, with_decision

pytestmark = pytest.mark.browser

SIZES = [(1280, 860), (360, 740)]
COLOURS = "[...document.querySelectorAll('path.rw-run')].map(p => p.getAttribute('stroke'))"


@pytest.fixture(params=SIZES, ids=["wide", "narrow"])
def page(request: pytest.FixtureRequest, browser: Any, written: Path) -> Page:
    opened = Page(browser, written / "map.html", *request.param)
    opened.wait("window.rutwise && rutwise.live && document.querySelector('.rw-run')")
    return opened


@pytest.fixture(scope="module")
def plan():
    return with_decision(make_plan())


def open_trail(page: Page, trail: str, chainage: float) -> None:
    page.run(
        f"var at = rutwise.live.model.data.trails.findIndex(t => t.id === '{trail}');"
        f"rutwise.live.strip.show(at, {chainage})"
    )


def test_every_layer_draws(page: Page) -> None:
    """Switching a layer off changes the picture; switching it on again brings it back."""
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.run("document.getElementById('rw-readout').style.visibility = 'hidden'")
    boxes = page.run("return document.querySelectorAll('#rw-layers input').length")
    assert boxes >= 9
    page.run(
        "document.querySelectorAll('#rw-layers input').forEach(b => {if (!b.checked) b.click()})"
    )
    frame = page.run(
        "var b = document.querySelector('.folium-map').getBoundingClientRect();"
        "return [b.top, b.bottom, b.left, b.right].map(Math.round)"
    )

    def picture() -> Any:
        return page.pixels()[frame[0] : frame[1], frame[2] : frame[3]]

    whole = picture()
    for k in range(boxes):
        name = page.run(f"return document.getElementById('rw-layer-{k}').parentNode.textContent")
        page.run(f"document.getElementById('rw-layer-{k}').click()")
        changed = (np.abs(picture() - whole).max(axis=2) > 12).mean()
        assert changed > 0.0004, f"{name}: nothing went"
        page.run(f"document.getElementById('rw-layer-{k}').click()")
        left = (np.abs(picture() - whole).max(axis=2) > 12).mean()
        assert left < 0.03, f"{name}: {left:.3f} of the picture did not come back"
    assert page.console() == []


def test_the_map_shows_all_trails_and_loads_nothing(page: Page) -> None:
    inside = page.run(
        "var f = document.querySelector('.folium-map').getBoundingClientRect();"
        "return [...document.querySelectorAll('path.rw-run')].every(p => {"
        "var b = p.getBoundingClientRect(); return b.width + b.height > 0 &&"
        "b.left >= f.left - 9 && b.right <= f.right + 9 && b.top >= f.top - 9"
        "&& b.bottom <= f.bottom + 9})"
    )
    assert inside
    assert page.run("return document.documentElement.scrollWidth <= window.innerWidth")
    assert page.outside_requests() == []
    assert page.console() == []


def test_a_setup_recolours_the_trails_and_says_its_verdict(page: Page, plan) -> None:
    before = page.run(f"return {COLOURS}")
    assert "does not suit" not in page.text("#rw-verdict")
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    assert page.run(f"return {COLOURS}") != before
    short = (
        plan.stations["length_m"]
        .to_numpy()[plan.evaluation.reserve[:, plan.evaluation.column("bare")] < 0]
        .sum()
    )
    said = page.text("#rw-verdict")
    assert "does not suit" in said
    assert f"{METRIC.length(short)} short of traction" in said
    page.run("document.getElementById('rw-own').click()")
    assert page.run(f"return {COLOURS}") == before
    assert page.run("return document.getElementById('rw-own').hidden")


def test_a_moisture_state_recolours_the_trails_and_says_its_verdict(page: Page) -> None:
    before, said = page.run(f"return {COLOURS}"), page.text("#rw-verdict")
    page.choose("state", "saturated")
    assert page.run(f"return {COLOURS}") != before
    assert "ground saturated" in page.text("#rw-verdict")
    assert page.text("#rw-verdict") != said
    assert page.console() == []


@pytest.mark.parametrize("view", [1, 2])
def test_views_have_colours_and_a_legend_of_their_own(page: Page, view: int) -> None:
    before = set(page.run(f"return {COLOURS}"))
    page.choose("view", view)
    after = set(page.run(f"return {COLOURS}"))
    assert after - {"#4a4a4a"}
    assert after.isdisjoint(before - {"#4a4a4a"})
    shown = page.run(
        "return [...document.querySelectorAll('[data-view]')].filter(d => !d.hidden)"
        ".map(d => d.dataset.view)"
    )
    assert shown == [["reserve", "demand", "ratio", "passes"][view]]


def test_colours_are_those_of_the_plans_classes(page: Page, plan) -> None:
    """Metres by colour on the page against metres by class in the plan."""
    from terrain.outputs.map_classes import views
    from terrain.outputs.page_parts import classify

    reserve = views(plan)[0]
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    number = classify(plan.evaluation.reserve[:, plan.evaluation.column("bare")], reserve.classes)
    expected = {reserve.classes[k].colour for k in set(number)}
    assert set(page.run(f"return {COLOURS}")) == expected


def test_a_tap_opens_the_profile_at_that_place(page: Page) -> None:
    page.run(
        "var m = rutwise.live.map, t = rutwise.live.model.data.trails[0];"
        "var at = rutwise.pointAt(t, 60), p = m.latLngToContainerPoint(at);"
        "var f = m.getContainer().getBoundingClientRect();"
        "document.querySelectorAll('.rw-hit')[0].dispatchEvent(new MouseEvent('click',"
        "{bubbles: true, clientX: f.left + p.x, clientY: f.top + p.y}))"
    )
    assert not page.run("return document.getElementById('rw-strip').hidden")
    assert abs(page.run("return rutwise.live.strip.chainage") - 60) < 4
    assert page.text("#rw-strip-name") == "Trail T1"
    text = page.text("#rw-strip-here")
    for word in ("Reserve", "kPa", "% (", "°)", "Cross slope", "Binds"):
        assert word in text
    assert "E " in page.text("#rw-readout")  # the tap says its coordinates too
    assert page.console() == []


def test_a_finger_opens_the_profile(browser: Any, written: Path) -> None:
    page = Page(browser, written / "map.html", 360, 740)
    page.wait("window.rutwise && rutwise.live")
    browser.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": True})
    place = page.run(
        "var m = rutwise.live.map, t = rutwise.live.model.data.trails[1];"
        "var f = m.getContainer().getBoundingClientRect();"
        "var free = [30, 50, 70, 90, 20].map(c => m.latLngToContainerPoint(rutwise.pointAt(t, c)))"
        ".find(p => document.elementFromPoint(f.left + p.x, f.top + p.y)"
        ".classList.contains('rw-hit'));"
        "return [f.left + free.x, f.top + free.y]"
    )
    browser.execute_cdp_cmd(
        "Input.dispatchTouchEvent",
        {"type": "touchStart", "touchPoints": [{"x": place[0], "y": place[1]}]},
    )
    browser.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait("!document.getElementById('rw-strip').hidden")
    browser.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": False})
    seen = page.run(
        "var s = document.getElementById('rw-profile').getBoundingClientRect();"
        "return [s.top, s.bottom, innerHeight, s.width]"
    )
    assert seen[0] > 0
    assert seen[1] < seen[2]  # all of the profile is on the screen
    assert seen[3] > 250
    assert page.run("return document.querySelector('.folium-map').clientHeight") >= 140


def test_the_profile_and_the_map_follow_each_other(page: Page) -> None:
    open_trail(page, "T1", 30)
    marker = "document.querySelector('.rw-here-mark').getBoundingClientRect()"
    before = page.run(f"var b = {marker}; return [b.x, b.y]")
    page.run(
        "var svg = document.getElementById('rw-profile'), b = svg.getBoundingClientRect();"
        "svg.dispatchEvent(new PointerEvent('pointermove', {bubbles: true,"
        "clientX: b.left + b.width * 0.8, clientY: b.top + 20}))"
    )
    after = page.run(f"var b = {marker}; return [b.x, b.y]")
    assert np.hypot(after[0] - before[0], after[1] - before[1]) > 20
    assert page.run("return rutwise.live.strip.chainage") > 90
    page.run(
        "var s = document.getElementById('rw-slider'); s.value = 40;"
        "s.dispatchEvent(new Event('input'))"
    )
    assert "At 40 m" in page.text("#rw-strip-here")
    wanted = page.run(
        "var m = rutwise.live.map, t = rutwise.live.model.data.trails[0];"
        "var p = m.latLngToContainerPoint(rutwise.pointAt(t, 40));"
        "var f = m.getContainer().getBoundingClientRect(); return [f.left + p.x, f.top + p.y]"
    )
    at = page.run(f"var b = {marker}; return [b.x + b.width / 2, b.y + b.height / 2]")
    assert np.hypot(at[0] - wanted[0], at[1] - wanted[1]) < 3
    page.run("document.getElementById('rw-strip-close').click()")
    assert page.count(".rw-here-mark") == 0


def test_the_profile_says_the_plans_own_figures(page: Page, plan) -> None:
    """Words on the page against those of the report, station by station of one trail."""
    here = np.flatnonzero((plan.stations["trail"] == "T2").to_numpy())
    k = plan.evaluation.column("open + open")
    for row in here[3::6]:
        station = plan.stations.iloc[row]
        open_trail(page, "T2", float(station["chainage_m"]))
        text = page.text("#rw-strip-here")
        assert f"Reserve {slope_words(plan.evaluation.reserve[row, k])}" in text
        assert f"Cross slope {slope_words(abs(station['cross_slope']))}" in text
        assert f"{plan.evaluation.pressure_kpa[row, k]:.0f} kPa" in text
    first = plan.stations.iloc[np.flatnonzero((plan.stations["trail"] == "T1").to_numpy())[0]]
    open_trail(page, "T1", float(first["chainage_m"]))
    assert "Reserve not known" in page.text("#rw-strip-here")


def test_slope_words_are_those_of_the_report(page: Page) -> None:
    values = [-1.0, -0.151, -0.0004, -0.006, 0.0, 0.0049, 0.0051, 0.011, 0.18, 0.577, 1.2]
    found = page.driver.execute_script(
        "return arguments[0].map(v => rutwise.slopeWords(v, 'not known'))", values
    )
    assert found == [slope_words(value) for value in values]
    lengths = [0.0, 0.2, 0.6, 12.4, 1234.0, 1234567.0]
    found = page.driver.execute_script(
        "return arguments[0].map(v => rutwise.lengthWords(v))", lengths
    )
    assert found == [METRIC.length(value) for value in lengths]


@pytest.mark.parametrize("name", ["T3", "t1-20"])
def test_search_finds_trails_and_stretches(page: Page, name: str) -> None:
    """The place is in view at once, not only after the browser has laid the page out anew."""
    inside = page.run(
        f"document.getElementById('rw-find-text').value = '{name}';"
        "document.querySelector('#rw-find button').click();"
        "var b = document.querySelector('.rw-here-mark').getBoundingClientRect();"
        "var f = document.querySelector('.folium-map').getBoundingClientRect();"
        "return b.left > f.left && b.right < f.right && b.top > f.top && b.bottom < f.bottom"
    )
    assert page.text("#rw-found").startswith(f"Shown: {name.upper()}, ")
    assert page.text("#rw-strip-name") == f"Trail {name.upper().split('-')[0]}"
    assert inside
    if "-" in name:
        assert "no listed setup passes" in page.text("#rw-strip-stretch")


def test_search_says_when_nothing_is_called_that(page: Page) -> None:
    page.run(
        "document.getElementById('rw-find-text').value = 'zzz';"
        "document.querySelector('#rw-find button').click()"
    )
    assert page.text("#rw-found") == "Nothing on this map is called that."
    assert page.run("return document.getElementById('rw-strip').hidden")


def test_a_stretch_button_leads_there(page: Page, plan) -> None:
    assert page.count("#rw-weak-list button") == len(plan.bottlenecks)
    page.run("document.querySelectorAll('#rw-weak-list button')[1].click()")
    stretch = plan.bottlenecks.iloc[1]
    assert page.text("#rw-strip-stretch") == f"{stretch['stretch']}: {stretch['kind']}"
    assert "Lightest usual setup that passes" in page.text("#rw-strip-table")


def test_coordinates_agree_with_the_projection(page: Page, plan) -> None:
    west, south, east, north = plan.dem.bounds
    rng = np.random.default_rng(2)
    x, y = rng.uniform(west, east, 20), rng.uniform(south, north, 20)
    lon, lat = Transformer.from_crs(plan.dem.crs, "EPSG:4326", always_xy=True).transform(x, y)
    found = page.driver.execute_script(
        "return arguments[0].map(p => rutwise.gridAt(rutwise.live.model.data.grid, p[0], p[1]))",
        np.column_stack([lat, lon]).tolist(),
    )
    assert np.abs(np.array(found) - np.column_stack([x, y])).max() < 1.0
    assert page.run("return rutwise.gridAt(rutwise.live.model.data.grid, 0, 0)") is None
    page.run("document.getElementById('rw-middle').click()")
    assert plan.dem.crs in page.text("#rw-readout")


def test_names_and_signs_keep_clear_of_each_other(page: Page) -> None:
    overlaps = page.run(
        "var b = [...document.querySelectorAll('.rw-mark:not(.rw-away):not(.rw-arrow) span')]"
        ".map(s => s.getBoundingClientRect()); var n = 0;"
        "b.forEach((p, i) => b.slice(i + 1).forEach(q => {"
        "var w = Math.min(p.right, q.right) - Math.max(p.left, q.left);"
        "var h = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);"
        "if (w > 4 && h > 4) n += 1}));"
        "return n"
    )
    assert overlaps == 0


def test_the_weak_stretch_that_nothing_passes_is_named_and_left_free(page: Page) -> None:
    assert page.count(".rw-weak-0:not(.rw-away)") == 1
    free = page.run(
        "var m = rutwise.live.map, s = rutwise.live.model.data.stretches[0];"
        "var f = m.getContainer().getBoundingClientRect();"
        "var p = m.latLngToContainerPoint(rutwise.middle(s.p));"
        "return [...document.querySelectorAll('.rw-mark:not(.rw-away):not(.rw-arrow) span')]"
        ".every(e => { var b = e.getBoundingClientRect(); return !(b.left < f.left + p.x &&"
        "b.right > f.left + p.x && b.top < f.top + p.y && b.bottom > f.top + p.y)})"
    )
    assert free


def test_everything_is_reached_by_key(page: Page) -> None:
    """Tab walks over real controls; each has a name, and the focused one is outlined."""
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.run("document.querySelector('h1').tabIndex = -1; document.querySelector('h1').focus()")
    seen = []
    for _ in range(80):
        ActionChains(page.driver).send_keys(Keys.TAB).perform()
        told = page.run(
            "var e = document.activeElement, s = getComputedStyle(e);"
            "if (e === document.body) return null;"
            "return [e.id || e.className || e.tagName, (e.getAttribute('aria-label') ||"
            "(e.labels && e.labels.length && e.labels[0].textContent) || e.textContent).trim(),"
            "s.outlineStyle + ' ' + s.outlineWidth]"
        )
        if told is None:
            break
        seen.append(told)
    ids = {name for name, _, _ in seen}
    assert {"rw-setup", "rw-state", "rw-view", "rw-find-text", "rw-print", "rw-layer-0"} <= ids
    assert any("rw-weak" in name for name in ids)
    assert any("rw-label" in name for name in ids)
    assert any("leaflet-control-zoom-in" in name for name in ids)
    assert all(words for _, words, _ in seen), seen
    assert all(line.split()[0] != "none" for _, _, line in seen), seen


def test_enter_on_a_trail_name_opens_it_and_arrows_move_along(page: Page) -> None:
    from selenium.webdriver.common.keys import Keys

    name = page.driver.find_element("css selector", ".rw-label:not(.rw-away)")
    name.send_keys(Keys.ENTER)
    assert page.text("#rw-strip-name").startswith("Trail T")
    before = page.run("return rutwise.live.strip.chainage")
    page.driver.find_element("id", "rw-slider").send_keys(Keys.ARROW_RIGHT * 3)
    assert page.run("return rutwise.live.strip.chainage") == pytest.approx(before + 3, abs=1.01)


def test_the_larger_map_is_larger(browser: Any, written: Path) -> None:
    page = Page(browser, written / "map.html", 360, 740)
    page.wait("window.rutwise && rutwise.live")
    height = "return document.querySelector('.folium-map').clientHeight"
    before = page.run(height)
    page.run("document.getElementById('rw-fold').click()")
    assert page.run(height) > before + 50
    assert page.run("return document.getElementById('rw-fold').getAttribute('aria-expanded')") == (
        "false"
    )


def test_the_print_view_shows_the_block_legend_and_cautions(page: Page) -> None:
    zoom = page.run("rutwise.live.map.setZoom(18, {animate: false}); return 18")
    page.run("window.dispatchEvent(new Event('beforeprint'))")
    sheet = page.run(
        "var f = document.querySelector('.folium-map').getBoundingClientRect();"
        "return {wide: f.width, high: f.height, inside:"
        "[...document.querySelectorAll('path.rw-run')].every(p => {"
        "var b = p.getBoundingClientRect(); return b.left >= f.left - 9 && b.right <= f.right + 9"
        "&& b.top >= f.top - 9 && b.bottom <= f.bottom + 9}),"
        "select: document.getElementById('rw-setup').getClientRects().length,"
        "text: document.querySelector('.rw-panel').innerText}"
    )
    millimetre = 96 / 25.4
    assert sheet["wide"] == pytest.approx(184 * millimetre, abs=2)
    assert sheet["high"] == pytest.approx(168 * millimetre, abs=2)
    assert sheet["inside"]
    assert sheet["select"] == 0
    for words in (DEFERRAL, "Invented demonstration data", "Traction reserve", "Cautions"):
        assert words in sheet["text"]
    page.run("window.dispatchEvent(new Event('afterprint'))")
    assert page.run("return rutwise.live.map.getZoom()") == zoom
    assert page.run("return document.querySelector('body > main') !== null")


def test_it_prints(browser: Any, written: Path) -> None:
    from pypdf import PdfReader

    page = Page(browser, written / "map.html", 1280, 860)
    page.wait("window.rutwise && rutwise.live")
    for paper in ((8.27, 11.69), (8.5, 11.0)):  # A4 and Letter, inches
        made = browser.execute_cdp_cmd(
            "Page.printToPDF",
            {"printBackground": True, "paperWidth": paper[0], "paperHeight": paper[1]},
        )
        document = PdfReader(io.BytesIO(base64.b64decode(made["data"])))
        text = "\n".join(sheet.extract_text() for sheet in document.pages)
        assert 2 <= len(document.pages) <= 4
        assert "T1" in document.pages[0].extract_text()
        for words in ("Rutwise approves nothing", "Soil sensitivity class", "Cautions"):
            assert words in text
    assert page.console() == []


def test_text_has_contrast(page: Page) -> None:
    """4.5 to 1 (WCAG 2.1, 1.4.3) for all text in the panel and the strip."""
    open_trail(page, "T1", 40)
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    pairs = page.run(
        "var solid = c => c.startsWith('rgb(');"
        "var out = {}; document.querySelectorAll('.rw-panel *, .rw-main > p, #rw-strip *')"
        ".forEach(e => { if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())"
        "|| e.namespaceURI.endsWith('svg') || e.tagName === 'OPTION') return;"
        "var b = e; while (b && !solid(getComputedStyle(b).backgroundColor)) b = b.parentElement;"
        "out[getComputedStyle(e).color + '|' + (b ? getComputedStyle(b).backgroundColor :"
        "'rgb(255, 255, 255)')] = e.outerHTML.slice(0, 80)});"
        "return out"
    )
    assert len(pairs) >= 4

    def hexed(colour: str) -> str:
        return "#" + "".join(f"{int(c):02x}" for c in colour[4:-1].split(","))

    for pair, where in pairs.items():
        front, back = pair.split("|")
        assert contrast(hexed(front), hexed(back)) >= 4.5, where


def test_an_accessibility_checker_finds_no_serious_fault(page: Page) -> None:
    open_trail(page, "T1", 30)
    page.run("document.getElementById('rw-strip-all').click(); rutwise.fold(false);")
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.serious_faults() == []
