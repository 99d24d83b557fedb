"""The second opinions in the report: slip needed, soft ground, work by trip, slopes of skidders."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.crane_checks import crane_checks
from terrain.decision.crane_places import crane_places
from terrain.decision.results import Plan
from terrain.decision.vehicle_cone_index import FLATTERS
from terrain.outputs.report import report_html
from terrain.outputs.shown_units import Shown
from tests.builders import forwarder
from tests.decision.test_evaluation import BARE_SETUP
from tests.mechanics.test_crane import CRANE
from tests.outputs.test_report import Reader

KNOWN = {
    "net_brixius": 0.30, "net_maclaurin": 0.31, "net_wismer_luth": 0.29, "models_low": 0.29,
    "models_high": 0.31, "short_if_strong_m": 0.0, "short_if_weak_m": 40.0,
    "slip_needed": 0.12, "slip_needed_most": 0.19, "vci1_kpa": 197.0, "vci50_kpa": 447.0,
    "below_vci1_m": 10.0, "below_vci50_m": 120.0, "vci_word": FLATTERS,
    "loaded_trip_mj": 30.0, "loaded_grade_mj": 12.0, "loaded_trip_ratio": 1.07,
    "empty_trip_mj": 20.0, "empty_grade_mj": 8.0, "empty_trip_ratio": 1.21,
}  # fmt: skip


def said(plan: Plan, **changes: object) -> str:
    assert plan.second_opinions is not None
    table = plan.second_opinions.assign(**{**KNOWN, **changes})
    text = Reader(report_html(replace(plan, second_opinions=table))).text
    return text[text.index("Other published routes") :]


def test_the_slip_needed_stands_where_it_passes_and_more_than_the_limit_elsewhere(
    small_plan: Plan,
) -> None:
    text = said(small_plan)
    assert "it needs more than the limit of 25 %" in text
    assert "0 m to 40 m12 %19 %" in text  # cells stand without blanks between them
    # the setups of the small plan are short somewhere: the metres stand beside the slip
    assert "; more than 25 % on" in text
    nowhere = said(small_plan, slip_needed=np.nan, slip_needed_most=np.nan)
    assert "more than 25 %: it passes nowheremore than 25 %" in nowhere
    unknown = said(
        small_plan, slip_needed=np.nan, slip_needed_most=np.nan, net_brixius=np.nan,
        short_if_weak_m=np.nan,
    )  # fmt: skip
    assert "not knownnot knownnot knownnot known" in unknown
    assert "not known to not known" not in unknown


def test_the_ground_is_held_against_the_vehicle_cone_index(small_plan: Plan) -> None:
    text = said(small_plan)
    assert "197, 447 kPa10 m for 1 pass, 120 m for 50 passes" in text
    assert f"Here the ground: {FLATTERS}." in text
    assert "never enters the verdict" in text
    word = "not comparable: the form knows no wheel tracks"
    missing = {"vci1_kpa": np.nan, "vci50_kpa": np.nan, "below_vci1_m": np.nan}
    other = said(small_plan, **missing, below_vci50_m=np.nan, vci_word=word)
    assert f"not computed{word}" in other
    assert "Here the ground" not in other


def test_the_work_of_each_trip_stands_against_bare_wheels(small_plan: Plan) -> None:
    text = said(small_plan)
    assert "30 MJ12 MJ1.0720 MJ8 MJ1.21" in text
    assert "on a descent gravity pays for the rolling first" in text
    assert "on the level, balanced" in text


@pytest.mark.parametrize("metres", [0.0, 85.0])
def test_published_slopes_of_skidders_are_told_for_skidders_alone(
    small_plan: Plan, metres: float
) -> None:
    assert "Published slopes of skidders" not in said(small_plan)
    text = said(
        small_plan,
        published_descent=0.41,
        published_climb=0.11,
        beyond_published_m=metres,
        beyond_passed_m=metres - 5.0,
    )
    assert "between a descent of 41 % (22°) and a climb of 11 % (6°)" in text
    steeper = "Loaded travel is steeper on 85 m here; by grip alone the shown setup passes 80 m"
    assert (steeper in text) == (metres > 0)
    assert ("No loaded travel here is steeper" in text) == (metres == 0)
    assert ("do not read the pass as a permission" in text) == (metres > 0)


def test_crane_work_has_two_tables_and_a_word_on_the_first_page(small_plan: Plan) -> None:
    assert "crane out" not in Reader(report_html(small_plan)).text
    machine = forwarder(crane=replace(CRANE, lifted_mass_kg=1500.0), notes="", invented=True)
    stations = small_plan.stations.assign(grade=0.05, cross_slope=0.3, cone_index_kpa=900.0)
    item = carried(BARE_SETUP, machine)
    reaching = replace(
        small_plan,
        machine=machine,
        crane_checks=crane_checks(stations, [item]).assign(setup=small_plan.ranking.shown),
        crane_places=crane_places(stations, item),
    )
    text = Reader(report_html(reaching)).text
    first, rest = text.split("1 Basic facts", 1)
    assert "With the crane out" in first
    assert "Stop and ask: with 1 500 kg at 9 m, standing still with frames locked and" in first
    assert "Crane out to 9.0 m with 1 500 kg from a tip 4.5 m high" in rest
    assert "The manufacturer's crane chart decides, not this table." in rest
    assert rest.index("With the crane out: standing") < rest.index("With the crane out: ratings")
    assert "no rating in the machine file" in rest
    feet = Reader(report_html(reaching, Shown("us"))).text
    assert "Crane out to 29.5 ft with 3,307 lb from a tip 14.8 ft high" in feet


def test_the_work_of_a_tonne_stands_beside_that_of_a_trip(small_plan: Plan) -> None:
    # own arithmetic: alike trips, but the aids leave two thirds of the load: 1.5 times the work
    assert small_plan.second_opinions is not None
    setups = small_plan.ranking.setups.copy()
    setups["payload_kg"] = np.where(setups["setup"] == "bare", 12000.0, 8000.0)
    told = replace(
        small_plan,
        second_opinions=small_plan.second_opinions.assign(round_trip_mj=100.0),
        ranking=replace(small_plan.ranking, setups=setups),
    )
    text = Reader(report_html(told)).text
    part = text[text.index("All work for a tonne brought out, against bare wheels") :]
    part = part[: part.index("Every setup needs the manufacturer's approval")]
    assert "1.50" in part
    assert "1.00" in part
    assert "1.50" not in Reader(report_html(replace(told, second_opinions=None))).text
