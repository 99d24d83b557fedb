"""The block file's sections on timber, brash and site rules, made into settings and references."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from terrain.errors import Issue
from terrain.inputs.refs import FileRef, LayerRef
from terrain.models.settings import BrashSettings, TrafficSettings

if TYPE_CHECKING:
    from terrain.inputs.block_tables import BlockTables

__all__ = [
    "ISSUE_CODES",
    "TrafficRefs",
    "brash_settings",
    "traffic_issues",
    "traffic_refs",
    "traffic_settings",
]

ISSUE_CODES = {"TRF01": "volumes per hectare need the width that a trail serves"}
"""Issue codes of this module and what they stand for."""


@dataclass(frozen=True, slots=True)
class TrafficRefs:
    """What the block file names about stands and rules; None: not given."""

    stand: LayerRef | None = None
    profile: str | None = None
    profile_file: FileRef | None = None


def traffic_refs(folder: Path, file: BlockTables) -> TrafficRefs:
    """References of ``[stand]`` and ``[site_rules]``, paths beside the block file."""
    stand = None
    if file.stand is not None:
        columns = {"volume_m3_per_ha": file.stand.volume_m3_per_ha}
        stand = LayerRef(folder / file.stand.file, file.stand.file, file.stand.layer, columns)
    rules = file.site_rules
    if rules is None:
        return TrafficRefs(stand)
    own = FileRef(folder / rules.file, rules.file) if rules.file else None
    return TrafficRefs(stand, rules.profile, own)


def traffic_settings(file: BlockTables) -> TrafficSettings:
    """Settings of ``[traffic]``."""
    return TrafficSettings(**file.traffic.model_dump())


def brash_settings(file: BlockTables) -> BrashSettings | None:
    """Settings of ``[brash]``; None without that section."""
    return None if file.brash is None else BrashSettings(**file.brash.model_dump())


def traffic_issues(file: BlockTables, where: str) -> list[Issue]:
    """Volumes per hectare say nothing of a trail unless the width that it serves is known."""
    needed = []
    if file.traffic.served_width_m is None:
        needed += ["traffic.volume_m3_per_ha"] if file.traffic.volume_m3_per_ha is not None else []
        needed += ["stand.volume_m3_per_ha"] if file.stand is not None else []
    return [
        Issue(
            "TRF01",
            "error",
            f"{key} is given without traffic.served_width_m.",
            f"{where}, {key}",
            "Add served_width_m to [traffic]: usually the spacing of the trails, metres.",
        )
        for key in needed
    ]
