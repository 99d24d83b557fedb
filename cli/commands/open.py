"""``rutwise open``: show the results in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli.console import ExitCode, say, tell
from terrain.errors import InputRefused, Issue

__all__ = ["ISSUE_CODES", "open_results"]

ISSUE_CODES = {"OPN01": "the folder does not hold the page to open"}
"""Issue codes of this command and what they stand for."""


def open_results(
    out: Annotated[
        Path, typer.Argument(help="The folder that rutwise plan wrote.", show_default=False)
    ],
    report: Annotated[bool, typer.Option("--report", help="Open the report.")] = False,
    brief: Annotated[bool, typer.Option("--brief", help="Open the operator's page.")] = False,
) -> None:
    """Open the map of a results folder in the browser, or the report, or the operator's page.

    Works without a network. Both options open both pages. Says the page's path, so that it can be
    opened by hand where no browser is found.

    Example: rutwise open out --report
    """
    wanted = [name for name, chosen in (("report.html", report), ("brief.html", brief)) if chosen]
    pages = [out / name for name in wanted or ["map.html"]]
    missing = [
        Issue(
            "OPN01",
            "error",
            f"There is no {page.name} in {out}.",
            str(page),
            "Name the folder that rutwise plan wrote, or run rutwise plan again.",
        )
        for page in pages
        if not page.is_file()
    ]
    if missing:
        raise InputRefused(missing)
    import webbrowser

    found = True
    for page in pages:
        say(str(page))
        found = webbrowser.open(page.resolve().as_uri()) and found
    if not found:
        tell("No browser was found on this computer. Open the file named above by hand.")
        raise typer.Exit(ExitCode.UNEXPECTED)
