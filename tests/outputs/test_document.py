"""The report as plain blocks: names, widths, tables from the registry, figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from terrain.mechanics.relations import relations
from terrain.outputs import report_plots
from terrain.outputs.document import (
    LETTERS_ACROSS,
    Column,
    Table,
    as_records,
    clipped,
    named,
    numbers,
    row,
    texts,
)
from terrain.outputs.report_registered import registered_blocks, registered_table
from terrain.outputs.report_standing import COLUMN_RELATIONS
from terrain.outputs.shown_units import METRIC, US
from tests.outputs.synthetic import RIGHT_TO_LEFT, SCRIPT, decided, make_plan


def test_only_a_turning_name_is_isolated() -> None:
    assert named("Trail & <b>") == "Trail & <b>"
    assert named(RIGHT_TO_LEFT) == f"\u2068{RIGHT_TO_LEFT}\u2069"


def test_clipping_keeps_short_words() -> None:
    assert clipped("abc", 3) == "abc"
    assert clipped("abcd", 3) == "ab\u2026"


def test_a_printed_line_is_filled_and_no_word_or_figure_is_cut() -> None:
    table = Table(
        (*texts("No.", "Words"), *numbers("Length"), Column("Filled", "blank")),
        (row("1", "long words " * 20, "1 234 m", ""),),
    )
    record = as_records([table])[0]
    assert record["kept"] == [True, False, False, False]
    assert sum(record["widths"]) == pytest.approx(LETTERS_ACROSS)
    assert record["widths"][2] > len("1 234 m")


def test_a_small_table_stays_narrow() -> None:
    table = Table((*texts("Trail"), *numbers("Length")), (row("T1", "12 m"),))
    assert sum(as_records([table])[0]["widths"]) < 0.3 * LETTERS_ACROSS


def test_crowded_columns_keep_their_longest_word() -> None:
    heads = texts(*(f"Head {k}" for k in range(6)))
    table = Table(
        (*heads, *numbers("Mean", "Peak")),
        (row(*["many words of some length in a cell"] * 6, "403 kPa", "not known"),),
    )
    widths = as_records([table])[0]["widths"]
    assert sum(widths) == pytest.approx(LETTERS_ACROSS)
    assert min(widths[:6]) > len("length")
    assert widths[7] > len("not known")


def test_too_many_columns_share_the_width() -> None:
    table = Table(numbers(*(f"figure{k}" for k in range(30))), (row(*["1 000 m"] * 30),))
    assert sum(as_records([table])[0]["widths"]) == pytest.approx(LETTERS_ACROSS)


def test_a_table_of_the_registry_takes_its_units_from_it() -> None:
    frame = decided(make_plan()).machines
    table = registered_table("machines", frame, US, only=("machine", "payload_kg", "loads"))
    assert [column.head for column in table.columns] == ["Machine", "Payload", "Loads"]
    assert table.rows[0].cells == ("Invented forwarder", "30,865 lb", "20")
    assert [column.style for column in table.columns] == ["text", "number", "number"]


def test_an_unknown_table_takes_its_units_from_the_names() -> None:
    frame = pd.DataFrame(
        {"name": [SCRIPT, "b"], "depth_m": [12.0, np.nan], "worst_reserve": [0.18, -0.1],
         "share": [0.5, 0.25], "empty": [np.nan, np.nan], "told": [True, False]}
    )  # fmt: skip
    table = registered_table("no such table", frame, METRIC)
    assert [column.head for column in table.columns] == [
        "Name", "Depth", "Worst reserve", "Share", "Told",
    ]  # fmt: skip
    assert table.rows[0].cells == (SCRIPT, "12 m", "18 % (10°)", "50 %", "yes")
    assert table.rows[1].cells[1] == "not known"


def test_no_rows_no_table_and_the_rest_is_counted() -> None:
    frame = decided(make_plan()).machines
    assert registered_blocks("machines", None, METRIC) == []
    assert registered_blocks("machines", frame.iloc[:0], METRIC) == []
    told = registered_blocks("machines", frame, METRIC, most=1, explained=False)
    assert [block.kind for block in told] == ["table", "paragraph"]
    assert told[1].text.startswith("1 more row")


def test_columns_rest_on_relations_that_exist() -> None:
    known = relations()
    assert [name for _, ids in COLUMN_RELATIONS for name in ids if name not in known] == []


def test_the_grid_of_seasons_says_each_outcome_in_words() -> None:
    plan = decided(make_plan())
    svg = report_plots.season_grid(plan, ["open + open", "bare"], METRIC)
    assert svg.count("does not suit") == 4
    assert svg.count("with measures") == 2
    assert "moist (this run)" in svg
    assert "frozen" not in svg


def test_the_front_holds_what_no_other_beats() -> None:
    points = [(0, 50), (10, 20), (10, 60), (30, 20), (40, 0)]
    assert report_plots._front(points) == [(0, 50), (10, 20), (40, 0)]


def test_axes_are_in_the_chosen_units() -> None:
    plan = make_plan()
    assert "m short of traction" in report_plots.trade_off(plan, METRIC)
    assert "ft short of traction" in report_plots.trade_off(plan, US)


def test_stations_that_share_a_mark_are_drawn_once_and_unknown_ones_never() -> None:
    x, y = report_plots._thinned(np.array([1.0, 1.1, 8.0, 9.0]), np.array([2.0, 2.1, np.nan, 3.0]))
    assert x.tolist() == [1.0, 9.0]
    assert y.tolist() == [2.0, 3.0]


def test_a_name_in_a_figure_is_text_and_no_formula() -> None:
    plan = decided(make_plan())
    doubt = replace(
        plan.doubt,
        sources=pd.DataFrame({"source": ["$x^2$ <b>"], "kind": ["soil"], "share": [1.0]}),
    )
    assert "$x^2$ &lt;b&gt;" in report_plots.doubt_bars(replace(plan, doubt=doubt))


@pytest.mark.parametrize("shown", [METRIC, US])
def test_figures_have_a_size_of_their_own_and_no_fixed_one(shown) -> None:
    svg = report_plots.trade_off(make_plan(), shown)
    head = svg.split(">", 1)[0]
    assert "viewBox" in head
    assert " width=" not in head
    assert " height=" not in head
