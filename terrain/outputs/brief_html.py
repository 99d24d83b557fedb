"""``brief.html``: the brief for a phone. One file, no script, large letters."""

from __future__ import annotations

import base64

from markupsafe import Markup

from terrain.decision.results import Plan
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_map import brief_map_svg
from terrain.outputs.brief_words import Units
from terrain.outputs.page_parts import environment, template_text

__all__ = ["brief_html"]


def brief_html(plan: Plan, language: str = "en", units: Units = "metric") -> str:
    """Return the brief as one page of 360 px and wider, the same bytes for the same plan.

    Raises
    ------
    ValueError
        No such language or system of units.
    """
    content = brief_content(plan, language, units)
    svg = brief_map_svg(plan, language, width_mm=92.0, height_mm=108.0, font_pt=7.5)
    picture = base64.b64encode(svg.encode("utf-8")).decode("ascii")
    return (
        environment()
        .get_template("brief.html")
        .render(
            brief=content,
            style=Markup(template_text("brief.css")),
            picture=f"data:image/svg+xml;base64,{picture}",
        )
    )
