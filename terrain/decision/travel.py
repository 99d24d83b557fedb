"""One way over the stations, loaded or empty: loads, grip, resistance and what is left of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.carried import Carried, Stance, group_loads, stance_of
from terrain.mechanics import demand, films, loads, traction
from terrain.mechanics.demand import Binding, GripBalance
from terrain.models.settings import GroundSettings, Settings
from terrain.models.soil import NO_FILM

__all__ = ["Surface", "Travel", "surface_of", "travel_over", "what_is_missing"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Surface:
    """Grip caps of plain tyres and of gear that bites, whether a grip factor counts, each (n,).

    A cap is infinity where no film lies, or gear bites through it, and NaN where it is not known.
    """

    cap: Floats
    gear_cap: Floats
    credits_factor: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Travel:
    """One setup, one way over n stations; the last axis of (n, 2) arrays is front, rear.

    Attributes
    ----------
    grade : ndarray, shape (n,)
        Ratio, positive uphill in this direction of travel.
    load_kn : ndarray, shape (n, 2)
        Normal load of the axle groups; 0 where a group lifts off and the other carries everything.
    drag_kn : ndarray, shape (n,)
        Pull of a dragged load.
    cg_height_m : float
    bn, gross, resistance, towed : ndarray, shape (n, 2)
        Mobility number; gross traction ratio at the slip limit with film and grip factor; motion
        resistance ratio at that slip and rolling free.
    grip : GripBalance
        What the grip leaves, with the loads above.
    balance : GripBalance
        The same, held to the slopes at which an axle group or the uphill wheels lift off.
    pressure_kpa : ndarray, shape (n, 2)
        Nominal ground pressure of the downhill side on the cross slope.
    lift_left : tuple of ndarray, shape (n,)
        How much steeper (ratio) until an axle group and until the uphill wheels lift.
    """

    grade: Floats
    load_kn: Floats
    drag_kn: Floats
    cg_height_m: float
    bn: Floats
    gross: Floats
    resistance: Floats
    towed: Floats
    grip: GripBalance
    balance: GripBalance
    pressure_kpa: Floats
    lift_left: tuple[Floats, Floats]


def surface_of(stations: pd.DataFrame, ground: GroundSettings) -> Surface:
    """The stations' own films, or the block's everywhere where they have no such columns."""
    if "film_grip_cap" in stations:
        film, cap = stations["film"], stations["film_grip_cap"].to_numpy(dtype=float)
    else:
        film = pd.Series(ground.film, index=stations.index)
        given = ground.film_grip_cap
        cap = np.full(len(stations), np.nan if given is None else given)
    cap = np.where(film.isin([NO_FILM]).to_numpy(dtype=bool), np.inf, cap)
    gear = {name: films.gear_grip_cap(name, ground.cap_with_aids(name)) for name in films.films()}
    gear_cap = np.asarray(film.astype(object).map(gear), dtype=np.float64)
    kind = [name for name, row in films.films().items() if row.credits_grip_factor]
    return Surface(cap, gear_cap, film.isin(kind).to_numpy(dtype=bool) & np.isfinite(cap))


def what_is_missing(stations: pd.DataFrame, item: Carried, settings: Settings) -> str:
    """What the reserve of a setup needs and the stations do not have, in words with metres."""
    surface = surface_of(stations, settings.ground)
    length = stations["length_m"].to_numpy(dtype=float)
    bites = [g.aid is not None and g.aid.grip_through_film for g in item.groups]
    slopes = stations[["grade", "cross_slope"]].isna().any(axis=1).to_numpy()
    found = {
        "the slope": slopes,
        "the soil strength": stations["cone_index_kpa"].isna().to_numpy(),
        "the grip of plain tyres on the surface film": np.isnan(surface.cap) & (not all(bites)),
        "what chains or tracks hold on the surface film": np.isnan(surface.gear_cap) & any(bites),
    }
    if any(g.is_banded and g.group.tyre.charted_inflation_kpa is None for g in item.groups):
        what = "the charted pressure of tyres under band tracks (charted_inflation_kpa)"
        found[what] = np.ones(len(stations), dtype=bool)
    metres = {what: float(length[where].sum()) for what, where in found.items() if where.any()}
    return "; ".join(f"{what} is not known on {m:.0f} m" for what, m in metres.items())


def travel_over(
    stations: pd.DataFrame,
    item: Carried,
    laden: bool,
    settings: Settings,
    surface: Surface | None = None,
) -> Travel:
    """Work out one way of one setup over the stations.

    Parameters
    ----------
    stations : DataFrame
        ``grade``, ``cross_slope`` (ratios), ``cone_index_kpa``; films as in :func:`surface_of`.
    item : Carried
    laden : bool
        Loaded toward the landing; else empty, away from it.
    settings : Settings
        Slip limit, the block's film.
    surface : Surface, optional
        Of :func:`surface_of`, where it is known already.
    """
    surface = surface_of(stations, settings.ground) if surface is None else surface
    slip = settings.decision.slip_limit
    grade = stations["grade"].to_numpy(dtype=float)
    cross = stations["cross_slope"].to_numpy(dtype=float)
    cone_index = stations["cone_index_kpa"].to_numpy(dtype=float)
    grade = grade if laden else -grade
    load, drag, cg_height = group_loads(item, laden, grade, cross)
    load = loads.resting_loads_kn(load)
    numbers, gross, resistance, towed, pressure, braking = [], [], [], [], [], []
    _, downhill = loads.side_shares(cross, cg_height, item.machine.track_gauge_m)
    heavier = 2 * downhill / loads.normal_share(0.0, cross)
    for i, g in enumerate(item.groups):
        bn = g.mobility_number(cone_index, load[:, i])
        construction = g.group.tyre.construction
        bites = g.aid is not None and g.aid.grip_through_film
        factor = films.credited_grip_factor(
            g.aid.grip_factor if g.aid else 1.0, surface.credits_factor, bites
        )
        ratio = traction.gross_traction_ratio(bn, slip, construction, grip_factor=factor)
        more = g.aid.resistance_factor if g.aid else 1.0
        numbers.append(bn)
        caps = (surface.cap, bites, surface.gear_cap)
        gross.append(films.film_limited_gross_ratio(ratio, *caps))
        resistance.append(more * traction.motion_resistance_ratio(bn, slip, construction))
        towed.append(more * traction.towed_resistance_ratio(bn, construction))
        # a driven group's rolling is in its gross ratio already: it is not counted twice
        firm = 0.0 if g.group.driven else traction.firm_rolling_ratio(construction)
        # an aid that rolls easier brakes less; one that rolls heavier is not credited with braking
        rolling = np.full(len(stations), firm * min(1.0, more))
        braking.append(films.film_limited_gross_ratio(rolling, *caps))
        pressure.append(g.nominal_pressure_kpa(load[:, i]) * heavier)
    gross_both, resistance_both, towed_both, braking_both = (
        np.stack(part, axis=-1) for part in (gross, resistance, towed, braking)
    )
    grip = demand.grip_balance(
        load,
        gross_both,
        resistance_both,
        towed_both,
        np.array([g.group.driven for g in item.groups]),
        grade,
        cross,
        item.effort_cap_kn,
        drag,
        braking_both,
    )
    stance = stance_of(item, laden, grade, cross)
    return Travel(
        grade,
        load,
        drag,
        cg_height,
        np.stack(numbers, axis=-1),
        gross_both,
        resistance_both,
        towed_both,
        grip,
        _on_its_wheels(grip, stance, grade, cross),
        np.stack(pressure, axis=-1),
        stance.left(grade, cross),
    )


def _on_its_wheels(
    grip: GripBalance, standing: Stance, grade: Floats, cross: Floats
) -> GripBalance:
    """Hold the grip's balance to the slopes at which wheels lift, in either direction."""
    held = demand.held_to(grip, standing.front_lifts, grade, Binding.AXLE_LIFTS)
    held = demand.held_to(held, -standing.rear_lifts, -grade, Binding.AXLE_LIFTS)
    return demand.held_to(held, standing.side_lifts, np.abs(cross), Binding.SIDE_LIFTS)
