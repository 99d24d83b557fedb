"""``rutwise pack``: one zip of the results for a tablet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli.console import say

__all__ = ["pack"]


def pack(
    out: Annotated[
        Path, typer.Argument(help="The folder that rutwise plan wrote.", show_default=False)
    ],
    target: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", help="File to write, ending in .zip; absent: beside the folder."
        ),
    ] = None,
    tables: Annotated[
        bool, typer.Option("--tables/--no-tables", help="Also pack CSV files and plan.json.")
    ] = False,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a zip that is there already.")
    ] = False,
) -> None:
    """Pack the results into one zip for a tablet, with a text that says what to open.

    Everything in it works without a network. The same results give the same zip.

    Example: rutwise pack out -o block-14.zip
    """
    from terrain.outputs.file_names import FILES, LEFT_OUT
    from terrain.outputs.package import pack_folder
    from terrain.outputs.wording import DEFERRAL

    purposes = {
        name: purpose
        for name, purpose in FILES.items()
        if tables or not name.endswith((".csv", ".json"))
    }
    folder = out.absolute()
    made = pack_folder(out, target or folder.parent / f"{folder.name}.zip", purposes, overwrite)
    size_mb = made.path.stat().st_size / 1e6
    say(f"{made.path}  {size_mb:.1f} MB, {len(made.inside)} files")
    for name in made.inside:
        say(f"  {name}")
    if made.missing:
        say("Not in the folder, so not packed:")
        for name in made.missing:
            why = f" ({LEFT_OUT[name]})" if name in LEFT_OUT else ""
            say(f"  {name}{why}")
    say()
    say(DEFERRAL)
