"""The options that several commands share, in one place."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.console import Format

__all__ = [
    "BaseMapOption",
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
        help="Units of map, report, operator's page and terminal: metric, or us for feet, pounds "
        "and psi on Letter paper. Files for programs stay metric.",
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
BaseMapOption = Annotated[
    str | None,
    typer.Option(
        "--base-map",
        metavar="ADDRESS",
        help="Address of map pictures to lay behind the map, https with {z}, {x} and {y}, that "
        "you are entitled to use. Off without it. The map then asks that server for pictures each "
        "time it is opened, and needs a network for them; the server sees the area you look at.",
        show_default=False,
    ),
]
