"""Report: the balance of brash, and the stop rules that were read."""

from __future__ import annotations

from terrain.decision.brash import brash_need
from terrain.decision.check_sheet import CheckSheet
from terrain.models.site_rules import DATED_COPY, rule_texts
from terrain.outputs.document import Block, Bullets, Heading, Paragraph
from terrain.outputs.shown_units import Shown
from terrain.sources import all_sources, data_table

__all__ = ["brash_blocks", "stop_rules"]


def brash_blocks(sheet: CheckSheet, shown: Shown) -> list[Block]:
    """Return the balance of brash; empty where the block file gives none."""
    brash = sheet.brash
    if brash is None:
        return []
    need, sources = brash_need(), all_sources()
    unknown = float(brash.unknown_m.sum())
    gap = f"; on {shown.length(unknown)} the supply is not known" if unknown > 0 else ""
    span = f"{shown.bare(need.low, 'kg/m2', 1 if shown.is_us else 0)} to " + shown.amount(
        need.high, "kg/m2", 1 if shown.is_us else 0
    )
    evidence = tuple(
        ("", f"{line['finding']} {sources[line['source']].citation} {line['where']}.")
        for line in data_table("brash")["evidence"]
    )
    left = shown.length(brash.beyond_m - brash.covered_m)
    return [
        Heading("Brash"),
        Paragraph(
            f"Sensitive metres (class 3 and 4, wet, or likely beyond the rule) ask for {span}: "
            f"{shown.length(float(brash.need_m.sum()))}. The stand cannot give that on "
            f"{shown.length(float(brash.short_m.sum()))}; {shown.tonnes(brash.missing_t, 1)} are "
            f"missing to the low end{gap}."
        ),
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


def stop_rules() -> list[tuple[str, str]]:
    """Return place and kind, and text, of every rule that was read as a sentence."""
    sources = all_sources()
    found = []
    for line in rule_texts().values():
        note = f" {line.note.capitalize()}." if line.note else ""
        found.append(
            (
                f"{line.place}, {line.kind}:",
                f"{line.text} {line.conditions}{note} {sources[line.source].citation} "
                f"{DATED_COPY.capitalize()}.",
            )
        )
    return found
