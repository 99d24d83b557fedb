from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest

from terrain.decision.results import Plan
from terrain.outputs.figures import trail_profiles
from terrain.outputs.report import report_html
from terrain.outputs.report_decision import forcing_trails
from terrain.outputs.report_measures import eased_stretches
from terrain.outputs.report_refusals import grouped_exclusions
from terrain.outputs.shown_units import METRIC, US
from terrain.outputs.wording import BLOCKS, CAUTIONS, DEFERRAL, SIGN_OFF
from tests.outputs.synthetic import HOSTILE, decided, make_plan


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


@pytest.fixture(scope="module")
def full(small_plan: Plan) -> Reader:
    return Reader(report_html(decided(small_plan)))


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
    assert "A candidate, not approved:" in read.text


def test_figures_inputs_and_findings_are_listed(read: Reader, small_plan: Plan) -> None:
    for row in small_plan.statuses:
        assert row.name in read.text
        assert row.status in read.text
    assert small_plan.files[0].sha256 in read.text
    assert small_plan.issues[0].what in read.text
    for sentence in small_plan.not_assessed:
        assert sentence in read.text


def test_figures_with_a_description_each(read: Reader, full: Reader) -> None:
    for page, many in ((read, 5), (full, 7)):
        labels = [attrs.get("aria-label") for tag, attrs in page.tags if tag == "svg"]
        assert len(labels) == many
        assert all(labels)


def test_ids_in_the_page_are_unique_between_figures(page: str) -> None:
    for prefix in ("slope", "trade", "profile-0", "profile-1", "demand"):
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
    (figure,) = trail_profiles(plan, ["$x^2$ <b>"], None)
    assert "$x^2$ &lt;b&gt;" in figure


def test_the_decision_answers_where_why_when_and_how_sure(full: Reader) -> None:
    text = full.text.split("1 Basic facts")[0]
    assert "No listed setup passes on 1 stretch, 15 m: T1-20 (15 m" in text
    assert "Lighter usual setups fall short on 1 stretch, 15 m: T2-20" in text
    assert "No listed setup passes: climbing loaded, on soft ground (T1-20; 15 m)." in text
    assert "Elsewhere: climbing loaded, on soft ground (15 m)." in text
    assert "Without 15 m of trail T1, ring chains are enough." in text
    assert "dry: suits" in text
    assert "wet: suits with measures" in text
    assert "93 of 100 draws" in text
    assert "Three cone readings on polygon S2." in text


def first_page(plan: Plan) -> str:
    return Reader(report_html(plan)).text.split("1 Basic facts")[0]


def test_the_first_page_says_on_how_many_metres_the_reserve_is_thin(small_plan: Plan) -> None:
    plan = decided(small_plan)
    column = plan.evaluation.column(plan.ranking.shown)
    reserve = plan.evaluation.reserve[:, column]
    for limit in (0.0, 0.45):
        settings = replace(plan.settings, decision=replace(plan.settings.decision,
                                                           thin_reserve=limit))  # fmt: skip
        thin = (reserve >= 0) & (reserve < limit)
        metres = plan.stations["length_m"][thin].sum()
        none = plan.bottlenecks.iloc[:0]
        for made in (
            replace(plan, settings=settings),
            replace(plan, settings=settings, bottlenecks=none),
            replace(plan, settings=settings, bottlenecks=None, remedies=None),
        ):
            text = first_page(made)
            told = f"reserve is thin, under {limit:.0%}".replace("%", " %")
            assert (told in text) == (metres > 0)
            assert ("Nowhere: " in text) == (made.bottlenecks is none)
            if metres:
                assert f"{told}, on {metres:.0f} m." in text


def _with(plan: Plan, causes: list[str], kinds: list[str]) -> Plan:
    table = plan.bottlenecks.iloc[: len(causes)].assign(cause=causes, kind=kinds)
    return replace(
        plan, bottlenecks=table.assign(length_m=[10.0 * k + 10 for k in range(len(table))])
    )


def test_why_names_what_nothing_passes_first_and_leaves_ratings_out(small_plan: Plan) -> None:
    rated = "climbing loaded; a rating is exceeded on this slope"
    hopeless, forces = "no listed setup passes", "forces the choice"
    plan = _with(
        decided(small_plan),
        ["soft ground, loaded", rated, "climbing loaded", "driveline effort, empty"],
        [hopeless, forces, forces, forces],
    )
    text = first_page(plan)
    why = text[text.index("Why there?") : text.index("What would ease it?")]
    assert why == (
        "Why there?No listed setup passes: soft ground, loaded (T1-20; 10 m). "
        "Elsewhere: climbing loaded (50 m); driveline effort, empty (40 m). "
    )
    text = first_page(_with(plan, [rated, rated], [forces, forces]))
    assert "Why there?Climbing loaded (30 m). " in text


def _remedy(plan: Plan, stretch: str, remedy: str, **more: object) -> dict[str, object]:
    row = dict.fromkeys(plan.remedies.columns, np.nan) | {"note": None}
    row |= {"stretch": stretch, "setup": plan.ranking.shown, "remedy": remedy}
    return row | {"does": f"Do {remedy}.", "left_m": 0.0, "moved_m": 0.0} | more


def test_what_would_ease_it_tells_the_standing_and_the_hopeless_first(small_plan: Plan) -> None:
    from types import SimpleNamespace

    plan = decided(small_plan)
    hopeless, forcing = list(plan.bottlenecks["stretch"][:2])
    hardly = "It passes, but so small a load is hardly a way to work."
    rows = [
        _remedy(plan, forcing, "smaller payload", solves="partly", note=hardly),
        _remedy(plan, forcing, "leave out", solves="partly", stranded_m3=40.0),
        _remedy(plan, forcing, "lower inflation", solves="yes", note="Only by the chart."),
        _remedy(plan, hopeless, "drier state", solves="no", left_m=15.0),
    ]
    made = replace(plan, remedies=pd.DataFrame(rows))
    text = first_page(made)
    eased = text[text.index("What would ease it?") : text.index("Without 15 m")]
    assert eased == (
        "What would ease it?T1-20: nothing that was computed helps the shown setup there. "
        "T2-20: Do lower inflation (only by the chart). Or: Do leave out (passes, but strands "
        "40 m³). "
    )
    alone = replace(plan, remedies=pd.DataFrame(rows[:1]))
    told = "T2-20: Do smaller payload (it passes, but so small a load is hardly a way to work)."
    assert told in first_page(alone)
    run = {"trail": "T2", "from_m": 25.0, "to_m": 28.0, "crossing": None, "to_crossing_m": np.nan}
    wet = SimpleNamespace(water_runs=pd.DataFrame([run]))
    assert "ground beside it" not in text
    parts = eased_stretches(replace(made, wet_ground=wet), made.remedies, METRIC)
    assert parts[1].startswith(
        "T2-20 (water without a crossing: stop and ask; the measure is for the ground beside it): "
    )


def test_the_first_page_asks_about_ratings_that_slopes_exceed(full: Reader) -> None:
    text = full.text.split("1 Basic facts")[0]
    asked = text[text.index("Ask the manufacturer about") : text.index("When?")]
    assert "Tyres of the rear bogie, loaded: 88 % of the rating on the level, over it on" in asked
    assert "1 951 m of slopes with balanced bogies, up to 114 %; on 4 264 m if the" in asked
    assert "bogie pivots freely, up to 154 %;" in asked
    assert "over it on 15 m if the bogie pivots freely" in asked
    assert "No rating in the machine file: whole machine." in asked
    assert "95 %" not in asked  # within its rating


def test_the_first_page_says_that_ratings_hold_and_outcomes_are_for_traction(
    small_plan: Plan,
) -> None:
    from terrain.decision.ratings import ANSWERS

    known = decided(small_plan)
    held = known.ratings[known.ratings["answer"] == ANSWERS["within"]]
    text = Reader(report_html(replace(known, ratings=held))).text
    assert "Every rating in the machine file holds on all assessed slopes." in text
    assert "suits (for traction); first of" in text
    assert "pressure and ratings stand beside it" in text


def test_verified_frost_stands_beside_the_state(small_plan: Plan) -> None:
    settings = small_plan.settings
    ground = replace(
        settings.ground, state="frozen", frost_depth_m=0.3, frost_verified_by="<i>probe"
    )
    frozen = replace(decided(small_plan), settings=replace(settings, ground=ground))
    text = Reader(report_html(frozen)).text.split("1 Basic facts")[0]
    assert "planned for ground that is frozen (0.30 m, verified by <i>probe; how deep" in text
    assert "is the site's or the local rule's word)" in text


def test_without_those_fields_the_decision_says_what_it_can(read: Reader) -> None:
    text = read.text.split("1 Basic facts")[0]
    assert "Short with the lightest usual setup or the shown one: trail" in text
    assert "Planned for ground that is moist." in text
    assert "What would ease it?" not in text


def test_band_tracks_are_shown_by_contact_length_too(small_plan: Plan) -> None:
    assert small_plan.second_opinions is not None
    nets = {"net_brixius": 0.30, "net_maclaurin": 0.31, "net_wismer_luth": 0.29}
    other = {"net_contact_low": 0.33, "net_contact_high": 0.36, "models_low": 0.29}
    table = small_plan.second_opinions.assign(**nets, **other, models_high=0.36)
    bare = table["setup"] == "bare"
    table.loc[bare, ["net_contact_low", "net_contact_high"]] = np.nan
    text = Reader(report_html(replace(small_plan, second_opinions=table))).text
    grip = text[text.index("Other published routes") :]
    assert "0.300.310.290.33 to 0.360.07" in grip  # cells stand without blanks between them
    assert "0.300.310.29no track0.07" in grip
    assert "in the direction that leaves less there" in grip
    assert "computed where the catalogue holds both, and for fifty passes from memory" in grip


def test_us_units_reach_every_part_and_slopes_stay(small_plan: Plan, full: Reader) -> None:
    us = Reader(report_html(decided(small_plan), US))
    assert "4,400 kg" not in us.text
    assert "9,700 lb" in us.text
    assert "without 15 m (about 49 ft) of trail" in us.text.lower()
    assert "ft of trail" in us.text
    assert "psi" in us.text
    assert full.text.count("°)") == us.text.count("°)")
    assert "psi" not in full.text


def test_stretches_remedies_and_seasons_are_listed(full: Reader) -> None:
    for words in (
        "no listed setup passes: climbing loaded", "No. 3Carry 9 000 kg (charted loads).",
        "1 more, for lighter setups: see remedies.csv.", "winch assist. Not computed here.",
        "95 % range", "On 2 other trails the chance is 95 % or more.", "0.20 to 1.00",
    ):  # fmt: skip
        assert words in full.text, words


def test_tables_that_a_run_may_add_are_shown_by_the_registry(small_plan: Plan) -> None:
    from terrain.columns import columns_of

    names = columns_of("stability_checks")
    row = dict.fromkeys(names, 0.3) | {"setup": "open + open", "trail": "<b>T1", "state": "x"}
    more = replace(small_plan, stability_checks=pd.DataFrame([row]))
    text = Reader(report_html(more)).text
    assert "Where stability data must be looked up" in text
    assert "<b>T1" in text
