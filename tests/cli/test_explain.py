"""What ``rutwise explain`` tells of words, aids and codes."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

import cli
import terrain
from cli.topics import all_topics, find_topics
from terrain.outputs.wording import DEFINITIONS
from terrain.sources import data_table
from tests.cli.run import rutwise


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("stretch", "Stretch"),
        ("stretches", "Stretch"),
        ("remedy", "Remedy"),
        ("remedies", "Remedy"),
        ("season", "Season"),
        ("doubt", "Doubt"),
        ("reserve", "Traction reserve"),
        ("Rut class", "Rut class"),
    ],
)
def test_words_of_the_outputs_come_first(word, name):
    first = find_topics(word)[0]
    assert (first.kind, first.name, first.title) == ("word", name, DEFINITIONS[name])


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("band track", "band track"),
        ("Band tracks", "band track"),
        ("wheel chains", "chains"),
        ("dual tyres", "dual tyres"),
        ("open traction band tracks", "band track"),
    ],
)
def test_an_aid_is_told_whole(word, name):
    first = find_topics(word)[0]
    assert (first.kind, first.name) == ("aid", name)


def test_effects_are_words_with_unit_and_standing():
    (band,) = find_topics("band track")
    masses = [row["mass_kg"] for row in data_table("aids")["aid"] if row["kind"] == "band track"]
    words = f"more, {min(masses):g} to {max(masses):g} kg on one axle group"
    assert band.facts["mass"].startswith(words)
    assert "planning assumption" in band.facts["mass"]
    assert band.facts["motion resistance and fuel"] == "more, no figure was read, published"
    assert band.facts["rut depth after ten passes"] == "less, 0.55 to 0.68 factor, published"
    chains = find_topics("chains")[0].facts
    assert chains["contact area"] == "no change, common practice, no source"
    assert chains["grip on soil"].startswith("more, 1 to 1.15, likely 1.05 (factor on the gross")
    for topic in all_topics():
        if topic.kind == "effect":
            assert topic.facts["figures"] != "none was read"
            assert topic.title.split(",")[0] in ("more", "less", "no change")


def test_what_else_holds_the_word_is_named():
    told = find_topics("reserve")[0].facts["see also"]
    assert "trails.worst_reserve" in told
    assert " more" in told


def test_a_search_without_a_word_or_an_aid_is_as_before():
    assert {topic.kind for topic in find_topics("cross_slope")} == {"column"}
    assert len(find_topics("harvester")) > 1


def test_every_relation_tells_equation_source_validity_and_a_check():
    told = {topic.name: topic.facts for topic in all_topics() if topic.kind == "relation"}
    for name, facts in told.items():
        assert facts["equation"], name
        assert facts["status"], name
        assert facts["where"], name
        assert facts["valid"], name
        assert " -> " in facts["check"] or facts["check"].startswith("by a test, tests/"), name
    # own arithmetic: 0.0008 + 0.001 (0.365 + 170 / 400) 50 = 0.0403
    assert told["tyre_deflection"]["check"] == (
        "load 50 kN, inflation 400 kPa -> deflection 0.0403 m "
        "(own arithmetic: 0.0008 + 0.001 (0.365 + 0.425) 50)"
    )
    assert told["wismer_luth_number"]["check"] == (
        "cone index 800 kPa, width 0.45 m, diameter 1.4 m, load 12 kN -> number 42 "
        "(published: wismer_luth_1973, worked example of a teaching text; 504 / 12)"
    )
    assert "crane (column ahead of rear 2 m, reach 10 m" in told["swung_out"]["check"]
    assert "fuel 0.503979 L/kWh" in told["specific_fuel"]["check"]
    assert "high 9.33333 L (" in told["driving_fuel"]["check"]
    assert "[yes, yes, no, no]" in told["class_in_state"]["check"]
    assert "[1000, 400, 250, 100, unknown] kPa" in told["class_cone_index"]["check 2"]


def test_the_command_prints_the_check_and_what_was_not_read():
    told = rutwise("explain", "tyre_deflection")
    assert told.returncode == 0
    assert "  valid: no range was read\n" in told.stdout
    assert "  check: load 50 kN, inflation 400 kPa -> deflection 0.0403 m" in told.stdout


def test_every_issue_code_is_explained():
    explained = {topic.name for topic in all_topics() if topic.kind == "issue code"}
    for package in (terrain, cli):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            codes = getattr(importlib.import_module(found.name), "ISSUE_CODES", {})
            assert set(codes) <= explained, found.name


def test_the_command_prints_it():
    told = rutwise("explain", "band track")
    assert told.returncode == 0
    assert "mass: more, " in told.stdout
    assert "{" not in told.stdout
