"""Every tap on the map tells coordinates; what is shut is drawn so; ratings and steep places."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import Transformer

from terrain.decision.results import Plan
from terrain.outputs.map_slopes import OWN_ONLY, rating_words
from terrain.outputs.map_ways import ways_of
from terrain.outputs.web_map import map_html
from terrain.plan import plan_block
from tests.browser.conftest import Page
from tests.outputs.map_slope_plan import REAR, with_slopes
from tests.tiny_block import soils, write_block

pytestmark = pytest.mark.browser

SIZES = [(1280, 860), (360, 740)]
FIGURES = re.compile(
    r"(?P<lat>[\d.]+)° (?P<ns>[NS]), (?P<lon>[\d.]+)° (?P<ew>[EW]) · "
    r"E (?P<east>[\d\u202f]+) m, N (?P<north>[\d\u202f]+) m \(EPSG:\d+\)"
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_slopes()


@pytest.fixture(scope="module")
def slope_map(tmp_path_factory: pytest.TempPathFactory, plan: Plan) -> Path:
    path = tmp_path_factory.mktemp("slopes") / "map.html"
    path.write_text(map_html(plan), encoding="utf-8")
    return path


def tiny(folder: Path, upper_class: int) -> tuple[Plan, Path]:
    """The block of tests.tiny_block with a soil class at the landing end of T1, and its map.

    T2 has to pass that end.
    """
    layer = soils().assign(soil_class=[1, upper_class], drainage="well drained")
    made = plan_block(write_block(folder / "block", soils=layer))
    path = folder / "map.html"
    path.write_text(map_html(made), encoding="utf-8")
    return made, path


def opened(browser: Any, path: Path, size: tuple[int, int]) -> Page:
    page = Page(browser, path, *size)
    page.wait("window.rutwise && rutwise.live && document.querySelector('.rw-run')")
    return page


@pytest.fixture(params=SIZES, ids=["wide", "narrow"])
def page(request: pytest.FixtureRequest, browser: Any, slope_map: Path) -> Page:
    return opened(browser, slope_map, request.param)


def settled(page: Page) -> None:
    """Wait until the page has been laid out anew and names have found their places."""
    page.driver.execute_async_script(
        "var done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() =>"
        " setTimeout(done, 80)))"
    )


def middle_told(page: Page) -> None:
    """Fill the readout with another place than the one that is tapped next."""
    page.run("document.getElementById('rw-middle').click()")
    settled(page)
    assert page.text("#rw-readout").startswith("Middle of the map · ")


def tap(page: Page, x: float, y: float) -> None:
    """Press and let go at a place of the screen, as the browser itself passes it on."""
    for kind in ("mousePressed", "mouseReleased"):
        page.driver.execute_cdp_cmd(
            "Input.dispatchMouseEvent",
            {"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1},
        )


def told(page: Page, plan: Plan) -> tuple[float, float]:
    """Grid figures of the readout, after a look that both kinds of figures name one place."""
    found = FIGURES.search(page.text("#rw-readout"))
    assert found, page.text("#rw-readout")
    lat = float(found["lat"]) * (1 if found["ns"] == "N" else -1)
    lon = float(found["lon"]) * (1 if found["ew"] == "E" else -1)
    east, north = (float(found[name].replace("\u202f", "")) for name in ("east", "north"))
    x, y = Transformer.from_crs("EPSG:4326", plan.dem.crs, always_xy=True).transform(lon, lat)
    assert np.hypot(x - east, y - north) < 2.5  # 0.00001 of a degree is about a metre
    return east, north


def middle_of(page: Page, selector: str) -> tuple[float, float]:
    found = page.run(
        f"var b = document.querySelector({selector!r}).getBoundingClientRect();"
        "return [b.left + b.width / 2, b.top + b.height / 2]"
    )
    return found[0], found[1]


def ground_at(page: Page, plan: Plan, x: float, y: float) -> tuple[float, float]:
    """Grid figures of a place of the screen, from the map's own projection and pyproj."""
    lat, lon = page.run(
        "var m = rutwise.live.map, f = m.getContainer().getBoundingClientRect();"
        f"var p = m.containerPointToLatLng([{x} - f.left, {y} - f.top]); return [p.lat, p.lng]"
    )
    return Transformer.from_crs("EPSG:4326", plan.dem.crs, always_xy=True).transform(lon, lat)


def free_soil(page: Page) -> tuple[float, float]:
    """A place of the screen where a soil polygon lies on top."""
    found = page.run(
        "var f = document.querySelector('.folium-map').getBoundingClientRect();"
        "for (var x = f.left + 60; x < f.right - 60; x += 9)"
        "for (var y = f.top + 20; y < f.bottom - 20; y += 9) {"
        "var e = document.elementFromPoint(x, y);"
        "if (e && e.classList.contains('rw-soil-area')) return [x, y]; } return null"
    )
    assert found
    return found[0], found[1]


def test_a_tap_on_a_soil_polygon_tells_the_tapped_place(page: Page, plan: Plan) -> None:
    middle_told(page)
    x, y = free_soil(page)
    wanted = ground_at(page, plan, x, y)
    tap(page, x, y)
    page.wait("document.querySelector('.rw-pop')")
    assert np.hypot(*np.subtract(told(page, plan), wanted)) < 1.5
    assert page.console() == []


def test_a_tap_on_a_trail_name_tells_the_marked_place(page: Page, plan: Plan) -> None:
    middle_told(page)
    name = page.run("return document.querySelector('.rw-label:not(.rw-away) span').textContent")
    name = name.split()[0]
    tap(page, *middle_of(page, ".rw-label:not(.rw-away) span"))
    page.wait("!document.getElementById('rw-strip').hidden")
    assert page.text("#rw-readout").startswith(f"Trail {name} at ")
    chainage = page.run("return rutwise.live.strip.chainage")
    there = plan.trails.geometry[name].interpolate(chainage)
    assert np.hypot(*np.subtract(told(page, plan), (there.x, there.y))) < 1.5


def test_a_tap_on_a_crossing_tells_the_crossings_own_place(page: Page, plan: Plan) -> None:
    middle_told(page)
    tap(page, *middle_of(page, ".rw-crossing:not(.rw-away) span"))
    page.wait("document.querySelector('.rw-pop')")
    name = page.text(".rw-crossing:not(.rw-away) span")
    assert page.text("#rw-readout").startswith(f"Crossing {name} · ")
    assert plan.wet_ground is not None
    assert plan.wet_ground.crossings is not None
    there = plan.wet_ground.crossings.geometry[name].centroid
    assert np.hypot(*np.subtract(told(page, plan), (there.x, there.y))) < 1.5


def test_a_tap_on_a_trail_and_on_bare_ground_tell_their_places(page: Page, plan: Plan) -> None:
    settled(page)
    found = page.run(
        "var m = rutwise.live.map, t = rutwise.live.model.data.trails[1];"
        "var f = m.getContainer().getBoundingClientRect();"
        "return [30, 50, 70, 90, 20].map(c => { var p = m.latLngToContainerPoint("
        "rutwise.pointAt(t, c)); return [f.left + p.x, f.top + p.y, c]; }).find(p =>"
        "document.elementFromPoint(p[0], p[1]).classList.contains('rw-hit'))"
    )
    tap(page, *found[:2])
    there = plan.trails.geometry["T2"].interpolate(found[2])
    assert np.hypot(*np.subtract(told(page, plan), (there.x, there.y))) < 3
    page.run("document.getElementById('rw-strip-close').click()")
    settled(page)
    place = free_soil(page)
    page.run(
        "[...document.querySelectorAll('#rw-layers label')]"
        ".find(l => l.textContent === 'Soil classes').querySelector('input').click()"
    )
    wanted = ground_at(page, plan, *place)
    tap(page, *place)
    assert page.count(".rw-pop") == 0
    assert np.hypot(*np.subtract(told(page, plan), wanted)) < 1.5


def test_a_drag_is_no_tap(page: Page) -> None:
    middle_told(page)
    before = page.text("#rw-readout")
    x, y = free_soil(page)
    page.driver.execute_cdp_cmd(
        "Input.dispatchMouseEvent",
        {"type": "mousePressed", "x": x, "y": y, "button": "left", "clickCount": 1},
    )
    for step in (10, 20, 30):
        page.driver.execute_cdp_cmd(
            "Input.dispatchMouseEvent",
            {"type": "mouseMoved", "x": x + step, "y": y, "button": "left", "buttons": 1},
        )
    page.driver.execute_cdp_cmd(
        "Input.dispatchMouseEvent",
        {"type": "mouseReleased", "x": x + 30, "y": y, "button": "left", "clickCount": 1},
    )
    assert page.text("#rw-readout") == before


def test_ratings_on_slopes_are_told_for_the_plans_own_setup(page: Page, plan: Plan) -> None:
    assert rating_words(plan) in page.text("#rw-verdict")
    assert page.count("#rw-rating-list button") == 2
    page.run("document.querySelector('#rw-rating-list button').click()")
    assert page.text("#rw-strip-name") == "Trail T1"
    assert page.run("return rutwise.live.strip.chainage") == pytest.approx(33)
    assert f"{REAR} 40 m with balanced bogies" in page.text("#rw-strip-table")
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    words = f"Ratings on slopes: {OWN_ONLY}."
    assert words in page.text("#rw-verdict")
    assert rating_words(plan) not in page.text("#rw-verdict")
    assert f"Ratings on slopes{OWN_ONLY}" in page.text("#rw-strip-table")
    assert REAR not in page.text("#rw-strip-table")
    page.choose("setup", page.run("return rutwise.live.model.data.setup"))
    pivoting = "Metres with bogies that pivot freely are those of moist ground."
    assert pivoting not in page.text("#rw-verdict")
    page.choose("state", "wet")  # balanced bogies do not ask how wet the ground is
    assert f"{rating_words(plan)} {pivoting}" in page.text("#rw-verdict")
    page.choose("state", "frozen")  # not judged: no metres of another state are told for it
    assert "not judged" in page.text("#rw-verdict")
    assert "rating" not in page.text("#rw-verdict")
    assert REAR not in page.text("#rw-strip-table")


def test_steep_places_are_listed_and_stand_in_the_strips_table(page: Page, plan: Plan) -> None:
    grade = plan.stations["grade"]
    over = [t for t in ("T1", "T2", "T3") if grade[plan.stations["trail"] == t].abs().max() > 0.3]
    assert over
    listed = page.run(
        "return [...document.querySelectorAll('#rw-steep-list button')].map(b => b.textContent)"
    )
    assert sorted(words.split(":")[0] for words in listed) == over
    assert all("loaded; over 30 % (17°) on" in words for words in listed)
    page.run("document.querySelector('#rw-steep-list button').click()")
    trail = listed[0].split(":")[0]
    assert page.text("#rw-strip-name") == f"Trail {trail}"
    here = plan.stations[plan.stations["trail"] == trail]
    at = here["chainage_m"].loc[here["grade"].abs().idxmax()]
    assert page.run("return rutwise.live.strip.chainage") == pytest.approx(at, abs=0.1)
    assert "Steeper than slopes that rules name" in page.text("#rw-strip-table")


def uses(page: Page) -> list[str | None]:
    return page.run(
        "var m = rutwise.live.model;"
        "return m.data.trails.map((t, k) => (rutwise.useOf(m, k) || [null])[0])"
    )


def test_the_way_is_followed_for_every_setup(browser: Any, tmp_path: Path) -> None:
    """Own stations first, then those of other trails on the way, by the evaluation itself."""
    plan, path = tiny(tmp_path, 2)
    page = opened(browser, path, SIZES[0])
    ways, stations = ways_of(plan), plan.stations
    seen = set()
    ids = page.run("return rutwise.live.model.data.setups.map(s => s.id)")
    trails = page.run("return rutwise.live.model.data.trails.map(t => t.id)")
    for state in ("dry", "moist", "wet", "saturated"):
        page.choose("state", state)
        for k, setup in enumerate(ids):
            page.choose("setup", k)
            answer = plan.evaluations[state]
            short = answer.reserve[:, answer.column(setup)] < 0
            expected = []
            for trail in trails:
                on = (stations["trail"] == trail).to_numpy()
                way = np.zeros(len(stations), dtype=bool)
                for other, start, end in ways[trail]:
                    inside = stations["chainage_m"].between(start, end)
                    way |= ((stations["trail"] == other) & inside).to_numpy()
                expected.append(
                    "shut" if (on & short).any() else "way" if (way & short).any() else None
                )
            assert uses(page) == expected, (state, setup)
            seen |= set(expected)
    assert seen == {"shut", "way", None}


def test_what_is_computed_agrees_with_the_plans_own_table(browser: Any, tmp_path: Path) -> None:
    _, path = tiny(tmp_path, 1)
    page = opened(browser, path, SIZES[0])
    found = []
    for state in ("dry", "moist", "wet", "saturated"):
        page.choose("state", state)
        page.run("rutwise.live.model.data.useKnown = true")
        own = uses(page)
        page.run("rutwise.live.model.data.useKnown = false")
        assert uses(page) == own
        found += own
    assert "way" in found
    assert None in found


def test_a_shut_trail_is_drawn_faded_and_in_pieces(page: Page, plan: Plan) -> None:
    assert page.count("path.rw-shut-run, path.rw-shut-line") == 0
    runs = page.count("path.rw-run")
    page.choose("state", "saturated")  # the table shuts every trail there
    assert page.count("path.rw-shut-run") == page.count("path.rw-shut-line") > 0
    assert page.count("path.rw-run:not(.rw-shut-run)") == 0
    look = page.run(
        "var p = document.querySelector('path.rw-shut-run');"
        "return [p.getAttribute('stroke-opacity'), p.getAttribute('stroke-dasharray')]"
    )
    assert float(look[0]) < 0.7
    assert look[1] == "6 8"
    assert page.count("svg[aria-hidden] line[stroke-dasharray='6 8']") == 1  # in the legend
    page.run("document.getElementById('rw-own').click()")
    assert page.count("path.rw-run") == runs
    assert page.count("path.rw-shut-run") == 0


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("Emergency", "Meeting point for help: X1"),
        ("meeting", "Meeting point for help: X1"),
        ("help point", "Meeting point for help: X1"),
        ("t2 20", "T2-20, forces the choice"),
        ("T1/60", "T1-60, thin reserve"),
        ("x-2", "Crossing X2"),
        ("cross 2", "Crossing X2"),
    ],
)
def test_the_search_forgives(browser: Any, slope_map: Path, typed: str, told: str) -> None:
    page = opened(browser, slope_map, SIZES[0])
    page.run(
        f"document.getElementById('rw-find-text').value = {typed!r};"
        "document.querySelector('#rw-find button').click()"
    )
    assert page.text("#rw-found").startswith(f"Shown: {told}")
    if told.startswith("Meeting"):
        assert page.text("#rw-readout").startswith(f"{told} · ")


def test_a_phone_keeps_most_of_its_map_beside_a_trail(browser: Any, slope_map: Path) -> None:
    """More map than profile; what is left out comes with "All figures"."""
    page = opened(browser, slope_map, SIZES[1])
    page.run("rutwise.openTrail(rutwise.live.map, rutwise.live.model, rutwise.live.strip, 0)")
    high = page.run(
        "return ['.folium-map', '#rw-strip'].map(s => document.querySelector(s).clientHeight)"
    )
    assert high[0] >= 280
    assert high[1] <= 290
    shown = "return [...document.querySelectorAll('.rw-figure')].filter(e => e.offsetWidth).length"
    assert page.run(shown) == 1
    page.run("document.getElementById('rw-strip-all').click()")
    assert page.run(shown) > 5
    assert page.run("return document.getElementById('rw-strip-worst').offsetHeight") > 0
    assert page.serious_faults() == []
