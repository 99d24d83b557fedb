from __future__ import annotations

import pytest

from terrain.decision.results import Plan
from tests.outputs.synthetic import HOSTILE, make_plan


@pytest.fixture(scope="session")
def small_plan() -> Plan:
    return make_plan()


@pytest.fixture(scope="session")
def hostile_plan() -> Plan:
    script, image, quotes, long, right_to_left, emoji, _ = HOSTILE
    return make_plan((f"{script}{quotes}", image, long), f"{emoji} {right_to_left} {script}")
