"""Which equations the report lists for the tyres of a machine: bias, radial, or both."""

from __future__ import annotations

from dataclasses import replace

from terrain.decision.carried import carried
from terrain.decision.statuses import status_rows
from terrain.models.settings import Settings
from tests.builders import TYRE, bogie, forwarder, stations
from tests.decision.test_evaluation import BARE_SETUP


def equations(*constructions):
    groups = tuple(
        bogie(name, tyre=replace(TYRE, construction=construction))
        for name, construction in zip(("front", "rear"), constructions, strict=True)
    )
    table = stations(ground_class=1, grade_profile=0.0)
    rows = status_rows(table, [carried(BARE_SETUP, forwarder(groups=groups))], Settings())
    return {row.name: row for row in rows if row.name.startswith("Gross traction")}


def test_radial_tyres_show_their_own_equations_from_memory():
    bias, radial = "Gross traction of a wheel", "Gross traction of a wheel, radial tyre"
    assert [*equations("bias", "bias")] == [bias]
    (row,) = equations("radial", "radial").values()
    assert (row.name, row.status) == (radial, "from memory")
    assert "9.5 s" in row.value
    assert [*equations("bias", "radial")] == [bias, radial]
