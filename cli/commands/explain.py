"""``rutwise explain``: what a column, rule, source, relation or code means."""

from __future__ import annotations

from typing import Annotated

import typer

from cli.console import ExitCode, Format, print_rows, say, tell
from cli.options import FormatOption

__all__ = ["explain"]


def explain(
    topic: Annotated[
        str | None, typer.Argument(help="A name or a word; absent: list everything.")
    ] = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """Explain a column, a mounting rule, a source, a relation, a soil class or an issue code.

    Example: rutwise explain cross_slope
    """
    from cli.topics import all_topics, find_topics

    found = all_topics() if topic is None else find_topics(topic)
    if not found:
        tell(f"Nothing is called {topic!r}. 'rutwise explain' lists everything.")
        raise typer.Exit(ExitCode.REFUSED)
    if fmt is Format.TABLE and topic is not None and len(found) <= 12:
        for item in found:
            say(f"{item.kind}: {item.name}")
            say(f"  {item.title}")
            for label, text in item.facts.items():
                say(f"  {label}: {text}")
            say()
        return
    rows = [{"kind": t.kind, "name": t.name, "title": t.title, **t.facts} for t in found]
    columns = ["kind", "name", "title"]
    if fmt is not Format.TABLE:
        columns += list(dict.fromkeys(key for t in found for key in t.facts))
    print_rows(rows, columns, fmt)
