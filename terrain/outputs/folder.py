"""One folder for a run: written aside first, then moved into place."""

from __future__ import annotations

import secrets
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from terrain.decision.results import Plan
from terrain.errors import InputRefused, Issue
from terrain.outputs.brief import write_brief
from terrain.outputs.exchange import geojson_text, kml_text
from terrain.outputs.file_names import FILES, LEFT_OUT
from terrain.outputs.geopdf import write_geopdf
from terrain.outputs.gps import gpx_text
from terrain.outputs.map_base import base_map_origin
from terrain.outputs.rasters import write_rasters
from terrain.outputs.report import report_html
from terrain.outputs.report_pdf import report_pdf
from terrain.outputs.shown_units import UnitSystem, shown_in
from terrain.outputs.tables import write_tables
from terrain.outputs.web_map import map_html

__all__ = [
    "FILES",
    "ISSUE_CODES",
    "LEFT_OUT",
    "WrittenFile",
    "check_base_map",
    "check_folder",
    "write_outputs",
]

ISSUE_CODES = {
    "OUT01": "the folder to write into is not empty",
    "OUT02": "a file stands where the folder is wanted",
    "OUT03": "a folder stands where a file has to be written",
    "OUT04": "the address of a base map cannot be used",
    "OUT05": "the folder cannot be made, or nothing can be written into it",
}
"""Issue codes of this module and what they stand for."""


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """A written file and what it is for; ``purpose`` says so when the file had to be left out."""

    path: Path
    purpose: str


def check_folder(out: Path, overwrite: bool = False) -> None:
    """Refuse a target that may not be written; cheap, so call it before a long run.

    Raises
    ------
    InputRefused
        OUT01: ``out`` holds files and ``overwrite`` is False. OUT02: ``out`` is a file. OUT03: a
        folder stands where a file has to be written. OUT05: ``out`` cannot be made, or nothing
        can be written into it or beside it.
    """
    try:
        there = out.exists()
        _try_to_write(out)
    except OSError as error:
        what = f"{out} cannot be made or written into: {error.strerror or error}."
        fix = "Name a folder that you may write to."
        raise _refused("OUT05", what, out, fix) from None
    if not there:
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


def _try_to_write(out: Path) -> None:
    """Make what is missing of ``out`` and take it away again; OSError where that fails.

    Results are first written beside ``out`` and then moved into it, so both places are tried.
    """
    out = out.absolute()
    if out.is_symlink():
        out = out.resolve()
    if out.exists() and not out.is_dir():
        return  # told by the caller in words of its own
    missing = []
    folder = out
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    made: list[Path] = []
    try:
        for folder in reversed(missing):
            folder.mkdir()
            made.append(folder)
        for folder in (out.parent, out):
            Path(tempfile.mkdtemp(prefix=f".{out.name}.unfinished-", dir=folder)).rmdir()
    finally:
        for folder in reversed(made):
            folder.rmdir()


def check_base_map(address: str | None) -> None:
    """Refuse an address that the map cannot ask for a base map; cheap, call it before a long run.

    Raises
    ------
    InputRefused
        OUT04: ``address`` is no ``https`` address with ``{z}``, ``{x}`` and ``{y}``.
    """
    try:
        base_map_origin(address)
    except ValueError as error:
        what = f"{address} is no address of a base map."
        raise InputRefused([Issue("OUT04", "error", what, "--base-map", str(error))]) from None


def write_outputs(
    plan: Plan,
    out: Path | str,
    overwrite: bool = False,
    units: UnitSystem = "metric",
    language: str = "en",
    base_map: str | None = None,
) -> list[WrittenFile]:
    """Write map, report and tables of ``plan`` into the folder ``out``.

    ``units`` are those of the pages that people read; files for programs are always metric.
    ``language`` is that of the operator's page. ``base_map`` is the address of an online base map
    behind the map; without one no page asks for anything.

    Everything is first written into a new folder beside ``out``. When all is there, that folder
    takes the place of ``out``, or, if ``out`` holds files and ``overwrite`` is True, each file is
    moved over its older self. Files that Rutwise does not write are never touched. When something
    fails, the new folder is removed and ``out`` is as before.

    Returns
    -------
    list of WrittenFile
        In the order of :data:`FILES`; those of :data:`LEFT_OUT` may be missing and say why.

    Raises
    ------
    InputRefused
        See :func:`check_folder` and :func:`check_base_map`.
    """
    check_base_map(base_map)
    out = Path(out).absolute()
    if out.is_symlink():
        out = out.resolve()
    check_folder(out, overwrite)
    out.parent.mkdir(parents=True, exist_ok=True)
    aside = out.parent / f".{out.name}.unfinished-{secrets.token_hex(4)}"
    aside.mkdir()
    try:
        _write_all(plan, aside, units, language, base_map)
        check_folder(out, overwrite)
        if out.exists() and any(out.iterdir()):
            for name in FILES:
                if (aside / name).exists():
                    (aside / name).replace(out / name)
                else:  # one of an earlier run would belong to another plan
                    (out / name).unlink(missing_ok=True)
        else:
            if out.exists():
                out.rmdir()
            aside.rename(out)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [
        WrittenFile(
            out / name,
            purpose if (out / name).exists() else f"left out: {LEFT_OUT.get(name, 'not made')}",
        )
        for name, purpose in FILES.items()
    ]


def _write_all(
    plan: Plan, folder: Path, units: UnitSystem, language: str, base_map: str | None = None
) -> None:
    shown = shown_in(units)
    (folder / "report.html").write_text(report_html(plan, shown), encoding="utf-8")
    (folder / "report.pdf").write_bytes(report_pdf(plan, shown))
    write_brief(plan, folder, language, "us-letter" if shown.is_us else "a4", units)
    page = map_html(plan, shown=shown, online_base=base_map)
    (folder / "map.html").write_text(page, encoding="utf-8")
    write_tables(plan, folder)
    (folder / "trails.gpx").write_text(gpx_text(plan), encoding="utf-8")
    (folder / "block.kml").write_text(kml_text(plan), encoding="utf-8")
    (folder / "block.geojson").write_text(geojson_text(plan), encoding="utf-8")
    write_rasters(plan, folder)
    write_geopdf(plan, folder / "map_geo.pdf")


def _refused(code: str, what: str, where: Path, fix: str) -> InputRefused:
    return InputRefused([Issue(code, "error", what, str(where), fix)])
