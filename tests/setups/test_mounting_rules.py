"""Each mounting rule where it speaks and where it must keep silent.

Source of every rule: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.models.aids import BARE, Mount, Setup
from terrain.setups.rulebook import ALL_RULES, COMMON_PRACTICE, Standing, judge, rule
from tests.setups._machines import (
    CHAINS,
    CLOSED_BAND,
    DUALS,
    EIGHT,
    FOUR,
    LAYOUTS,
    OPEN_BAND,
    OTHER_CHAINS,
    SIX_BOGIE_FRONT,
    SIX_BOGIE_REAR,
    TYRE,
    WHEEL_TRACKS,
    group,
    machine,
)

ON = Mount.both_sides


def check(code, machine, front=BARE, rear=BARE):
    """Ask one rule; a lone aid stands for the same aid on both sides."""
    mounts = tuple(m if isinstance(m, Mount) else ON(m) for m in (front, rear))
    return rule(code).check(Setup("x", mounts), machine)


@pytest.mark.parametrize("machine", LAYOUTS.values(), ids=LAYOUTS)
def test_bare_is_usual_on_every_layout(machine):
    assert check("USE01", machine).standing is Standing.USUAL
    assert check("USE01", machine, CHAINS) is None


SPEAKS = [
    # code, machine, front, rear, standing, axle that the reason must name
    ("USE02", FOUR, DUALS, DUALS, Standing.ASK, "front single axle and the rear single axle"),
    ("USE02", SIX_BOGIE_REAR, DUALS, OPEN_BAND, Standing.ASK, "front single axle"),
    ("USE02", SIX_BOGIE_FRONT, OPEN_BAND, DUALS, Standing.ASK, "rear single axle"),
    ("USE41", FOUR, CHAINS, CHAINS, Standing.USUAL, "Front and rear single axle"),
    ("USE41", FOUR, WHEEL_TRACKS, WHEEL_TRACKS, Standing.USUAL, "Front and rear single axle"),
    ("USE42", FOUR, CHAINS, BARE, Standing.ASK, "front single axle"),
    ("USE42", FOUR, BARE, WHEEL_TRACKS, Standing.ASK, "rear single axle"),
    ("USE43", FOUR, CHAINS, WHEEL_TRACKS, Standing.ASK, "front single axle"),
    ("USE43", FOUR, CHAINS, OTHER_CHAINS, Standing.ASK, "rear single axle"),
    ("USE61", SIX_BOGIE_REAR, CHAINS, OPEN_BAND, Standing.USUAL, "rear bogie"),
    ("USE61", SIX_BOGIE_REAR, BARE, CLOSED_BAND, Standing.USUAL, "rear bogie"),
    ("USE61", SIX_BOGIE_REAR, CHAINS, WHEEL_TRACKS, Standing.USUAL, "rear bogie"),
    ("USE61", SIX_BOGIE_FRONT, WHEEL_TRACKS, BARE, Standing.USUAL, "front bogie"),
    ("USE61", SIX_BOGIE_FRONT, OPEN_BAND, CHAINS, Standing.USUAL, "front bogie"),
    ("USE62", SIX_BOGIE_REAR, CHAINS, BARE, Standing.ASK, "front single axle"),
    ("USE62", SIX_BOGIE_FRONT, BARE, CHAINS, Standing.ASK, "rear single axle"),
    ("USE63", SIX_BOGIE_REAR, BARE, CHAINS, Standing.ASK, "rear bogie"),
    ("USE63", SIX_BOGIE_FRONT, CHAINS, CHAINS, Standing.ASK, "front bogie"),
    ("USE81", EIGHT, CHAINS, CHAINS, Standing.USUAL, "Front and rear bogie"),
    ("USE81", EIGHT, CLOSED_BAND, CLOSED_BAND, Standing.USUAL, "Front and rear bogie"),
    ("USE82", EIGHT, BARE, CLOSED_BAND, Standing.ASK, "rear bogie"),
    ("USE82", EIGHT, CHAINS, BARE, Standing.ASK, "front bogie"),
    ("USE83", EIGHT, OPEN_BAND, CLOSED_BAND, Standing.ASK, "front bogie"),
    ("USE84", EIGHT, WHEEL_TRACKS, WHEEL_TRACKS, Standing.ASK, "front bogie and the rear bogie"),
    ("USE84", EIGHT, OPEN_BAND, WHEEL_TRACKS, Standing.ASK, "rear bogie"),
    ("MNT01", FOUR, BARE, OPEN_BAND, Standing.EXCLUDED, "rear single axle"),
    ("MNT01", SIX_BOGIE_REAR, CLOSED_BAND, OPEN_BAND, Standing.EXCLUDED, "front single axle"),
    ("MNT02", SIX_BOGIE_REAR, WHEEL_TRACKS, OPEN_BAND, Standing.EXCLUDED, "rear bogie"),
    ("MNT02", SIX_BOGIE_REAR, WHEEL_TRACKS, WHEEL_TRACKS, Standing.EXCLUDED, "rear bogie"),
    ("MNT02", SIX_BOGIE_FRONT, CLOSED_BAND, WHEEL_TRACKS, Standing.EXCLUDED, "front bogie"),
    ("MNT03", EIGHT, DUALS, BARE, Standing.EXCLUDED, "front bogie"),
    ("MNT03", SIX_BOGIE_REAR, BARE, DUALS, Standing.EXCLUDED, "rear bogie"),
]


@pytest.mark.parametrize(("code", "machine", "front", "rear", "standing", "axle"), SPEAKS)
def test_speaks(code, machine, front, rear, standing, axle):
    verdict = check(code, machine, front, rear)
    assert verdict.code == code
    assert verdict.standing is standing
    assert axle in verdict.reason


SILENT = [
    ("USE02", EIGHT, DUALS, BARE),
    ("USE41", FOUR, CHAINS, OTHER_CHAINS),
    ("USE41", FOUR, DUALS, DUALS),
    ("USE41", EIGHT, CHAINS, CHAINS),
    ("USE42", FOUR, CHAINS, CHAINS),
    ("USE42", EIGHT, CHAINS, BARE),
    ("USE43", FOUR, CHAINS, BARE),
    ("USE61", SIX_BOGIE_REAR, WHEEL_TRACKS, OPEN_BAND),
    ("USE61", SIX_BOGIE_REAR, DUALS, OPEN_BAND),
    ("USE61", SIX_BOGIE_REAR, OPEN_BAND, CHAINS),
    ("USE61", EIGHT, BARE, OPEN_BAND),
    ("USE62", SIX_BOGIE_REAR, CHAINS, OPEN_BAND),
    ("USE63", SIX_BOGIE_REAR, CHAINS, OPEN_BAND),
    ("USE63", EIGHT, CHAINS, CHAINS),
    ("USE81", EIGHT, OPEN_BAND, CLOSED_BAND),
    ("USE81", EIGHT, WHEEL_TRACKS, WHEEL_TRACKS),
    ("USE82", EIGHT, CHAINS, CHAINS),
    ("USE83", EIGHT, CHAINS, OPEN_BAND),
    ("USE84", SIX_BOGIE_REAR, BARE, WHEEL_TRACKS),
    ("MNT01", EIGHT, OPEN_BAND, OPEN_BAND),
    ("MNT02", SIX_BOGIE_REAR, CHAINS, WHEEL_TRACKS),
    ("MNT02", FOUR, WHEEL_TRACKS, WHEEL_TRACKS),
    ("MNT03", FOUR, DUALS, DUALS),
    ("MNT04", FOUR, CHAINS, CHAINS),
]


@pytest.mark.parametrize(("code", "machine", "front", "rear"), SILENT)
def test_silent(code, machine, front, rear):
    assert check(code, machine, front, rear) is None


@pytest.mark.parametrize(
    ("outer_m", "standing"),
    [
        (TYRE.diameter_m - 0.02, Standing.USUAL),
        (TYRE.diameter_m - 0.004, None),  # the error of two tapings, planning assumption
        (TYRE.diameter_m - 0.0004, Standing.EXCLUDED),  # alike on a tape: whole millimetres
        (0.90 * TYRE.diameter_m, None),  # may not carry on firm ground, planning assumption
        (0.80 * TYRE.diameter_m, None),
        (TYRE.diameter_m, Standing.EXCLUDED),
        (TYRE.diameter_m + 0.1, Standing.EXCLUDED),
        (None, None),
        (float("nan"), None),
    ],
)
def test_outer_dual_must_be_smaller(outer_m, standing):
    verdict = check("MNT04", FOUR, replace(DUALS, outer_diameter_m=outer_m), BARE)
    assert verdict.standing is standing
    assert "front single axle" in verdict.reason


def test_duals_with_unknown_outer_diameter_are_asked_about():
    unknown = replace(DUALS, outer_diameter_m=None)
    judgement = judge(Setup("x", (ON(unknown), ON(unknown))), FOUR)
    assert judgement.standing is Standing.ASK
    assert {"USE02", "MNT04"} <= set(judgement.codes)


@pytest.mark.parametrize("machine", LAYOUTS.values(), ids=LAYOUTS)
def test_two_aids_on_one_wheel(machine):
    double = ON(CHAINS, WHEEL_TRACKS)
    verdict = check("MNT05", machine, BARE, double)
    assert verdict.standing is Standing.EXCLUDED
    assert machine.rear.name in verdict.reason
    assert judge(Setup("x", (double, double)), machine).standing is Standing.EXCLUDED
    assert check("MNT05", machine, CHAINS, CHAINS) is None


@pytest.mark.parametrize("machine", LAYOUTS.values(), ids=LAYOUTS)
def test_left_and_right_must_be_alike(machine):
    lopsided = Mount((CHAINS,), ())
    verdict = check("MNT06", machine, lopsided, BARE)
    assert verdict.standing is Standing.EXCLUDED
    assert machine.front.name in verdict.reason
    judgement = judge(Setup("x", (lopsided, lopsided)), machine)
    assert judgement.standing is Standing.EXCLUDED
    assert "MNT06" in judgement.codes


@pytest.mark.parametrize("kinds", [("single", "single"), ("single", "bogie"), ("bogie", "bogie")])
def test_liquid_ballast_excludes_every_setup_even_bare(kinds):
    wet = replace(TYRE, liquid_ballast=True)
    ballasted = machine(kinds[0], group("rear", kinds[1], tyre=wet))
    judgement = judge(Setup("bare", (BARE, BARE)), ballasted)
    assert judgement.standing is Standing.EXCLUDED
    assert judgement.codes == ("MNT07",)
    assert "rear" in judgement.reasons[0]
    assert "front" not in judgement.reasons[0]


def test_every_rule_explains_itself():
    codes = [one.code for one in ALL_RULES]
    assert len(codes) == len(set(codes))
    for one in ALL_RULES:
        assert one.basis == COMMON_PRACTICE
        assert len(one.explain) > 40
        assert "\n" not in one.explain
        assert rule(one.code) is one


def test_every_rule_speaks_somewhere_in_these_tests():
    tested = {row[0] for row in SPEAKS} | {"USE01", "MNT04", "MNT05", "MNT06", "MNT07"}
    assert {one.code for one in ALL_RULES if not one.code.startswith("FIT")} == tested


def test_unknown_code_names_the_known_ones():
    with pytest.raises(KeyError, match="MNT01"):
        rule("MNT99")
