"""Invented machines and aids for the tests of the setups; no figure here describes a product."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

from terrain.models.aids import Aid
from terrain.models.machine import AxleGroup, Machine, Tyre

SIZE = "710/45-26.5"
TYRE = Tyre(SIZE, width_m=0.71, diameter_m=1.312, section_height_m=0.3195, inflation_kpa=400.0)

CHAINS = Aid("chains", "ring chains", "chains", 800.0, fits_tyres=(SIZE,))
OTHER_CHAINS = Aid("chains-heavy", "heavy chains", "chains", 1100.0, fits_tyres=(SIZE,))
WHEEL_TRACKS = Aid("wheel-tracks", "wheel tracks", "wheel track", 900.0, fits_tyres=(SIZE,))
OPEN_BAND = Aid(
    "band-open",
    "open band tracks",
    "band track",
    2200.0,
    band_kind="open traction",
    shoe_inner_width_m=0.73,
    fits_tyres=(SIZE,),
)
CLOSED_BAND = Aid(
    "band-closed",
    "closed band tracks",
    "band track",
    2400.0,
    band_kind="closed flotation",
    shoe_inner_width_m=0.73,
    fits_tyres=(SIZE,),
)
DUALS = Aid("duals", "dual tyres", "dual tyres", 1000.0, outer_diameter_m=1.25)
AIDS = (CHAINS, WHEEL_TRACKS, OPEN_BAND, CLOSED_BAND, DUALS)

Kind = Literal["single", "bogie"]


def group(name: Literal["front", "rear"], kind: Kind, **changes: Any) -> AxleGroup:
    """An axle group rated high enough for every aid above."""
    plain = AxleGroup(
        name,
        kind,
        TYRE,
        bogie_spacing_m=1.5 if kind == "bogie" else None,
        rated_mass_kg=16_000.0,
    )
    return replace(plain, **changes)


def machine(front: Kind | AxleGroup, rear: Kind | AxleGroup, **changes: Any) -> Machine:
    """An invented machine of 18 t, 10 t of it on the front group."""
    front_group = front if isinstance(front, AxleGroup) else group("front", front)
    rear_group = rear if isinstance(rear, AxleGroup) else group("rear", rear)
    plain = Machine(
        name="invented machine",
        kind="harvester",
        groups=(front_group, rear_group),
        unladen_mass_kg=18_000.0,
        unladen_front_kg=10_000.0,
        wheelbase_m=4.5,
        track_gauge_m=2.2,
        width_m=2.9,
        cg_height_m=1.5,
        load=None,
        invented=True,
    )
    return replace(plain, **changes)


FOUR = machine("single", "single")
SIX_BOGIE_REAR = machine("single", "bogie")
SIX_BOGIE_FRONT = machine("bogie", "single")
EIGHT = machine("bogie", "bogie")
LAYOUTS = {
    "4": FOUR,
    "6, bogie at the rear": SIX_BOGIE_REAR,
    "6, bogie at the front": SIX_BOGIE_FRONT,
    "8": EIGHT,
}
