"""Report: the balance of brash, in all and by trail."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.decision.brash import BrashNeed, brash_need
from terrain.decision.check_sheet import CheckSheet
from terrain.outputs.document import (
    Block,
    Bullets,
    Heading,
    Paragraph,
    Table,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.page_parts import rows_of
from terrain.outputs.shown_units import Shown
from terrain.outputs.wording import UNKNOWN
from terrain.sources import all_sources, data_table

__all__ = ["brash_blocks"]

_KG_PER_T = 1000.0


def brash_blocks(sheet: CheckSheet, shown: Shown) -> list[Block]:
    """Return the balance of brash; empty where the block file gives none."""
    brash = sheet.brash
    if brash is None:
        return []
    need, sources = brash_need(), all_sources()
    unknown = float(brash.unknown_m.sum())
    gap = f"; on {shown.length(unknown)} need or supply is not known" if unknown > 0 else ""
    span = f"{shown.bare(need.low, 'kg/m2', 1 if shown.is_us else 0)} to " + shown.amount(
        need.high, "kg/m2", 1 if shown.is_us else 0
    )
    evidence = tuple(
        ("", f"{line['finding']} {sources[line['source']].citation} {line['where']}.")
        for line in data_table("brash")["evidence"]
    )
    left = shown.length(brash.beyond_m - brash.covered_m)
    lines = [line for line in rows_of(sheet.trails) if line["brash_need_m"] > 0]
    return [
        Heading("Brash"),
        Paragraph(
            f"Sensitive metres (class 3 and 4, wet, or likely beyond the rule) ask for {span}: "
            f"{shown.length(float(brash.need_m.sum()))}, {_in_all(lines, need, shown)}. The stand "
            f"cannot give that on {shown.length(float(brash.short_m.sum()))}; "
            f"{shown.tonnes(brash.missing_t, 1)} are missing to the low end{gap}."
        ),
        *([_by_trail(lines, need, shown)] if lines else []),
        Paragraph(
            f"Of {shown.length(brash.beyond_m)} likely beyond the rule, the supply covers "
            f"{shown.length(brash.covered_m)}. Between {left} (a mat prevents the rut) and "
            f"{shown.length(brash.beyond_m)} (it does nothing) remain, because the evidence "
            "disagrees:",
            "What it would change:",
        ),
        Bullets(evidence),
        Paragraph(
            "Say whether your figure of residue is fresh or dry mass; the advice is for fresh "
            "mass. "
            "No over-long timber in a mat. Mats lose effect with loaded passes: renew them.",
            style="note",
        ),
    ]


def _tonnes(line: dict[str, Any], kg_per_m2: float) -> float:
    """Mass on the sensitive metres of one trail, tonnes; NaN without a width."""
    return float(line["brash_need_m"] * line["width_m"] * kg_per_m2 / _KG_PER_T)


def _in_all(lines: list[dict[str, Any]], need: BrashNeed, shown: Shown) -> str:
    """Tonnes asked for on all trails, with the metres of those without a width left out."""
    low, high = (sum(_known(_tonnes(line, end)) for line in lines) for end in (need.low, need.high))
    blind = sum(line["brash_need_m"] for line in lines if np.isnan(line["width_m"]))
    words = f"{shown.bare(low, 't')} to {shown.tonnes(high)} in all"
    return f"{words} without {shown.length(blind)} of unknown width" if blind else words


def _known(value: float) -> float:
    """Leave an unknown mass out of a sum; the metres behind it are told beside the sum."""
    return 0.0 if np.isnan(value) else value


def _by_trail(lines: list[dict[str, Any]], need: BrashNeed, shown: Shown) -> Table:
    def mass(values: list[float]) -> str:
        return UNKNOWN if np.isnan(values).any() else shown.tonnes(sum(values), 1)

    def span(lows: list[float], highs: list[float]) -> str:
        if np.isnan(lows).any():
            return UNKNOWN
        return f"{shown.bare(sum(lows), 't', 1)} to {shown.tonnes(sum(highs), 1)}"

    asked_low = [_tonnes(line, need.low) for line in lines]
    asked_high = [_tonnes(line, need.high) for line in lines]
    given = [_tonnes(line, line["brash_supply_kg_m2"]) for line in lines]
    rows = tuple(
        row(
            named(str(line["trail"])),
            shown.length(line["brash_need_m"]),
            span([low], [high]),
            shown.amount(line["brash_supply_kg_m2"], "kg/m2", 1),
            mass([supply]),
            shown.length(line["brash_short_m"]),
        )
        for line, low, high, supply in zip(lines, asked_low, asked_high, given, strict=True)
    )
    foot = (
        "All trails",
        shown.length(sum(line["brash_need_m"] for line in lines)),
        span(asked_low, asked_high),
        "",
        mass(given),
        shown.length(sum(line["brash_short_m"] for line in lines)),
    )
    columns = (
        *texts("Trail"),
        *numbers("Sensitive", "Asks for", "The stand gives", "In all", "Short of it on"),
    )
    return Table(columns, rows, caption="Brash by trail", foot=foot)
