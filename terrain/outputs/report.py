"""``report.html``: the decision first, then the four blocks of a work order. No script in it."""

from __future__ import annotations

from markupsafe import Markup

from terrain.decision.results import Plan
from terrain.outputs.document import Block, Heading, Paragraph, as_records, tidied
from terrain.outputs.page_parts import environment, invented_words, template_text
from terrain.outputs.report_check import check_blocks
from terrain.outputs.report_decision import decision_blocks
from terrain.outputs.report_ground import description_blocks, facts_blocks
from terrain.outputs.report_measures import stretch_blocks
from terrain.outputs.report_opinions import second_opinion_blocks
from terrain.outputs.report_refusals import refusal_blocks
from terrain.outputs.report_setups import setup_blocks
from terrain.outputs.report_standing import caution_blocks, follow_up_blocks, standing_blocks
from terrain.outputs.report_wet import wet_blocks
from terrain.outputs.report_when import doubt_blocks, season_blocks
from terrain.outputs.shown_units import METRIC, Shown
from terrain.outputs.wording import BLOCKS, DEFERRAL

__all__ = ["chapters", "report_blocks", "report_html"]


def report_blocks(plan: Plan, shown: Shown = METRIC) -> list[Block]:
    """Return the whole report as plain blocks; page and printed document draw the same ones."""
    blocks: list[Block] = [
        *decision_blocks(plan, shown),
        *facts_blocks(plan, shown),
        *description_blocks(plan, shown, wet_blocks(plan, shown)),
        Heading(f"3 {BLOCKS[2]}", 1, "instruction"),
        Paragraph(DEFERRAL, style="warning"),
        *setup_blocks(plan, shown),
        *stretch_blocks(plan, shown),
        *season_blocks(plan, shown),
        *doubt_blocks(plan, shown),
        *second_opinion_blocks(plan, shown),
        *refusal_blocks(plan),
        *caution_blocks(),
        *check_blocks(plan, shown),
        *follow_up_blocks(),
        *standing_blocks(plan, shown),
    ]
    return tidied(blocks, shown)


def report_html(plan: Plan, shown: Shown = METRIC) -> str:
    """Return the report of ``plan`` as one page, the same bytes for the same plan."""
    blocks = report_blocks(plan, shown)
    return (
        environment()
        .get_template("report.html")
        .render(
            name=plan.name,
            style=Markup(template_text("report.css")),
            invented=invented_words(plan),
            deferral=DEFERRAL,
            chapters=chapters(blocks),
            blocks=as_records(blocks),
        )
    )


def chapters(blocks: list[Block]) -> list[tuple[str, str]]:
    """Return (anchor, text) of every heading that has a place of its own."""
    return [
        (block.anchor, block.text)
        for block in blocks
        if isinstance(block, Heading) and block.anchor and block.anchor != "decision"
    ]
