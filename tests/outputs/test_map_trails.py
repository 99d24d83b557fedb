"""Which trails are told as shut, the printed list of stretches, and signs at water."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.decision.results import Plan
from terrain.outputs.map_data import NO_FROST, NO_VERDICT, map_data, states_judged, verdict_words
from terrain.outputs.map_layers import contour_items, landing_items, soil_items
from terrain.outputs.map_trails import (
    SHUT,
    SHUT_ON_THE_WAY,
    USE_UNKNOWN,
    stretch_items,
    stretch_table,
    trail_use,
)
from terrain.outputs.shown_units import US
from terrain.outputs.wet_layers import sign_layers
from tests.outputs.map_plan import with_water, without_frost
from tests.outputs.synthetic import make_plan, with_decision


@pytest.fixture(scope="module")
def plan() -> Plan:
    return without_frost(with_decision(make_plan()))


@pytest.fixture(scope="module")
def wet_plan() -> Plan:
    return with_water()


def test_a_trail_is_shut_by_its_own_metres_or_by_its_way(plan: Plan) -> None:
    """The table shuts every trail on saturated ground; own metres short by own arithmetic."""
    use = trail_use(plan)
    column = plan.evaluation.column(plan.ranking.shown)
    length = plan.stations["length_m"].to_numpy()
    for trail in plan.trails.index:
        kind, words = use[trail]["saturated"]
        here = (plan.stations["trail"] == trail).to_numpy()
        short = length[here & (plan.evaluations["saturated"].reserve[:, column] < 0)].sum()
        if short > 0:
            assert (kind, words) == (SHUT, f"shut: {short:.0f} m of it short of traction")
        else:
            assert (kind, words) == (SHUT_ON_THE_WAY, "shut on the way to the landing")
        assert use[trail]["wet"][0] == USE_UNKNOWN
        assert "dry" not in use[trail]
    answer = plan.evaluations["saturated"]
    strong = replace(answer, reserve_loaded=abs(answer.reserve_loaded),
                     reserve_empty=abs(answer.reserve_empty))  # fmt: skip
    open_itself = replace(plan, evaluations={**plan.evaluations, "saturated": strong})
    assert {entry["saturated"][0] for entry in trail_use(open_itself).values()} == {SHUT_ON_THE_WAY}
    assert trail_use(make_plan()) == {}


def test_a_state_without_an_answer_ships_no_figures(plan: Plan) -> None:
    assert states_judged(plan) == {"dry", "moist", "wet", "saturated"}
    data = map_data(plan)
    assert "frozen" in data["states"]
    assert "frozen" not in data["judged"]
    for name in ("reserve", "ratio", "pressure", "cause"):
        assert set(data["figures"][name]) == {"dry", "moist", "wet", "saturated"}
    assert "frozen" in data["figures"]["passes"]
    assert verdict_words(plan, "bare", "frozen")[1:] == ["not judged", NO_VERDICT + NO_FROST]


def test_the_printed_list_has_every_stretch(plan: Plan) -> None:
    assert plan.bottlenecks is not None
    rows = stretch_table(plan)
    assert [row[0] for row in rows] == list(plan.bottlenecks["stretch"])
    assert rows[0][1:] == ["20 to 35 m", "no listed setup passes", "2 % (1°)", "no listed setup"]
    assert rows[1][4] == "open band tracks on both bogies"
    assert stretch_table(plan, US)[0][1] == "66 to 115 ft"
    assert stretch_table(make_plan()) == []


def test_crossings_and_landings_stand_under_their_own_names(wet_plan: Plan) -> None:
    crossings = sign_layers(wet_plan)["Crossings"]
    assert [(item["l"], item["n"]) for item in crossings] == [
        ("X1", "Crossing X1"), ("X2", "Crossing X2"),
    ]  # fmt: skip
    rows = dict(crossings[0]["r"])
    assert rows["Trail over it"] == "T1, 70 to 80 m"
    assert rows["Computed water"] == "runs on under this crossing"
    assert dict(crossings[1]["r"])["Trail over it"] == "no trail meets water here"
    assert dict(crossings[1]["r"])["Computed water"].startswith("may be held up here")
    assert [item["id"] for item in landing_items(wet_plan)] == list(wet_plan.landings.index)
    assert [item["id"] for item in soil_items(wet_plan)] == list(wet_plan.soils.index)


def test_water_without_a_crossing_has_a_sign_of_its_own(wet_plan: Plan) -> None:
    """40 m from the next crossing is not at it; T2 has none at all."""
    items = sign_layers(wet_plan)["Water without a mapped crossing"]
    assert [item["n"] for item in items] == [
        "Water without a crossing: T1, 110 to 116 m",
        "Water without a crossing: T2, 40 to 52 m",
    ]
    assert dict(items[0]["r"])["Nearest mapped crossing"] == "X2, 40 m away"
    assert dict(items[1]["r"])["Nearest mapped crossing"] == "none is mapped"
    assert all("stop and ask" in dict(item["r"])["Do"] for item in items)
    there = wet_plan.trails.to_crs(4326).geometry["T2"]
    lat, lon = items[1]["at"]
    middle = wet_plan.trails.geometry["T2"].length
    along = there.project(type(there.boundary.geoms[0])(lon, lat), normalized=True)
    assert along == pytest.approx(46 / middle, abs=0.02)


def test_a_stretch_in_uncrossed_water_says_so(wet_plan: Plan) -> None:
    """T2-20 ends at 35 m, before its water at 40 m; stretched to 45 m it takes it in."""
    assert all("Water" not in dict(item["r"]) for item in stretch_items(wet_plan))
    table = wet_plan.bottlenecks
    assert table is not None
    longer = replace(wet_plan, bottlenecks=table.assign(to_m=45.0))
    told = {item["id"]: dict(item["r"]).get("Water") for item in stretch_items(longer)}
    words = "water without a mapped crossing: stop and ask"
    assert {name for name, said in told.items() if said == words} == {"T2-20"}
    kinds = {row[0]: row[2] for row in stretch_table(longer)}
    assert kinds["T2-20"] == f"forces the choice; {words}"
    assert words not in kinds["T1-20"]


def test_us_units_reach_every_word(wet_plan: Plan) -> None:
    """1 ft is 0.3048 m and 1 psi 6.894757 kPa (NIST Special Publication 811, 2008)."""
    assert wet_plan.bottlenecks is not None
    rows = dict(stretch_items(wet_plan, US)[0]["r"])
    assert rows["Length"] == "49 ft"
    assert rows["Soil's likely strength, lowest"] == "36.3 psi"
    assert rows["Steepest uphill, loaded"] == "18 % (10°)"
    water = sign_layers(wet_plan, US)["Water without a mapped crossing"][0]
    assert water["n"].endswith("T1, 361 to 381 ft")
    contours = contour_items(wet_plan.dem, US)
    assert contours["interval"].endswith(" ft")
    labels = [item["l"] for item in contours["items"] if item["l"]]
    assert labels
    assert all(label.endswith(" ft") for label in labels)
    data = map_data(wet_plan, US)
    assert data["units"]["length"] == {"factor": pytest.approx(1 / 0.3048), "word": "ft"}
    assert data["units"]["pressure"]["factor"] == pytest.approx(1 / 6.894757, rel=1e-6)
    short = (
        wet_plan.stations["length_m"]
        .to_numpy()[wet_plan.evaluation.reserve[:, wet_plan.evaluation.column("bare")] < 0]
        .sum()
    )
    said = verdict_words(wet_plan, "bare", "moist", US)[2]
    assert said.startswith(f"{short / 0.3048:,.0f} ft short of traction")
