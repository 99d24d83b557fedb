"""Report: basic facts, and the description of slope, trails, soil and water."""

from __future__ import annotations

from typing import Any

import pandas as pd

from terrain.decision.results import Plan
from terrain.outputs import figures, report_plots
from terrain.outputs.document import (
    Block,
    Figure,
    Heading,
    Paragraph,
    Row,
    Table,
    Terms,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.document import Column as Head
from terrain.outputs.load_words import load_words
from terrain.outputs.page_parts import (
    SOIL_CLASS_WORDS,
    keyed,
    lighter_setups,
    rows_of,
    without_geometry,
)
from terrain.outputs.report_decision import forcing_trails
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import BLOCKS, UNKNOWN, count

__all__ = ["description_blocks", "facts_blocks"]

_MOST_PANELS = 6


def facts_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return block one: what was planned, with which machine, from which files."""
    machine = plan.machine
    units = shown.words.removeprefix("Units: ")
    landings = ", ".join(named(str(name)) for name in keyed(plan.landings, "landing")["landing"])
    effort = (
        f"{shown.force(machine.max_tractive_effort_kn)} on bare tyres"
        if machine.max_tractive_effort_kn
        else "not given: no driveline cap is applied"
    )
    terms = [
        ("Block", named(plan.name)),
        (
            "Trails",
            f"{count(len(plan.trails), 'trail')}, "
            f"{shown.length(float(plan.stations['length_m'].sum()))}",
        ),
        ("Landings", landings),
        ("Ground state", f"{plan.settings.ground.state}, surface: {plan.settings.ground.film}"),
        ("Elevation", f"cells of {plan.dem.cell_m:g} m; {plan.crs_note}"),
        ("Machine", f"{named(machine.name)} ({machine.kind}, {machine.wheels} wheels)"),
        (
            "Unladen mass",
            f"{shown.mass(machine.unladen_mass_kg)}, of it {shown.mass(machine.unladen_front_kg)} "
            "on the front",
        ),
        ("Full load", shown.mass(machine.payload_kg)),
        ("Largest tractive effort", effort),
        *(
            _axle(group, _carries_band(plan, number), shown)
            for number, group in enumerate(machine.groups)
        ),
        ("Program", f"Rutwise {plan.version}"),
        ("Units", units[:1].upper() + units[1:]),
    ]
    files = tuple(row(file.role, named(file.name), file.detail, file.sha256) for file in plan.files)
    columns = (*texts("Role", "File", "Detail"), Head("SHA-256", "mono"))
    return [
        Heading(f"1 {BLOCKS[0]}", 1, "facts"),
        Terms(tuple(terms)),
        Heading("Inputs"),
        Table(columns, files),
    ]


def description_blocks(plan: Plan, shown: Shown, wet: list[Block]) -> list[Block]:
    """Return block two; ``wet`` is the part on wet ground, already made."""
    totals = _totals(plan)
    window = shown.length(plan.settings.terrain.machine_scale_m)
    unknown_wet = ""
    if totals["wetness_unknown_m"] > 0:
        unknown_wet = f"; not known on {shown.length(totals['wetness_unknown_m'])}"
    blocks: list[Block] = [
        Heading(f"2 {BLOCKS[1]}", 1, "description"),
        Heading("Slope of the ground under the trails"),
        Figure(
            figures.slope_class_bar(plan, shown),
            f"Length of trail in each slope class; steepest slope of a least-squares plane over "
            f"{window}. {shown.length(totals['no_slope_m'])} not assessed.{_pointer(plan)}",
            "Bar chart: length of trail in each slope class",
        ),
        Heading("Trails"),
        *_trails(plan, shown),
        Heading("Soil"),
        _soils(plan, shown),
        Paragraph(
            f"Wet in the state \u201c{plan.settings.ground.state}\u201d: "
            f"{shown.length(totals['wet_m'])} of {shown.length(totals['length_m'])}{unknown_wet}. "
            f"Without soil class: {shown.length(totals['no_soil_m'])}."
        ),
        *wet,
    ]
    return [*blocks, *_profiles(plan, shown)]


def _pointer(plan: Plan) -> str:
    """Say where to read which trails are beyond the slopes that rules name."""
    if plan.check_sheet is None:
        return ""
    return (
        " Which trails are steeper than the slopes that rules name stands at the end of the "
        "soil-disturbance check."
    )


def _carries_band(plan: Plan, number: int) -> bool:
    """Whether axle group ``number`` carries a band track in the shown setup."""
    if plan.shown_setup is None:
        return False
    mount = plan.shown_setup.mounts[number]
    return any(aid.kind == "band track" for aid in (*mount.left, *mount.right))


def _axle(group: Any, has_band: bool, shown: Shown) -> tuple[str, str]:
    kind = "bogie" if group.kind == "bogie" else "single axle"
    tyre = group.tyre
    charted = (
        f" (charted {shown.pressure(tyre.charted_inflation_kpa)})"
        if tyre.charted_inflation_kpa
        else ""
    )
    if has_band and (tyre.charted_inflation_kpa or 0) > tyre.inflation_kpa:
        charted += "; under the band tracks of the shown setup the charted pressure is reckoned"
    words = (
        f"{group.wheels} wheels, {named(tyre.designation)}, "
        f"{'driven' if group.driven else 'not driven'}, inflation "
        f"{shown.pressure(tyre.inflation_kpa)}{charted}; rated mass "
        f"{shown.mass(group.rated_mass_kg)}"
    )
    return f"{group.name} {kind}".capitalize(), words


def _totals(plan: Plan) -> dict[str, float]:
    length = plan.stations["length_m"].to_numpy(dtype=float)
    wet = plan.stations["wet"].astype("boolean")
    unknown = plan.stations["slope_class"].to_numpy() == 0
    no_soil = plan.stations["soil_class"].isna().to_numpy()
    return {
        "length_m": float(length.sum()),
        "wet_m": float(length[wet.fillna(False).to_numpy(dtype=bool)].sum()),
        "wetness_unknown_m": float(length[wet.isna().to_numpy()].sum()),
        "no_slope_m": float(length[unknown].sum()),
        "no_soil_m": float(length[no_soil].sum()),
    }


def _trails(plan: Plan, shown: Shown) -> list[Block]:
    lines = rows_of(keyed(without_geometry(plan.trails), "trail"))
    loads = load_words(plan, shown)
    ground = Table(
        (
            *texts("Trail", "Class"),
            *numbers(
                "Length", "Steepest uphill, loaded", "Steepest downhill, loaded",
                "Steepest cross slope", "Steepest on the elevation's own cells", "Wet",
                "Soil class 4",
            ),
        ),
        tuple(_ground_row(line, shown) for line in lines),
        caption="The ground under each trail",
    )  # fmt: skip
    answer = Table(
        (
            *texts("Trail"),
            *numbers("Length", "Not assessed", "Short", "Over bearing", "Worst reserve"),
            *(texts("Load, with the way to the landing") if loads else ()),
        ),
        tuple(
            row(
                named(str(line["trail"])),
                shown.length(line["length_m"]),
                shown.length(line["not_assessed_m"]),
                shown.length(line["short_m"]),
                shown.length(line["over_bearing_m"]),
                shown.slope(line["worst_reserve"]),
                *([loads.get(str(line["trail"]), "closed")] if loads else []),
            )
            for line in lines
        ),
        caption="Each trail with the shown setup",
    )
    note = (
        "Soil class 4 is ground that the class card calls unsuitable for traffic. Uphill and "
        "downhill in the direction of loaded travel."
    )
    blocks: list[Block] = [ground, Paragraph(note, style="note"), answer]
    if loads:
        told = (
            "Load: the most that ground, grip and ratings bear in the computation, bogie wheels "
            "carrying alike; less where bogies pivot freely. Never a permission."
        )
        blocks.append(Paragraph(told, style="note"))
    return blocks


def _ground_row(line: dict[str, Any], shown: Shown) -> Row:
    kind = line["trail_class"]
    return row(
        named(str(line["trail"])),
        named(kind) if isinstance(kind, str) else "not given",
        shown.length(line["length_m"]),
        *shown.steepest(line["steepest_up"], line["steepest_down"]),
        shown.slope(line["steepest_cross"]),
        shown.slope(line["steepest_native"]),
        shown.length(line["wet_m"]),
        shown.length(line["no_traffic_m"]),
    )


def _soils(plan: Plan, shown: Shown) -> Table:
    stations = plan.stations
    length = stations["length_m"].to_numpy(dtype=float)
    rows = []
    for _, line in keyed(plan.soils, "polygon").iterrows():
        here = (stations["soil_polygon"].astype(str) == str(line["polygon"])).to_numpy(dtype=bool)
        number = line["soil_class"]
        rows.append(
            row(
                named(str(line["polygon"])),
                UNKNOWN if pd.isna(number) else SOIL_CLASS_WORDS[int(number)],
                _text(line.get("class_from")),
                _text(line.get("drainage")),
                _text(line.get("texture")),
                shown.length(float(length[here].sum())),
            )
        )
    columns = texts("Polygon", "Sensitivity class", "Class comes from", "Drainage", "Texture")
    return Table((*columns, *numbers("Trail on it")), tuple(rows))


def _text(value: Any) -> str:
    return named(value) if isinstance(value, str) and value else UNKNOWN


def _profiles(plan: Plan, shown: Shown) -> list[Block]:
    lighter = lighter_setups(plan)
    if plan.ranking.shown not in plan.evaluation.setups:
        return []
    names = [line["trail"] for line in forcing_trails(plan, lighter)][:_MOST_PANELS]
    compare = lighter[0] if lighter else None
    described = plan.ranking.setups.set_index("setup")["description"]
    other = f", of \u201c{described[compare]}\u201d (dashed)" if compare else ""
    blocks: list[Block] = [
        Heading("Grip that the trails ask for and grip that there is"),
        Figure(
            report_plots.demand_supply(plan, compare),
            f"Each mark is a station: across, the grade that the trail asks for (uphill loaded "
            f"right of zero, downhill left); up, the steepest grade that the shown setup (filled)"
            f"{' and the compared one (hollow)' if compare else ''} would hold there. Marks below "
            "the lines are short.",
            "Scatter plot: grade asked for against grade that can be held, by station",
        ),
    ]
    if names:
        blocks += [
            Heading("Trails that force the choice"),
            *_profile_figures(plan, names, compare, other, shown),
        ]
    return blocks


def _profile_figures(
    plan: Plan, names: list[str], compare: str | None, other: str, shown: Shown
) -> list[Block]:
    """Profiles, two trails to a figure; the last one carries the words for all."""
    drawn = figures.trail_profiles(plan, names, compare, shown)
    words = (
        "Above: elevation along the trail, stretches that decide in grey, by their names or, where "
        "narrow, the distance at which they start; crossed where no listed setup passes. Below: "
        f"traction reserve of the shown setup (solid){other} and grade in the direction of loaded "
        "travel (dotted). Hatched below zero: short. A gap: not assessed."
    )
    return [
        Figure(
            svg,
            words if k == len(drawn) - 1 else "",
            f"Line charts: elevation, grade and traction reserve along {' and '.join(pair)}",
        )
        for k, (svg, pair) in enumerate(
            zip(drawn, (names[k : k + 2] for k in range(0, len(names), 2)), strict=True)
        )
    ]
