"""One verdict walked back: verdict, trail, weak stretch, station, ground, machine, balance.

Every figure comes from the functions that made the plan; a test holds the last step against the
plan's own reserve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.bottlenecks import bottlenecks, stretch_rows
from terrain.decision.carried import Carried
from terrain.decision.crane_places import crane_at
from terrain.decision.results import CAUSES
from terrain.decision.situation import Situation
from terrain.decision.stability_checks import lift_sentence, some_names
from terrain.decision.travel import Travel, surface_of, travel_over, what_is_missing
from terrain.errors import InputRefused, Issue
from terrain.known import smallest
from terrain.mechanics import contact, films, soil_strength
from terrain.mechanics.relations import for_construction, relation
from terrain.units import GRAVITY_M_S2, kn_from_kg

__all__ = ["ISSUE_CODES", "Figure", "Step", "equations_of", "walk_back"]

ISSUE_CODES = {
    "WHY01": "There is no such trail in the block.",
    "WHY02": "The setup is not one of the scored ones.",
    "WHY03": "Nothing on the trail could be assessed.",
    "WHY04": "The place lies beyond the end of the trail.",
}

_CRANE_USES = ("swung_out", "crane_parts", "crane_side_part")

ROUNDING_M = 1.0
"""Lengths are shown in whole metres, so a place may be named so far beyond the true end."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a step: its name, value and unit (``slope`` and ``ratio`` have none)."""

    name: str
    value: float | str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step back: what it says, its figures, and the relations (ids) that made them.

    ``status`` and ``source`` (key) are given where the figures do not come from relations.
    """

    title: str
    text: str
    figures: tuple[Figure, ...] = ()
    relations: tuple[str, ...] = ()
    status: str = ""
    source: str = ""


def walk_back(
    situation: Situation, trail: str, setup: str | None = None, chainage_m: float | None = None
) -> tuple[Step, ...]:
    """Walk one figure back to what it rests on.

    Parameters
    ----------
    situation : Situation
    trail : str
    setup : str, optional
        A scored setup; the shown one by default.
    chainage_m : float, optional
        Place along the trail as drawn, metres; the station with the smallest reserve by default.

    Raises
    ------
    InputRefused
        WHY01 to WHY04. A place up to :data:`ROUNDING_M` beyond an end is taken as that end.
    """
    stations, assessment = situation.along.stations, situation.assessment
    setup = situation.shown if setup is None else setup
    _refuse(stations, assessment.evaluation.setups, trail, setup)
    item, column = assessment.item(setup), assessment.evaluation.column(setup)
    rows = np.flatnonzero((stations["trail"] == trail).to_numpy())
    reserve = assessment.evaluation.reserve[rows, column]
    if chainage_m is not None:
        _refuse_beyond(stations.iloc[rows], trail, chainage_m)
        nearest = np.abs(stations["chainage_m"].to_numpy(dtype=float)[rows] - chainage_m).argmin()
        row = int(rows[nearest])
    elif np.isfinite(reserve).any():
        row = int(rows[np.nanargmin(reserve)])
    else:
        missing = what_is_missing(stations.iloc[rows], item, situation.settings)
        what = f"nothing of trail {trail} could be assessed with {setup}: {missing}"
        raise _refused("WHY03", what, "Enter what is missing, or ask about another setup.")
    here = stations.iloc[[row]]
    surface = surface_of(here, situation.settings.ground)
    ways = [travel_over(here, item, laden, situation.settings, surface) for laden in (True, False)]
    reserves = [float(way.balance.reserve_ratio[0]) for way in ways]
    binding = 1 if reserves[1] < reserves[0] else 0
    way, cause = ways[binding], CAUSES[int(assessment.evaluation.cause[row, column])]
    return (
        _verdict(situation, setup),
        _trail(situation, rows, column, trail),
        _stretch(situation, setup, row),
        _place(here.iloc[0]),
        _ground(situation, here.iloc[0]),
        _machine(item),
        _axles(way, binding == 0),
        *(_grip(situation, item, way, i, here.iloc[0]) for i in (0, 1)),
        _balance(way, item, reserves, cause, lift_sentence(item, here)),
        *(Step("The crane", t, (), _CRANE_USES) for t in (crane_at(item, here),) if t),
        _pressure(situation, item, ways, row, column),
    )


def _refuse(stations: pd.DataFrame, setups: Sequence[str], trail: str, setup: str) -> None:
    trails = list(dict.fromkeys(stations["trail"]))
    if trail not in trails:
        fix = f"Trails: {some_names(trails)}."
        raise _refused("WHY01", f"the block has no trail {trail!r}", fix)
    if setup not in setups:
        fix = f"Setups: {some_names(setups)}."
        raise _refused("WHY02", f"no scored setup is called {setup!r}", fix)


def _refuse_beyond(stations: pd.DataFrame, trail: str, chainage_m: float) -> None:
    length_m = float(stations["length_m"].sum())
    if not -ROUNDING_M <= chainage_m <= length_m + ROUNDING_M:
        what = f"trail {trail} is {length_m:.0f} m long; {chainage_m:g} m is not on it"
        raise _refused(
            "WHY04", what, f"Give 0 to {length_m:.0f} m along the trail as drawn.", "--at"
        )


def _refused(code: str, what: str, fix: str, where: str = "command line") -> InputRefused:
    return InputRefused([Issue(code, "error", what, where, fix)])


def _verdict(situation: Situation, setup: str) -> Step:
    row = situation.assessment.ranking.setups.set_index("setup").loc[setup].to_dict()
    return Step(
        "The verdict on the setup",
        f"{row['description']}: {row['outcome']} ({row['standing']}). {row['verdict']}",
        (
            Figure("short of traction", float(row["short_m"]), "m"),
            Figure("of it short under every listed setup", float(row["unsolved_m"]), "m"),
            Figure("over the bearing capacity", float(row["over_bearing_m"]), "m"),
        ),
        status="rule of this program",
    )


def _trail(situation: Situation, rows: NDArray[np.int64], column: int, trail: str) -> Step:
    length = situation.along.stations["length_m"].to_numpy(dtype=float)[rows]
    reserve = situation.assessment.evaluation.reserve[rows, column]
    return Step(
        "The trail",
        f"{trail} has {len(rows)} stations; a station is short where its reserve is below 0.",
        (
            Figure("length", float(length.sum()), "m"),
            Figure("short of traction", float(length[reserve < 0].sum()), "m"),
            Figure("not assessed", float(length[~np.isfinite(reserve)].sum()), "m"),
            Figure("smallest reserve", smallest(reserve), "slope"),
        ),
    )


def _stretch(situation: Situation, setup: str, row: int) -> Step:
    """The weak stretch of the plan in which the station lies."""
    along, assessment, settings = situation.along, situation.assessment, situation.settings
    found = stretch_rows(along.stations, assessment, settings)
    mine = [(kind, rows) for kind, rows in found if row in rows]
    if not mine:
        text, none = "The place is in no weak stretch of the plan.", (Figure("stretch", "none"),)
        return Step("The weak stretch", text, none, status="rule of this program")
    table = bottlenecks(situation.block.trails, along.stations, assessment, settings, mine)
    told = table.iloc[0].to_dict()
    names = assessment.ranking.setups.set_index("setup")["description"]
    (_, rows), column = mine[0], assessment.evaluation.column(setup)
    return Step(
        f"The weak stretch {told['stretch']}",
        f"From {told['from_m']:.0f} to {told['to_m']:.0f} m along the trail as drawn. Weak "
        "stretches are those of the plan, whichever setup is asked about.",
        (
            Figure("stretch", told["stretch"]),
            Figure("kind", told["kind"]),
            Figure("cause", told["cause"]),
            Figure("told of the setup", names[told["cause_setup"]]),
            Figure("length", float(told["length_m"]), "m"),
            Figure("smallest reserve, setup of the cause", float(told["worst_reserve"]), "slope"),
            Figure(
                "smallest reserve, setup asked about",
                smallest(assessment.evaluation.reserve[rows, column]),
                "slope",
            ),
        ),
        status="rule of this program",
    )


def _place(row: pd.Series) -> Step:
    return Step(
        f"The station at {row['chainage_m']:.0f} m of {row['trail']}",
        "Gradient toward east and north: least-squares plane of the elevation model at machine "
        "scale. Grade along and slope across the direction of loaded travel: "
        "grade = east sin(heading) + north cos(heading), "
        "cross = -east cos(heading) + north sin(heading).",
        (
            Figure("easting", float(row["x_m"]), "m"),
            Figure("northing", float(row["y_m"]), "m"),
            Figure("elevation", float(row["elevation_m"]), "m"),
            Figure("gradient toward east", float(row["gradient_east"]), "slope"),
            Figure("gradient toward north", float(row["gradient_north"]), "slope"),
            Figure("heading of loaded travel", float(row["heading_deg"]), "degrees"),
            Figure("grade, uphill loaded", float(row["grade"]), "slope"),
            Figure("cross slope, ground rises to the left", float(row["cross_slope"]), "slope"),
        ),
        status="geometry of the elevation model",
    )


def _ground(situation: Situation, row: pd.Series) -> Step:
    state = situation.settings.ground.state
    mapped, number = row["soil_class"], row["ground_class"]
    text = f"Polygon {row['soil_polygon']}, mapped class {_or_unknown(mapped)}, "
    text += f"drainage {_or_unknown(row['drainage'])}; in the {state} state class "
    text += f"{_or_unknown(number)}"
    text += ", wet" if row["wet"] is not pd.NA and bool(row["wet"]) else ""
    special = situation.strength.special.get((state, str(row["soil_polygon"])))
    status = ""
    if special is not None:
        text += f". Strength from {special.prior_from}, with the polygon's own readings or moisture"
        status = "own readings or moisture of the polygon"
    elif not pd.isna(number):
        status = soil_strength.soil_classes()[int(number)].statuses[1]
    return Step(
        "The ground there",
        text + ".",
        (
            Figure("depth to water", float(row["depth_to_water_m"]), "m"),
            Figure("cone index, low", float(row["cone_index_low_kpa"]), "kPa"),
            Figure("cone index, likely", float(row["cone_index_kpa"]), "kPa"),
            Figure("cone index, high", float(row["cone_index_high_kpa"]), "kPa"),
            Figure("bearing capacity, likely", float(row["bearing_kpa"]), "kPa"),
        ),
        ("class_in_state", "class_cone_index", "class_bearing"),
        status,
    )


def _or_unknown(value: object) -> str:
    return "not known" if value is None or value is pd.NA or value != value else str(value)


def _machine(item: Carried) -> Step:
    m = item.machine
    masses = {
        "unladen": m.unladen_mass_kg,
        "of it on the front": m.unladen_front_kg,
        "aids on the front": item.groups[0].aid_mass_kg,
        "aids on the rear": item.groups[1].aid_mass_kg,
        "full load": m.payload_kg,
        "load within the ratings": item.payload_kg,
    }
    figures = [Figure(name, mass, "kg") for name, mass in masses.items()]
    return Step(
        "The machine and what it carries",
        f"{m.name}. The ratings of axles, tyres and machine bound the load on level ground.",
        (*figures, Figure("wheelbase", m.wheelbase_m, "m")),
        ("payload_within_ratings", "centre_of_gravity"),
        "machine file and aid catalogue",
    )


def _axles(way: Travel, laden: bool) -> Step:
    told = "loaded, toward the landing" if laden else "empty, away from the landing"
    figures = [
        Figure("grade in this direction", float(way.grade[0]), "slope"),
        Figure("centre of gravity above ground", way.cg_height_m, "m"),
        Figure("front axle group, normal to the ground", float(way.load_kn[0, 0]), "kN"),
        Figure("rear axle group, normal to the ground", float(way.load_kn[0, 1]), "kN"),
    ]
    relations = ["normal_share", "axle_loads"]
    if way.drag_kn[0] != 0:
        figures.append(Figure("pull of the dragged load", float(way.drag_kn[0]), "kN"))
        relations.append("drag_pull")
    return Step(
        "Loads of the axle groups on that slope",
        f"The direction with less reserve: {told}. Weight of all that the wheels carry, "
        f"at {GRAVITY_M_S2:g} m/s2.",
        tuple(figures),
        tuple(relations),
    )


def _grip(situation: Situation, item: Carried, way: Travel, i: int, row: pd.Series) -> Step:
    g = item.groups[i]
    tyre = g.group.tyre
    wheel = float(way.load_kn[0, i]) / g.tyres
    deflection = float(contact.deflection_ratio(wheel, g.inflation_kpa, tyre.section_height_m))
    slip = situation.settings.decision.slip_limit
    figures = [
        Figure("load of one wheel", wheel, "kN"),
        Figure("inflation worked with", g.inflation_kpa, "kPa"),
        Figure("deflection over section height", deflection, "ratio"),
        Figure("mobility number", float(way.bn[0, i])),
        Figure("slip limit", slip, "ratio"),
        Figure("gross traction over load", float(way.gross[0, i]), "ratio"),
    ]
    built = tyre.construction
    used = ["tyre_deflection", "brixius_number", for_construction("brixius_gross", built)]
    name, form, ratio = "motion resistance over load", "brixius_resistance", way.resistance
    if not g.group.driven:
        name, form, ratio = f"{name}, rolling", "brixius_towed", way.towed
    used.append(for_construction(form, built))
    figures.append(Figure(name, float(ratio[0, i]), "ratio"))
    text = f"{g.aid.name if g.aid else 'no aid'} on {tyre.designation}, {g.tyres} tyres."
    if g.aid is not None and g.aid.kind in ("wheel track", "band track"):
        gain = g.area_m2 / g.bare_area_m2
        figures.insert(3, Figure("gain in nominal contact over bare tyres", gain))
        used.append("track_number")
    cap = row.get("film_grip_cap", np.nan)
    if np.isfinite(cap):
        bites = g.aid is not None and g.aid.grip_through_film
        name, ground = str(row["film"]), situation.settings.ground
        known = ground.cap_of(name)
        standing = f" (its figure: {known.status})" if known and known.status else ""
        text += f" Film: {row['film']}{standing}; "
        text += films.bite_words(
            bites, float(films.gear_grip_cap(name, ground.cap_with_aids(name)))
        )
        figures.append(Figure("grip cap of the film", float(cap), "ratio"))
        used += ["film_cap", "gear_cap", "grip_credit"]
        if bites and films.films()[str(row["film"])].credits_grip_factor and g.aid is not None:
            figures.append(Figure("grip factor of the aid", g.aid.grip_factor))
    if not g.group.driven:
        text += " Not driven: it rolls, and neither pulls nor brakes."
    return Step(f"Grip and resistance, {g.group.name}", text, tuple(figures), tuple(used))


def _balance(way: Travel, item: Carried, reserves: list[float], cause: str, lifting: str) -> Step:
    normal = float(way.load_kn[0].sum())
    figures = [
        Figure("what the slope asks", float(way.balance.demand_ratio[0]), "slope"),
        Figure("what the machine gives", float(way.balance.capacity_ratio[0]), "slope"),
        Figure("reserve, loaded toward the landing", reserves[0], "slope"),
        Figure("reserve, empty away from it", reserves[1], "slope"),
    ]
    used = ["grip_balance"]
    if np.isfinite(item.effort_cap_kn):
        figures.append(Figure("driveline effort over load", item.effort_cap_kn / normal, "ratio"))
        used.append("effort_at_radius")
    if lifting:
        used += ["lift_off_grades", "lateral_tip", "held_to"]
    word = "not known" if np.isnan(reserves).any() else "short" if min(reserves) < 0 else "enough"
    return Step(
        "The balance",
        f"Reserve = what the machine gives - what the slope asks: {word}. "
        f"What binds: {cause}. {lifting}".rstrip(),
        tuple(figures),
        tuple(used),
    )


def _pressure(
    situation: Situation, item: Carried, ways: Sequence[Travel], row: int, column: int
) -> Step:
    evaluation = situation.assessment.evaluation
    figures = [
        *(
            Figure(f"{g.group.name}, {told}", float(way.pressure_kpa[0, i]), "kPa")
            for told, way in zip(("loaded", "empty"), ways, strict=True)
            for i, g in enumerate(item.groups)
        ),
        Figure("largest of them", float(evaluation.pressure_kpa[row, column]), "kPa"),
        Figure("over the bearing capacity", float(evaluation.pressure_ratio[row, column]), "ratio"),
    ]
    gross = item.empty_mass_kg + item.resting_load_kg
    return Step(
        "Nominal ground pressure on the downhill side",
        "Load over nominal contact area; not the real pressure in the soil. All wheels together "
        f"carry {kn_from_kg(gross):.0f} kN on the level with the load that rests on them.",
        tuple(figures),
        ("ngp_wheel", "ngp_track", "side_shares"),
    )


def equations_of(step: Step) -> tuple[tuple[str, str, str, str], ...]:
    """Title, equation, status and source key of every relation of a step."""
    found = [relation(name) for name in step.relations]
    return tuple((r.title, r.equation, r.status, r.source) for r in found)
