"""One zip of a results folder for a tablet: the same bytes for the same files.

It reads only the names that Rutwise writes, so nothing else that lies in the folder goes along.
Importing this module loads nothing heavy.
"""

from __future__ import annotations

import json
import secrets
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap

from terrain.errors import InputRefused, Issue
from terrain.outputs.wording import DEFERRAL

__all__ = ["ISSUE_CODES", "Packed", "opening_words", "pack_folder", "results_record"]

_FIXED = (1980, 1, 1, 0, 0, 0)  # the first date that a zip can hold
_FIRST = ("brief.pdf", "brief.html", "map.html", "report.pdf", "report.html")
_READ_FIRST = "README.txt"
_WIDTH = 78

ISSUE_CODES = {
    "PCK01": "the folder holds no results of rutwise plan",
    "PCK02": "the zip to write is there already, or is a folder",
    "PCK03": "the zip would lie on a result, or in a folder that is not there",
    "PCK04": "the name of the zip does not end in .zip, or what it would replace is no zip",
}
"""Issue codes of packing and what they stand for."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A written zip: its path, the names inside, and the names that the folder lacked."""

    path: Path
    inside: tuple[str, ...]
    missing: tuple[str, ...]


def results_record(out: Path) -> dict[str, object]:
    """Return ``plan.json`` of a results folder.

    Raises
    ------
    InputRefused
        PCK01: ``out`` is no folder that ``rutwise plan`` wrote.
    """
    file = out / "plan.json"
    try:
        record = json.loads(file.read_text(encoding="utf-8"))
        if not str(record["format"]).startswith("rutwise plan"):
            raise ValueError("not a plan of this program")
    except (OSError, ValueError, KeyError, TypeError):
        raise _refused(
            "PCK01",
            f"{out} holds no results of rutwise plan.",
            out,
            "Name the folder that rutwise plan wrote, the one with map.html and plan.json.",
        ) from None
    return dict(record)


def pack_folder(
    out: Path, target: Path, purposes: Mapping[str, str], overwrite: bool = False
) -> Packed:
    """Put the results in ``out`` into the zip ``target``, with a short text on what to open.

    Parameters
    ----------
    purposes : mapping
        Purpose by name of each file that may go in, in the order of the text.

    Raises
    ------
    InputRefused
        PCK01 as :func:`results_record`. PCK02: ``target`` exists and ``overwrite`` is False, or it
        is a folder. PCK03: ``target`` is one of the results themselves, or its folder is missing.
        PCK04: the name of ``target`` does not end in ``.zip``, or there is a file that is no zip.
    """
    record = results_record(out)
    _check_target(out, target, purposes, overwrite)
    there = [name for name in purposes if (out / name).is_file() and not (out / name).is_symlink()]
    missing = tuple(name for name in purposes if name not in there)
    texts = {name: purposes[name] for name in there}
    aside = target.parent / f".{target.name}.unfinished-{secrets.token_hex(4)}"
    try:
        with zipfile.ZipFile(aside, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
            _add(archive, _READ_FIRST, opening_words(record, texts).encode("utf-8"))
            for name in sorted(there):
                _add(archive, name, (out / name).read_bytes())
        aside.replace(target)
    finally:
        aside.unlink(missing_ok=True)
    return Packed(target, (_READ_FIRST, *sorted(there)), missing)


def opening_words(record: Mapping[str, object], purposes: Mapping[str, str]) -> str:
    """Return the text beside the files: which block, what to open first, what everything is."""
    first = [name for name in _FIRST if name in purposes]
    rest = [name for name in purposes if name not in first]
    width = max((len(name) for name in purposes), default=0) + 2
    lines = [f"Block: {' '.join(str(record.get('block', '')).split())}"]
    if record.get("invented_note"):
        lines += wrap(str(record["invented_note"]), _WIDTH)
    lines += ["", *wrap(str(record.get("headline", "")), _WIDTH), ""]
    lines += ["Unpack the zip first. Nothing here needs a network.", "", "Open first:"]
    lines += [f"  {name.ljust(width)}{purposes[name]}" for name in first]
    lines += ["", "For other programs:"]
    lines += [f"  {name.ljust(width)}{purposes[name]}" for name in rest]
    lines += ["", *wrap(str(record.get("deferral") or DEFERRAL), _WIDTH), ""]
    return "\r\n".join(lines)  # so that the plainest of editors shows the lines


def _add(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, _FIXED)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3  # the same on every computer
    entry.external_attr = 0o100644 << 16
    archive.writestr(entry, content, compresslevel=9)


def _check_target(out: Path, target: Path, names: Mapping[str, str], overwrite: bool) -> None:
    if target.is_dir():
        raise _refused("PCK02", f"{target} is a folder.", target, "Name a file ending in .zip.")
    if not target.parent.is_dir():
        fix = "Make the folder first, or name a file in another one."
        raise _refused("PCK03", f"The folder {target.parent} is not there.", target, fix)
    if target.parent.resolve() == out.resolve() and target.name in names:
        fix = "Name a file ending in .zip, outside the results."
        raise _refused("PCK03", f"{target} is one of the results.", target, fix)
    if target.suffix.lower() != ".zip":
        fix = f"Name a file ending in .zip, for example {target.stem or 'results'}.zip."
        raise _refused("PCK04", f"The name {target.name} does not end in .zip.", target, fix)
    if not target.exists():
        return
    if not zipfile.is_zipfile(target):
        what = f"The file {target} is there already and is no zip: it is not replaced."
        raise _refused("PCK04", what, target, "Name another file, or move that one away.")
    if not overwrite:
        fix = "Name another file, or allow overwriting (--overwrite)."
        raise _refused("PCK02", f"The file {target} is there already.", target, fix)


def _refused(code: str, what: str, where: Path, fix: str) -> InputRefused:
    return InputRefused([Issue(code, "error", what, str(where), fix)])
