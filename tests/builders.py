"""Small invented machines, aids and stations that the tests share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from terrain.models.aids import Aid
from terrain.models.machine import AxleGroup, Load, Machine, Tyre

TYRE = Tyre("710/45-26.5", 0.71, 1.3124, 0.3195, inflation_kpa=400, charted_inflation_kpa=450)

CHAINS = Aid("chains", "wheel chains", "chains", 800.0, grip_through_film=True, grip_factor=1.05)
OPEN_BAND = Aid(
    "open-band",
    "open traction band tracks",
    "band track",
    2200.0,
    "open traction",
    width_m=0.80,
    thickness_m=0.03,
    grip_through_film=True,
    shoe_inner_width_m=0.75,
)
CLOSED_BAND = Aid(
    "closed-band",
    "closed flotation band tracks",
    "band track",
    2400.0,
    "closed flotation",
    width_m=0.887,
    contact_length_m=1.73,
    thickness_m=0.03,
    grip_through_film=True,
    shoe_inner_width_m=0.75,
)
WHEEL_TRACK = Aid(
    "wheel-track",
    "wheel tracks",
    "wheel track",
    1000.0,
    width_m=0.75,
    thickness_m=0.05,
    grip_through_film=True,
)
DUALS = Aid("duals", "dual tyres", "dual tyres", 900.0, width_m=0.71, outer_diameter_m=1.29)
AIDS = (CHAINS, OPEN_BAND, CLOSED_BAND, WHEEL_TRACK, DUALS)


def bogie(name: str, **changes) -> AxleGroup:
    return replace(AxleGroup(name, "bogie", TYRE, bogie_spacing_m=1.5), **changes)


def single(name: str, **changes) -> AxleGroup:
    return replace(AxleGroup(name, "single", TYRE), **changes)


def forwarder(**changes) -> Machine:
    """Eight wheels, 20 t, 14 t of load."""
    machine = Machine(
        name="invented forwarder",
        kind="forwarder",
        groups=(bogie("front"), bogie("rear")),
        unladen_mass_kg=20000,
        unladen_front_kg=11000,
        wheelbase_m=5.5,
        track_gauge_m=2.2,
        width_m=2.9,
        cg_height_m=1.4,
        load=Load(14000, 0.3, 2.1),
        max_tractive_effort_kn=250.0,
        invented=True,
    )
    return replace(machine, **changes)


def skidder(**changes) -> Machine:
    """Four wheels, dragging 4 t of which half is carried behind the rear axle."""
    machine = Machine(
        name="invented skidder",
        kind="skidder",
        groups=(single("front"), single("rear")),
        unladen_mass_kg=11000,
        unladen_front_kg=6600,
        wheelbase_m=3.2,
        track_gauge_m=2.2,
        width_m=2.9,
        cg_height_m=1.3,
        load=Load(4000, -0.8, 1.5, carried_share=0.5, drag_coefficient=0.6, pull_height_m=1.5),
        invented=True,
    )
    return replace(machine, **changes)


def stations(**columns) -> pd.DataFrame:
    """A stations table with only what the decision reads; scalars are repeated."""
    base = {
        "trail": "T1",
        "length_m": 5.0,
        "grade": 0.0,
        "cross_slope": 0.0,
        "cone_index_kpa": 1000.0,
        "bearing_kpa": 160.0,
    }
    base.update(columns)
    n = max(np.size(value) for value in base.values())
    table = pd.DataFrame(
        {k: np.full(n, v) if np.ndim(v) == 0 else np.asarray(v) for k, v in base.items()}
    )
    for end in ("low", "high"):
        name = f"cone_index_{end}_kpa"
        if name not in table:
            table[name] = table["cone_index_kpa"]
    table["chainage_m"] = (np.arange(n) + 0.5) * 5.0
    return table
