"""What a plan does not drive: the same words on brief, map and in the files for the field."""

from __future__ import annotations

import re
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point
from shapely.ops import substring

from terrain.decision.results import Plan
from terrain.decision.stability_checks import TipPlaces
from terrain.outputs import brief_ground
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_legend import CLOSED, WATER
from terrain.outputs.brief_map import brief_map
from terrain.outputs.brief_shut import (
    AT_CROSSING,
    IN_WATER,
    KEEP_OUT,
    NOT_KNOWN,
    ON_CLOSED,
    OPEN,
    behind_water,
    closed_crossings,
    closed_trails,
    stretch_places,
    water_stops,
)
from terrain.outputs.exchange import kml_text
from terrain.outputs.field_features import place_features, stretch_features, trail_features
from terrain.outputs.gpkg_use import use_layers
from terrain.outputs.gps import gpx_text
from tests.outputs.brief_plans import brief_plan
from tests.outputs.synthetic import CRS, SOUTH, WEST

SOFT = "soft ground: nominal ground pressure over the bearing capacity"
RATED = "climbing loaded; a rating is exceeded on this slope"
# trail, from, to, kind, cause, reserve of the shown setup; the plan's water is on T1 at 140-155 m
# with a bridge, and on the last trail, T6, at 20-30 m without a crossing; T5 is closed when moist
ROWS = [
    ("T1", 150.0, 170.0, "over bearing capacity", SOFT, 0.2),
    ("T6", 10.0, 25.0, "over bearing capacity", SOFT, 0.2),
    ("T6", 40.0, 60.0, "forces the choice", "climbing empty", 0.1),
    ("T2", 20.0, 30.0, "over bearing capacity", SOFT, 0.2),
    ("T3", 20.0, 40.0, "forces the choice", RATED, 0.1),
    ("T5", 0.0, 20.0, "forces the choice", RATED, 0.1),
    ("T5", 40.0, 60.0, "no listed setup passes", RATED, -0.1),
]
PLACES = [AT_CROSSING, IN_WATER, OPEN, OPEN, OPEN, ON_CLOSED, KEEP_OUT]


@pytest.fixture
def plan() -> Plan:
    made = brief_plan(6, weak=len(ROWS))
    table = made.bottlenecks.copy()
    names = ["trail", "from_m", "to_m", "kind", "cause", "shown_reserve"]
    for k, row in enumerate(ROWS):
        table.loc[k, names] = row
    table["stretch"] = [f"{row[0]}-{row[1]:.0f}" for row in ROWS]
    table["worst_reserve"] = -0.23
    table["over_bearing_m"] = 0.0
    lines = made.trails.geometry
    table.geometry = [substring(lines.loc[row[0]], row[1], row[2]) for row in ROWS]
    return replace(made, bottlenecks=table)


def wet(plan: Plan, runs: list[tuple[str, float, float, str | None, float]]) -> Plan:
    columns = ["trail", "from_m", "to_m", "crossing", "to_crossing_m"]
    table = pd.DataFrame(runs, columns=columns)
    return replace(plan, wet_ground=replace(plan.wet_ground, water_runs=table))


def groups(plan: Plan) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for row in brief_content(plan)["weak"]["rows"]:
        found.setdefault(row["do"], []).append(row["id"])
    return found


def test_each_stretch_has_the_most_forbidding_word(plan: Plan) -> None:
    assert closed_trails(plan) == ["T5"]
    assert stretch_places(plan) == PLACES
    stop = water_stops(plan)[0]
    assert (stop.name, stop.trail) == ("T6 at 20 m", "T6")
    assert stop.point.distance(plan.trails.geometry.loc["T6"].interpolate(25)) < 1e-6


def test_nobody_is_told_to_lay_brash_in_water_or_to_drive_a_closed_trail(plan: Plan) -> None:
    found = groups(plan)
    assert found == {
        "Water here, no crossing: stop and ask.": ["T6-10"],
        # the rating in its cause is one of another setup: the plan holds no shown setup to ask with
        "Only with the aids above fitted and checked.": ["T6-40", "T3-20"],
        "At a crossing: look at it first. No brash in water, watch the ruts.": ["T1-150"],
        "Soft: lay brash, few passes, watch the ruts.": ["T2-20"],
    }
    content = brief_content(plan)
    assert content["weak"]["closed"] == "On closed trails, not to be driven: T5-0."
    assert content["keep_out"]["lines"][0].startswith("The setup does not hold here: T5-40 (")
    assert not any("rating" in row["what"] for row in content["weak"]["rows"])


def test_a_rating_is_named_only_where_the_shown_setup_exceeds_one(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = "Only with the aids above fitted and checked."
    monkeypatch.setattr(brief_ground, "stretches_over_rating", lambda plan: {"T6-40"})
    found = groups(plan)
    assert found[alone] == ["T3-20"]
    rated = (
        "Aids fitted, and rating exceeded on the slope (tyres of the rear bogie): load as the "
        "trails table has it, or ask."
    )
    assert found[rated] == ["T6-40"]
    soft = plan.bottlenecks.assign(over_bearing_m=5.0)
    both = (
        "Aids fitted, soft, and rating exceeded on the slope (tyres of the rear bogie): load as "
        "the trails table has it, or ask; brash, few passes."
    )
    assert groups(replace(plan, bottlenecks=soft))[both] == ["T6-40"]
    held = plan.ratings[~(plan.ratings["over_m"] > 0)]
    assert groups(replace(plan, ratings=held))[alone] == ["T6-40", "T3-20"]
    free = plan.ratings[plan.ratings["over_balanced_m"] == 0]
    assert any("(tyres of the front bogie)" in do for do in groups(replace(plan, ratings=free)))
    assert any("(tyres or axle)" in do for do in groups(replace(plan, ratings=None)))


def test_a_drier_state_stands_behind_a_stretch_that_no_smaller_load_solves(plan: Plan) -> None:
    shown = plan.ranking.shown
    rows = [
        ("T2-20", shown, "smaller payload", "yes", 9000.0),
        ("T2-20", shown, "drier state", "yes", np.nan),
        ("T1-150", shown, "smaller payload", "partly", 4000.0),
        ("T1-150", shown, "drier state", "yes", np.nan),
        ("T6-10", shown, "smaller payload", "yes", 8000.0),
        ("T3-20", "another setup", "smaller payload", "yes", 7000.0),
    ]
    table = pd.DataFrame(rows, columns=["stretch", "setup", "remedy", "solves", "payload_kg"])
    content = brief_content(replace(plan, remedies=table))["weak"]["rows"]
    what = {row["id"]: row["what"] for row in content}
    assert "better" not in what["T2-20"]  # the table of the trails has the load
    assert what["T1-150"].endswith("better when drier")
    assert "better" not in what["T6-10"] + what["T3-20"]  # in water a smaller load is no answer


def test_closed_trails_are_the_last_rows_without_a_number(plan: Plan) -> None:
    section = brief_content(plan)["trails"]
    last = section["rows"][-1]
    assert (last["trail"], last["order"], last["until"], last["closed"]) == (
        "T5",
        "",
        "closed",
        True,
    )
    assert [row["trail"] for row in section["rows"] if row["closed"]] == ["T5"]
    until = {row["trail"]: row["until"] for row in section["rows"]}
    assert until["T6"] == "to water, ask"
    assert until["T2"] == "wet"
    assert (section["head"]["until"], section["head"]["ask"]) == ("Could hold", "ask first")
    assert any("no permission" in note for note in section["notes"])


def test_a_slope_that_there_is_not_is_none_and_an_unknown_one_a_question(plan: Plan) -> None:
    trails = plan.trails.copy()
    trails["steepest_up"], trails["steepest_down"] = np.nan, 0.2
    trails.loc["T2", ["steepest_down", "steepest_cross"]] = np.nan
    section = brief_content(replace(plan, trails=trails))["trails"]
    rows = {row["trail"]: row for row in section["rows"]}
    assert rows["T1"]["up"] == "none"
    assert (rows["T2"]["up"], rows["T2"]["down"], rows["T2"]["cross"]) == ("?", "?", "?")
    assert "? not known." in section["notes"]
    assert not any("\N{EN DASH}" in row[key] for row in rows.values() for key in ("up", "down"))


def test_the_landing_of_each_trail_is_told_where_there_are_several(plan: Plan) -> None:
    assert brief_content(plan)["trails"]["head"]["landing"] == ""
    places = [Point(WEST + 100, SOUTH + 100), Point(WEST + 15, SOUTH + 95)]
    index = pd.Index(["L1", "L2"], name="landing")
    landings = gpd.GeoDataFrame(index=index, geometry=places, crs=CRS)
    stations = plan.stations.assign(landing="L1")
    first = stations.index[stations["trail"].astype(str) == "T1"]
    stations.loc[first[: len(first) // 2], "landing"] = "L2"
    section = brief_content(replace(plan, landings=landings, stations=stations))["trails"]
    assert section["head"]["landing"] == "To"
    found = {row["trail"]: row["landing"] for row in section["rows"]}
    assert found["T1"] == "L2/L1"
    assert found["T2"] == "L1"


def test_crossings_of_closed_trails_are_not_for_crossing(plan: Plan) -> None:
    def said(made: Plan) -> list[str]:
        return brief_content(made)["water"]["lines"]

    assert closed_crossings(plan) == {}
    assert "Cross water only at X1" in said(plan)[0]
    only_closed = wet(plan, [("T5", 10.0, 20.0, "X1", 1.0)])
    assert closed_crossings(only_closed) == {"X1": ["T5"]}
    assert said(only_closed) == [
        "No crossing is in use. Do not cross water before you have asked.",
        "On closed trails, not in use: X1 (T5).",
    ]
    shared = wet(plan, [("T5", 10.0, 20.0, "X1", 1.0), ("T1", 10.0, 20.0, "X1", 1.0)])
    assert closed_crossings(shared) == {}


def test_trails_behind_water_on_another_trail_are_asked_about_too(plan: Plan) -> None:
    beyond = ["T3", "T5"]
    table = plan.trail_states.copy()
    table.loc[table["trail"].isin(beyond), "water_on_way"] = "T1 at 87 m"
    made = wet(replace(plan, trail_states=table), [("T1", 87.0, 93.0, None, np.nan)])
    assert behind_water(made) == beyond
    text = " ".join(brief_content(made)["keep_out"]["lines"])
    assert f"Behind that water, ask too: {', '.join(beyond)}." in text
    until = {row["trail"]: row["until"] for row in brief_content(made)["trails"]["rows"]}
    assert (until["T3"], until["T5"]) == ("to water, ask", "closed")
    words = {item.name: dict(item.words) for item in trail_features(made)}
    assert "Water on the way to the landing" in words[beyond[0]]


def test_the_files_for_the_field_warn_in_the_name(plan: Plan) -> None:
    tracks = {item.name: item for item in trail_features(plan)}
    assert tracks["T5"].label == "CLOSED T5"
    assert tracks["T5"].words[0] == ("CLOSED", "closed on this ground, or cut off from the landing")
    assert tracks["T1"].label == "T1"
    assert any("Water on it at 20 m to 30 m" in label for label, _ in tracks["T6"].words)
    places = [item.label for item in place_features(plan)]
    assert places == [
        "North gate",
        "Landing T3",
        "KEEP OUT T5-40",
        "WATER, NO CROSSING T6 at 20 m",
        "X1",
        "T1-150",
        "T6-40",
        "T2-20",
        "T3-20",
        "CLOSED T5-0",
    ]
    far = plan.bottlenecks.copy()
    far.loc[1, "to_m"] = 75.0
    far.loc[1, "geometry"] = substring(plan.trails.geometry.loc["T6"], 10, 75)
    places = [item.label for item in place_features(replace(plan, bottlenecks=far))]
    assert "WATER, NO CROSSING T6-10" in places  # its worst place is not at the water


def test_the_reserve_told_is_that_of_the_setup_to_carry(plan: Plan) -> None:
    words = {item.name: dict(item.words) for item in stretch_features(plan)}
    told = words["T3-20"]["Smallest traction reserve with the setup to carry"]
    assert told == "10 % (6°)"  # not the -23 % of the setup that falls short there
    assert all("-23" not in text for row in words.values() for text in row.values())


def test_on_the_map_keep_out_is_above_everything_and_closed_trails_say_so(plan: Plan) -> None:
    axes = brief_map(plan).axes[0]
    drawn = [line for line in axes.get_lines() if len(line.get_xdata())]
    keep_out = [line for line in drawn if CLOSED in (line.get_color(), line.get_markerfacecolor())]
    place = plan.bottlenecks.geometry.iloc[6]
    bands = [line for line in keep_out if len(line.get_xdata()) > 1]
    assert len(bands) == 1
    assert LineString(np.transpose(bands[0].get_data())).equals(place)
    crossings = [
        line
        for line in drawn
        if line.get_marker() == "s"
        and line.get_color() != WATER
        and line.get_markeredgecolor() == WATER
    ]
    assert len(crossings) == 1
    assert min(line.get_zorder() for line in crossings) > max(
        line.get_zorder() for line in drawn if line not in crossings
    )
    assert min(line.get_zorder() for line in keep_out) > max(
        line.get_zorder()
        for line in drawn
        if line not in (*keep_out, *crossings) and line.get_marker() != "X"
    )
    texts = {text.get_text(): text for text in axes.texts}
    assert "T5 closed" in texts
    assert "T5" not in texts
    assert "T5-0" not in texts
    assert {"T5-40", "T6-10", "T1-150"} <= set(texts)
    crossing = plan.wet_ground.crossings.geometry.loc["X1"]
    x, y = texts["X1"].get_position()
    metre = 72 * axes.get_position().width * axes.figure.get_figwidth() / np.ptp(axes.get_xlim())
    assert np.hypot(x - crossing.x, y - crossing.y) * metre > 6.0  # a letter's height away


def test_arrows_are_on_open_trails_only(plan: Plan) -> None:
    def heads(made: Plan) -> int:
        axes = brief_map(made).axes[0]
        return sum(not isinstance(line.get_marker(), str) for line in axes.get_lines())

    everything = plan.trail_states.assign(usable_moist=False)
    nothing = plan.trail_states.assign(usable_moist=True)
    assert heads(replace(plan, trail_states=everything)) == 0
    assert heads(replace(plan, trail_states=nothing)) > heads(plan) > 0


def test_a_place_that_is_soft_as_well_is_told_so(plan: Plan) -> None:
    """Where aids are needed and the bearing capacity is exceeded too, the ruts are told."""
    forcing = plan.bottlenecks["kind"] == "forces the choice"
    before = groups(plan).get("Only with the aids above fitted and checked.", [])
    table = plan.bottlenecks.copy()
    table.loc[forcing, "over_bearing_m"] = 5.0
    after = groups(replace(plan, bottlenecks=table))
    told = after["Aids fitted, and soft: lay brash, few passes, watch the ruts."]
    assert told
    assert set(told) <= set(before)


def test_a_stretch_of_which_nobody_knows_is_never_passed_by_its_aids(plan: Plan) -> None:
    """No grip figure of the aids on a film: the shown setup has no reserve there, and none is 0."""
    table = plan.bottlenecks.copy()
    table.loc[4, ["shown_reserve", "needs"]] = [np.nan, None]
    blind = replace(plan, bottlenecks=table)
    assert stretch_places(blind) == [*PLACES[:4], NOT_KNOWN, *PLACES[5:]]
    found = groups(blind)
    assert found["Not known whether the setup holds: walk it and ask."] == ["T3-20"]
    assert found["Only with the aids above fitted and checked."] == ["T6-40"]
    told = next(item for item in stretch_features(blind) if item.name == "T3-20")
    assert told.label == "NOT KNOWN, ASK T3-20"
    assert told.words[0] == ("Not known", "whether the setup to carry holds here: walk it and ask")
    assert dict(told.words)["Enough traction with"] == "not known"
    hopeless = next(item for item in stretch_features(blind) if item.name == "T5-40")
    assert dict(hopeless.words)["Enough traction with"] != "not known"


def test_a_rating_is_named_on_stretches_of_every_kind(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = plan.bottlenecks.copy()
    table.loc[4, "shown_reserve"] = np.nan
    table.loc[2, "kind"] = "thin reserve"
    over = {"T1-150", "T2-20", "T3-20", "T6-40"}
    monkeypatch.setattr(brief_ground, "stretches_over_rating", lambda plan: over)
    rated = {
        name for do, names in groups(replace(plan, bottlenecks=table)).items()
        for name in names
        if "ating exceeded on the slope (tyres of the rear bogie): load as the trails" in do
    }  # fmt: skip
    assert rated == over


def test_the_files_for_the_field_ask_where_it_is_steep_tips_or_lies_in_water(plan: Plan) -> None:
    """Braking is assessed nowhere, so a slope that a rule names is told; silence would pass it."""
    grade = plan.stations["grade"].where(plan.stations["trail"] != "T1", -0.45)
    places = TipPlaces(20.0, 5.0, ("T2", "T1", "T5"), ("T2",), 0.0)
    told = replace(plan, stations=plan.stations.assign(grade=grade), tip_places=places)
    tracks = {item.name: item for item in trail_features(told)}
    words = {name: dict(item.words) for name, item in tracks.items()}
    assert words["T1"]["Steep"] == (
        "down loaded 45 % (24°), over 30 %: braking was not assessed: ask before driving"
    )
    assert words["T1"]["Stop and ask"] == "near tipping over, beyond the check slope"
    assert words["T2"]["Stop and ask"] == "tips over by plain statics, do not drive"
    assert "Stop and ask" not in words["T5"]  # closed: nobody drives there
    assert tracks["T6"].label == "WATER, ASK T6"
    assert tracks["T4"].label == "NOT KNOWN, ASK T4"  # the plan does not know about T4
    assert tracks["T5"].label == "CLOSED T5"
    states = plan.trail_states.assign(water_on_way=None)
    states.loc[states["trail"] == "T2", "water_on_way"] = "T6 at 20 m"
    behind = replace(told, trail_states=states)
    assert {item.name: item.label for item in trail_features(behind)}["T2"] == "WATER, ASK T2"
    assert "<name>WATER, ASK T6</name>" in gpx_text(told)
    runs = re.findall(r"<name>WATER, ASK T6</name>.*?#(\w+)", kml_text(told), re.DOTALL)
    assert set(runs) > {"trail"}  # its runs by reserve have the warning as well
    uses = use_layers(told)["trails"].set_index("trail")["use_words"]
    assert "Steep: down loaded 45 % (24°), over 30 %" in uses["T1"]
    assert "Stop and ask: tips over" in uses["T2"]


def test_a_stretch_beyond_a_rules_slope_is_no_leave_to_drive(plan: Plan) -> None:
    """30 %: the lowest slope that a rule which was read names; braking is assessed nowhere."""
    table = plan.bottlenecks.copy()
    at = table.index[table["stretch"] == "T3-20"]
    table.loc[at, ["grade_up", "grade_down"]] = [np.nan, 0.45]
    steep = replace(plan, bottlenecks=table)
    alone = groups(plan)["Only with the aids above fitted and checked."]
    assert sorted(alone) == ["T3-20", "T6-40"]
    found = groups(steep)
    assert found["Steep, braking not assessed: stop and ask."] == ["T3-20"]
    assert "T3-20" not in found["Only with the aids above fitted and checked."]
    told = next(item for item in stretch_features(steep) if item.name == "T3-20")
    assert told.label == "STEEP, ASK T3-20"
    assert ("Steep", "braking was not assessed: ask before driving") in told.words
    ordinary = next(item for item in stretch_features(plan) if item.name == "T3-20")
    assert ordinary.label == "T3-20"
