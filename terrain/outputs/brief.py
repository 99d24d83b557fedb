"""``brief.pdf`` and ``brief.html``: what the operator has in the hand, on paper and on a phone."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from terrain.decision.results import Plan
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_html import brief_html
from terrain.outputs.brief_map import brief_map_svg
from terrain.outputs.brief_words import Units
from terrain.outputs.page_parts import template_text

__all__ = ["Paper", "brief_pdf", "write_brief"]

Paper = Literal["a4", "us-letter"]
PAPERS = ("a4", "us-letter")

_MAP_WIDTH_MM = 104.0
_MAP_HEIGHTS_MM = {"a4": (160.0, 120.0, 104.0, 92.0), "us-letter": (145.0, 110.0, 96.0, 84.0)}
_SIZES_PT = (9.6, 9.0, 8.4, 7.9, 7.4, 7.0, 6.6, 6.2, 5.8)
_MAP_FONT_PT = 6.0
_WITHOUT_LANDINGS = 0.9


def write_brief(
    plan: Plan,
    folder: Path,
    language: str = "en",
    paper: Paper = "a4",
    units: Units = "metric",
) -> list[Path]:
    """Write ``brief.pdf`` (one side) and ``brief.html`` (for a phone) into ``folder``.

    Parameters
    ----------
    plan : Plan
    folder : Path
        An existing folder.
    language : str
        Code of :data:`terrain.outputs.catalogue.LANGUAGES`.
    paper : str
        ``a4`` or ``us-letter``.
    units : str
        ``metric`` or ``us``.

    Returns
    -------
    list of Path
        The two files; the same plan and options give the same bytes.

    Raises
    ------
    ValueError
        No such language, paper or system of units.
    """
    pdf, page = folder / "brief.pdf", folder / "brief.html"
    pdf.write_bytes(brief_pdf(plan, language, paper, units))
    page.write_text(brief_html(plan, language, units), encoding="utf-8")
    return [pdf, page]


def brief_pdf(
    plan: Plan, language: str = "en", paper: Paper = "a4", units: Units = "metric"
) -> bytes:
    """Return the brief as a PDF of one side; parameters and errors as :func:`write_brief`.

    Letters from 9.6 to 5.8 points and maps of several heights are tried, large ones first, until it
    all fits. Only then are weak spots left to the report, and the page says how many.

    The file is tagged for reading aloud (PDF/UA-1, ISO 14289-1): headings, tables with their heads,
    the map with words instead. ``brief.html`` has the same words.
    """
    import matplotlib
    import typst

    if paper not in PAPERS:
        raise ValueError(f"no paper {paper!r}; there are: {', '.join(PAPERS)}")
    content = brief_content(plan, language, units)
    with TemporaryDirectory() as name:
        folder = Path(name)
        maps = []
        for number, height_mm in enumerate(_useful_heights(plan, _MAP_HEIGHTS_MM[paper])):
            svg = brief_map_svg(plan, language, _MAP_WIDTH_MM, height_mm, _MAP_FONT_PT)
            (folder / f"map-{number}.svg").write_text(svg, encoding="utf-8")
            file = f"map-{number}.svg"
            maps.append({"file": file, "width": _MAP_WIDTH_MM, "height": height_mm})
        content |= {"paper": paper, "maps": maps, "layouts": _layouts(content, maps)}
        text = json.dumps(content, ensure_ascii=False)
        (folder / "brief.json").write_text(text, encoding="utf-8")
        (folder / "brief.typ").write_text(template_text("brief.typ"), encoding="utf-8")
        made: bytes = typst.compile(
            str(folder / "brief.typ"),
            root=name,
            font_paths=[str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")],
            ignore_system_fonts=True,
            timestamp=0,
            pdf_standards="ua-1",
        )
    return made


def _useful_heights(plan: Plan, heights_mm: tuple[float, ...]) -> list[float]:
    """Heights that the trails fill; a block that is broad gains nothing from a tall map."""
    west, south, east, north = plan.trails.total_bounds
    filled_mm = 1.35 * _MAP_WIDTH_MM * (north - south) / max(east - west, 1.0)
    return [height for height in heights_mm if height <= filled_mm or height == heights_mm[-1]]


def _layouts(content: dict[str, Any], maps: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Layouts in order of preference: letter size, map, rows of weak spots, column of landings.

    Letters weigh more than the map: a layout comes first by size times the root of the height. The
    column of landings, where there is one, goes when that buys clearly larger letters.
    """
    rows = len(content["weak"]["rows"])
    columns = (True, False) if content["trails"]["head"]["landing"] else (False,)
    whole = [
        {"size": size, "map": number, "weak_rows": rows, "landing": landing}
        for size in _SIZES_PT
        for number in range(len(maps))
        for landing in columns
    ]

    def preference(one: dict[str, Any]) -> float:
        worth = one["size"] * maps[int(one["map"])]["height"] ** 0.5
        return float(worth if one["landing"] == columns[0] else _WITHOUT_LANDINGS * worth)

    whole.sort(key=lambda one: -preference(one))
    smallest = {"size": _SIZES_PT[-1], "map": len(maps) - 1, "landing": False}
    fewer = [{**smallest, "weak_rows": shown} for shown in range(rows - 1, -1, -1)]
    return [*whole, *fewer]
