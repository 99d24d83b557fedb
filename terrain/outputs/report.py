"""``report.html``: the decision first, then the four blocks of a work order. No script in it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from terrain.decision.results import Plan
from terrain.outputs import figures
from terrain.outputs.check_sheet import check_sheet_html
from terrain.outputs.page_parts import (
    SOIL_CLASS_WORDS,
    USUAL,
    environment,
    leading_setups,
    lighter_setups,
    short_by_trail,
    template_text,
)
from terrain.outputs.tables import keyed
from terrain.outputs.wet_section import wet_section
from terrain.outputs.wording import (
    BLOCKS,
    CAUTIONS,
    DEFINITIONS,
    FIELD_CHECKS,
    INVENTED,
    SIGN_OFF,
    UNKNOWN,
    code_list,
)
from terrain.sources import all_sources

__all__ = ["forcing_trails", "grouped_exclusions", "report_html", "rows_of"]

_MOST_PANELS = 6


def report_html(plan: Plan) -> str:
    """Return the report of ``plan`` as one page, the same bytes for the same plan."""
    lighter = lighter_setups(plan)
    forcing = forcing_trails(plan, lighter)
    drawn = _drawn_trails(plan, forcing)
    compare = lighter[0] if lighter else None
    setups = rows_of(plan.ranking.setups)
    for number, row in enumerate(setups, start=1):
        row["number"] = number
    leading = leading_setups(plan.ranking.setups)
    return (
        environment()
        .get_template("report.html")
        .render(
            plan=plan,
            style=Markup(template_text("report.css")),
            invented=INVENTED if plan.invented or plan.machine.invented else "",
            blocks=BLOCKS,
            setups=setups,
            candidate=_row(setups, plan.ranking.candidate),
            shown=_row(setups, plan.ranking.shown),
            lighter=[_row(setups, name) for name in lighter],
            forcing=forcing,
            leading=[setups[row] for row in leading],
            following=[row for k, row in enumerate(setups) if k not in set(leading)],
            others=[
                row
                for row in setups
                if row["setup"] != plan.ranking.candidate and row["standing"] == USUAL
            ],
            ask_first=[row for row in setups if row["standing"] != USUAL],
            opinions=_opinions(plan, [setups[row] for row in leading]),
            excluded=grouped_exclusions(plan.ranking.excluded),
            trails=rows_of(keyed(plan.trails, "trail")),
            soils=_soils(plan),
            landings=[str(name) for name in keyed(plan.landings, "landing")["landing"]],
            totals=_totals(plan),
            wet=wet_section(plan),
            settings=_settings(plan),
            machine=_machine(plan),
            compare=_row(setups, compare),
            slope_bar=Markup(figures.slope_class_bar(plan)),
            trade_off=Markup(figures.trade_off(plan)),
            profiles=Markup(figures.trail_profiles(plan, drawn, compare)) if drawn else "",
            sources=_sources(plan),
            check_sheet=check_sheet_html(plan),
            cautions=CAUTIONS,
            definitions=DEFINITIONS,
            field_checks=FIELD_CHECKS,
            sign_off=SIGN_OFF,
        )
    )


def forcing_trails(plan: Plan, lighter: list[str]) -> list[dict[str, Any]]:
    """Return the trails on which a lighter usual setup is short, the longest shortage first.

    Each row has ``trail``, ``shown_m`` (metres short with the shown setup) and ``lighter_m``, the
    metres short with each of ``lighter`` in order.
    """
    table = short_by_trail(plan)
    own = table[plan.ranking.shown] if plan.ranking.shown in table else table.sum(axis=1) * np.nan
    rows: list[dict[str, Any]] = [
        {
            "trail": str(trail),
            "shown_m": float(own[trail]),
            "lighter_m": [float(value) for value in table.loc[trail, lighter]],
        }
        for trail in table.index
    ]
    rows = [row for row in rows if any(row["lighter_m"]) or row["shown_m"] > 0]
    return sorted(rows, key=lambda row: -max([*row["lighter_m"], row["shown_m"]]))


def grouped_exclusions(excluded: pd.DataFrame) -> list[dict[str, Any]]:
    """Return excluded setups grouped by their codes: ``codes``, ``reasons``, ``setups``.

    ``setups`` is a list of (id, description); groups with more setups come first.
    """
    groups: dict[tuple[str, ...], dict[str, Any]] = {}
    for _, row in excluded.iterrows():
        codes = code_list(row["codes"])
        group = groups.setdefault(codes, {"codes": codes, "reasons": [], "setups": []})
        reason = row["reasons"]
        reason = reason if isinstance(reason, str) else "; ".join(str(text) for text in reason)
        if reason not in group["reasons"]:
            group["reasons"].append(reason)
        group["setups"].append((str(row["setup"]), str(row["description"])))
    return sorted(groups.values(), key=lambda group: -len(group["setups"]))


def rows_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of ``frame`` as dicts; NA becomes NaN so that templates need one test."""
    plain = frame.astype(object).where(frame.notna(), np.nan)
    return [{str(key): value for key, value in row.items()} for row in plain.to_dict("records")]


def _opinions(plan: Plan, leading: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Second opinions on the leading setups, in their order."""
    if plan.second_opinions is None:
        return []
    found = {row["setup"]: row for row in rows_of(plan.second_opinions)}
    return [{**row, **found[row["setup"]]} for row in leading if row["setup"] in found]


def _row(rows: list[dict[str, Any]], setup: str | None) -> dict[str, Any] | None:
    return next((row for row in rows if row["setup"] == setup), None)


def _drawn_trails(plan: Plan, forcing: list[dict[str, Any]]) -> list[str]:
    if plan.ranking.shown not in plan.evaluation.setups:
        return []
    return [row["trail"] for row in forcing[:_MOST_PANELS]]


def _totals(plan: Plan) -> dict[str, float]:
    length = plan.stations["length_m"].to_numpy(dtype=float)
    wet = plan.stations["wet"].astype("boolean").fillna(False).to_numpy(dtype=bool)
    unknown = plan.stations["slope_class"].to_numpy() == 0
    no_soil = plan.stations["soil_class"].isna().to_numpy()
    return {
        "length_m": float(length.sum()),
        "wet_m": float(length[wet].sum()),
        "no_slope_m": float(length[unknown].sum()),
        "no_soil_m": float(length[no_soil].sum()),
    }


def _soils(plan: Plan) -> list[dict[str, Any]]:
    stations = plan.stations
    rows = []
    for _, row in keyed(plan.soils, "polygon").iterrows():
        here = (stations["soil_polygon"].astype(str) == str(row["polygon"])).to_numpy(dtype=bool)
        number = row["soil_class"]
        rows.append(
            {
                "polygon": str(row["polygon"]),
                "soil_class": UNKNOWN if pd.isna(number) else SOIL_CLASS_WORDS[int(number)],
                "class_from": _text(row.get("class_from")),
                "drainage": _text(row.get("drainage")),
                "texture": _text(row.get("texture")),
                "trail_m": float(stations["length_m"].to_numpy(dtype=float)[here].sum()),
            }
        )
    return rows


def _text(value: Any) -> str:
    return value if isinstance(value, str) and value else UNKNOWN


def _machine(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "name": f"{group.name} {'bogie' if group.kind == 'bogie' else 'single axle'}",
            "wheels": group.wheels,
            "tyre": group.tyre,
            "driven": "driven" if group.driven else "not driven",
            "rated_mass_kg": group.rated_mass_kg,
        }
        for group in plan.machine.groups
    ]


def _settings(plan: Plan) -> list[tuple[str, str]]:
    terrain, ground, decision = (
        plan.settings.terrain,
        plan.settings.ground,
        plan.settings.decision,
    )
    rows = [
        ("Spacing of stations", f"{terrain.step_m:g} m"),
        ("Window of the slope plane", f"{terrain.machine_scale_m:g} m"),
        ("Slope classes", "; ".join(plan.slope_labels)),
        ("Margin of elevation read round the trails", f"{terrain.buffer_m:g} m"),
        ("Snapping of trail ends", f"{terrain.snap_m:g} m"),
        ("Ground state", ground.state),
        ("Surface film", ground.film),
        (
            "Grip cap of plain tyres on that film",
            "none" if ground.film_grip_cap is None else f"{ground.film_grip_cap:g}",
        ),
        ("Slip at which traction is counted", f"{decision.slip_limit * 100:g} %"),
        (
            "Weight of traction need, of ground pressure",
            f"{decision.traction_weight:g}, {1 - decision.traction_weight:g}",
        ),
        (
            "Share of metres that may need other measures",
            f"{decision.measures_share_max * 100:g} %",
        ),
    ]
    if ground.film_cap_status:
        rows.append(("Standing of that cap", ground.film_cap_status))
    if ground.frost_depth_m is not None:
        verified = ground.frost_verified_by or UNKNOWN
        rows.append(("Frost", f"{ground.frost_depth_m:g} m deep, verified by {verified}"))
    return rows


def _sources(plan: Plan) -> dict[str, str]:
    known = all_sources()
    return {key: source.citation for key, source in known.items()}
