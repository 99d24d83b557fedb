"""One folder for a run: written aside first, then moved into place."""

from __future__ import annotations

import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

from terrain.decision.results import Plan
from terrain.errors import InputRefused, Issue
from terrain.outputs.brief import write_brief
from terrain.outputs.exchange import geojson_text, kml_text
from terrain.outputs.file_names import FILES, LEFT_OUT
from terrain.outputs.geopdf import write_geopdf
from terrain.outputs.gps import gpx_text
from terrain.outputs.rasters import write_rasters
from terrain.outputs.report import report_html
from terrain.outputs.report_pdf import report_pdf
from terrain.outputs.shown_units import UnitSystem, shown_in
from terrain.outputs.tables import write_tables
from terrain.outputs.web_map import map_html

__all__ = ["FILES", "LEFT_OUT", "WrittenFile", "check_folder", "write_outputs"]


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


def write_outputs(
    plan: Plan,
    out: Path | str,
    overwrite: bool = False,
    units: UnitSystem = "metric",
    language: str = "en",
) -> list[WrittenFile]:
    """Write map, report and tables of ``plan`` into the folder ``out``.

    ``units`` are those of the pages that people read; files for programs are always metric.
    ``language`` is that of the operator's page.

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
        _write_all(plan, aside, units, language)
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


def _write_all(plan: Plan, folder: Path, units: UnitSystem, language: str) -> None:
    shown = shown_in(units)
    (folder / "report.html").write_text(report_html(plan, shown), encoding="utf-8")
    (folder / "report.pdf").write_bytes(report_pdf(plan, shown))
    write_brief(plan, folder, language, "us-letter" if shown.is_us else "a4", units)
    (folder / "map.html").write_text(map_html(plan), encoding="utf-8")
    write_tables(plan, folder)
    (folder / "trails.gpx").write_text(gpx_text(plan), encoding="utf-8")
    (folder / "block.kml").write_text(kml_text(plan), encoding="utf-8")
    (folder / "block.geojson").write_text(geojson_text(plan), encoding="utf-8")
    write_rasters(plan, folder)
    write_geopdf(plan, folder / "map_geo.pdf")


def _refused(code: str, what: str, where: Path, fix: str) -> InputRefused:
    return InputRefused([Issue(code, "error", what, str(where), fix)])
