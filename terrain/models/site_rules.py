"""Rule profiles: what a jurisdiction or a site says about ruts, trails and disturbance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from terrain.sources import data_table

__all__ = [
    "DATED_COPY",
    "RuleProfile",
    "RuleText",
    "SlopeTrigger",
    "profile_from",
    "rule_profiles",
    "rule_texts",
]

DATED_COPY = "dated copy, check the current text"
"""Said beside every shipped rule: it is a copy of one day, not the law of today."""


@dataclass(frozen=True, slots=True)
class RuleProfile:
    """One rule about disturbance by machines.

    Attributes
    ----------
    key, title, place : str
    depth_mineral_cm, depth_organic_cm : float or None
        Depth, in cm, beyond which a rut counts, on mineral and on organic soil. None: the rule
        gives no depth for that soil.
    min_length_m : float
        A rut counts only where it runs on for at least this many metres.
    reference_surface : str
        The surface from which depth is measured.
    share_of : str
        ``trail length``, ``block area`` or ``none``: what ``max_share`` is a share of.
    counts : str
        ``ruts``, ``trails`` (every trafficked metre counts) or ``effects`` (nothing that a depth
        can stand for).
    max_share : float or None
        Largest share, a fraction; 0 means that any stretch that counts is too much; None means
        that the rule sets no share.
    severity_shares : tuple of float
        Class edges of the share by which a stand is graded, fractions; empty without.
    effects : tuple of str
        Effects that must not occur, in our words.
    action : str
        What follows when it is exceeded.
    source, where, date, status, note : str
    """

    key: str
    title: str
    place: str
    depth_mineral_cm: float | None
    depth_organic_cm: float | None
    min_length_m: float
    reference_surface: str
    share_of: str
    counts: str
    max_share: float | None
    severity_shares: tuple[float, ...]
    effects: tuple[str, ...]
    action: str
    source: str
    where: str
    date: str
    status: str
    note: str

    @property
    def is_about_ruts(self) -> bool:
        """Whether ruts are what counts, so that a predicted depth can be held against it."""
        return self.counts == "ruts"


@dataclass(frozen=True, slots=True)
class SlopeTrigger:
    """A slope that a rule names: ``slope`` (ratio), and what it is ``meant_for`` in words."""

    slope: float
    meant_for: str


@dataclass(frozen=True, slots=True)
class RuleText:
    """A stop rule (``kind`` "wet weather") or a trigger (``kind`` "slope"), in our words.

    ``conditions`` says when it holds; ``note`` what is odd in the copy that was read; ``triggers``
    are the slopes that the text names.
    """

    key: str
    kind: str
    place: str
    text: str
    conditions: str
    source: str
    where: str
    date: str
    status: str
    note: str
    triggers: tuple[SlopeTrigger, ...] = ()


def rule_profiles() -> dict[str, RuleProfile]:
    """The shipped profiles by key, in the order of ``terrain/data/rule_profiles.toml``."""
    rows = data_table("rule_profiles")["profile"]
    return {row["key"]: profile_from(row) for row in rows}


def profile_from(row: dict[str, Any]) -> RuleProfile:
    """Make a profile of a table row; keys that are left out take their empty value."""
    return RuleProfile(
        key=row["key"],
        title=row["title"],
        place=row.get("place", ""),
        depth_mineral_cm=row.get("depth_mineral_cm"),
        depth_organic_cm=row.get("depth_organic_cm"),
        min_length_m=row.get("min_length_m", 0.0),
        reference_surface=row.get("reference_surface", "not stated"),
        share_of=row.get("share_of", "none"),
        counts=row.get("counts", "ruts"),
        max_share=row.get("max_share"),
        severity_shares=tuple(row.get("severity_shares", ())),
        effects=tuple(row.get("effects", ())),
        action=row.get("action", ""),
        source=row.get("source", ""),
        where=row.get("where", ""),
        date=row.get("date", "not recorded"),
        status=row.get("status", "planning assumption"),
        note=row.get("note", ""),
    )


def rule_texts() -> dict[str, RuleText]:
    """The shipped wet-weather rules and slope triggers by key."""
    return {
        row["key"]: RuleText(
            key=row["key"],
            kind=row["kind"],
            place=row["place"],
            text=row["text"],
            conditions=row["conditions"],
            source=row["source"],
            where=row["where"],
            date=row["date"],
            status=row["status"],
            note=row.get("note", ""),
            triggers=tuple(_trigger(line) for line in row.get("triggers", ())),
        )
        for row in data_table("rule_profiles")["text"]
    }


def _trigger(line: dict[str, Any]) -> SlopeTrigger:
    degrees = line.get("degrees")
    ratio = line["percent"] / 100 if degrees is None else math.tan(math.radians(degrees))
    return SlopeTrigger(ratio, line["meant_for"])
