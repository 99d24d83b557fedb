"""Everything that ``rutwise explain`` can explain, gathered from the registries."""

from __future__ import annotations

import importlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.mechanics.effects import Effect

__all__ = ["Topic", "all_topics", "find_topics"]

_CODE_MODULES = (
    "terrain.inputs.guarded",
    "terrain.inputs.attributes",
    "terrain.inputs.elevation",
    "terrain.inputs.soils",
    "terrain.inputs.soil_moisture_columns",
    "terrain.inputs.water_layers",
    "terrain.inputs.readings",
    "terrain.inputs.trails",
    "terrain.inputs.toml_files",
    "terrain.inputs.machines",
    "terrain.inputs.aids",
    "terrain.inputs.block",
    "terrain.inputs.doubt_table",
    "terrain.inputs.stand",
    "terrain.inputs.site_rules",
    "terrain.inputs.survey",
    "terrain.stations.network",
    "terrain.stations.routes",
    "terrain.decision.contact_checks",
    "terrain.decision.survey",
    "terrain.decision.walk",
    "terrain.outputs.folder",
    "terrain.outputs.package",
    "cli.commands.open",
    "terrain.inputs.pressure_log",
    "cli.commands.new",
    "cli.measured",
)

_PLAIN_KINDS = ("word", "aid")
_MOST_NAMED = 8
_DIRECTIONS = {"+": "more", "-": "less", "0": "no change"}


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing that can be explained: ``kind``, ``name``, a ``title`` and the facts about it.

    ``aliases`` are other words that lead to it.
    """

    kind: str
    name: str
    title: str
    facts: dict[str, str] = field(default_factory=dict)
    aliases: tuple[str, ...] = ()


def all_topics() -> list[Topic]:
    """Words, aids, columns, rules, relations, effects, soil, sources and issue codes."""
    return [
        *_words(),
        *_aids(),
        *_columns(),
        *_rules(),
        *_relations(),
        *_effects(),
        *_soil(),
        *_sources(),
        *_codes(),
    ]


def find_topics(word: str) -> list[Topic]:
    """Topics whose name is ``word``; failing that, those whose name or title holds it.

    One or several of a thing is the same. A word of the outputs or an aid comes first and names
    what else holds the word.
    """
    topics = all_topics()
    wanted = word.strip().lower()
    holding = [t for t in topics if wanted in t.name.lower() or wanted in t.title.lower()]
    exact = [
        t
        for t in topics
        if _singular(wanted)
        in (_singular(name.lower()) for name in (t.name, t.name.split(".")[-1], *t.aliases))
    ]
    if not exact:
        return holding
    if exact[0].kind in _PLAIN_KINDS:
        others = [t.name for t in holding if t not in exact]
        if others:
            named = "; ".join(others[:_MOST_NAMED])
            more = len(others) - _MOST_NAMED
            named += f" and {more} more" if more > 0 else ""
            exact[0] = replace(exact[0], facts={**exact[0].facts, "see also": named})
    return exact


def _singular(name: str) -> str:
    """Leave the ending of several things away: remedies, stretches and chains."""
    for many, one in (("ies", "y"), ("ches", "ch"), ("ss", "ss"), ("s", "")):
        if name.endswith(many):
            return name.removesuffix(many) + one
    return name


def _words() -> list[Topic]:
    from terrain.outputs.wording import DEFINITIONS

    return [
        Topic("word", name, text, aliases=tuple(name.replace(",", "").lower().split()))
        for name, text in DEFINITIONS.items()
    ]


def _aids() -> list[Topic]:
    """Each kind of aid with all that it changes, in words."""
    from terrain.mechanics.effects import effects_of
    from terrain.sources import data_table

    topics = []
    for kind in dict.fromkeys(row["kind"] for row in data_table("aids")["aid"]):
        rows = [row for row in data_table("aids")["aid"] if row["kind"] == kind]
        facts = {e.quantity: _effect_words(e) for e in effects_of(kind)}
        facts["mass"] = _mass_words(rows)
        facts["ask"] = "the supplier and the manufacturer: their figures rule"
        names = tuple(dict.fromkeys(row["name"] for row in rows))
        title = f"{', '.join(names)}: what it changes against bare wheels"
        topics.append(Topic("aid", kind, title, facts, names))
    return topics


def _mass_words(rows: list[dict[str, Any]]) -> str:
    """Range of the masses in the generic catalogue, and their standing."""
    masses = [row["mass_kg"] for row in rows]
    statuses = [row["status"] for row in rows]
    words = [s if isinstance(s, str) else s.get("mass_kg", "planning assumption") for s in statuses]
    spread = (
        f"{min(masses):g} to {max(masses):g}" if min(masses) < max(masses) else f"{masses[0]:g}"
    )
    standing = " and ".join(dict.fromkeys(words))
    return f"more, {spread} kg on one axle group in the generic catalogue, {standing}"


def _effect_words(effect: Effect) -> str:
    """Direction, figure with its unit, and standing of an effect."""
    figure = "" if effect.direction == "0" else f", {_figure_words(effect)}"
    return f"{_DIRECTIONS[effect.direction]}{figure}, {effect.status}"


def _figure_words(effect: Effect) -> str:
    ends = [f"{value:g}" for value in (effect.low, effect.high) if value is not None]
    figure = " to ".join(ends)
    if effect.likely is not None:
        figure = f"{figure}, likely {effect.likely:g}" if ends else f"{effect.likely:g}"
    if not figure:
        return "no figure was read"
    return f"{figure} ({effect.unit})" if " " in effect.unit else f"{figure} {effect.unit}"


def _columns() -> list[Topic]:
    from terrain.columns import TABLES

    return [
        Topic(
            "column",
            f"{c.table}.{c.name}",
            c.meaning,
            {
                "unit": c.unit or "none",
                "made by": f"terrain.{c.made_by}",
                "when missing": c.missing,
            },
        )
        for table in TABLES.values()
        for c in table
    ]


def _rules() -> list[Topic]:
    from terrain.setups.rulebook import ALL_RULES, NO_RULE_COVERS_IT

    return [
        Topic("rule", r.code, r.title, {"rule": r.explain, "basis": r.basis})
        for r in (*ALL_RULES, NO_RULE_COVERS_IT)
    ]


def _relations() -> list[Topic]:
    from terrain.mechanics.relations import checks_of, relations

    return [
        Topic(
            "relation",
            r.id,
            r.title,
            {
                "equation": r.equation,
                "status": r.status,
                "source": r.source,
                "where": r.where,
                "role": r.role,
                "valid": r.validity_words(),
                "conditions": r.conditions,
                **{
                    f"check {k}" if k > 1 else "check": check.in_words()
                    for k, check in enumerate(checks_of(r.id), start=1)
                },
                "code": r.function,
            },
        )
        for r in relations().values()
    ]


def _effects() -> list[Topic]:
    from terrain.mechanics.effects import TOLD, effects

    topics = []
    for e in effects():
        topics.append(
            Topic(
                "effect",
                f"{e.aid}, {e.quantity}",
                _effect_words(e),
                {
                    "figures": _figure_words(e),
                    "used for": e.used_for or TOLD,
                    "note": e.note,
                    "status": e.status,
                    "source": e.source,
                    "where": e.where,
                },
            )
        )
    return topics


def _soil() -> list[Topic]:
    from terrain.mechanics.soil_strength import soil_classes, state_rules

    topics = []
    for row in soil_classes().values():
        low, likely, high = row.cone_index_kpa
        soft, bears, firm = row.bearing_kpa
        topics.append(
            Topic(
                "soil class",
                f"class {row.number}",
                f"{row.name}: {row.typical}",
                {
                    "cone index": f"{low:g}, {likely:g}, {high:g} kPa (low, likely, high)",
                    "bearing capacity": f"{soft:g}, {bears:g}, {firm:g} kPa (low, likely, high)",
                    "standing of the six figures": ", ".join(row.statuses),
                },
            )
        )
    for name, rule in state_rules().items():
        topics.append(
            Topic(
                "moisture state",
                name,
                rule.note or f"the ground is {name}",
                {
                    "wet from drainage": rule.wet_from_drainage or "never by drainage",
                    "wet from class": str(rule.wet_from_class or "never by class"),
                    "class shift": f"{rule.shift_all:+d} everywhere, {rule.shift_wet:+d} where "
                    "wet by class or drainage",
                    "channels start at": f"a catchment of {rule.flow_initiation_ha:g} ha",
                    "status": rule.status,
                },
            )
        )
    return [*topics, *_soil_rules()]


def _soil_rules() -> list[Topic]:
    from terrain.mechanics.readings import readings_rule, shear_classes
    from terrain.mechanics.wet_classes import water_rule

    water, own, shear = water_rule(), readings_rule(), shear_classes()
    return [
        Topic(
            "soil rule",
            "computed wetness",
            "Soil type leads and wetness modifies: depth to water alone condemns no trail.",
            {
                "wet": f"up to {water.wet_up_to_m:g} m of depth to water",
                "standing of that limit": f"{water.wet_status}; {water.source}, {water.where}",
                "rule": water.note,
                "status": water.status,
            },
        ),
        Topic(
            "soil rule",
            "own readings",
            "The more places were read, the more the readings count against the class figure.",
            {
                "rule": "median of the places with weight n / (n + "
                f"{own.prior_worth_places:g}), class figure with the rest",
                "other states": "in a wetter state than that of the readings they can only lower "
                "the figure, in a drier one only raise it",
                "unknown class": f"readings stand alone from {own.least_places_alone} places on",
                "status": own.status,
            },
        ),
        Topic(
            "soil rule",
            "shear readings",
            "A vane reading picks a class; the lowest indicator decides.",
            {
                "rule": f"above {shear.class_1_above_kpa:g} kPa class 1, "
                f"{shear.class_2_above_kpa:g} to {shear.class_1_above_kpa:g} kPa class 2, below it "
                f"class 3; from {own.least_places_alone} places on, and only toward softer",
                "source": f"{shear.source}, {shear.where}",
                "status": shear.status,
            },
        ),
    ]


def _sources() -> list[Topic]:
    from terrain.sources import all_sources

    return [Topic("source", s.key, s.citation, {"read": s.read}) for s in all_sources().values()]


def _codes() -> list[Topic]:
    topics = []
    for name in _CODE_MODULES:
        codes = getattr(importlib.import_module(name), "ISSUE_CODES", {})
        topics += [Topic("issue code", code, title) for code, title in codes.items()]
    return topics
