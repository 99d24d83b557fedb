"""``rutwise demo``: the fictional block, from its files to a map and a report."""

from __future__ import annotations

import shutil
import sys
from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from cli.console import say, tell
from cli.options import Language, LanguageOption, Overwrite, Units, UnitsOption

__all__ = ["demo"]


def demo(
    out: Annotated[
        Path, typer.Option("--out", "-o", help="Folder to write into; made if missing.")
    ] = Path("rutwise-demo"),
    units: UnitsOption = Units.METRIC,
    language: LanguageOption = Language.ENGLISH,
    overwrite: Overwrite = False,
) -> None:
    """Plan the fictional demonstration block and say which files to open.

    The block, its soils, trails and machines are invented. Works offline. Its input files are put
    beside the results, so that they can be changed and planned again.

    Example: rutwise demo -o rutwise-demo
    """
    from cli.commands.plan import plan_into
    from terrain.outputs.folder import check_folder

    results, inputs = out / "results", out / "block"
    check_folder(results, overwrite=overwrite)
    tell("planning Ostrel Ridge, block 14: an invented block")
    with resources.as_file(resources.files("sample_data")) as folder:
        if inputs.exists():
            tell(f"{inputs} is there already and is kept as it is")
        else:
            shutil.copytree(
                folder, inputs, ignore=shutil.ignore_patterns("*.py", "__pycache__", "*.pyc")
            )
    plan_into(inputs / "block.toml", results, overwrite, units, language)
    say()
    say(f"Open {results / 'map.html'} and {results / 'report.html'} in a browser.")
    say(f"To try your own changes: edit {inputs / 'block.toml'}, then")
    program = sys.argv[0] if Path(sys.argv[0]).name == "rutwise" else "rutwise"
    say(f"  {program} plan {inputs / 'block.toml'} -o {results} --overwrite")
