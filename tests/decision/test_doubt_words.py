"""The doubt in words: grammar, where to measure next, and the candidate that seldom does."""

import numpy as np
import pandas as pd
import pytest

from terrain.decision.doubt_results import Doubt
from terrain.decision.doubt_sources import no_sources
from terrain.decision.doubt_words import (
    SetupWords,
    chance_words,
    doubt_sentence,
    measure_next_sentence,
)

NAMES = {"heavy": "closed band tracks", "light": "wheel chains", "bare": "bare wheels"}


def sources(*rows):
    """Rows of polygon, share and settled; one without a polygon is the load."""
    table = pd.DataFrame(rows, columns=["polygon", "share", "settled"])
    named = [f"soil strength of polygon {p}" if p else "mass of the load" for p in table["polygon"]]
    return table.assign(source=named, kind="")


def words(heavy=0.993, light=0.5, found=None, draws=300):
    return SetupWords(
        NAMES, {"heavy": heavy, "light": light, "bare": 0.0}, found or {}, draws, 326.0
    )


def sentence(first, none, trails=(), draws=300):
    leaders = pd.DataFrame({"setup": ["heavy", "none"], "chance": [first / draws, none / draws]})
    table = pd.DataFrame(trails, columns=["trail", "chance", "alone"]).assign(setup="heavy")
    return doubt_sentence(words(), "heavy", None, ["heavy"], leaders, table)


@pytest.mark.parametrize(("number", "word"), [(1, "1 draw"), (2, "2 draws"), (299, "299 draws")])
def test_one_draw_is_no_draws(number, word):
    told = sentence(number, number)
    assert f"In {word} no usual setup meets the need." in told
    assert f"It is the first choice in {word}." in told


def test_trails_with_a_doubtful_way_are_told_apart_from_doubtful_trails():
    rows = [("T1", 1.0, 1.0), ("T2", 0.03, 0.03), ("T3", 0.03, 0.99), ("T4", 0.6, 0.7)]
    told = sentence(281, 2, [*rows, ("T5", np.nan, 1.0)])
    assert "the way to the landing included: T2 (3 %), T4 (60 %)." in told
    assert "Sure by themselves, but not their way to the landing: T3 (3 %)." in told
    assert "T1" not in told
    assert "T5" not in told
    alone = sentence(281, 2, [rows[2]])
    assert "With them counted, sure by themselves, but not their way" in alone


def test_the_shown_setup_is_asked_about_before_the_lighter_one():
    found = {
        "heavy": sources(("", 0.4, np.nan), ("P1", 0.3, 0.2), ("P2", 0.3, 0.31)),
        "light": sources(("P3", 0.9, 0.4), ("P1", 0.1, 0.05)),
    }
    told = measure_next_sentence(words(heavy=0.9, found=found), "heavy", "light", 3)
    shown, lighter = told.split(" Whether ")
    assert shown.startswith("Whether closed band tracks would do: 3 more cone readings")
    assert "in polygon P2" in shown
    assert "about 30 % of the doubt" in shown
    assert lighter.startswith("wheel chains would do")
    assert "in polygon P3" in lighter
    # nearly sure: only the lighter one is a question
    sure = measure_next_sentence(words(heavy=0.99, found=found), "heavy", "light", 3)
    assert sure == f"Whether {lighter}"


def test_a_shown_setup_that_is_the_lightest_one_is_asked_about_once():
    found = {"light": sources(("P3", 0.9, 0.4))}
    told = measure_next_sentence(words(found=found), "light", "light", 3)
    assert told.count("wheel chains") == 1


def test_a_doubt_of_many_polygons_names_the_one_that_the_sentence_before_names():
    found = {"light": sources(("P6", 0.36, 0.06), ("P1", 0.3, 0.07), ("", 0.34, np.nan))}
    made = words(found=found)
    assert "the largest part of the doubt (36 %) is the soil strength of polygon P6" in (
        made.how_often("light")
    )
    told = measure_next_sentence(made, "heavy", "light", 3)
    assert "not settled in one soil polygon: even in P6, with the largest part" in told
    assert "less than 10 %" in told
    assert "no question" not in told
    one = {"light": sources(("P6", 0.36, 0.06), ("", 0.64, np.nan))}
    assert "P6, the only one," in measure_next_sentence(words(found=one), "heavy", "light", 3)


def test_too_few_answers_that_differ_are_said_and_a_hopeless_setup_is_left_out():
    told = measure_next_sentence(words(heavy=0.02), "heavy", None, 3)
    assert told.startswith("Whether closed band tracks would do changes in too few of the draws")
    for chance in (0.0, 0.995, 1.0, np.nan):
        assert measure_next_sentence(words(heavy=chance), "heavy", None, 3) == ""
    load = {"heavy": sources(("", 1.0, np.nan))}
    assert measure_next_sentence(words(heavy=0.6, found=load), "heavy", None, 3) == ""


def doubt(chances, state="moist", usual=("bare", "light", "heavy")):
    """Chances in the chosen state; in wet ground all are 1."""
    moist = pd.DataFrame({"setup": list(chances), "chance": list(chances.values())})
    block = pd.concat([moist.assign(chance=1.0, state="wet"), moist.assign(state="moist")])
    leaders = pd.DataFrame({"setup": ["none", *usual], "chance": 0.25})
    return Doubt(300, 1, block, pd.DataFrame(), no_sources(), leaders, "", "", (), state)


def test_a_candidate_that_seldom_does_is_told_with_the_surest():
    chances = {"bare": 8 / 300, "light": 0.5, "heavy": 278 / 300, "odd": 1.0}
    told = chance_words(doubt(chances), "bare", NAMES)
    assert told == (
        "In only 8 of 300 draws does the candidate meet the need; surest of the usual setups: "
        "closed band tracks (278 of 300)."  # "odd" is no setup of usual practice
    )
    assert chance_words(doubt(chances | {"bare": 0.0}), "bare", NAMES).startswith("In none of 300")
    blind = chance_words(doubt({"bare": np.nan, "light": 0.1, "heavy": 0.2}), "light", NAMES)
    assert blind.endswith("closed band tracks (60 of 300).")
    last = chance_words(doubt({"bare": 0.1, "light": 0.1, "heavy": 0.0}), "bare", NAMES)
    assert last == (
        "In only 30 of 300 draws does the candidate meet the need, and no usual setup does "
        "so in more."
    )


def test_a_candidate_that_does_as_often_as_not_gets_no_words():
    chances = {"bare": 0.5, "light": 0.499, "heavy": np.nan}
    assert chance_words(doubt(chances), "bare", NAMES) == ""
    assert chance_words(doubt(chances), "light", NAMES) != ""
    assert chance_words(doubt(chances), "heavy", NAMES) == ""
    assert chance_words(doubt(chances), None, NAMES) == ""
    assert chance_words(doubt(chances, state=""), "light", NAMES) == ""
