"""Write a first block file: commented, complete, with columns guessed from the given layers."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from string import Template

__all__ = ["ROLES", "BlockDraft", "LayerDraft", "block_text", "machine_text", "relative_name"]

ROLES: dict[str, dict[str, tuple[bool, str]]] = {
    "soils": {
        "id": (True, "column with the polygon's name"),
        "soil_class": (False, "column with the class 1-4"),
        "drainage": (False, "column with the USDA drainage class"),
        "texture": (False, "column with the USDA texture class"),
    },
    "trails": {
        "id": (True, "column with the trail's name"),
        "trail_class": (False, "column with the trail's class"),
        "volume_m3": (False, "column with the volume along it, solid m3"),
        "width_m": (False, "column with its width, metres"),
    },
    "landings": {"id": (True, "column with the landing's name")},
}
"""Keys of each layer in a block file: whether it is required, and what it means."""

_PLACEHOLDERS = {
    "soils": {"id": "polygon", "soil_class": "soil_class"},
    "trails": {"id": "trail", "volume_m3": "volume_m3"},
    "landings": {"id": "landing"},
}


@dataclass(frozen=True, slots=True)
class LayerDraft:
    """A layer for the draft: ``file`` as to be written, its ``layer``, its ``columns`` by key."""

    file: str
    layer: str | None = None
    columns: Mapping[str, str | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BlockDraft:
    """What is known of a block before anybody has edited its file.

    ``layers`` maps ``soils``, ``trails``, ``landings`` to drafts; one that is missing is written
    with placeholders. ``elevation_unit`` is ``m``, ``ft``, ``us-ft`` or None (left out).
    """

    name: str
    dem_file: str = "dem.tif"
    elevation_unit: str | None = None
    layers: Mapping[str, LayerDraft] = field(default_factory=dict)
    machine_file: str = "machine.toml"
    state: str = "moist"
    film: str = "bare mineral"


def block_text(draft: BlockDraft) -> str:
    """Text of the commented block file for ``draft``; it can be read by ``read_block_file``."""
    unit = _line("elevation_unit", draft.elevation_unit, '"m", "ft" or "us-ft"; else from the CRS')
    words = {
        "name": _quoted(draft.name),
        "dem_file": _quoted(draft.dem_file),
        "dem_unit": unit,
        "machine_file": _quoted(draft.machine_file),
        "state": _quoted(draft.state),
        "film": _quoted(draft.film),
    }
    for role, keys in ROLES.items():
        layer = draft.layers.get(role)
        if layer is None:
            layer = LayerDraft(f"{role}.gpkg", None, _PLACEHOLDERS[role])
        words[f"{role}_file"] = _quoted(layer.file)
        words[f"{role}_layer"] = _line("layer", layer.layer, "only when the file holds several")
        for key, (_, meaning) in keys.items():
            words[f"{role}_{key}"] = _line(key, layer.columns.get(key), meaning)
    template = resources.files("terrain.outputs").joinpath("templates/block.toml")
    return Template(template.read_text(encoding="utf-8")).substitute(words)


def machine_text(example: str) -> str:
    """Turn the text of an invented demonstration machine into one that asks to be edited.

    It keeps ``invented = true``, so that every output says so until somebody has entered the
    figures of a real machine and removed the line. The part of the crane, which is optional, stands
    there as remarks, so that no invented crane is left in by oversight.
    """
    body = example[example.index("[machine]") :]
    lines = body.splitlines()
    named = next(n for n, line in enumerate(lines) if line.startswith("name ="))
    lines[named] = 'name = "My machine (figures not entered yet)"'
    marked = next(n for n, line in enumerate(lines) if line.startswith("invented ="))
    lines[marked] = "invented = true                  # remove when every figure is your machine's"
    cranes = [n for n, text in enumerate(lines) if text.startswith("[crane]")]
    for n in range(cranes[0], len(lines)) if cranes else ():
        lines[n] = f"# {lines[n]}".rstrip()
    header = (
        "# Machine file of Rutwise. EVERY FIGURE BELOW IS INVENTED: replace each by your own\n"
        "# (rating plate, manual, weighbridge, tape), then remove the line invented = true.\n"
        "# Units stand in the names of the keys: _kg, _m, _kpa (1 bar = 100 kPa), _kn.\n\n"
    )
    return header + "\n".join(lines) + "\n"


def relative_name(path: Path, folder: Path) -> str:
    """``path`` as to be written in a block file in ``folder``, with forward slashes."""
    path = path.absolute()
    try:
        return Path(os.path.relpath(path, folder.absolute())).as_posix()
    except ValueError:  # another drive
        return path.as_posix()


def _quoted(text: str) -> str:
    """``text`` as a TOML string: JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _line(key: str, value: str | None, meaning: str) -> str:
    """One key with its meaning, commented out when there is no value."""
    text = f'# {key} = ""' if value is None else f"{key} = {_quoted(value)}"
    return f"{text:<32} # {meaning}"
