"""Everything that ``rutwise explain`` can explain, gathered from the registries."""

from __future__ import annotations

import importlib
from dataclasses import dataclass, field

__all__ = ["Topic", "all_topics", "find_topics"]

_CODE_MODULES = (
    "terrain.inputs.guarded",
    "terrain.inputs.elevation",
    "terrain.inputs.soils",
    "terrain.inputs.trails",
    "terrain.inputs.toml_files",
    "terrain.inputs.machines",
    "terrain.inputs.aids",
    "terrain.inputs.block",
    "terrain.stations.network",
    "terrain.outputs.folder",
    "terrain.inputs.pressure_log",
    "cli.commands.new",
    "cli.measured",
)


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing that can be explained: ``kind``, ``name``, a ``title`` and the facts about it."""

    kind: str
    name: str
    title: str
    facts: dict[str, str] = field(default_factory=dict)


def all_topics() -> list[Topic]:
    """Columns, rules, relations, sources, soil classes, moisture states and issue codes."""
    return [
        *_columns(),
        *_rules(),
        *_relations(),
        *_soil(),
        *_sources(),
        *_codes(),
    ]


def find_topics(word: str) -> list[Topic]:
    """Topics whose name is ``word``; failing that, those whose name or title holds it."""
    topics = all_topics()
    wanted = word.strip().lower()
    exact = [t for t in topics if wanted in (t.name.lower(), t.name.lower().split(".")[-1])]
    if exact:
        return exact
    return [t for t in topics if wanted in t.name.lower() or wanted in t.title.lower()]


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
    from terrain.mechanics.relations import relations

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
                "valid": "; ".join(
                    f"{k} {low:g} to {high:g}" for k, (low, high) in r.valid.items()
                ),
                "conditions": r.conditions,
                "code": r.function,
            },
        )
        for r in relations().values()
    ]


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
                    "class shift": f"{rule.shift_all:+d} everywhere, {rule.shift_wet:+d} where wet",
                    "status": rule.status,
                },
            )
        )
    return topics


def _sources() -> list[Topic]:
    from terrain.sources import all_sources

    return [Topic("source", s.key, s.citation, {"read": s.read}) for s in all_sources().values()]


def _codes() -> list[Topic]:
    topics = []
    for name in _CODE_MODULES:
        codes = getattr(importlib.import_module(name), "ISSUE_CODES", {})
        topics += [Topic("issue code", code, title) for code, title in codes.items()]
    return topics
