"""The printed report: pages, fonts, repeated heads, hostile names, the same bytes."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from terrain.decision.results import Plan
from terrain.outputs.report_pdf import breakable, report_pdf, typeset
from terrain.outputs.shown_units import US
from terrain.outputs.wording import DEFERRAL, INVENTED, SIGN_OFF
from tests.outputs.synthetic import IMAGE, LONG, QUOTES, RIGHT_TO_LEFT, SCRIPT, decided, make_plan


def words(text: str) -> str:
    """Text without blanks, so that the breaking of lines does not matter."""
    return "".join(text.replace("\u200b", "").split())


def pages_of(made: bytes) -> list[str]:
    return [words(page.extract_text()) for page in PdfReader(io.BytesIO(made)).pages]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return decided(make_plan())


@pytest.fixture(scope="module")
def made(plan: Plan) -> bytes:
    return report_pdf(plan)


@pytest.fixture(scope="module")
def pages(made: bytes) -> list[str]:
    return pages_of(made)


def test_the_decision_is_one_page_and_answers_the_questions(pages: list[str], plan: Plan) -> None:
    for asked in ("Where", "Why", "ease", "When", "How sure", "Measure next"):
        assert words(asked) in pages[0]
    assert words(plan.ranking.headline) in pages[0]
    assert words("A candidate, not approved:") in pages[0]
    assert words(plan.doubt.sentence) in pages[0]
    assert words("1 Basic facts") not in pages[0]
    assert pages[1].index("Contents") < pages[1].index(words("Unladen mass"))


def test_every_page_defers_and_is_named_and_numbered(pages: list[str], plan: Plan) -> None:
    for number, page in enumerate(pages, start=1):
        assert words(DEFERRAL) in page
        assert words(INVENTED) in page
        assert words(f"Rutwise report: {plan.name}") in page
        assert f"{number}/{len(pages)}" in page


def test_all_parts_are_there(pages: list[str], plan: Plan) -> None:
    text = "".join(pages)
    for part in (
        "Setups compared", "Stretches that decide", "What would ease them", "Order of work",
        "What a lighter setup would cost", "How far the weights decide", "How sure",
        "Machines and payloads compared", "When: setups by the state of the ground",
        "Second opinions", "Excluded setups", "What was not assessed", "Sign-off", "Sources",
        "Every figure and its standing",
    ):  # fmt: skip
        assert words(part) in text, part
    for what, entry in SIGN_OFF:
        assert words(what) in text
        assert words(entry) in text
    for row in plan.statuses:
        assert words(row.status) in text


def test_every_font_is_embedded(made: bytes) -> None:
    seen = 0
    for page in PdfReader(io.BytesIO(made)).pages:
        for font in page["/Resources"].get_object().get("/Font", {}).values():
            below = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = below["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
            seen += 1
    assert seen


def test_the_same_plan_gives_the_same_bytes(made: bytes) -> None:
    assert report_pdf(decided(make_plan())) == made


def test_paper_follows_the_units_unless_it_is_named(plan: Plan, made: bytes) -> None:
    def size(sheet: bytes) -> tuple[int, int]:
        box = PdfReader(io.BytesIO(sheet)).pages[0].mediabox
        return round(box.width), round(box.height)

    assert size(made) == (595, 842)
    letter = report_pdf(plan, US)
    assert size(letter) == (612, 792)
    assert "ft" in pages_of(letter)[0]
    assert size(report_pdf(plan, US, "a4")) == (595, 842)


def test_heads_are_repeated_where_a_table_breaks() -> None:

    from terrain.outputs.document import Table, as_records, numbers, row, texts
    from terrain.outputs.page_parts import template_text

    rows = tuple(row(f"line {k}", str(k), note="below" if k % 2 else "") for k in range(120))
    table = Table((*texts("Name of it"), *numbers("Figure")), rows)
    record = {
        "title": "t", "running": "r", "contents": "c", "deferral": "d", "invented": "",
        "paper": "a4", "entries": 1, "blocks": as_records([table]),
    }  # fmt: skip
    pages = pages_of(typeset(template_text("report.typ"), {"report": record}))
    assert len(pages) >= 3
    assert all("Nameofit" in page for page in pages)
    assert sum(page.count("below") for page in pages) == 60
    for page in pages:  # a row and the line under it stay together
        body = page.split("Figure", 1)[1]
        assert not body.startswith("below")


def test_hostile_names_are_shown_as_text() -> None:
    made = report_pdf(decided(make_plan((SCRIPT, IMAGE, QUOTES), block=LONG)))
    pages = pages_of(made)
    for name in (SCRIPT, IMAGE, QUOTES, LONG):
        assert words(name) in "".join(pages), name
    assert words("1 Basic facts") not in pages[0]
    for page in PdfReader(io.BytesIO(made)).pages:
        links = [item.get_object() for item in page.get("/Annots", [])]
        assert all("/URI" not in str(link.get("/A", "")) for link in links)


def test_a_name_in_another_direction_keeps_its_signs_and_turns_nothing_else() -> None:
    pages = pages_of(report_pdf(make_plan((RIGHT_TO_LEFT, "T2", "T3"), block=RIGHT_TO_LEFT)))
    hebrew = {sign for sign in RIGHT_TO_LEFT if "\u0590" < sign < "\u05ff"}
    assert hebrew <= set("".join(pages))
    assert words("Traction aids for") in pages[0]


def test_names_that_look_like_markup_of_the_typesetter_stay_text() -> None:
    name = '#panic("no") *b* _i_ $x$ @ref <label> [link](x) `raw` \\ // c'
    made = report_pdf(make_plan((name, "T2", "T3"), block=name))
    assert words(name) in "".join(pages_of(made))


def test_long_words_get_room_to_break_and_drawings_do_not() -> None:
    made = breakable({"svg": "L" * 100, "cells": ["L" * 50, "short"]})
    assert made["svg"] == "L" * 100
    assert made["cells"][0].count("\u200b") == 2
    assert made["cells"][0].replace("\u200b", "") == "L" * 50
    assert made["cells"][1] == "short"
