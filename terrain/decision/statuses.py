"""The standing of every figure and relation that shaped a result."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from terrain.decision.evaluation import Carried
from terrain.decision.results import StatusRow
from terrain.mechanics import relations, soil_strength
from terrain.models.settings import Settings

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
    "grip_balance",
)
"""Relations that every evaluation rests on, by id of ``terrain/data/relations.toml``."""


def status_rows(
    stations: pd.DataFrame, items: Sequence[Carried], settings: Settings
) -> tuple[StatusRow, ...]:
    """List what the result rests on: relations, soil strength, state, film, aids, weights."""
    rows = []
    known = relations.relations()
    for name in USED_RELATIONS:
        row = known[name]
        rows.append(StatusRow(row.title, row.equation, row.status, row.source, row.where))
    rows += _soil_rows(stations)
    rows += _state_rows(settings)
    rows += _aid_rows(items)
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
    rows = [
        StatusRow(
            f"Moisture state: {ground.state}",
            f"wet where {' or '.join(wet) or 'nothing'}; class shift {rule.shift_all:+d} "
            f"everywhere, {rule.shift_wet:+d} more where wet",
            rule.status,
            "",
            "chosen in the block file",
        )
    ]
    cap = ground.film_grip_cap
    rows.append(
        StatusRow(
            f"Surface film: {ground.film}",
            "no cap on plain tyres" if cap is None else f"plain tyres grip {cap:.2f} at most",
            ground.film_cap_status or "planning assumption",
            "",
            "block file",
        )
    )
    return rows


def _aid_rows(items: Sequence[Carried]) -> list[StatusRow]:
    seen = {}
    for item in items:
        for group in item.groups:
            if group.aid is not None:
                seen[group.aid.key] = group.aid
    rows = []
    for aid in seen.values():
        for name in ("mass_kg", "width_m", "contact_length_m", "thickness_m", "grip_factor"):
            value = getattr(aid, name)
            if value is None or (name == "grip_factor" and value == 1.0):
                continue
            rows.append(
                StatusRow(
                    f"{aid.name}, {name}",
                    f"{value:g}",
                    aid.status.get(name, "planning assumption"),
                    "",
                    "aid catalogue; ask the supplier for the figure",
                )
            )
    return rows


def not_assessed_sentences(stations: pd.DataFrame, settings: Settings) -> tuple[str, ...]:
    """Say what nobody looked at: metres without data, and what this version leaves out."""
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
    said += [
        "Overturning and brake capability are not assessed.",
        "The machine is taken to drive front first in both directions, at a steady crawl.",
        "Ditches, stumps, boulders, holes and short pitches are not in the DEM.",
    ]
    if settings.ground.film_grip_cap is None and settings.ground.film != "bare mineral":
        said.append(
            f'The film "{settings.ground.film}" has no grip figure: its effect is not assessed.'
        )
    return tuple(said)
