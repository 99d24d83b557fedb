"""The map in a real browser: states without an answer, other choices, finding, US units, paper."""

from __future__ import annotations

import base64
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.decision.results import Plan
from terrain.outputs.map_classes import NOT_JUDGED
from terrain.outputs.map_trails import stretch_table, trail_use
from terrain.outputs.shown_units import METRIC, US
from tests.browser.conftest import Page
from tests.outputs.map_plan import with_water

pytestmark = pytest.mark.browser

SIZES = [(1280, 860), (360, 740)]
COLOURS = "[...document.querySelectorAll('path.rw-run')].map(p => p.getAttribute('stroke'))"


def opened(browser: Any, path: Path, size: tuple[int, int]) -> Page:
    page = Page(browser, path, *size)
    page.wait("window.rutwise && rutwise.live && document.querySelector('.rw-run')")
    return page


@pytest.fixture(params=SIZES, ids=["wide", "narrow"])
def page(request: pytest.FixtureRequest, browser: Any, water_map: Path) -> Page:
    return opened(browser, water_map, request.param)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_water()


def find(page: Page, name: str) -> str:
    page.driver.execute_script(
        "document.getElementById('rw-find-text').value = arguments[0];"
        "document.querySelector('#rw-find button').click()",
        name,
    )
    return page.text("#rw-found")


def test_a_state_without_an_answer_shows_no_figure_of_it(page: Page) -> None:
    page.choose("state", "frozen")
    assert set(page.run(f"return {COLOURS}")) == {NOT_JUDGED.colour}
    assert "not judged" in page.text("#rw-verdict")
    assert page.run("return document.getElementById('rw-shut').hidden")
    find(page, "T2")
    said = page.text("#rw-strip-here") + page.text("#rw-strip-table")
    assert "not judged in this state" in said
    assert "kPa" not in said
    assert "Smallest reserve" not in said + page.text("#rw-strip-worst")
    assert "Grade" in said  # the ground itself is the same in every state
    assert page.count("#rw-profile .rw-bar-reserve") == 0
    assert page.count("#rw-profile .rw-bar-grade") > 0
    assert "ground frozen" in page.text("#rw-strip-choice")
    page.choose("view", 1)
    assert NOT_JUDGED.colour not in page.run(f"return {COLOURS}")
    page.choose("view", 2)
    page.run("document.getElementById('rw-own').click()")
    assert NOT_JUDGED.colour not in page.run(f"return {COLOURS}")
    assert page.console() == []


def test_stretches_of_another_choice_fade_and_say_whose_they_are(page: Page) -> None:
    look = "return getComputedStyle(document.querySelector('.rw-weak:not(.rw-away) span')).opacity"
    assert float(page.run(look)) == 1
    assert page.run("return document.getElementById('rw-short-part').hidden")
    page.choose("state", "saturated")
    assert float(page.run(look)) < 0.8
    assert "plan's own setup in moist ground" in page.text("#rw-weak-note")
    assert all(
        "of the plan's own setup" in words
        for words in page.run(
            "return [...document.querySelectorAll('.rw-weak')]"
            ".map(e => e.getAttribute('aria-label'))"
        )
    )
    find(page, "T1-20")
    assert "of the plan's own setup in moist ground" in page.text("#rw-strip-stretch")
    assert "not the plan's own choice" in page.text("#rw-strip-choice")


def test_what_is_short_as_chosen_is_listed(page: Page, plan: Plan) -> None:
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    short = plan.evaluation.reserve[:, plan.evaluation.column("bare")] < 0
    trail = plan.stations["trail"].to_numpy()
    starts = short & ~np.r_[False, short[:-1] & (trail[1:] == trail[:-1])]
    listed = page.run(
        "return [...document.querySelectorAll('#rw-short-list button')].map(b => b.textContent)"
    )
    assert len(listed) == starts.sum()
    page.run("document.querySelector('#rw-short-list button').click()")
    told = re.search(r"smallest reserve (.*) at", listed[0])
    assert told
    assert f"Reserve {told.group(1)}" in page.text("#rw-strip-here")


def test_shut_trails_are_told_in_panel_on_the_map_and_when_tapped(page: Page, plan: Plan) -> None:
    assert page.run("return document.getElementById('rw-shut').hidden")
    page.choose("state", "saturated")
    use = trail_use(plan)
    for trail in plan.trails.index:
        kind, words = use[trail]["saturated"]
        before = {"shut": "Shut: ", "way": "Shut on the way to the landing: "}[kind]
        assert re.search(re.escape(before) + r"[^.]*" + trail, page.text("#rw-shut"))
        find(page, trail)
        assert page.text("#rw-strip-use") == words
    names = page.run(
        "return [...document.querySelectorAll('.rw-label span')].map(e => e.textContent)"
    )
    assert set(names) == {f"{trail} \N{MULTIPLICATION SIGN}" for trail in plan.trails.index}
    page.choose("state", "wet")
    assert page.text("#rw-shut").startswith("Not known whether it can be used: T1, T2, T3.")


def test_a_found_trail_opens_at_its_worst_metre_and_says_it(page: Page, plan: Plan) -> None:
    for trail in plan.trails.index:
        here = (plan.stations["trail"] == trail).to_numpy()
        grade = plan.stations["grade"].to_numpy()[here]
        at = plan.stations["chainage_m"].to_numpy()[here]
        worst = int(np.nanargmax(np.abs(grade)))
        way = "up" if grade[worst] > 0 else "down"
        words = f"steepest {way} {METRIC.slope(abs(grade[worst]))} at {METRIC.length(at[worst])}"
        assert find(page, trail) == f"Shown: {trail}, at its {words}."
        assert page.run("return rutwise.live.strip.chainage") == pytest.approx(at[worst], abs=0.1)
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    reserve = plan.evaluation.reserve[:, plan.evaluation.column("bare")]
    here = (plan.stations["trail"] == "T2").to_numpy()
    least = float(np.nanmin(reserve[here]))
    assert least < 0
    assert f"at its smallest reserve {METRIC.slope(least)} at" in find(page, "t2")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("x2", "Crossing X2"),
        ("landing t3", "Landing Landing T3"),
        ("s2", "Soil S2"),
        ("help", "Meeting point for help: X1"),
        ("water", "Water without a crossing: T1, 110 to 116 m"),
    ],
)
def test_other_things_are_found_and_say_their_figures(page: Page, typed: str, told: str) -> None:
    find(page, "T1")
    assert find(page, typed).startswith(f"Shown: {told}.")
    page.wait(f"[...document.querySelectorAll('.rw-pop h3')].some(e => e.textContent === {told!r})")
    assert page.console() == []


def test_a_thing_of_a_hidden_layer_is_shown(page: Page) -> None:
    page.run(
        "[...document.querySelectorAll('#rw-layers label')]"
        ".find(l => l.textContent === 'Crossings').querySelector('input').click()"
    )
    assert page.count(".rw-crossing") == 0
    find(page, "X2")
    assert page.count(".rw-crossing") == 2


def test_signs_of_water_and_places_carry_their_names(page: Page) -> None:
    def texts(kind: str) -> list[str]:
        return page.run(
            f"return [...document.querySelectorAll('.rw-{kind} span')].map(e => e.textContent)"
        )

    assert texts("crossing") == ["X1", "X2"]
    assert texts("landing") == ["Landing T3"]
    assert page.count(".rw-water:not(.rw-away)") == 2


def test_us_units_are_those_of_the_report(browser: Any, us_map: Path, plan: Plan) -> None:
    page = opened(browser, us_map, (1280, 860))
    lengths = [0.0, 0.1, 0.2, 12.4, 1234.0, 1234567.0]
    found = page.driver.execute_script(
        "return arguments[0].map(v => rutwise.lengthWords(v))", lengths
    )
    assert found == [US.length(value) for value in lengths]
    k = plan.evaluation.column(plan.ranking.shown)
    for row in np.flatnonzero((plan.stations["trail"] == "T2").to_numpy())[::7]:
        station = plan.stations.iloc[row]
        page.run(
            "var at = rutwise.live.model.data.trails.findIndex(t => t.id === 'T2');"
            f"rutwise.live.strip.show(at, {station['chainage_m']})"
        )
        text = page.text("#rw-strip-here")
        assert f"At {US.length(station['chainage_m'])}" in text
        assert US.pressure(plan.evaluation.pressure_kpa[row, k]) in text
        assert f"Height {US.length(station['elevation_m'])}" in text
        assert f"Grade {US.slope(abs(station['grade']))}" in text
    page.run("document.getElementById('rw-strip-all').click();")
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    # the readout is left out: the grid itself is metric
    page.run("document.getElementById('rw-readout').textContent = ''")
    seen = page.run("return document.body.innerText")
    assert "Units: feet, pounds" in seen
    both = page.run(
        "return [...document.querySelectorAll('.leaflet-control-scale-line')]"
        ".map(e => e.textContent).join()"
    )
    left = re.findall(r".{0,30}\d (?:m|kPa)\b(?! \().{0,20}", seen)
    assert left == [both.split(",")[0]]  # the metric half of the scale bar
    assert re.fullmatch(r"\d+ m,\d+ ft", both)
    page.run("document.getElementById('rw-middle').click()")
    assert " m (EPSG:" in page.text("#rw-readout")  # the grid itself is metric
    assert page.console() == []


def test_the_paper_has_every_stretch_and_no_pop_up(
    browser: Any, water_map: Path, plan: Plan
) -> None:
    from pypdf import PdfReader

    page = opened(browser, water_map, (1280, 860))
    assert page.run("return document.querySelector('.rw-paper').getClientRects().length") == 0
    find(page, "X2")
    page.choose("state", "saturated")
    made = browser.execute_cdp_cmd(
        "Page.printToPDF", {"printBackground": True, "paperWidth": 8.27, "paperHeight": 11.69}
    )
    document = PdfReader(io.BytesIO(base64.b64decode(made["data"])))
    text = " ".join(" ".join(sheet.extract_text() for sheet in document.pages).split())
    for row in stretch_table(plan):
        assert f"{row[0]} {row[1]} {row[2]}" in text
    assert "Short of traction as chosen" in text
    assert "Before loading it" not in text
    assert len(document.pages) <= 4


def test_short_and_fine_part_in_grey(page: Page) -> None:
    """Ticks lie under the short runs and nowhere else."""
    assert page.count("path.rw-ticks") == 0
    bare = page.run("return rutwise.live.model.data.setups.findIndex(s => s.id === 'bare')")
    page.choose("setup", bare)
    short = page.run(f"return {COLOURS}.filter(c => c === '#d55e00').length")
    assert page.count("path.rw-ticks") == short > 0


@pytest.mark.parametrize("state", ["frozen", "saturated"])
def test_other_states_have_no_serious_fault(page: Page, state: str) -> None:
    page.choose("state", state)
    find(page, "T2")
    page.run("document.getElementById('rw-strip-all').click(); rutwise.fold(false);")
    page.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.serious_faults() == []
