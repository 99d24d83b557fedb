"""The catalogues: every message there, translated, with the same places, and marked as drafts."""

from __future__ import annotations

import ast
from importlib import resources
from pathlib import Path
from string import Formatter

import pytest

from terrain import outputs
from terrain.decision.results import CAUSES
from terrain.models.soil import MOISTURE_STATES
from terrain.outputs.brief_content import DRAFT
from terrain.outputs.brief_words import cause_words
from terrain.outputs.catalogue import LANGUAGES, Catalogue, catalogue, messages, read_po
from terrain.outputs.wording import DEFERRAL, INVENTED
from terrain.sources import STATUSES, data_table

OTHERS = [language for language in LANGUAGES if language != "en"]


def po(name: str) -> str:
    return resources.files("terrain.data").joinpath("locale", name).read_text(encoding="utf-8")


def used_messages() -> set[str]:
    """First arguments of every call of ``say`` and ``mark`` in the modules of the brief."""
    found = set()
    for path in Path(str(resources.files(outputs))).glob("brief*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if name in ("say", "mark") and isinstance(node.args[0], ast.Constant):
                found.add(node.args[0].value)
    return found


def places(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def test_the_list_of_messages_is_what_the_brief_says() -> None:
    assert len(messages()) > 100
    assert set(messages()) == used_messages()


@pytest.mark.parametrize("language", OTHERS)
def test_every_message_is_translated_with_the_same_places(language: str) -> None:
    header, translations = read_po(po(f"{language}.po"))
    assert f"Language: {language}" in header
    assert list(translations) == list(messages())
    assert [message for message in messages() if not translations[message].strip()] == []
    wrong = [m for m in messages() if places(m) != places(translations[m])]
    assert wrong == []
    same = [m for m in messages() if translations[m] == m and places(m) != {"line"}]
    assert same == []


@pytest.mark.parametrize("language", OTHERS)
def test_drafts_say_so_in_file_and_in_both_languages(language: str) -> None:
    assert po(f"{language}.po").startswith("# UNREVIEWED DRAFT")
    assert catalogue(language).draft
    assert catalogue(language).say(DRAFT) != DRAFT


def test_english_is_the_source_and_no_draft() -> None:
    assert not catalogue("en").draft
    assert catalogue("en").say("Call: {line}", line="112") == "Call: 112"


def test_words_of_the_plan_are_translated() -> None:
    words = {
        *(row["name"] for row in data_table("aids")["aid"]),
        *MOISTURE_STATES,
        *(cause for code, cause in CAUSES.items() if code),
        *STATUSES,
        DEFERRAL,
        INVENTED,
    }
    assert words - set(messages()) == set()


def test_causes_are_translated_part_by_part() -> None:
    german = catalogue("de")
    assert cause_words(german, "climbing loaded") == "beladen bergauf"
    cause = "climbing loaded, on soft ground, loaded and empty alike"
    assert cause_words(german, cause) == "beladen bergauf, auf weichem Boden, beladen wie leer"
    assert cause_words(german, "something new") == "something new"
    assert cause_words(catalogue("en"), cause) == cause


def test_values_are_never_read_as_a_pattern() -> None:
    said = catalogue("en").say("Meeting point: {line}", line="{mass} {0} %s")
    assert said == "Meeting point: {mass} {0} %s"


def test_an_unlisted_message_is_a_slip_of_the_program() -> None:
    with pytest.raises(KeyError, match="not a listed message"):
        catalogue("sv").say("No such sentence.")


def test_an_unknown_language_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="en, sv, fi, de, fr"):
        catalogue("xx")


def test_a_word_without_translation_stays() -> None:
    assert catalogue("sv").term("own aid of the planner") == "own aid of the planner"
    assert Catalogue("sv", {"Carry": ""}).say("Carry") == "Carry"


def test_reading_joins_lines_and_skips_unsure_translations() -> None:
    text = (
        '# note\nmsgid ""\nmsgstr ""\n"Language: xx\\n"\n"X-Review: 2026, a forester\\n"\n\n'
        '#: place\nmsgid "one "\n"two"\nmsgstr "eins "\n"\\"zwei\\""\n'
        '#, fuzzy\nmsgid "three"\nmsgstr "drei?"\n#~ msgid "old"\n#~ msgstr "alt"\n'
    )
    header, found = read_po(text)
    assert header == "Language: xx\nX-Review: 2026, a forester\n"
    assert found == {"one two": 'eins "zwei"', "three": ""}


@pytest.mark.parametrize(
    "text",
    [
        'msgctxt "x"\nmsgid "a"\nmsgstr "b"\n',
        'msgid "a"\nmsgid_plural "b"\n',
        'msgid "a\nmsgstr "b"\n',
        "msgid a\n",
        'msgstr "b"\n',
        'msgid "a"\nmsgstr "b"\n\nmsgid "a"\nmsgstr "c"\n',
    ],
)
def test_a_catalogue_that_is_not_understood_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="catalogue"):
        read_po(text)
