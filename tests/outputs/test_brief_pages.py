"""The pages: one side of paper in five languages, a phone page without script, and the map."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pytest
import shapely

from terrain.outputs import brief
from terrain.outputs.brief import brief_pdf, write_brief
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_html import brief_html
from terrain.outputs.brief_labels import LabelBoard
from terrain.outputs.brief_legend import legend_columns
from terrain.outputs.brief_map import brief_map_svg, map_window
from terrain.outputs.brief_sheet import nice_step
from terrain.outputs.brief_shut import water_stops
from terrain.outputs.catalogue import LANGUAGES, catalogue
from terrain.outputs.wording import DEFERRAL, INVENTED
from tests.outputs.brief_plans import brief_plan
from tests.outputs.synthetic import HOSTILE, SOUTH, WEST


def read(data: bytes) -> tuple[pypdf.PdfReader, str]:
    """The document and the text of its first page, each run of blanks as one, no soft hyphens."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    text = reader.pages[0].extract_text().replace("\u00ad", "")
    return reader, " ".join(text.split())


def squeezed(text: str) -> str:
    """Letters alone: line breaks and hyphens at their ends do not count."""
    return re.sub(r"[\s\u2010-]", "", text)


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_forty_trails_fit_on_one_side_in_every_language(language: str) -> None:
    reader, text = read(brief_pdf(brief_plan(40), language))
    assert len(reader.pages) == 1
    words = catalogue(language)
    letters = squeezed(text)
    for said in (words.term(DEFERRAL), words.term(INVENTED)):
        assert squeezed(said) in letters
    for part in ("Carry", "Keep out", "Weak spots", "Stop when", "Emergency"):
        assert squeezed(words.say(part).upper()) in letters
    assert all(re.search(rf"\bT{k}\b", text) for k in range(1, 41))
    if language != "en":
        assert "Unreviewed draft translation" in text


@pytest.mark.parametrize(("count", "weak"), [(1, 0), (4, 2), (60, 120)])
def test_few_and_very_many_stay_on_one_side(count: int, weak: int) -> None:
    reader, text = read(brief_pdf(brief_plan(count, weak=weak)))
    assert len(reader.pages) == 1
    wide, high = reader.pages[0].mediabox.width, reader.pages[0].mediabox.height
    assert (round(float(wide)), round(float(high))) == (595, 842)  # ISO 216: 210 x 297 mm
    if weak > 100:
        assert "more: see the report" in text


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_sixty_trails_to_two_landings_stay_on_one_side(language: str) -> None:
    from dataclasses import replace

    import geopandas as gpd
    import pandas as pd

    plan = brief_plan(60, weak=120)
    places = shapely.points([[WEST + 15, SOUTH + 95], [WEST + 190, SOUTH + 95]])
    index = pd.Index(["Landing 1", "L2"], name="landing")
    landings = gpd.GeoDataFrame(index=index, geometry=places, crs=plan.dem.crs)
    plan = replace(plan, landings=landings, stations=plan.stations.assign(landing="L2"))
    reader, _ = read(brief_pdf(plan, language))
    assert len(reader.pages) == 1
    few = replace(brief_plan(8), landings=landings)
    assert catalogue(language).say("To") in read(brief_pdf(few, language))[1].split()


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_a_frozen_block_with_its_frost_and_ratings_stays_on_one_side(language: str) -> None:
    from dataclasses import replace

    plan = brief_plan(40, state="frozen")
    ground = replace(plan.settings.ground, frost_depth_m=0.3, frost_verified_by="F" * 60)
    plan = replace(plan, settings=replace(plan.settings, ground=ground))
    reader, text = read(brief_pdf(plan, language))
    assert len(reader.pages) == 1
    assert "4264m" in squeezed(text)
    assert "/MarkInfo" in reader.trailer["/Root"]


def test_letter_paper_and_us_units() -> None:
    reader, text = read(brief_pdf(brief_plan(40), "fr", "us-letter", "us"))
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)  # 8.5 x 11 in
    assert "psi" in text
    with pytest.raises(ValueError, match="no paper"):
        brief_pdf(brief_plan(), paper="a3")  # type: ignore[arg-type]


def test_every_font_is_embedded() -> None:
    reader, _ = read(brief_pdf(brief_plan(4)))
    fonts = reader.pages[0]["/Resources"]["/Font"]
    assert len(fonts) > 1
    for font in fonts.values():
        inner = font.get_object().get("/DescendantFonts", [font])[0].get_object()
        keys = set(inner["/FontDescriptor"].get_object())
        assert keys & {"/FontFile", "/FontFile2", "/FontFile3"}


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    first = [path.read_bytes() for path in write_brief(brief_plan(6), tmp_path, "de")]
    again = [path.read_bytes() for path in write_brief(brief_plan(6), tmp_path, "de")]
    assert first == again
    assert sorted(path.name for path in tmp_path.iterdir()) == ["brief.html", "brief.pdf"]


def test_layouts_that_do_not_fit_are_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(brief, "_SIZES_PT", (30.0, 6.2))
    reader, _ = read(brief_pdf(brief_plan(12)))
    assert len(reader.pages) == 1
    monkeypatch.setattr(brief, "_SIZES_PT", (30.0,))
    reader, _ = read(brief_pdf(brief_plan(12)))
    assert len(reader.pages) > 1  # so the page count above is no accident


class Tags(HTMLParser):
    """Tags and visible text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.style = False
        self.feed(page)
        self.text = " ".join("".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self.style = tag == "style"

    def handle_endtag(self, tag: str) -> None:
        self.style = False

    def handle_data(self, data: str) -> None:
        if not self.style:
            self.words.append(data)


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_the_phone_page_stands_alone(language: str) -> None:
    page = brief_html(brief_plan(6), language)
    found = Tags(page)
    assert not any(tag in ("script", "link", "iframe", "svg") for tag, _ in found.tags)
    assert not any(name.startswith("on") for _, attrs in found.tags for name in attrs)
    assert re.findall(r"https?://", page) == []
    assert "default-src 'none'; style-src 'unsafe-inline'; img-src data:" in page
    assert ("html", {"lang": language}) in found.tags
    assert "width=device-width, initial-scale=1" in page
    assert squeezed(catalogue(language).term(DEFERRAL)) in squeezed(found.text)
    assert ("Unreviewed draft translation" in page) == (language != "en")
    assert all(f"T{k}" in found.text for k in range(1, 7))
    assert all(attrs.get("alt") for tag, attrs in found.tags if tag == "img")
    jumps = {str(attrs["href"]).removeprefix("#") for tag, attrs in found.tags if tag == "a"}
    assert jumps <= {attrs.get("id") for _, attrs in found.tags}
    assert {"map", "checks", "direction", "water", "weak", "trails", "emergency"} <= jumps


def test_the_page_is_tagged_for_reading_aloud() -> None:
    """Tags by ISO 32000: marked content, a structure tree, the language, words for the map."""
    content = brief_content(brief_plan(4), "sv")
    reader, _ = read(brief_pdf(brief_plan(4), "sv"))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).startswith("sv")
    kinds: list[str] = []
    words: list[str] = []

    def walk(node: object) -> None:
        node = getattr(node, "get_object", lambda: node)()
        if isinstance(node, list):
            for part in node:
                walk(part)
        elif isinstance(node, dict):
            kinds.append(str(node.get("/S", "")))
            words.append(str(node.get("/Alt", "")))
            if "/K" in node:
                walk(node["/K"])

    walk(root["/StructTreeRoot"]["/K"])
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") >= 10  # one for each part of the page
    assert kinds.count("/TH") >= 7  # heads of the table of trails
    assert content["map"]["alt"] in words


def test_hostile_names_are_text_on_both_pages() -> None:
    plan = brief_plan(names=HOSTILE, block=" ".join(HOSTILE[:2]))
    found = Tags(brief_html(plan))
    assert not any(tag == "script" for tag, _ in found.tags)
    assert [attrs for tag, attrs in found.tags if tag == "img" and "onerror" in attrs] == []
    assert "<scrip" in found.text
    reader, text = read(brief_pdf(plan))
    assert len(reader.pages) == 1
    assert "<scrip" in text
    assert "=1+2" in text
    svg = brief_map_svg(plan)
    assert "<script" not in svg
    assert "&lt;scrip" in svg


def test_the_map_carries_names_coordinates_and_both_scales() -> None:
    svg = brief_map_svg(brief_plan(8))
    texts = {text.strip() for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)}
    assert {"T5 closed" if k == 5 else f"T{k}" for k in range(1, 9)} <= texts
    assert {"T1-5", "T2-5", "X1", "Landing T3", "N", "Emergency"} <= texts
    assert {"Edge of the block", "Contour, metres"} <= texts  # in the legend
    assert any(re.fullmatch(r"\d+ m", text) for text in texts)
    assert any(re.fullmatch(r"\d+ ft", text) for text in texts)
    eastings = {text for text in texts if re.fullmatch(r"400\u202f\d{3}", text)}
    northings = {text for text in texts if re.fullmatch(r"5\u202f600\u202f\d{3}", text)}
    assert eastings
    assert northings
    assert svg == brief_map_svg(brief_plan(8))


def test_the_window_holds_trails_landing_and_emergency_and_keeps_its_aspect() -> None:
    plan = brief_plan(8)
    for aspect in (0.5, 1.0, 2.0):
        west, south, east, north = map_window(plan, aspect)
        assert (east - west) / (north - south) == pytest.approx(aspect, rel=1e-9)
        frame = shapely.box(west, south, east, north)
        assert all(frame.contains(shape) for shape in plan.trails.geometry.values)
        assert all(frame.contains(point) for point in plan.landings.geometry.values)
        assert west < WEST + 30 < east
        assert south < SOUTH + 180 < north


def test_a_far_emergency_point_does_not_shrink_the_trails() -> None:
    from dataclasses import replace

    from terrain.models.emergency import Emergency

    plan = brief_plan(8)
    far = replace(plan, emergency=Emergency("Town", WEST + 9000, SOUTH, ""))
    assert map_window(far, 1.0) == map_window(replace(plan, emergency=None), 1.0)
    assert "Emergency" in brief_map_svg(far)  # in the legend; the page gives its coordinates


@pytest.mark.parametrize(
    ("about", "step"), [(1.0, 1), (1.9, 1), (2.0, 2), (49.0, 20), (50.0, 50), (730.0, 500)]
)
def test_steps_are_one_two_or_five(about: float, step: float) -> None:
    assert nice_step(about) == pytest.approx(step)


def test_labels_take_the_first_free_place_and_stay_on_the_sheet() -> None:
    board = LabelBoard(100.0, 100.0)
    assert board.place("T1", 6.0, [(50.0, 50.0)]) == (50.0, 50.0)
    assert board.place("T2", 6.0, [(50.0, 50.0), (50.0, 80.0)]) == (50.0, 80.0)
    x, y = board.place("T3", 6.0, [(0.0, 0.0)]) or (0.0, 0.0)
    assert x > 4
    assert y > 3
    assert board.place("T4", 6.0, []) is None


def test_a_label_gives_way_to_lines_and_to_names_that_its_own_line_would_cross() -> None:
    board = LabelBoard(200.0, 200.0)
    board.mark_ground([(100.0, 100.0)], "T1")
    assert board.place("T2", 6.0, [(100.0, 100.0), (100.0, 140.0)]) == (100.0, 140.0)
    assert board.place("T1", 6.0, [(100.0, 100.0), (100.0, 60.0)], owner="T1") == (100.0, 100.0)
    board = LabelBoard(200.0, 200.0)
    board.block((120.0, 90.0, 140.0, 110.0))
    beyond, beside = (150.0, 100.0), (100.0, 190.0)  # beside is farther, but no name between
    assert board.place("T3", 6.0, [beyond, beside]) == beyond
    board = LabelBoard(200.0, 200.0)
    board.block((120.0, 90.0, 140.0, 110.0))
    assert board.place("T3", 6.0, [beyond, beside], lead_from=(100.0, 100.0)) == beside


def test_the_name_of_a_crossing_stands_on_its_own_side_of_a_cross() -> None:
    """Of two crossings with a cross between them, the western one has its name in the west."""
    from dataclasses import replace

    import geopandas as gpd
    import pandas as pd

    from terrain.outputs.brief_map import brief_map

    plan = brief_plan(4, weak=0)
    wet = plan.wet_ground
    stop = water_stops(plan)[0].point
    places = [shapely.Point(stop.x - 7, stop.y), shapely.Point(stop.x + 7, stop.y)]
    crossings = gpd.GeoDataFrame(
        {"kind": ["ford", "ford"], "carved": [True, True]},
        index=pd.Index(["XW", "XE"], name="crossing"),
        geometry=places,
        crs=plan.dem.crs,
    )
    axes = brief_map(replace(plan, wet_ground=replace(wet, crossings=crossings))).axes[0]
    at = {text.get_text(): text.get_position()[0] for text in axes.texts}
    assert at["XW"] < places[0].x
    assert at["XE"] > places[1].x
    # the signs stay apart: half a cross and half a square are less than their distance
    wide_pt = 72 * axes.get_position().width * axes.figure.get_figwidth()
    cross = next(line.get_markersize() for line in axes.get_lines() if line.get_marker() == "X")
    square = min(line.get_markersize() for line in axes.get_lines() if line.get_marker() == "s")
    assert (cross + square) / 2 < wide_pt * 26 / 1250  # 26 m apart on a block 1250 m wide


def test_neighbouring_stretches_share_a_name() -> None:
    from dataclasses import replace

    plan = brief_plan(4, weak=2)
    table = plan.bottlenecks.assign(
        trail="T1",
        kind="over bearing capacity",
        shown_reserve=0.2,
        stretch=["T1-5", "T1-25"],
        from_m=[5.0, 25.0],
        to_m=[25.0, 45.0],
    )

    def names(made: object) -> set[str]:
        svg = brief_map_svg(made)  # type: ignore[arg-type]
        return {text.strip() for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)}

    found = names(replace(plan, bottlenecks=table))
    assert "T1-5+25" in found
    assert not {"T1-5", "T1-25"} & found
    apart = names(replace(plan, bottlenecks=table.assign(from_m=[5.0, 35.0])))
    assert {"T1-5", "T1-25"} <= apart
    other = names(replace(plan, bottlenecks=table.assign(shown_reserve=[0.2, -0.2])))
    assert {"T1-5", "T1-25"} <= other  # one of them is to keep out of


def test_a_legend_that_is_too_wide_takes_more_rows() -> None:
    labels = ["a long label of a line"] * 6
    wide, narrow = (legend_columns(labels, width, 6.0) for width in (900.0, 220.0))
    assert wide == 6
    assert 1 <= narrow < 3
