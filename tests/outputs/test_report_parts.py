"""Parts of the report: names, rules and slopes, brash, remedies, doubt, what was left out."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from terrain.decision.brash import brash_need
from terrain.decision.water_met import has_crossing
from terrain.models.site_rules import rule_profiles, rule_texts
from terrain.outputs import report_plots
from terrain.outputs.document import Bullets, Facts, Heading, Paragraph, Table, tidied
from terrain.outputs.figures import spread, trail_profiles
from terrain.outputs.report_brash import brash_blocks
from terrain.outputs.report_decision import decision_blocks
from terrain.outputs.report_measures import stretch_blocks
from terrain.outputs.report_names import setup_key, without_ids
from terrain.outputs.report_refusals import in_one_line, refusal_blocks
from terrain.outputs.report_rules import depth_words, rule_blocks, site_rule_blocks
from terrain.outputs.report_setups import setup_blocks
from terrain.outputs.report_standing import standing_blocks
from terrain.outputs.report_when import doubt_blocks, season_blocks
from terrain.outputs.shown_units import METRIC, US
from tests.outputs.synthetic import decided, make_plan


@pytest.fixture(scope="module")
def plan():
    return decided(make_plan())


def words(blocks) -> str:
    """All text of some blocks."""
    told = []
    for block in blocks:
        if isinstance(block, Table):
            told += [block.caption, block.folded]
            told += [text for line in block.rows for text in (*line.cells, line.note)]
        elif isinstance(block, Bullets):
            told += [part for pair in block.items for part in pair]
        elif isinstance(block, Heading | Paragraph):
            told += [getattr(block, "lead", ""), block.text]
    return " ".join(told)


def table_under(blocks, heading: str) -> Table:
    """First table after the heading."""
    at = next(
        k for k, block in enumerate(blocks)
        if isinstance(block, Heading) and block.text.startswith(heading)
    )  # fmt: skip
    return next(block for block in blocks[at:] if isinstance(block, Table))


def test_amounts_are_written_in_one_way_and_names_are_left_alone() -> None:
    made = tidied(
        [
            Paragraph("1463 m3 on 6521 m, 15 kg/m2 and 69% of it; EPSG:32728, 2017, m3."),
            Bullets((("12345 m", "12345 m"),)),
        ]
    )
    space = "\N{NARROW NO-BREAK SPACE}"
    assert made[0].text == (
        f"1{space}463 m³ on 6{space}521 m, 15 kg/m² and 69 % of it; EPSG:32728, 2017, m3."
    )
    assert made[1].items == (("12345 m", f"12{space}345 m"),)
    assert tidied(made) == made
    assert tidied([Paragraph("1463 m3")], US)[0].text == "1,463 m³"


def test_metres_beyond_a_named_slope_are_those_of_the_stations() -> None:
    plan = make_plan()
    steep = plan.stations.assign(
        slope=np.where(np.arange(len(plan.stations)) < 5, 0.36, 0.1),
        grade=np.where(np.arange(len(plan.stations)) < 2, -0.36, 0.1),
    )
    table = table_under(rule_blocks(replace(plan, stations=steep), METRIC), "Steeper")
    rows = {line.cells[0]: line.cells for line in table.rows}
    first, length = str(steep["trail"].iloc[0]), steep["length_m"].to_numpy()
    row = rows["35 % (19°)"]
    assert row[1] == "British Columbia, Canada (rubber-tyred skidder)"
    assert row[2:] == (
        METRIC.length(length[:5].sum()), f"{first} {METRIC.length(length[:5].sum())}",
        METRIC.length(length[:2].sum()), f"{first} {METRIC.length(length[:2].sum())}",
    )  # fmt: skip
    assert rows["40 % (22°)"][2:] == ("0 m", "none", "0 m", "none")


def test_unknown_slopes_are_told_beside_the_table() -> None:
    plan = make_plan()
    blind = plan.stations["slope"].where(np.arange(len(plan.stations)) >= 3)
    metres = plan.stations["length_m"].iloc[:3].sum()
    text = words(rule_blocks(replace(plan, stations=plan.stations.assign(slope=blind)), METRIC))
    assert f"On {METRIC.length(metres)} the slope is not known." in text
    assert "never as permission" in text


@pytest.mark.parametrize("line", list(rule_texts().values()), ids=lambda line: line.key)
def test_triggers_are_figures_of_the_rule_s_own_text(line) -> None:
    # the texts of terrain/data/rule_profiles.toml, each with its source there
    printed = {float(value) / 100 for value in re.findall(r"([\d.]+) ?%", line.text)}
    printed |= {np.tan(np.radians(float(v))) for v in re.findall(r"(\d+) degrees", line.text)}
    assert {round(trigger.slope, 6) for trigger in line.triggers} <= {round(v, 6) for v in printed}
    assert bool(line.triggers) == (line.kind == "slope")


def test_the_depths_of_the_rule_stand_in_its_text() -> None:
    # depths: Finland 1996 and Québec section 45 as in terrain/data/rule_profiles.toml
    rules = rule_profiles()
    assert (
        depth_words(rules["finland_1996"], METRIC) == "10 cm on mineral soil, 20 cm on organic soil"
    )
    assert depth_words(rules["fiji_code"], METRIC) == "30 cm on any soil"
    text = words(site_rule_blocks(rules["finland_1996"], METRIC))
    assert "where it runs on for at least 1 m." in text
    text = words(site_rule_blocks(rules["quebec_45"], US))
    assert (
        "deeper than 20 cm (7.9 in) on mineral soil, where it runs on for at least 13.1 ft" in text
    )
    assert "For organic soil it gives no depth: metres on it count as not predicted." in text
    assert "A rut counts" not in words(site_rule_blocks(rules["sweden_2012"], METRIC))
    assert "No rule is named" in words(site_rule_blocks(None, METRIC))


def _brash_sheet(width_m: float):
    trails = pd.DataFrame(
        {
            "trail": ["A", "B", "C"],
            "width_m": [4.0, width_m, 4.0],
            "brash_need_m": [100.0, 50.0, 0.0],
            "brash_short_m": [100.0, 0.0, 0.0],
            "brash_supply_kg_m2": [10.0, 16.0, 16.0],
        }
    )
    series = trails.set_index("trail")
    brash = SimpleNamespace(
        unknown_m=series["width_m"] * 0, need_m=series["brash_need_m"],
        short_m=series["brash_short_m"], missing_t=2.0, beyond_m=40.0, covered_m=20.0,
    )  # fmt: skip
    return SimpleNamespace(trails=trails, brash=brash)


def test_brash_is_told_in_tonnes_by_trail_and_in_all() -> None:
    # 100 m x 4 m and 50 m x 4 m at the low and high end of the advice, own arithmetic
    need = brash_need()
    assert (need.low, need.high) == (15, 20)
    blocks = brash_blocks(_brash_sheet(4.0), METRIC)
    table = next(block for block in blocks if isinstance(block, Table))
    assert [line.cells[0] for line in table.rows] == ["A", "B"]
    assert table.rows[0].cells[2:5] == ("6.0 to 8.0 t", "10.0 kg/m²", "4.0 t")
    assert table.foot[1:5] == ("150 m", "9.0 to 12.0 t", "", "7.2 t")
    assert "150 m, 9 to 12 t in all." in words(blocks)


def test_brash_without_a_width_is_unknown_and_never_nothing() -> None:
    blocks = brash_blocks(_brash_sheet(np.nan), METRIC)
    table = next(block for block in blocks if isinstance(block, Table))
    assert table.rows[1].cells[2] == table.rows[1].cells[4] == "not known"
    assert table.foot[2] == table.foot[4] == "not known"
    assert "6 to 8 t in all without 50 m of unknown width" in words(blocks)


def test_ids_become_numbers_and_single_words_stay(plan) -> None:
    text = "bare + open is as good as open + open; bare ground, bare + openers."
    assert without_ids(plan, text) == "No. 2 is as good as No. 1; bare ground, bare + openers."
    assert setup_key(plan, ["bare", "open + open", "unheard of"]) == (
        "No. 1: open band tracks on both bogies; No. 4: no traction aid on any wheel"
    )


def _remedies(plan, *rows):
    names = list(plan.remedies.columns)
    lines = [dict.fromkeys(names, np.nan) | {"note": None, "left_m": 0.0, "moved_m": 0.0} | row
             for row in rows]  # fmt: skip
    return replace(plan, remedies=pd.DataFrame(lines, columns=names))


def test_why_a_remedy_helps_in_part_only_is_said(plan) -> None:
    one = {"stretch": "T1-20", "setup": "open + open"}
    made = _remedies(
        plan,
        one | {"remedy": "leave out", "does": "Leave it out.", "solves": "partly",
               "stranded_m3": 1419.0},
        one | {"remedy": "smaller payload", "does": "Load 4 t.", "solves": "partly",
               "note": "It passes, but hardly."},
        one | {"remedy": "drier state", "does": "Even dry, 10 m are not solved.",
               "solves": "partly", "left_m": 10.0},
        one | {"remedy": "reroute", "does": "Drive round.", "solves": "partly", "left_m": 4.0,
               "moved_m": 6.0},
        one | {"remedy": "leave out", "does": "Leave out: 419 m3 of timber.", "solves": "partly",
               "stranded_m3": 419.0},
        one | {"remedy": "other landing", "does": "Haul.", "solves": "cannot tell"},
        one | {"remedy": "heavier aid", "does": "None.", "solves": "no"},
    )  # fmt: skip
    (line,) = table_under(stretch_blocks(made, METRIC), "What would ease them").rows
    assert line.cells[:3] == ("T1-20", "No. 1 (shown)", "none of those looked at")
    assert line.cells[3].split(" Or: ") == [
        f"Leave it out (passes, but strands {METRIC.volume(1419.0)}).",
        "Load 4 t (it passes, but hardly).",
        "Even dry, 10 m are not solved.",
        "Drive round (leaves 4 m of it and makes 6 m elsewhere short).",
        "Leave out: 419 m3 of timber (helps in part only).",
        "Haul (cannot be told: metres of it are not assessed).",
    ]
    assert line.note == "In vain: heavier aid."


def test_remedies_of_the_shown_setup_and_the_next_lighter_come_first(plan) -> None:
    row = {"remedy": "wait", "does": "Wait.", "solves": "yes"}
    setups = ("bare", "ring + ring", "open + open")
    made = _remedies(plan, *(row | {"stretch": "T1-20", "setup": name} for name in setups))
    blocks = stretch_blocks(made, METRIC)
    table = table_under(blocks, "What would ease them")
    assert [line.cells[1] for line in table.rows] == ["No. 1 (shown)", "No. 3"]
    assert "1 more, for lighter setups: see remedies.csv." in words(blocks)


def test_a_stretch_in_water_without_a_crossing_is_kept_out_of(plan) -> None:
    run = {"trail": "T2", "from_m": 30.0, "to_m": 33.0, "crossing": "X1", "to_crossing_m": 233.0}
    assert not has_crossing(run)
    assert has_crossing(run | {"to_crossing_m": 2.0})
    assert not has_crossing(run | {"crossing": np.nan, "to_crossing_m": np.nan})

    def notes(**changes) -> list[str]:
        wet = SimpleNamespace(water_runs=pd.DataFrame([run | changes]))
        blocks = stretch_blocks(replace(plan, wet_ground=wet), METRIC)
        table = table_under(blocks, "Stretches that decide")
        return [line.cells[0] for line in table.rows if "Water here" in line.note]

    made = _remedies(
        plan,
        {"stretch": "T2-20", "setup": "bare", "remedy": "wait", "does": "Wait.", "solves": "yes"},
        {"stretch": "T1-20", "setup": "bare", "remedy": "wait", "does": "Wait.", "solves": "yes"},
    )
    wet = SimpleNamespace(water_runs=pd.DataFrame([run]))
    blocks = stretch_blocks(replace(made, wet_ground=wet), METRIC)
    in_water, dry = table_under(blocks, "What would ease them").rows
    assert in_water.note == (
        "Water without a crossing: stop and ask; the measure is for the ground beside it."
    )
    assert in_water.cells[2] == "Beside the water: Wait."
    assert (dry.note, dry.cells[2]) == ("", "Wait.")
    assert notes() == ["T2-20"]
    assert notes(to_crossing_m=2.0) == []
    assert notes(from_m=200.0, to_m=210.0) == []


def test_ask_first_setups_are_no_part_of_the_weights(plan) -> None:
    more = pd.concat([plan.weights, plan.weights.iloc[:1].assign(setup="bare + open")])
    table = table_under(setup_blocks(replace(plan, weights=more), METRIC), "How far the weights")
    assert [line.cells[0] for line in table.rows] == ["1", "4"]


def test_a_machine_that_is_beaten_by_another_of_its_setups_says_so(plan) -> None:
    changed = {"outcome": "does not suit", "short_m": 20.0}
    for unsolved, said in ((0.0, "passes them,"), (5.0, "passes 15 m of them,"), (20.0, "")):
        machines = plan.machines.assign(**changed, unsolved_m=unsolved)
        table = table_under(setup_blocks(replace(plan, machines=machines), METRIC), "Machines")
        note = table.rows[0].note
        assert ("Another setup of this machine" in note) == bool(said)
        assert said in note


def test_a_sentence_on_a_setup_to_ask_about_has_one_full_stop(plan) -> None:
    told = 'band tracks: passes 20 m; the outcome would be "suits with measures".'
    machines = plan.machines.assign(passed_by=told)
    note = (
        table_under(setup_blocks(replace(plan, machines=machines), METRIC), "Machines").rows[0].note
    )
    assert note.endswith('Band tracks: passes 20 m; the outcome would be "suits with measures".')


@pytest.mark.parametrize(
    ("decides", "short_m", "blank_m", "outcome", "said"),
    [
        ("T1 10 m", 10.0, 30.0, "cannot tell", "T1 10 m; 30 m not assessed"),
        ("T1 10 m", 10.0, 0.0, "does not suit", "T1 10 m"),
        ("", 0.0, 0.0, "suits", "no short metre"),
        (None, 0.0, 30.0, "cannot tell", "no short metre; 30 m not assessed"),
        (np.nan, np.nan, 500.0, "cannot tell", "assessed nowhere"),
    ],
)
def test_what_decides_in_a_state_is_told_by_case(
    plan, decides, short_m, blank_m, outcome, said
) -> None:
    seasons = plan.seasons.assign(short_m=short_m, not_assessed_m=blank_m, outcome=outcome)
    seasons["decides"] = pd.Series([decides] * len(seasons), index=seasons.index, dtype=object)
    table = table_under(season_blocks(replace(plan, seasons=seasons), METRIC), "When")
    assert {line.cells[-1] for line in table.rows} == {said}


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        ("does not suit", "the best of those that do not suit"),
        ("cannot tell", "the first of those of which nobody can tell yet"),
    ],
)
def test_the_first_page_words_the_shown_setup_by_its_outcome(plan, outcome, said) -> None:
    """A setup that was assessed nowhere has no short metres: the tile does not read 0 m."""
    setups = plan.ranking.setups.assign(outcome=outcome, short_m=np.nan, worst_reserve=np.nan)
    ranking = replace(plan.ranking, candidate=None, setups=setups)
    blocks = decision_blocks(replace(plan, ranking=ranking), METRIC)
    line = next(b for b in blocks if getattr(b, "lead", "") == "No listed setup is named.")
    assert said in line.text
    assert ("do not suit" in line.text) == (outcome == "does not suit")
    facts = next(block for block in blocks if isinstance(block, Facts))
    assert [value for value, _ in facts.items[:2]] == ["not known", "not known"]


def test_every_hatch_of_the_profiles_is_in_the_legend(plan) -> None:
    (figure,) = trail_profiles(plan, ["T1"], "bare")
    assert "short with the compared setup" in figure
    assert "short with the shown setup" in figure


def test_the_line_of_trades_is_spoken_of_where_it_is_drawn(plan) -> None:
    caption = next(
        block.caption for block in setup_blocks(plan, METRIC)
        if getattr(block, "alt", "").startswith("Scatter")
    )  # fmt: skip
    drawn = len(report_plots.front_of(plan)) > 1
    assert ("The line joins" in caption) == drawn
    table = plan.ranking.setups.assign(short_m=[0.0, 50.0, 90.0, 100.0])
    for over, many in (([40.0, 40.0, 50.0, 60.0], 1), ([40.0, 30.0, 30.0, 10.0], 3)):
        ranking = replace(plan.ranking, setups=table.assign(over_bearing_m=over))
        other = replace(plan, ranking=ranking)
        assert len(report_plots.front_of(other)) == many
        text = " ".join(getattr(block, "caption", "") for block in setup_blocks(other, METRIC))
        assert ("The line joins" in text) == (many > 1)


def test_labels_stand_above_every_mark_beside_them() -> None:
    groups = {(20, 557): [0], (34, 562): [4], (44, 611): [1, 5], (168, 611): [10], (580, 611): [3]}
    labels = report_plots._near_labels(groups, {0, 1, 3, 4, 5, 10})
    assert [rows for _, rows in labels] == [[0, 1, 4, 5], [10], [3]]
    assert labels[0][0][1] == 611


def test_close_labels_are_moved_apart_about_their_middle() -> None:
    assert spread([10.0, 50.0], 5.0) == [10.0, 50.0]
    assert spread([10.0, 12.0, 14.0], 5.0) == [7.0, 12.0, 17.0]
    moved = spread([0.0, 1.0, 5.5, 30.0], 5.0)
    assert np.diff(moved).min() >= 5.0 - 1e-9
    assert moved[-1] == 30.0
    assert spread([], 5.0) == []


def test_without_sources_of_doubt_there_is_no_second_panel(plan) -> None:
    none = replace(plan, doubt=replace(plan.doubt, sources=plan.doubt.sources.iloc[:0]))
    assert "% of the doubt" in report_plots.doubt_bars(plan)
    assert "% of the doubt" not in report_plots.doubt_bars(none)
    assert "comes from" not in " ".join(
        getattr(block, "caption", "") for block in doubt_blocks(none, METRIC)
    )


def test_chances_follow_the_comparison_in_plain_words(plan) -> None:
    table = next(block for block in doubt_blocks(plan, METRIC) if isinstance(block, Table))
    assert table.rows[0].cells == ("1", "open band tracks on both bogies", "93 %", "88 % to 98 %")
    assert "open + open" not in words(doubt_blocks(plan, METRIC))


def test_what_was_left_out_stands_in_a_line_each_then_in_full() -> None:
    short = "Overturning was not assessed."
    long = "Aids for other tyres were not looked at: " + ", ".join(["wheel chains for 28L-26"] * 9)
    assert in_one_line(short) == short
    assert in_one_line(long) == "Aids for other tyres were not looked at."
    assert len(in_one_line("word " * 60)) <= 123
    assert in_one_line("Depth is computed. It knows no drains.") == "Depth is computed."
    made = refusal_blocks(replace(make_plan(), not_assessed=(short, long)))
    first, full = (block for block in made if isinstance(block, Bullets))
    assert [text for _, text in first.items] == [short, "Aids for other tyres were not looked at."]
    assert [text for _, text in full.items] == [long]


def test_figures_that_are_only_assumed_are_named_before_the_table() -> None:
    blocks = standing_blocks(make_plan(), METRIC)
    at = next(k for k, block in enumerate(blocks) if isinstance(block, Table))
    leads = {block.lead: block.text for block in blocks[:at] if isinstance(block, Paragraph)}
    assert leads["Only assumed, wholly or in part:"] == "Slip limit."
    assert leads["Invented:"] == "Mass of open band track."
