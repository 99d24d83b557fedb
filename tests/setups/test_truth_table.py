"""The whole table of mounting rules, cell by cell, for 4, 6 and 8 wheels.

Source of every expected standing: common practice, no source. The table is written out here by
hand and does not use the rules: U usual practice, ? ask the manufacturer first, X excluded.
"""

from __future__ import annotations

import pytest

from terrain.models.aids import BARE, Aid, Mount, Setup
from terrain.setups.rulebook import Standing, judge
from tests.setups._machines import (
    CHAINS,
    CLOSED_BAND,
    DUALS,
    EIGHT,
    FOUR,
    OPEN_BAND,
    SIX_BOGIE_FRONT,
    SIX_BOGIE_REAR,
    WHEEL_TRACKS,
)

COLUMNS = (None, CHAINS, WHEEL_TRACKS, OPEN_BAND, CLOSED_BAND, DUALS)
STANDINGS = {"U": Standing.USUAL, "?": Standing.ASK, "X": Standing.EXCLUDED}

# rows: front axle; columns: rear axle; order bare, chains, wheel tracks, open, closed band, duals
FOUR_WHEELS = """
U ? ? X X ?
? U ? X X ?
? ? U X X ?
X X X X X X
X X X X X X
? ? ? X X ?
"""
# rows: the single axle; columns: the bogie
SIX_WHEELS = """
U ? U U U X
? ? U U U X
? ? X X X X
X X X X X X
X X X X X X
? ? ? ? ? X
"""
# rows: front bogie; columns: rear bogie
EIGHT_WHEELS = """
U ? ? ? ? X
? U ? ? ? X
? ? ? ? ? X
? ? ? U ? X
? ? ? ? U X
X X X X X X
"""


def cells(table: str):
    for row, line in zip(COLUMNS, table.split("\n")[1:-1], strict=True):
        for column, letter in zip(COLUMNS, line.split(), strict=True):
            yield row, column, STANDINGS[letter]


def mount(aid: Aid | None) -> Mount:
    return Mount.both_sides(aid) if aid else BARE


def label(aid: Aid | None) -> str:
    return aid.key if aid else "bare"


def cases():
    for front, rear, standing in cells(FOUR_WHEELS):
        yield pytest.param(FOUR, front, rear, standing, id=f"4: {label(front)} + {label(rear)}")
    for axle, bogie, standing in cells(SIX_WHEELS):
        yield pytest.param(
            SIX_BOGIE_REAR, axle, bogie, standing, id=f"6r: {label(axle)} + {label(bogie)}"
        )
        yield pytest.param(
            SIX_BOGIE_FRONT, bogie, axle, standing, id=f"6f: {label(bogie)} + {label(axle)}"
        )
    for front, rear, standing in cells(EIGHT_WHEELS):
        yield pytest.param(EIGHT, front, rear, standing, id=f"8: {label(front)} + {label(rear)}")


@pytest.mark.parametrize(("machine", "front", "rear", "standing"), list(cases()))
def test_cell(machine, front, rear, standing):
    judgement = judge(Setup("x", (mount(front), mount(rear))), machine)
    assert judgement.standing is standing
    assert judgement.codes
    assert all(reason.endswith(".") for reason in judgement.reasons)


def test_the_table_holds_every_cell_once():
    assert len(list(cases())) == 4 * 36
