"""One folder for a run: written aside first, then moved into place."""

from __future__ import annotations

import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

from terrain.decision.results import Plan
from terrain.errors import InputRefused, Issue
from terrain.outputs.report import report_html
from terrain.outputs.tables import write_tables
from terrain.outputs.web_map import map_html

__all__ = ["FILES", "WrittenFile", "check_folder", "write_outputs"]

FILES: dict[str, str] = {
    "report.html": "the report: decision, description, instruction, follow-up; print it",
    "map.html": "the map; opens in a browser without a network",
    "block.gpkg": "all layers and tables for a desktop GIS",
    "stations.csv": "one row for every few metres of trail",
    "trails.csv": "one row for each trail",
    "setups.csv": "the scored setups, best first",
    "excluded.csv": "the excluded setups with codes and reasons",
    "second_opinions.csv": "the setups by other models, stability, tyre loads, work and fuel",
    "plan.json": "everything for programs: inputs with digests, settings, versions, verdicts",
}
"""Every file that a run writes, with its purpose."""


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """A written file and what it is for."""

    path: Path
    purpose: str


def check_folder(out: Path, overwrite: bool = False) -> None:
    """Refuse a target that may not be written; cheap, so call it before a long run.

    Raises
    ------
    InputRefused
        OUT01: ``out`` holds files and ``overwrite`` is False. OUT02: ``out`` is a file. OUT03: a
        folder stands where a file has to be written.
    """
    if not out.exists():
        return
    if not out.is_dir():
        raise _refused("OUT02", f"{out} is a file, not a folder.", out, "Name another folder.")
    if any(out.iterdir()) and not overwrite:
        raise _refused(
            "OUT01",
            f"The folder {out} is not empty.",
            out,
            "Name another folder, or allow overwriting (--overwrite): only files that Rutwise "
            "writes are replaced, all others stay.",
        )
    for name in FILES:
        if (out / name).is_dir() and not (out / name).is_symlink():
            raise _refused(
                "OUT03", f"{out / name} is a folder.", out, "Move it away or name another folder."
            )


def write_outputs(plan: Plan, out: Path | str, overwrite: bool = False) -> list[WrittenFile]:
    """Write map, report and tables of ``plan`` into the folder ``out``.

    Everything is first written into a new folder beside ``out``. When all is there, that folder
    takes the place of ``out``, or, if ``out`` holds files and ``overwrite`` is True, each file is
    moved over its older self. Files that Rutwise does not write are never touched. When something
    fails, the new folder is removed and ``out`` is as before.

    Returns
    -------
    list of WrittenFile
        In the order of :data:`FILES`.

    Raises
    ------
    InputRefused
        See :func:`check_folder`.
    """
    out = Path(out).absolute()
    if out.is_symlink():
        out = out.resolve()
    check_folder(out, overwrite)
    out.parent.mkdir(parents=True, exist_ok=True)
    aside = out.parent / f".{out.name}.unfinished-{secrets.token_hex(4)}"
    aside.mkdir()
    try:
        _write_all(plan, aside)
        check_folder(out, overwrite)
        if out.exists() and any(out.iterdir()):
            for name in FILES:
                (aside / name).replace(out / name)
        else:
            if out.exists():
                out.rmdir()
            aside.rename(out)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [WrittenFile(out / name, purpose) for name, purpose in FILES.items()]


def _write_all(plan: Plan, folder: Path) -> None:
    (folder / "report.html").write_text(report_html(plan), encoding="utf-8")
    (folder / "map.html").write_text(map_html(plan), encoding="utf-8")
    write_tables(plan, folder)


def _refused(code: str, what: str, where: Path, fix: str) -> InputRefused:
    return InputRefused([Issue(code, "error", what, str(where), fix)])
