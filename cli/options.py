"""The options that several commands share, in one place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli.console import Format

__all__ = ["BlockPath", "FormatOption", "OutFolder", "Overwrite", "StateOption"]

BlockPath = Annotated[Path, typer.Argument(help="The block file (TOML).", show_default=False)]
OutFolder = Annotated[
    Path, typer.Option("--out", "-o", help="Folder to write into; made if missing.")
]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace files that an earlier run wrote there.")
]
FormatOption = Annotated[Format, typer.Option("--format", help="How the listing is printed.")]
StateOption = Annotated[
    str | None,
    typer.Option(
        "--state",
        help="Moisture state instead of the block file's: dry, moist, wet, saturated or frozen.",
        show_default=False,
    ),
]
