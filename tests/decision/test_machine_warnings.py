"""Compared machines carry their own warnings of tipping, driving and with the crane out."""

from __future__ import annotations

from dataclasses import replace

from terrain.decision.crane_places import crane_places, crane_warning
from terrain.decision.machines import compare_machines
from terrain.models.machine import Crane
from tests.situations import situation_of
from tests.tiny_block import write_block

CRANE = Crane(2.1, 9.5, 2500.0, 3.5, 1700.0, 4.1, 3.2, 0.9, 2.6)


def test_the_crane_of_a_compared_machine_is_told_in_its_row(tmp_path):
    made = situation_of(write_block(tmp_path / "b"))
    plain = made.block.machine
    other = replace(plain, name="with a crane", crane=CRANE)
    rows = compare_machines(made.block, made.along, (other,))
    own = rows[rows["machine"] == plain.name]["headline"]
    told = rows[rows["machine"] == "with a crane"]["headline"]
    assert not own.str.contains("Crane out").any()
    assert told.str.contains("Crane out to 9.5 m with 2500 kg: stop and ask on").all()
    shown = replace(made.assessment.item(made.shown), machine=other)
    warning = crane_warning(crane_places(made.along.stations, shown))
    assert told.iloc[0].endswith(warning)
