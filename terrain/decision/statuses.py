"""The standing of every figure and relation that shaped a result."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from terrain.decision.carried import Carried
from terrain.decision.results import StatusRow
from terrain.decision.stability_checks import lift_off_m
from terrain.mechanics import films, relations, soil_strength
from terrain.mechanics.effects import quantities
from terrain.models.aids import SUPPLIERS_FIGURE, Aid
from terrain.models.settings import FilmCap, GroundSettings, Settings
from terrain.models.soil import NO_FILM
from terrain.models.soil_rules import frost_rule
from terrain.setups.combinations import axle_name
from terrain.sources import all_sources

__all__ = ["USED_RELATIONS", "not_assessed_sentences", "status_rows"]

_GRADES_DIFFER = 0.05
"""Difference of the two grades (ratio) from which a look is asked for; planning assumption."""

USED_RELATIONS = (
    "axle_loads",
    "side_shares",
    "drag_pull",
    "payload_within_ratings",
    "tyre_deflection",
    "ngp_wheel",
    "ngp_track",
    "bogie_contact_length",
    "brixius_number",
    "brixius_gross",
    "brixius_resistance",
    "brixius_towed",
    "track_number",
    "firm_rolling",
    "grip_balance",
    "bogie_wheel_loads",
    "lateral_check",
    "longitudinal_tip",
    "lateral_tip",
    "lift_off_grades",
    "held_to",
    "resting_loads",
)
"""Relations that every plan rests on, by id of ``terrain/data/relations.toml``."""

_CRANE_RELATIONS = ("swung_out", "crane_parts", "crane_side_part", "crane_slopes")
"""And those of a machine file with figures of a crane."""


_AID_FIGURES = (
    "mass_kg",
    "width_m",
    "contact_length_m",
    "thickness_m",
    "grip_factor",
    "resistance_factor",
    "rut_factor",
)
"""Figures of an aid that shape a result."""


def status_rows(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> tuple[StatusRow, ...]:
    """List what the result rests on: relations, soil strength, state, film, aids, weights."""
    rows = []
    known = relations.relations()
    built = sorted({g.group.tyre.construction for item in items for g in item.groups})
    reaches = any(item.machine.crane is not None for item in items)
    for name in (*USED_RELATIONS, *(_CRANE_RELATIONS if reaches else ())):
        forms = [relations.for_construction(name, carcass) for carcass in built or ["bias"]]
        for row in (known[form] for form in dict.fromkeys(forms)):
            rows.append(StatusRow(row.title, row.equation, row.status, row.source, row.where))
    rows += _soil_rows(stations)
    rows += _state_rows(settings)
    laid = _films_of(stations, settings)
    rows += _film_rows(laid, settings)
    rows += _aid_rows(items, any(_credits(film, settings) for film in laid))
    decision = settings.decision
    assumption = "planning assumption"
    rows += [
        StatusRow(
            "Slip limit",
            f"{decision.slip_limit:.0%}",
            "published" if decision.slip_limit == 0.25 else assumption,
            "hittenbeck_2013" if decision.slip_limit == 0.25 else "",
            "25 % slip taken as acceptable for trafficable grades"
            if decision.slip_limit == 0.25
            else "block file",
        ),
        StatusRow(
            "Weight of traction need against ground-pressure impact",
            f"{decision.traction_weight:.2f} to {1 - decision.traction_weight:.2f}",
            assumption,
            "",
            "block file, editable",
        ),
        StatusRow(
            'Largest share that may stay unsolved "with measures"',
            f"{decision.measures_share_max:.0%} of the assessed metres",
            assumption,
            "",
            "block file, editable",
        ),
        StatusRow(
            "Traction reserve below which a passing stretch is listed as thin",
            f"{decision.thin_reserve:.0%}",
            assumption,
            "",
            "block file, editable",
        ),
    ]
    return tuple(rows)


def _soil_rows(stations: pd.DataFrame) -> list[StatusRow]:
    rows = []
    classes = soil_strength.soil_classes()
    for number in sorted(int(n) for n in stations["ground_class"].dropna().unique()):
        row = classes[number]
        for label, figures, statuses in (
            ("cone index", row.cone_index_kpa, row.statuses[:3]),
            ("bearing capacity", row.bearing_kpa, row.statuses[3:]),
        ):
            low, likely, high = figures
            rows.append(
                StatusRow(
                    f"Soil class {number} ({row.name}), {label}",
                    f"{likely:.0f} kPa likely ({low:.0f} to {high:.0f})",
                    f"likely: {statuses[1]}; low: {statuses[0]}; high: {statuses[2]}",
                    "owende_2002",
                    f"quick reference card, class {number}",
                )
            )
    return rows


def _state_rows(settings: Settings) -> list[StatusRow]:
    ground = settings.ground
    rule = soil_strength.state_rules()[ground.state]
    wet = [f"drainage {rule.wet_from_drainage} or wetter"] if rule.wet_from_drainage else []
    wet += [f"class {rule.wet_from_class} or softer"] if rule.wet_from_class else []
    return [
        StatusRow(
            f"Moisture state: {ground.state}",
            f"wet where {' or '.join(wet) or 'nothing'}; class shift {rule.shift_all:+d} "
            f"everywhere, {rule.shift_wet:+d} more where wet",
            rule.status,
            "",
            "chosen in the block file",
        ),
        *_frost_rows(ground),
    ]


def _frost_rows(ground: GroundSettings) -> list[StatusRow]:
    if ground.state != "frozen" or ground.frost_depth_m is None:
        return []
    least = frost_rule()
    return [
        StatusRow(
            "Verified depth of frost",
            f"{ground.frost_depth_m:g} m; from {least.least_depth_m:g} m on it earns one class, "
            "however deep it is",
            least.status,
            least.source,
            least.where,
        )
    ]


def _films_of(stations: pd.DataFrame, settings: Settings) -> list[str]:
    """Films that lie on the trails, the block's own first."""
    own = settings.ground.film
    named = stations["film"].dropna().unique() if "film" in stations else [own]
    return sorted((str(film) for film in named), key=lambda film: (film != own, film))


def _film_rows(laid: Sequence[str], settings: Settings) -> list[StatusRow]:
    rows = []
    for film in laid:
        known = settings.ground.cap_of(film)
        row = films.films()[film]
        rows.append(
            StatusRow(
                f"Surface film: {film}",
                _cap_words(film, known),
                known.status if known else "planning assumption",
                row.source if known and known.status == "published" else "",
                row.where if known and known.status == "published" else "block file",
            )
        )
    return rows


def _cap_words(film: str, known: FilmCap | None) -> str:
    if known is not None:
        words = f"plain tyres grip {known.grip_cap:.2f} at most"
        if films.films()[film].bites_through:
            return words
        if known.cap_with_aids is None:
            return f"{words}; chains and tracks: not known"
        return f"{words}, chains and tracks {known.cap_with_aids:.2f} ({known.aids_status})"
    return "no cap on plain tyres" if film == NO_FILM else "grip of plain tyres not known"


def _credits(film: str, settings: Settings) -> bool:
    """Whether an aid's grip factor counts on that film."""
    return films.films()[film].credits_grip_factor and settings.ground.cap_of(film) is not None


def _aid_rows(items: Sequence[Carried], factor_counts: bool) -> list[StatusRow]:
    seen = {}
    for item in items:
        for group in item.groups:
            if group.aid is not None:
                seen[group.aid.key] = group.aid
    rows = []
    for aid in seen.values():
        for name in _AID_FIGURES:
            value = getattr(aid, name)
            if value is None or (name == "grip_factor" and not factor_counts and value >= 1.0):
                continue  # on bare soil and under other films the factor is not counted
            if name in ("grip_factor", "resistance_factor") and value == 1.0:
                continue
            rows.append(
                StatusRow(
                    f"{aid.name}, {name}",
                    f"{value:g}",
                    aid.status.get(name, "planning assumption"),
                    _catalogue_source(aid, name),
                    _catalogue_words(aid, name),
                )
            )
    return rows


def _catalogue_source(aid: Aid, name: str) -> str:
    """Key of the publication that a figure of the catalogue was read in; empty for any other."""
    key = aid.source.partition(", ")[0]
    return key if aid.status.get(name) == "published" and key in all_sources() else ""


def _catalogue_words(aid: Aid, name: str) -> str:
    """Where a figure of the catalogue comes from, as far as the catalogue says."""
    if _catalogue_source(aid, name):
        return f"aid catalogue, {aid.source.partition(', ')[2]}; the supplier's figure comes first"
    if aid.status.get(name) != SUPPLIERS_FIGURE:
        return "aid catalogue; ask the supplier for the figure"
    own = [e.source for e in aid.effects if quantities()[e.quantity].field == name]
    return f"aid catalogue: {own[0] if own else aid.source or 'source not named'}"


def not_assessed_sentences(
    stations: pd.DataFrame, settings: Settings, shown: Carried, items: Sequence[Carried] = ()
) -> tuple[str, ...]:
    """Say what nobody looked at: metres without data, and what this version leaves out.

    Metres on which wheels lift off are those of the ``shown`` setup; of the others of ``items``
    their number is told, and the most metres of one.
    """
    length = stations["length_m"]
    said = []
    no_terrain = float(length[stations["grade"].isna()].sum())
    no_soil = float(length[stations["ground_class"].isna()].sum())
    if no_terrain:
        said.append(f"{no_terrain:.0f} m of trail lie on or beside voids or edges of the DEM.")
    if no_soil:
        said.append(f"{no_soil:.0f} m of trail have no soil polygon or an unknown soil class.")
    differ = (stations["grade"] - stations["grade_profile"]).abs() > _GRADES_DIFFER
    if differ.any():
        said.append(
            f"On {float(length[differ].sum()):.0f} m the slope of the ground and the profile "
            "between the wheels differ by more than 5 points: look at banks, benches and ruts."
        )
    said += [*_uncharted(items), *_lifting(stations, shown, items)]
    said += _soft_tyres(shown)
    said += [
        "Overturning beyond the statics of a rigid machine and brake capability are not assessed.",
        "The machine is taken to drive front first in both directions, at a steady crawl.",
        "Ditches, stumps, boulders, holes and short pitches are not in the DEM.",
    ]
    for film in _films_of(stations, settings):
        if film == NO_FILM:
            continue
        if settings.ground.cap_of(film) is None:
            said.append(
                f'The film "{film}" has no grip figure: where it lies, nothing is assessed but for '
                "gear that bites through it."
            )
        if not films.films()[film].bites_through and settings.ground.cap_with_aids(film) is None:
            said.append(
                f"On {film} setups with chains or tracks are not assessed: they bite into it, not "
                "through it to the soil, and no figure of what they hold was read. Enter your own."
            )
    return tuple(said)


def _lifting(stations: pd.DataFrame, shown: Carried, items: Sequence[Carried]) -> list[str]:
    """Where wheels lift off in the statics: with the shown setup, and with how many others."""
    own = lift_off_m(stations, shown)
    others = [lift_off_m(stations, item) for item in items if item.setup.id != shown.setup.id]
    others = [metres for metres in others if metres > 0]
    if not own and not others:
        return []
    said = "With the shown setup "
    said += f"wheels lift off in the computation on {own:.0f} m" if own else "no wheels lift off"
    if others:
        setups = "1 other setup" if len(others) == 1 else f"{len(others)} other setups"
        said += f"; with {setups} they do on up to {max(others):.0f} m"
    return [
        f"{said}. A setup counts as short there, whatever the grip: no aid is credited with "
        "holding the machine down, nor is a smaller load than the full one. Look at stability "
        "there, with the maker's data."
    ]


def _uncharted(items: Sequence[Carried]) -> list[str]:
    """Axles whose tyres have no charted pressure, where setups with band tracks ask for it."""
    axles = {
        axle_name(g.group): None
        for item in items
        for g in item.groups
        if g.is_banded and g.group.tyre.charted_inflation_kpa is None
    }
    if not axles:
        return []
    return [
        f"Setups with band tracks on the {' and the '.join(axles)}: their traction was not "
        "assessed. Bands need the charted pressure, and charted_inflation_kpa of these tyres is "
        "not in the machine file."
    ]


def _soft_tyres(shown: Carried) -> list[str]:
    """Tyres below the pressure for which their rated load is charted."""
    said = []
    for g in shown.groups:
        tyre, where = g.group.tyre, axle_name(g.group)
        charted = tyre.charted_inflation_kpa
        if charted is None or tyre.inflation_kpa >= charted:
            continue
        start = f"The tyres of the {where} are set to {tyre.inflation_kpa:g} kPa, charted are "
        start += f"{charted:g} kPa: "
        if g.rated_load_holds:
            start += (
                "the band tracks need the charted pressure, and payload and ratings are worked out "
                "with it. It has to be set before the bands are worked with."
            )
        elif tyre.rated_load_kg is None:
            start += "they carry less than charted. Look the load up for that pressure."
        else:
            start += (
                "they carry less than their rated load, which holds at the charted pressure only. "
                "Their share of it is not known, and the payload within the ratings is an upper "
                "bound. Look the load up for that pressure."
            )
        said.append(start)
    return said
