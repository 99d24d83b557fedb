"""Report: follow-up with lines to sign, and the standing of every figure with its source."""

from __future__ import annotations

from terrain.decision.results import Plan
from terrain.mechanics.relations import relations
from terrain.outputs.document import (
    Block,
    Bullets,
    Column,
    Heading,
    Paragraph,
    Table,
    Terms,
    named,
    row,
    texts,
)
from terrain.outputs.report_registered import column_head
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import (
    BLOCKS,
    CAUTIONS,
    DEFINITIONS,
    FIELD_CHECKS,
    SIGN_OFF,
    UNKNOWN,
    count,
)
from terrain.sources import all_sources

__all__ = [
    "COLUMN_RELATIONS",
    "caution_blocks",
    "column_standing",
    "follow_up_blocks",
    "standing_blocks",
]

_WEAK = (
    ("Only assumed, wholly or in part:", "planning assumption"),
    ("Only from memory:", "from memory"),
    ("Invented:", "invented"),
)
"""Standings without a source, each with the words of a status that belong to it."""

COLUMN_RELATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Short, worst reserve",
        ("brixius_gross", "brixius_resistance", "track_number", "film_cap", "grip_balance",
         "class_cone_index"),
    ),
    ("Nominal pressure, wheels", ("ngp_wheel", "axle_loads", "side_shares")),
    ("Nominal pressure, band tracks", ("ngp_track", "bogie_contact_length")),
    ("Over bearing", ("ngp_wheel", "ngp_track", "class_bearing")),
    ("Ruts", ("rut_maclaurin", "rut_willoughby_turnage", "rut_multi_pass")),
    ("Payload lost to ratings", ("payload_within_ratings",)),
    ("Work, fuel", ("resistance_work", "driving_fuel")),
)  # fmt: skip
"""Columns of the comparison of setups, with the relations that make them."""


def column_standing(plan: Plan) -> Table:
    """Return what each column of the comparison rests on, with the standing of each part."""
    known = relations()
    rows = [
        row(
            words,
            "; ".join(
                f"{known[name].title.lower()} ({known[name].status})"
                for name in ids
                if name in known
            ),
        )
        for words, ids in COLUMN_RELATIONS
    ]
    tally: dict[str, int] = {}
    for line in plan.statuses:
        if line.name.endswith(", mass_kg"):
            tally[line.status] = tally.get(line.status, 0) + 1
    if tally:
        told = "; ".join(f"{status} ({count(n, 'aid')})" for status, n in tally.items())
        rows.append(row("Mass of aids", f"catalogue of aids: {told}"))
    columns = texts("Column", "Rests on, with its standing")
    return Table(columns, tuple(rows), caption="Standing of these figures")


def caution_blocks() -> list[Block]:
    """Return the usual cautions."""
    return [
        Heading("Cautions", anchor="cautions"),
        Bullets(tuple(("", text) for text in CAUTIONS)),
    ]


def follow_up_blocks() -> list[Block]:
    """Return block four: what to look at and record, and the lines to sign."""
    blank = Column("Filled in", "blank")
    signs = tuple(row(what, entry, "") for what, entry in SIGN_OFF)
    deviations = tuple(row("", "", "") for _ in range(4))
    return [
        Heading(f"4 {BLOCKS[3]}", 1, "follow-up"),
        Heading("Look and record"),
        Bullets(tuple(("", text) for text in FIELD_CHECKS)),
        Heading("Sign-off", anchor="sign-off"),
        Table((*texts("What", "Entry"), blank), signs),
        Heading("Deviations from the plan"),
        Table(
            (*texts("Date", "Trail"), Column("What was done, why, agreed with whom", "blank")),
            deviations,
        ),
    ]


def standing_blocks(plan: Plan, shown: Shown) -> list[Block]:
    """Return every figure with its standing and source, the settings, and the words."""
    known = all_sources()
    used = list(dict.fromkeys(line.source for line in plan.statuses if line.source in known))
    number = {key: k for k, key in enumerate(used, start=1)}
    rows = []
    for line in plan.statuses:
        source = f"[{number[line.source]}]" if line.source in number else line.source
        text = " ".join(part for part in (source, line.where) if part) or "none"
        rows.append(row(named(line.name), line.value, line.status, text))
    blocks: list[Block] = [
        Heading("Every figure and its standing", 1, "standing"),
        *_assumed(plan),
        Table(texts("Figure or relation", "Value", "Standing", "Source and place"), tuple(rows)),
        Heading("Sources"),
        Table(
            texts("No.", "Source", "Read"),
            tuple(row(f"[{number[key]}]", known[key].citation, known[key].read) for key in used),
        ),
    ]
    if shown.is_us:
        blocks.append(
            Paragraph(
                "Values and settings in this part stay metric, as their sources print them and as "
                "the block file holds them.",
                style="note",
            )
        )
    return [
        *blocks,
        Heading("Settings of this run"),
        Terms(tuple(_settings(plan))),
        Heading("Words"),
        Terms(tuple(DEFINITIONS.items())),
    ]


def _assumed(plan: Plan) -> list[Block]:
    """List the figures that no publication or supplier stands behind, before the long table."""
    blocks: list[Block] = []
    for lead, words in _WEAK:
        names: dict[str, list[str]] = {}
        for line in plan.statuses:
            if words in line.status:
                name, _, detail = line.name.partition(", ")
                names.setdefault(name, [])
                if detail:
                    names[name].append(column_head(detail).lower())
        told = [
            f"{named(name)} ({', '.join(details)})" if details else named(name)
            for name, details in names.items()
        ]
        if told:
            blocks.append(Paragraph(f"{'; '.join(told)}.", lead))
    return blocks


def _settings(plan: Plan) -> list[tuple[str, str]]:
    terrain, ground, decision = (
        plan.settings.terrain,
        plan.settings.ground,
        plan.settings.decision,
    )
    cap = "none" if ground.film_grip_cap is None else f"{ground.film_grip_cap:g}"
    rows = [
        ("Spacing of stations", f"{terrain.step_m:g} m"),
        ("Window of the slope plane", f"{terrain.machine_scale_m:g} m"),
        ("Slope classes", "; ".join(plan.slope_labels)),
        ("Margin of elevation read round the trails", f"{terrain.buffer_m:g} m"),
        ("Snapping of trail ends", f"{terrain.snap_m:g} m"),
        ("Ground state", ground.state),
        ("Surface film", ground.film),
        ("Grip cap of plain tyres on that film", cap),
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
    if ground.film_grip_cap_with_aids is not None:
        told = f"{ground.film_grip_cap_with_aids:g} ({ground.film_aids_status})"
        rows.append(("Grip cap of chains and tracks on that film", told))
    if ground.remoulding_index is not None:
        told = f"{ground.remoulding_index:g} ({ground.remoulding_source or UNKNOWN})"
        rows.append(("Remoulding index of the soil", told))
    if ground.frost_depth_m is not None:
        verified = ground.frost_verified_by or UNKNOWN
        rows.append(("Frost", f"{ground.frost_depth_m:g} m deep, verified by {named(verified)}"))
    return rows
