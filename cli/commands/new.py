"""``rutwise new``: a commented block file with a machine file beside it."""

from __future__ import annotations

import sys
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import say, tell
from cli.options import Overwrite

if TYPE_CHECKING:
    from terrain.errors import Issue
    from terrain.outputs.block_template import LayerDraft

__all__ = ["ISSUE_CODES", "Example", "new"]

ISSUE_CODES = {
    "NEW01": "the file to write exists already",
    "NEW02": "the machine file is missing",
    "NEW03": "the raster cannot be read",
    "NEW04": "the block file has an ending that is not .toml",
    "NEW05": "the folder of the block file cannot be made, or nothing can be written into it",
}
"""Issue codes of this command and what they stand for."""


class Example(StrEnum):
    """Which invented machine the new machine file starts from."""

    FORWARDER_8 = "forwarder-8"
    SKIDDER_6 = "skidder-6"
    SKIDDER_4 = "skidder-4"


def _layer_option(flag: str, help: str) -> Any:
    return typer.Option(flag, help=help, show_default=False)


def new(
    block: Annotated[Path, typer.Argument(help="The block file to write.", show_default=False)],
    dem: Annotated[Path | None, _layer_option("--dem", "Elevation raster.")] = None,
    soils: Annotated[Path | None, _layer_option("--soils", "Soil polygons.")] = None,
    trails: Annotated[Path | None, _layer_option("--trails", "Extraction trails.")] = None,
    landings: Annotated[Path | None, _layer_option("--landings", "Landing points.")] = None,
    machine: Annotated[
        Path | None, _layer_option("--machine", "Use this machine file, write no new one.")
    ] = None,
    example: Annotated[
        Example | None,
        _layer_option("--example", "Invented machine that the machine file starts from."),
    ] = None,
    name: Annotated[str | None, _layer_option("--name", "Name of the block.")] = None,
    overwrite: Overwrite = False,
) -> None:
    """Write a commented block file, with a machine file beside it.

    Looks into the layers you name and guesses their columns; says what it guessed. In a terminal
    it asks what it cannot know. Without layers it writes a template to fill in.

    Example: rutwise new block.toml --dem dem.tif --soils soils.gpkg --trails trails.gpkg
    """
    from terrain.errors import InputRefused
    from terrain.models.soil import MOISTURE_STATES, SURFACE_FILMS
    from terrain.outputs.block_template import BlockDraft, block_text, machine_text, relative_name

    block = _with_ending(block)
    folder = block.parent
    beside = folder / "machine.toml"
    files = [block] if machine else [block, beside]
    issues = _folder_issues(folder) or _path_issues(files, overwrite)
    if machine is not None:
        issues += _machine_issues(machine, block)
    unit, found = _look_at_dem(dem)
    issues += found
    drafts = {}
    for role, path in (("soils", soils), ("trails", trails), ("landings", landings)):
        if path is not None:
            draft, found = _look_at_layer(role, path, folder)
            issues += found
            if draft is not None:
                drafts[role] = draft
    if any(issue.severity == "error" for issue in issues):
        raise InputRefused(issues)
    if example is None:
        example = Example.FORWARDER_8
        if machine is None:
            example = Example(_ask("Machine to start from", example.value, list(Example)))
    text = block_text(
        BlockDraft(
            name=name or _ask("Name of the block", block.stem),
            dem_file=relative_name(dem, folder) if dem else "dem.tif",
            elevation_unit=unit,
            layers=drafts,
            machine_file=relative_name(machine, folder) if machine else "machine.toml",
            state=_ask("Moisture state of the ground", "moist", [*MOISTURE_STATES[:-1]]),
            film=_ask("What lies on the ground", "bare mineral", [*SURFACE_FILMS]),
        )
    )
    texts = {block: text}
    if machine is None:
        texts = {beside: machine_text(_example_text(example)), **texts}
    _write_all(folder, texts)
    for path in files:
        say(f"written: {path}")
    _say_what_is_left(block, complete=dem is not None and len(drafts) == 3, own=machine is None)


def _with_ending(block: Path) -> Path:
    """The name with ``.toml`` where it has no ending; another ending is refused."""
    from terrain.errors import InputRefused, Issue

    if block.suffix.lower() == ".toml" or block.is_dir():
        return block
    if block.suffix:
        what, fix = (
            f"The name ends in {block.suffix}.",
            f"Name it {block.with_suffix('.toml').name}.",
        )
        raise InputRefused([Issue("NEW04", "error", what, str(block), fix)])
    return block.with_name(block.name + ".toml")


def _no_folder(folder: Path, reason: str) -> Issue:
    from terrain.errors import Issue

    what = f"Nothing can be written into the folder {folder}: {reason}."
    return Issue("NEW05", "error", what, str(folder), "Name a file in a folder that you may use.")


def _folder_issues(folder: Path) -> list[Issue]:
    """What keeps the folder from being made, as far as can be told before anything is asked."""
    try:
        there = next((path for path in (folder, *folder.parents) if path.exists()), None)
    except OSError as error:
        return [_no_folder(folder, error.strerror or str(error))]
    if there is None or there.is_dir():
        return []
    return [_no_folder(folder, f"{there} is a file")]


def _path_issues(files: list[Path], overwrite: bool) -> list[Issue]:
    from terrain.errors import Issue

    issues = []
    for path in files:
        try:
            there = path.exists()
        except OSError as error:
            what = f"A file of that name cannot be written: {error.strerror or error}."
            issues.append(Issue("NEW05", "error", what, str(path), "Choose another name."))
            continue
        if path.is_dir():
            what, fix = "There is a folder of that name.", "Name a .toml file."
            issues.append(Issue("NEW01", "error", what, str(path), fix))
        elif there and not overwrite:
            what, fix = "The file exists already.", "Choose another name, or add --overwrite."
            if path.name == "machine.toml" and len(files) > 1 and path is files[1]:
                fix = f"Use it with --machine {path}, choose another folder, or add --overwrite."
            issues.append(Issue("NEW01", "error", what, str(path), fix))
    return issues


def _machine_issues(machine: Path, block: Path) -> list[Issue]:
    """Whether ``--machine`` names a file that can be one; its figures are looked at by check."""
    from terrain.errors import Issue
    from terrain.inputs.toml_files import read_toml

    if not machine.is_file():
        what, fix = "The machine file does not exist.", "Check the path, or leave --machine out."
        return [Issue("NEW02", "error", what, str(machine), fix)]
    if block.exists() and block.samefile(machine):
        what, fix = "The block file would replace the machine file.", "Choose another name."
        return [Issue("NEW01", "error", what, str(block), fix)]
    return [
        replace(issue, where=f"--machine {machine}")
        for issue in read_toml(machine, "machine file")[1]
    ]


def _asking() -> bool:
    """Questions are asked only where somebody can answer."""
    return sys.stdin.isatty()


def _ask(question: str, default: str, choices: list[str] | None = None) -> str:
    """Answer of the person at the terminal, else the default, and say that it was taken."""
    if not _asking():
        tell(f"{question}: {default} (not asked, change it in the file)")
        return default
    allowed = [str(choice) for choice in choices or []]
    words = f"{question} ({', '.join(allowed)})" if allowed else question
    while True:
        answer = str(typer.prompt(words, default=default, err=True)).strip()
        if not allowed or answer in allowed:
            return answer
        tell(f"{answer!r} is not one of them.")


def _look_at_dem(path: Path | None) -> tuple[str | None, list[Issue]]:
    """Unit of the heights where it must be asked for, and what keeps the file from being read."""
    if path is None:
        return None, []
    from terrain.inputs.guarded import (
        RASTER_FORMATS,
        check_file,
        not_allowed,
        reason_in,
        sniff_raster,
    )

    resolved, issues = check_file(path, name=str(path))
    if resolved is None:
        return None, issues
    driver = sniff_raster(resolved)
    if driver is None:
        return None, [not_allowed(resolved, str(path), RASTER_FORMATS)]
    import rasterio

    from terrain.errors import Issue

    try:
        with rasterio.open(resolved, driver=driver) as source:
            crs, shape, cell = source.crs, source.shape, source.res[0]
    except rasterio.errors.RasterioError as error:
        reason = reason_in(error, resolved, str(path))
        what, fix = f"The raster cannot be read: {reason}.", "Export it again."
        return None, [Issue("NEW03", "error", what, str(path), fix)]
    named = crs.to_string() if crs else "none"
    tell(f"dem: {shape[1]} x {shape[0]} cells of {cell:g}{_unit_of(crs)}, CRS {named}")
    metric = crs is not None and (crs.is_geographic or crs.linear_units.lower().startswith("met"))
    if metric or crs is None:
        return None, issues
    if not _asking():
        tell(
            f"dem: its CRS is in {crs.linear_units}; set elevation_unit in [dem] if heights are too"
        )
        return None, issues
    return _ask("Unit of the heights", "ft", ["m", "ft", "us-ft"]), issues


def _unit_of(crs: Any) -> str:
    """Unit in which a raster's CRS counts, with a blank before it; empty without a CRS."""
    if crs is None:
        return ""
    if crs.is_geographic:
        return " degrees"
    return " m" if crs.linear_units.lower().startswith("met") else f" {crs.linear_units}"


def _look_at_layer(role: str, path: Path, folder: Path) -> tuple[LayerDraft | None, list[Issue]]:
    """Choose the layer, guess its columns, and say what was guessed."""
    from terrain.inputs.guarded import open_layer
    from terrain.outputs.block_template import ROLES, LayerDraft, relative_name
    from terrain.outputs.column_guess import guess_columns, id_candidates

    layer = _layer_in(role, path)
    frame, issues = open_layer(path, layer, name=str(path))
    if frame is None:
        return None, issues
    guess = guess_columns(role, frame)
    others = [name for name in id_candidates(frame) if name not in guess.values()]
    if others and guess["id"] and _asking():
        choices = [guess["id"], *others]
        guess["id"] = _ask(f"{role}: column of the id", guess["id"], choices)
    for key, (required, meaning) in ROLES[role].items():
        found = guess.get(key)
        if found:
            tell(f"{role}: {key} = {found!r} (guessed: {meaning})")
        elif required:
            guess[key] = "?"
            tell(f"{role}: no column is filled and unique in every row; set {key} yourself")
        else:
            tell(f"{role}: no {key} found")
    return LayerDraft(relative_name(path, folder), layer, guess), issues


def _layer_in(role: str, path: Path) -> str | None:
    """The layer of a file with several whose geometry and name fit the role best."""
    from terrain.inputs.guarded import check_file, sniff_vector

    resolved, _ = check_file(path, name=str(path))
    if resolved is None or sniff_vector(resolved) != "GPKG":
        return None
    import pyogrio

    try:
        layers = [(str(row[0]), str(row[1])) for row in pyogrio.list_layers(resolved)]
    except pyogrio.errors.DataSourceError:
        return None
    if len(layers) < 2:
        return None
    shape = {"soils": "Polygon", "trails": "LineString", "landings": "Point"}[role]
    fitting = [layer for layer, geometry in layers if shape in geometry]
    fitting.sort(key=lambda layer: role.rstrip("s") not in layer.lower())
    if not fitting:
        return None
    chosen = fitting[0]
    if len(fitting) > 1 and _asking():
        chosen = _ask(f"{role}: layer", chosen, fitting)
    tell(f"{role}: layer {chosen!r} of {len(layers)} in the file (guessed)")
    return chosen


def _example_text(example: Example) -> str:
    from importlib import resources

    file = f"machines/{example.value.replace('-', '_')}.toml"
    return resources.files("sample_data").joinpath(file).read_text(encoding="utf-8")


def _write_all(folder: Path, texts: dict[Path, str]) -> None:
    """Make the folder and write the files; what the system refuses is said in words."""
    from terrain.errors import InputRefused

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, text in texts.items():
            _write(path, text)
    except OSError as error:
        raise InputRefused([_no_folder(folder, error.strerror or str(error))]) from None


def _write(path: Path, text: str) -> None:
    """Write in one go, so that a broken run leaves no half file."""
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _say_what_is_left(block: Path, complete: bool, own: bool) -> None:
    from terrain.inputs.block import inspect_block, read_block_file

    _, issues = inspect_block(block) if complete else read_block_file(block)
    for issue in issues:
        if issue.severity == "error":
            tell(str(issue))
    if own:
        tell("The figures of machine.toml are invented: replace every one by your machine's.")
    if not complete:
        tell("Enter the files and columns of the layers that you did not name.")
    tell(f"Then: rutwise check {block}")
