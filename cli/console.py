"""Results go to stdout, talk goes to stderr; listings speak table, JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import StrEnum
from typing import Any

from terrain.errors import Issue, by_severity
from terrain.outputs.spreadsheets import guarded

__all__ = [
    "EXIT_CODES",
    "NOTHING_SUITS_MEANS",
    "TABLE_WIDTH",
    "ExitCode",
    "Format",
    "prepare_streams",
    "print_issues",
    "print_issues_to_stderr",
    "print_rows",
    "progress",
    "say",
    "tell",
]

TABLE_WIDTH = 80
"""Width of a table that goes into a file or another program; a terminal has its own."""


class Format(StrEnum):
    """How a listing is printed."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


class ExitCode:
    """The exit codes of every command."""

    DONE = 0
    UNEXPECTED = 1
    REFUSED = 2
    NOTHING_SUITS = 3
    STOPPED = 130


EXIT_CODES = {
    ExitCode.DONE: "Done.",
    ExitCode.UNEXPECTED: "A fault of the program or of the computer, not of the inputs; `open`: "
    "no browser was found.",
    ExitCode.REFUSED: "Refused: the command line or an input holds an error; stderr says what, "
    "where, and how to fix it (`check` lists it on stdout).",
    ExitCode.NOTHING_SUITS: "The command ran to its end, and its answer asks for action.",
    ExitCode.STOPPED: "Stopped by the user (Ctrl-C).",
}
"""What each exit code says, for the reference page."""

NOTHING_SUITS_MEANS = {
    "demo": "no usual setup can be named; the results are written",
    "plan": "no usual setup can be named; the results are written",
    "fit": "something that was measured is not in order",
    "pressures": "a tyre leaks, or is out of range beyond what the machine file has",
}
"""What exit code 3 says, by the command that uses it."""


def prepare_streams() -> None:
    """Let stdout and stderr take every letter, whatever the computer's own encoding is.

    A terminal keeps its encoding. A file or another program gets UTF-8, unless the variable
    ``PYTHONIOENCODING`` names an encoding. What an encoding lacks becomes ``?`` on stdout and an
    escape on stderr.
    """
    asked = os.environ.get("PYTHONIOENCODING", "").partition(":")[0]
    for stream, errors in ((sys.stdout, "replace"), (sys.stderr, "backslashreplace")):
        if isinstance(stream, io.TextIOWrapper):  # none at all under some starters
            own = stream.isatty() or bool(asked)
            stream.reconfigure(encoding=stream.encoding if own else "utf-8", errors=errors)


def say(text: str = "") -> None:
    """Print a result line on stdout."""
    sys.stdout.write(text + "\n")


def tell(text: str) -> None:
    """Print talk or progress on stderr."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Tell the stages of long work on stderr: a moving bar on a terminal, else a line a stage.

    Yields the function that a stage calls with its name. On a terminal a finished stage keeps its
    line with the seconds that it took; the bar below shows that work goes on.
    """
    if not sys.stderr.isatty():
        yield tell
        return
    from time import monotonic

    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
    from rich.text import Text

    console = Console(file=sys.stderr, highlight=False)
    columns = (BarColumn(bar_width=18), TextColumn("{task.fields[stage]}"), TimeElapsedColumn())
    running: dict[str, Any] = {"stage": "", "since": monotonic()}
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=None, stage="")

        def finish() -> None:
            if running["stage"]:
                seconds = monotonic() - running["since"]
                bar.console.print(Text(f"{seconds:6.1f} s  {running['stage']}"))

        def begin(stage: str) -> None:
            finish()
            running.update(stage=stage, since=monotonic())
            bar.update(task, stage=Text(stage).plain.replace("[", "("))

        yield begin
        finish()


def print_rows(
    rows: Iterable[Mapping[str, Any]], columns: Sequence[str], fmt: Format, title: str = ""
) -> None:
    """Print a listing on stdout.

    ``rows`` are mappings with the keys ``columns``; NaN and None print as an empty cell, ``null``
    in JSON. A table wraps long words to the width of the terminal.
    """
    plain = [{name: _plain(row.get(name)) for name in columns} for row in rows]
    if fmt is Format.JSON:
        say(json.dumps(plain, ensure_ascii=not _speaks_utf8(), indent=2))
    elif fmt is Format.CSV:
        text = io.StringIO()
        writer = csv.DictWriter(text, fieldnames=list(columns), lineterminator="\n")
        writer.writeheader()
        writer.writerows({k: guarded(v) for k, v in row.items()} for row in plain)
        _warn_of_lost_letters(text.getvalue())
        sys.stdout.write(text.getvalue())
    else:
        _print_table(plain, columns, title)


def _speaks_utf8() -> bool:
    """JSON is UTF-8; to a stdout of another encoding its letters go as escapes."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    return encoding.lower().replace("_", "-") in ("utf-8", "utf8")


def _warn_of_lost_letters(text: str) -> None:
    """Say on stderr when a listing for programs holds letters that stdout cannot take."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    lost = {letter for letter in text if not letter.isascii() and not _fits(letter, encoding)}
    if lost:
        tell(
            f"{len(lost)} letters of the listing are not in {encoding} and stand as ?: "
            "set PYTHONIOENCODING=utf-8, or take --format json."
        )


def _fits(letter: str, encoding: str) -> bool:
    try:
        letter.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _print_table(rows: list[dict[str, Any]], columns: Sequence[str], title: str) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(title=title or None, box=box.SIMPLE, title_justify="left", pad_edge=False)
    for name in columns:
        numbers = [row[name] for row in rows if row[name] is not None]
        right = bool(numbers) and all(isinstance(v, int | float) for v in numbers)
        table.add_column(Text(name.replace("_", " ")), justify="right" if right else "left")
    for row in rows:
        table.add_row(*(Text(_shown(row[name])) for name in columns))
    width = None if sys.stdout.isatty() else TABLE_WIDTH
    Console(file=sys.stdout, highlight=False, soft_wrap=False, width=width).print(table)


def _plain(value: Any) -> Any:
    """Reduce numpy and pandas scalars to plain Python; unknown becomes None."""
    if hasattr(value, "item"):
        value = value.item()
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    return value if isinstance(value, str | int | float | bool) else str(value)


def _shown(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def print_issues(issues: Iterable[Issue], fmt: Format) -> None:
    """List issues on stdout, errors first, each with what is wrong, where, and how to fix it."""
    issues = list(issues)
    if fmt is not Format.TABLE:
        columns = ("code", "severity", "what", "where", "fix")
        print_rows(({k: getattr(i, k) for k in columns} for i in issues), columns, fmt)
        return
    for issue in issues:
        say(_issue_words(issue))


def print_issues_to_stderr(issues: Iterable[Issue]) -> None:
    """Say why the inputs were refused, errors first."""
    for issue in by_severity(issues):
        tell(_issue_words(issue))


def _issue_words(issue: Issue) -> str:
    return (
        f"{issue.severity.upper()} {issue.code}  {issue.what}\n"
        f"    where: {issue.where}\n"
        f"    fix:   {issue.fix}"
    )
