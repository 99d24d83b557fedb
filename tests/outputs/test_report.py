from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pandas as pd
import pytest

from terrain.decision.results import Plan
from terrain.outputs.figures import trail_profiles
from terrain.outputs.report import forcing_trails, grouped_exclusions, report_html
from terrain.outputs.wording import BLOCKS, CAUTIONS, DEFERRAL, SIGN_OFF
from tests.outputs.synthetic import HOSTILE, make_plan


class Reader(HTMLParser):
    """Collects the tags and the visible text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.headings: list[str] = []
        self._in: list[str] = []
        self.feed(page)
        self.text = " ".join("".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "h2":
            self.headings.append("")
        self._in.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._in and self._in.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "style" not in self._in:
            self.words.append(data)
        if "h2" in self._in:
            self.headings[-1] += data


@pytest.fixture(scope="module")
def page(small_plan: Plan) -> str:
    return report_html(small_plan)


@pytest.fixture(scope="module")
def read(page: str) -> Reader:
    return Reader(page)


def test_decision_first_then_the_four_blocks(read: Reader) -> None:
    assert read.headings[0] == "Decision"
    assert read.headings[1:5] == [f"{k} {name}" for k, name in enumerate(BLOCKS, start=1)]


def test_the_page_runs_and_loads_nothing(page: str, read: Reader) -> None:
    assert not any(tag in ("script", "link", "img", "iframe") for tag, _ in read.tags)
    assert re.findall(r"https?://", page) == []
    assert "default-src 'none'; style-src 'unsafe-inline'" in page
    assert not any(name.startswith("on") for _, attrs in read.tags for name in attrs)


def test_deferral_cautions_and_sign_off_lines_are_there(read: Reader) -> None:
    assert read.text.count(DEFERRAL) >= 2
    for sentence in (*CAUTIONS, *(what for what, _ in SIGN_OFF)):
        assert sentence in read.text


def test_the_candidate_is_never_called_approved(read: Reader) -> None:
    assert "Candidate for the manufacturer's approval, not approved: open + open" in read.text


def test_figures_inputs_and_findings_are_listed(read: Reader, small_plan: Plan) -> None:
    for row in small_plan.statuses:
        assert row.name in read.text
        assert row.status in read.text
    assert small_plan.files[0].sha256 in read.text
    assert small_plan.issues[0].what in read.text
    for sentence in small_plan.not_assessed:
        assert sentence in read.text


def test_three_figures_with_a_description_each(read: Reader) -> None:
    labels = [attrs.get("aria-label") for tag, attrs in read.tags if tag == "svg"]
    assert len(labels) == 3
    assert all(labels)


def test_ids_in_the_page_are_unique_between_figures(page: str) -> None:
    for prefix in ("slope", "trade", "profile"):
        assert f'id="{prefix}-figure_1"' in page
    used = set(re.findall(r'(?:href="#|url\(#)([\w.-]+)', page))
    assert used <= set(re.findall(r'\bid="([\w.-]+)"', page))


def test_the_same_plan_gives_the_same_bytes(page: str) -> None:
    assert report_html(make_plan()) == page


def test_metres_short_by_trail_are_those_of_the_evaluation(small_plan: Plan) -> None:
    rows = forcing_trails(small_plan, ["bare"])
    total = small_plan.ranking.setups.set_index("setup").loc["bare", "short_m"]
    assert sum(row["lighter_m"][0] for row in rows) == pytest.approx(total)
    worst = [max([*row["lighter_m"], row["shown_m"]]) for row in rows]
    assert worst == sorted(worst, reverse=True)


def test_exclusions_are_grouped_by_their_codes() -> None:
    table = pd.DataFrame(
        {
            "setup": ["a", "b", "c"],
            "description": ["A", "B", "C"],
            "codes": ["M1", "M1", "M1, M2"],
            "reasons": ["same", "same", "other"],
        }
    )
    first, second = grouped_exclusions(table)
    assert [name for name, _ in first["setups"]] == ["a", "b"]
    assert first["reasons"] == ["same"]
    assert second["codes"] == ("M1", "M2")


def test_a_block_where_nothing_suits_says_so(small_plan: Plan) -> None:
    setups = small_plan.ranking.setups.assign(outcome="does not suit")
    none = replace(small_plan.ranking, candidate=None, setups=setups, shown="open + open")
    text = Reader(report_html(replace(small_plan, ranking=none))).text
    assert "No listed setup is named." in text
    assert "not approved:" not in text


def test_a_plan_without_exclusions_findings_or_boundary_is_written(small_plan: Plan) -> None:
    ranking = replace(small_plan.ranking, excluded=small_plan.ranking.excluded.iloc[:0])
    bare = replace(small_plan, ranking=ranking, issues=(), boundary=None)
    assert "Excluded setups None." in Reader(report_html(bare)).text


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_shown_as_text(name: str) -> None:
    plan = make_plan((name, "T2", "T3"), block=name)
    read = Reader(report_html(plan))
    assert " ".join(name.split()) in read.text
    assert not any(tag in ("script", "img") for tag, _ in read.tags)


def test_a_dollar_sign_in_a_figure_is_no_formula() -> None:
    plan = make_plan(("$x^2$ <b>", "T2", "T3"))
    figure = trail_profiles(plan, ["$x^2$ <b>"], None)
    assert "$x^2$ &lt;b&gt;" in figure
