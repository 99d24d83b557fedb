"""``report.pdf``: the same blocks as the page, set for print by typst in fonts of our choice.

Text reaches the template as data only. Fonts are those inside the typesetter and those that the
plotting library ships, never those of the computer, so that the same plan gives the same bytes.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Literal

from terrain.decision.results import Plan
from terrain.errors import RutwiseError
from terrain.outputs.document import Heading, as_records, clipped, named
from terrain.outputs.page_parts import invented_words, template_text
from terrain.outputs.report import report_blocks
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import DEFERRAL

__all__ = ["Paper", "breakable", "report_pdf", "typeset"]

Paper = Literal["a4", "us-letter"]

_LONGEST_WORD = 22
_WIDTH_OF_PAGE_PT = 510.0


def report_pdf(plan: Plan, shown: Shown = METRIC, paper: Paper | None = None) -> bytes:
    """Return the report as a PDF; ``paper`` is Letter for US units and A4 for others by default."""
    sheet = paper or ("us-letter" if shown.is_us else "a4")
    blocks = report_blocks(plan, shown)
    record = {
        "title": f"Traction aids for {named(plan.name)}",
        "running": f"Rutwise report: {named(clipped(plan.name, 60))}",
        "contents": "Contents",
        "deferral": DEFERRAL,
        "invented": invented_words(plan),
        "paper": sheet,
        "entries": sum(isinstance(block, Heading) and block.level <= 2 for block in blocks),
        "blocks": [_printed(block) for block in as_records(blocks)],
    }
    return typeset(template_text("report.typ"), {"report": breakable(record)})


def typeset(template: str, inputs: dict[str, Any]) -> bytes:
    """Return the PDF of a typst ``template`` whose inputs are handed over as JSON.

    Raises
    ------
    RutwiseError
        When the template does not compile: a fault of the program.
    """
    import matplotlib
    import typst

    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    try:
        compiler: Any = typst.Compiler(  # type: ignore[misc]
            template.encode("utf-8"), font_paths=[str(fonts)], ignore_system_fonts=True
        )
        made: bytes = compiler.compile(
            format="pdf",
            sys_inputs={
                key: json.dumps(value, ensure_ascii=False) for key, value in inputs.items()
            },
            timestamp=0,
        )
    except typst.TypstError as error:
        raise RutwiseError(f"the printed page could not be set: {error}") from error
    return made


def breakable(value: Any) -> Any:
    """Return ``value`` with room to break in every word too long for a column.

    Zero-width spaces are put into the text of dicts and lists; drawings are left alone.
    """
    if isinstance(value, dict):
        return {key: item if key == "svg" else breakable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [breakable(item) for item in value]
    if isinstance(value, str):
        return re.sub(
            rf"[^\s\u200b]{{{_LONGEST_WORD}}}(?=[^\s\u200b])",
            lambda match: match.group() + "\N{ZERO WIDTH SPACE}",
            value,
        )
    return value


def _printed(block: dict[str, Any]) -> dict[str, Any]:
    """Make a drawing stand alone and give it a width; keep figures and their units together."""
    if block["kind"] == "figure":
        svg = block["svg"]
        head = 'xmlns="http://www.w3.org/2000/svg"'
        box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
        width = float(box[1]) if box else _WIDTH_OF_PAGE_PT
        return {
            **block,
            "svg": svg.replace("<svg", f"<svg {head}", 1),
            "width": min(width, _WIDTH_OF_PAGE_PT),
        }
    if block["kind"] == "table":
        figures = [column["style"] == "number" for column in block["columns"]]

        def kept(cells: Any) -> list[str]:
            return [
                text.replace(" ", "\N{NO-BREAK SPACE}") if figure and len(text) < 20 else text
                for text, figure in zip(cells, figures, strict=True)
            ]

        rows = [{**line, "cells": kept(line["cells"])} for line in block["rows"]]
        return {**block, "rows": rows, "foot": kept(block["foot"]) if block["foot"] else []}
    return block
