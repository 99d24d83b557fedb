"""Contacts that cannot be: geometry, and the lengths that published pressures imply."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.contact_checks import contact_issues
from terrain.decision.evaluation import evaluate
from terrain.decision.travel import what_is_missing
from terrain.inputs.aids import read_aids
from terrain.inputs.machines import read_machine
from terrain.models.settings import Settings
from tests.builders import (
    CHAINS,
    CLOSED_BAND,
    DUALS,
    OPEN_BAND,
    TYRE,
    WHEEL_TRACK,
    bogie,
    forwarder,
    skidder,
    stations,
)
from tests.decision.test_evaluation import BARE_SETUP, both

SAMPLE = Path(__file__).parents[2] / "sample_data"


def codes(aid, machine=None):
    return [(i.code, i.severity) for i in contact_issues(machine or forwarder(), [aid], "a.toml")]


@pytest.mark.parametrize(
    ("length_m", "code"),
    [
        # published: Uusitalo & Ala-Ilomäki 2013 imply the bogie spacing, 1.5 m, plus 0 to 0.25 m
        (1.75, None),
        (1.77, "CTC02"),
        # from memory: 1.25 radii more, 1.5 + 1.25 * 0.6562 = 2.320 m, the longest form in use
        (2.32, "CTC02"),
        (2.33, "CTC01"),
        (4.0, "CTC01"),
    ],
)
def test_a_band_lies_no_longer_than_its_bogie(length_m, code):
    made = codes(replace(OPEN_BAND, contact_length_m=length_m))
    severity = {"CTC01": "error", "CTC02": "warning"}.get(code)
    assert made == ([(code, severity)] * 2 if code else [])  # both bogies


@pytest.mark.parametrize(
    ("length_m", "code"),
    [(0.70, None), (0.88, None), (0.89, "CTC02"), (1.181, "CTC02"), (1.183, "CTC01")],
)
def test_a_wheel_track_lies_no_longer_than_a_flat_tyre(length_m, code):
    # own arithmetic: radius 0.6562 and 0.05 m of track: 0.7062 nominal, 0.883 asked about; pressed
    # down by the section height of 0.3195 m a chord of 2 sqrt(2 x 0.7062 x 0.3195 - 0.3195^2),
    # which is 1.182 m
    made = codes(replace(WHEEL_TRACK, contact_length_m=length_m), skidder())
    assert [found for found, _ in made] == ([code] * 2 if code else [])


def test_the_places_and_the_cure_are_named():
    (first, _) = contact_issues(forwarder(), [replace(CLOSED_BAND, contact_length_m=4)], "a.toml")
    assert first.where == "a.toml, aid closed-band.contact_length_m"
    assert "at most 2.32 m" in first.fix
    narrow = contact_issues(forwarder(), [replace(WHEEL_TRACK, width_m=0.3)], "a.toml")
    assert {(i.code, i.where) for i in narrow} == {("CTC02", "a.toml, aid wheel-track.width_m")}


def test_other_aids_and_other_tyres_are_left_alone():
    for aid in (CHAINS, DUALS):
        assert codes(replace(aid, contact_length_m=4.0)) == []
    other = replace(OPEN_BAND, contact_length_m=4.0, fits_tyres=("28L-26",))
    assert codes(other) == []
    assert codes(replace(OPEN_BAND, contact_length_m=4.0), skidder()) == []  # no bogie


def test_the_shipped_catalogue_is_silent_on_the_demonstration_machines():
    aids, _, _ = read_aids()
    for path in sorted((SAMPLE / "machines").glob("*.toml")):
        machine, _, _ = read_machine(path)
        assert contact_issues(machine, aids) == []


def test_without_a_chart_nothing_is_known_under_band_tracks():
    """Common practice, no source: bands need the charted pressure; a soft tyre earns nothing."""
    table = stations(cone_index_kpa=np.array([300.0, 900.0]))
    tyre = replace(TYRE, charted_inflation_kpa=None, inflation_kpa=150.0)
    machine = forwarder(groups=(bogie("front", tyre=tyre), bogie("rear", tyre=tyre)))
    items = [carried(setup, machine) for setup in (BARE_SETUP, both(CLOSED_BAND), both(CHAINS))]
    found = evaluate(table, items, Settings())[0]
    assert np.isfinite(found.reserve[:, [0, 2]]).all()
    assert np.isnan(found.reserve[:, 1]).all()
    assert np.isfinite(found.pressure_kpa).all()  # the nominal pressure asks for no inflation
    assert "charted pressure" in what_is_missing(table, items[1], Settings())
    charted = replace(tyre, charted_inflation_kpa=450.0)
    stiff = forwarder(groups=(bogie("front", tyre=charted), bogie("rear", tyre=charted)))
    set_high = replace(charted, inflation_kpa=450.0)
    high = forwarder(groups=(bogie("front", tyre=set_high), bogie("rear", tyre=set_high)))
    answers = [
        evaluate(table, [carried(both(CLOSED_BAND), m)], Settings())[0].reserve
        for m in (stiff, high)
    ]
    np.testing.assert_allclose(answers[0], answers[1])
