"""Say in a message which key of the block file, or which option, named the thing at fault."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from terrain.errors import Issue

if TYPE_CHECKING:
    from terrain.inputs.block_file import BlockFile
    from terrain.inputs.refs import FileRef, LayerRef

__all__ = ["with_keys", "with_options"]

_ABOUT_A_FILE = (
    "INP20",
    "INP21",
    "INP22",
    "INP23",
    "INP24",
    "INP25",
    "INP26",
    "INP27",
    "INP28",
    "TOML01",
    "TOML02",
    "TOML09",
)


def with_keys(issues: Iterable[Issue], block: BlockFile) -> list[Issue]:
    """Name the key beside the file, where an issue is about a file as a whole.

    A file that several keys name is told with all of them.
    """
    keys: dict[str, list[str]] = {}
    for key, ref in _named(block):
        for written in {ref.name, str(ref.path)}:
            keys.setdefault(written, []).append(key)
    told = []
    for issue in issues:
        if issue.code in _ABOUT_A_FILE and issue.where in keys:
            named = " and ".join(dict.fromkeys(keys[issue.where]))
            issue = replace(issue, where=f"{block.path.name}, {named}: {issue.where}")
        told.append(issue)
    return told


def _named(block: BlockFile) -> list[tuple[str, FileRef | LayerRef]]:
    water, traffic = block.water, block.traffic
    refs = {
        "machine.file": block.machine,
        "aids.file": block.aids,
        "site_rules.file": traffic.profile_file,
        "trails.file": block.trails,
        "dem.file": block.dem,
        "landings.file": block.landings,
        "soils.file": block.soils,
        "boundary.file": block.boundary,
        "water.streams_file": water.streams,
        "water.open_water_file": water.open_water,
        "crossings.file": water.crossings,
        "buffers.file": water.buffers,
        "readings.file": water.readings,
        "stand.file": traffic.stand,
    }
    found = [(key, ref) for key, ref in refs.items() if ref is not None]
    return [*found, *(("machine.compare", ref) for ref in block.other_machines)]


def with_options(issues: Iterable[Issue], options: Mapping[str, str]) -> list[Issue]:
    """Name the option of the command line in place of the key whose value it replaced.

    ``options`` maps dotted keys to options: ``{"ground.state": "--state"}``.
    """
    told = []
    for issue in issues:
        for key, option in options.items():
            if issue.where.endswith(f", {key}"):
                issue = replace(issue, where=option)
        told.append(issue)
    return told
