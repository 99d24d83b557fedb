"""Circumferences and diameters of wheel tracks and dual tyres, as a tape shows them.

Common practice, no source: wheel tracks tight, outer dual smaller. Planning assumptions of this
program: the 5 mm (3/16 in) of two tapings, the shares of the duals, and the 5 % by which a tape
may differ from the machine file.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.setups import fit
from terrain.setups.fit_sheet import FitMeasurements, fit_sheet
from terrain.units import INCH_M
from tests.setups._machines import DUALS, FOUR, WHEEL_TRACKS


@pytest.mark.parametrize(
    ("inside_m", "outside_m", "seen", "ok"),
    [
        (4.10, 4.12, None, True),
        (4.115, 4.12, None, True),  # 5 mm, planning assumption
        (4.116, 4.12, None, None),
        (4.12, 4.12, None, None),
        (4.124, 4.12, None, None),
        (4.125, 4.12, None, False),
        (4.12, 4.12, True, True),  # what was seen goes first where the tape cannot tell
        (4.12, 4.12, False, False),
        (4.13, 4.12, None, False),
        (4.10, 4.12, False, False),
        (4.13, 4.12, True, False),
        (None, 4.12, True, True),
        (None, None, False, False),
        (None, None, None, None),
    ],
)
def test_wheel_track_tightness(inside_m, outside_m, seen, ok):
    finding = fit.wheel_track_tightness(inside_m, outside_m, sits_tight=seen)
    assert finding.ok is ok
    if not ok:
        assert "correct pressure" in finding.what_to_do
        close = is_close(inside_m, outside_m)
        assert ("error of two tapings, 5 mm (0.20 in)" in finding.what_to_do) is close


def is_close(one_m, other_m):
    return None not in (one_m, other_m) and abs(one_m - other_m) < 0.0049


def test_wheel_tracks_on_an_inch_tape():
    # 3/16 in, planning assumption
    def found(sixteenths):
        longer_m = sixteenths / 16 * INCH_M
        return fit.wheel_track_tightness(162 * INCH_M + longer_m, 162 * INCH_M, system="us").ok

    assert [found(n) for n in (-3, -2, 0, 2, 3)] == [True, None, None, None, False]


@pytest.mark.parametrize(
    ("inside_m", "outside_m", "seen", "ok", "words"),
    [
        # the tyre in the file is 1.312 m high: 4.1218 m around (own arithmetic)
        (4.10, 4.12, None, True, ()),
        (4.30, 4.32, None, True, ()),  # 4.8 % more than the file
        (4.31, 4.33, None, None, ("machine file right", "5 % more")),
        (3.92, 3.93, None, True, ()),  # 4.7 % less
        (3.89, 3.91, None, None, ("machine file right", "5 % less")),
        (1.31, 1.312, None, None, ("Is that a diameter?", "68 % less")),
        (1.33, 1.312, None, None, ("Is that a diameter?",)),
        (1.31, 1.312, True, None, ("Is that a diameter?",)),
        (1.31, 1.312, False, False, ("Loose", "Is that a diameter?")),
        (1.0, 4.12, None, None, ("in that unit?", "76 % less", "the tyre as taped")),
        (1.0, 4.12, True, None, ("76 % less",)),
        (4.60, 4.12, None, False, ("Loose", "12 % more")),
        (1.31, None, None, None, ("Is that a diameter?", "Tape the circumference of the tyre")),
        (None, 1.312, None, None, ("Is that a diameter?", "Tape the inside of the closed track")),
    ],
)
def test_a_tape_far_from_the_tyre_in_the_file_is_asked_about(inside_m, outside_m, seen, ok, words):
    finding = fit.wheel_track_tightness(inside_m, outside_m, diameter_m=1.312, sits_tight=seen)
    assert finding.ok is ok
    assert all(word in finding.what_to_do for word in words)
    assert ("planning assumption" in finding.what_to_do) is bool(words)
    assert "Nothing" in finding.what_to_do if ok else "Nothing" not in finding.what_to_do


@pytest.mark.parametrize(
    ("inside_m", "outside_m", "seen", "measured"),
    [
        (4.10, None, None, "track 4.100 m (161.42 in) inside, tyre not measured"),
        (None, 4.12, None, "tyre 4.120 m (162.20 in) around, track not measured"),
        (4.10, None, True, "track 4.100 m (161.42 in) inside, tyre not measured; sits tight"),
        (
            4.10,
            4.12,
            False,
            "track 20 mm (0.79 in) shorter than the tyre; tyre creeps in the track",
        ),
        (4.13, 4.12, None, "track 10 mm (0.39 in) longer than the tyre"),
        (4.12, 4.12, None, "track as long as the tyre"),
        (None, None, None, "not measured"),
    ],
)
def test_everything_that_was_taped_of_a_wheel_track_is_told(inside_m, outside_m, seen, measured):
    assert fit.wheel_track_tightness(inside_m, outside_m, sits_tight=seen).measured == measured


def test_one_length_alone_is_no_planning_assumption():
    assert fit.wheel_track_tightness(4.1, None, diameter_m=1.312).basis == fit.COMMON_PRACTICE


@pytest.mark.parametrize(
    ("inner_m", "outer_m", "ok"),
    [
        (1.5, 1.49, True),
        (1.5, 1.5, False),
        (1.5, 1.6, False),
        (1.312, 1.3119, False),  # a tape shows 1.312 m twice
        (1.83, 1.829, None),  # less apart than the error of two tapings: planning assumption
        (1.312, 1.3076, None),  # 1.308 m, 4 mm
        (1.312, 1.307, True),  # 5 mm
        (1.5, 1.38, True),  # 92 %, planning assumption of this program
        (1.5, 1.379, None),
        (1.5, 1.275, None),  # 85 %, planning assumption
        (1.5, 1.274, False),
        (1.83, 1.29, False),
        (None, 1.4, None),
        (1.5, None, None),
    ],
)
def test_dual_diameters(inner_m, outer_m, ok):
    finding = fit.dual_diameters(inner_m, outer_m)
    assert finding.ok is ok
    if outer_m is not None and inner_m is not None and outer_m < 0.9199 * inner_m:
        assert "planning assumption" in finding.what_to_do
        assert finding.basis == "planning assumption"


def test_duals_that_a_tape_cannot_tell_apart_are_measured_again():
    finding = fit.dual_diameters(1.83, 1.829)
    assert finding.words == "cannot tell"
    assert "5 mm (0.20 in)" in finding.what_to_do
    assert finding.basis == "planning assumption"


@pytest.mark.parametrize(
    ("inner_m", "outer_m", "ok", "words"),
    [
        # the inner tyre in the file is 1.312 m high
        (1.312, 1.29, True, ()),
        (1.37, 1.30, True, ()),  # 4.4 % more than the file
        (1.38, 1.30, None, ("machine file right", "5 % more")),
        (4.12, 4.05, None, ("Is that a circumference?", "inner tyre", "outer tyre", "not drive")),
        (4.05, 4.12, False, ("Do not drive", "Is that a circumference?")),
        (4.12, 1.29, None, ("Is that a circumference?",)),
        (1.312, 4.05, False, ("Do not drive", "Is that a circumference?", "outer tyre, 4.050 m")),
        (0.656, 0.60, None, ("50 % less", "in that unit")),
    ],
)
def test_duals_far_from_the_tyre_in_the_file_are_asked_about(inner_m, outer_m, ok, words):
    finding = fit.dual_diameters(inner_m, outer_m, file_m=1.312)
    assert finding.ok is ok
    assert all(word in finding.what_to_do for word in words)
    assert ("planning assumption" in finding.what_to_do) is bool(words)


def test_the_diameter_that_is_missing_is_named():
    assert fit.dual_diameters(1.5, None).measured == "outer not measured, inner 1.500 m (59.06 in)"
    assert fit.dual_diameters(None, None).measured == "not measured"
    unlisted = replace(DUALS, outer_diameter_m=None)
    for aid, inner_m, outer_m, said in (
        (DUALS, None, None, "not taped: figures of the files"),
        (DUALS, 1.31, None, "outer not taped: figure of the catalogue"),
        (DUALS, None, 1.25, "inner not taped: figure of the machine file"),
        (unlisted, None, None, "inner not taped: figure of the machine file"),
    ):
        taped = FitMeasurements(inner_diameter_m=inner_m, outer_diameter_m=outer_m)
        sheet = fit_sheet(FOUR, FOUR.rear, aid, taped)
        finding = next(one for one in sheet if one.check == "diameters of the dual tyres")
        assert finding.where == f"rear single axle, {said}"
    for aid in (DUALS, unlisted):
        taped = FitMeasurements(inner_diameter_m=1.31, outer_diameter_m=1.25)
        sheet = fit_sheet(FOUR, FOUR.rear, aid, taped)
        finding = next(one for one in sheet if one.check == "diameters of the dual tyres")
        assert finding.where == "rear single axle"


def test_the_sheet_holds_the_tape_against_the_machine_file():
    # TYRE is 1.312 m high
    for aid, taped in (
        (DUALS, FitMeasurements(inner_diameter_m=4.12, outer_diameter_m=4.05)),
        (WHEEL_TRACKS, FitMeasurements(track_inside_m=1.3, tyre_outside_m=1.312)),
    ):
        sheet = fit_sheet(FOUR, FOUR.rear, aid, taped)
        asked = [one for one in sheet if "Is that a" in one.what_to_do]
        assert [one.words for one in asked] == ["cannot tell"]


def test_a_lone_figure_is_told_in_the_units_it_was_typed_in():
    for aid, name, value_m, words in (
        (WHEEL_TRACKS, "tyre_outside_m", 162 * INCH_M, "tyre 162 in"),
        (
            replace(DUALS, outer_diameter_m=None),
            "inner_diameter_m",
            51.5 * INCH_M,
            "inner 51 1/2 in",
        ),
    ):
        sheet = fit_sheet(FOUR, FOUR.rear, aid, FitMeasurements(**{name: value_m}), {name: "us"})
        assert any(words in finding.measured for finding in sheet)


def test_dual_diameters_on_an_inch_tape():
    # a sixteenth is 1.6 mm: 51 5/8 in twice, though 0.7 mm apart; 3/16 in can be told apart
    assert fit.dual_diameters(51.625 * INCH_M, 51.6 * INCH_M, system="us").ok is False
    assert fit.dual_diameters(51.625 * INCH_M, 51.5625 * INCH_M, system="us").ok is None
    assert fit.dual_diameters(51.625 * INCH_M, 51.4375 * INCH_M, system="us").ok is True
