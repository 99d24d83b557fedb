"""``rutwise rules``: the site rules that were read, each a dated copy."""

from __future__ import annotations

from typing import Annotated

import typer

from cli.console import ExitCode, Format, print_rows, say, tell
from cli.options import FormatOption

__all__ = ["rules"]


def rules(
    key: Annotated[
        str | None, typer.Argument(help="One rule in full; absent: list everything.")
    ] = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """List rules about ruts, trail area, wet weather and slopes; name one in the block file.

    None is a default anywhere. Each is a dated copy: check the current text.

    Example: rutwise rules finland_1996
    """
    from terrain.models.site_rules import DATED_COPY, rule_profiles, rule_texts
    from terrain.sources import source

    profiles, texts = rule_profiles(), rule_texts()
    rows = [
        {
            "key": p.key,
            "kind": f"{p.counts}, {p.share_of}" if p.share_of != "none" else p.counts,
            "place": p.place,
            "rule": p.title,
            "depth_mineral_cm": p.depth_mineral_cm,
            "depth_organic_cm": p.depth_organic_cm,
            "min_length_m": p.min_length_m,
            "reference_surface": p.reference_surface,
            "max_share": p.max_share,
            "effects": "; ".join(p.effects),
            "action": p.action,
            "conditions": "",
            "where": p.where,
            "source": source(p.source).citation,
            "date": p.date,
            "status": p.status,
            "note": p.note,
        }
        for p in profiles.values()
    ]
    rows += [
        {
            "key": t.key,
            "kind": t.kind,
            "place": t.place,
            "rule": t.text,
            "conditions": t.conditions,
            "where": t.where,
            "source": source(t.source).citation,
            "date": t.date,
            "status": t.status,
            "note": t.note,
        }
        for t in texts.values()
    ]
    if key is not None:
        rows = [row for row in rows if row["key"] == key]
        if not rows:
            tell(f"No rule is called {key!r}. Known: {', '.join([*profiles, *texts])}.")
            raise typer.Exit(ExitCode.REFUSED)
    if fmt is Format.TABLE and key is not None:
        for name, value in rows[0].items():
            if value not in (None, ""):
                say(f"{name}: {value}")
        say(DATED_COPY)
        return
    if fmt is Format.TABLE:
        print_rows(rows, ["key", "kind", "place", "rule"], fmt, DATED_COPY)
        return
    columns = list(dict.fromkeys(name for row in rows for name in row))
    print_rows(rows, columns, fmt)
