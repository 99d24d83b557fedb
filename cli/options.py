"""The options that several commands share, in one place."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.console import Format

__all__ = [
    "BlockPath",
    "FormatOption",
    "Language",
    "LanguageOption",
    "OutFolder",
    "Overwrite",
    "StateOption",
    "Units",
    "UnitsOption",
]


class Units(StrEnum):
    """The units of the pages that people read."""

    METRIC = "metric"
    US = "us"


class Language(StrEnum):
    """The language of the operator's page."""

    ENGLISH = "en"
    SWEDISH = "sv"
    FINNISH = "fi"
    GERMAN = "de"
    FRENCH = "fr"


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
UnitsOption = Annotated[
    Units,
    typer.Option(
        "--units",
        help="Units of report, operator's page and terminal: metric, or us for feet, pounds and "
        "psi on Letter paper. Files for programs stay metric.",
    ),
]
LanguageOption = Annotated[
    Language,
    typer.Option(
        "--lang",
        help="Language of the operator's page. All but English are unreviewed drafts, and the "
        "page says so.",
    ),
]
