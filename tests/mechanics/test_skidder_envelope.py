"""Climbing limits of a cable skidder beside a published model: a plausibility band, no more.

Published: Đuka et al. 2018, Forests 9(9) 526 (abstract): slope range of a cable skidder by load,
from a traction and load-distribution model. Our machine is invented (7.5 t, four wheels, half of
the load on the ground, drag 0.5), so only the order of the figures can be compared.
"""

import numpy as np
import pytest

from terrain.mechanics import contact, loads, traction
from terrain.mechanics.demand import grip_balance

PUBLISHED = {0: (-50, 80), 1: (-26, 63), 2: (-30, 51), 3: (-34, 39), 4: (-35, 30), 5: (-41, 11)}
GRADES = np.linspace(-1.0, 1.0, 2001)


def limits_percent(load_t: float, cone_index_kpa: float = 1000.0) -> tuple[float, float]:
    mass, x, height = loads.combine([7.5, load_t / 2], [1.6, -1.0], [1.0, 1.2])
    pull = loads.drag_pull_kn(load_t / 2 * 9.81, 0.5, GRADES)
    front, rear = loads.axle_loads_kn(
        mass * 9.81, x, height, 2.7, GRADES, np.maximum(pull, 0.0), 0.9
    )
    load = np.stack([front, rear], axis=-1)
    ratio = contact.deflection_ratio(np.maximum(load, 0) / 2, 200.0, 0.45)
    bn = traction.brixius_number(cone_index_kpa, 0.59, 1.60, load / 2, ratio)
    found = grip_balance(
        load,
        traction.gross_traction_ratio(bn, 0.25),
        traction.motion_resistance_ratio(bn, 0.25),
        traction.towed_resistance_ratio(bn),
        (True, True),
        GRADES,
        drag_kn=pull,
    )
    holds = GRADES[found.reserve_ratio >= 0]
    return 100 * holds.min(), 100 * holds.max()


@pytest.mark.parametrize("load_t", [0, 1, 2, 3, 4])
def test_climbing_limit_within_fifteen_points_of_the_published_model(load_t):
    assert limits_percent(load_t)[1] == pytest.approx(PUBLISHED[load_t][1], abs=15)


def test_climbing_limit_falls_with_load_and_with_softer_ground():
    firm = [limits_percent(load_t)[1] for load_t in PUBLISHED]
    soft = [limits_percent(load_t, 600.0)[1] for load_t in PUBLISHED]
    assert (np.diff(firm) < 0).all()
    assert (np.diff(soft) < 0).all()
    assert (np.array(soft) < np.array(firm)).all()


def test_where_grip_alone_says_more_than_the_published_model():
    # known gap, kept in sight: the published model also limits axle loads. Ours looks at grip,
    # so it is more optimistic with the heaviest load and on every descent
    assert limits_percent(5)[1] > PUBLISHED[5][1]
    for load_t, (down, _) in PUBLISHED.items():
        assert limits_percent(load_t)[0] < down
