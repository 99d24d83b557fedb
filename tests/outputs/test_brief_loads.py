"""What the brief says to load, where ratings and check slopes are exceeded, and what is steep."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely

from terrain.decision.carried import carried
from terrain.decision.crane_checks import crane_checks, tip_shares
from terrain.decision.crane_places import crane_places
from terrain.decision.rating_places import ANY_RATING
from terrain.decision.ratings import ground_of
from terrain.decision.results import Plan
from terrain.decision.stability_checks import tip_places
from terrain.inputs.aids import read_aids
from terrain.models.aids import Mount, Setup
from terrain.models.machine import Crane
from terrain.models.site_rules import rule_profiles
from terrain.outputs import brief_loads
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_html import brief_html
from terrain.outputs.brief_loads import rated_trails, stretches_over_rating
from terrain.outputs.brief_map import map_window
from terrain.outputs.brief_shut import closed_trails
from terrain.outputs.brief_steep import lowest_trigger, steep_trails, tipping_trails
from terrain.outputs.brief_words import Figures
from terrain.outputs.catalogue import catalogue
from terrain.outputs.geopdf import MapFrame, map_frame, words_place
from terrain.units import POUND_KG
from tests.outputs.brief_plans import brief_plan
from tests.outputs.synthetic import SOUTH, WEST

BANDS = "closed-band-710 + closed-band-710"
US = Figures(catalogue("en"), "us")


def rated(plan: Plan, rows: list[tuple[str, float, float]]) -> Plan:
    """The plan with metres over any rating, balanced and in the worse case, by trail."""
    table = pd.DataFrame(rows, columns=["trail", "over_balanced_m", "over_m"])
    single = table.assign(rating="rear bogie", over_balanced_m=99.0, over_m=99.0)
    return replace(plan, rating_places=pd.concat([table.assign(rating=ANY_RATING), single]))


def with_aids(plan: Plan) -> Plan:
    """The plan with a setup of the shipped catalogue shown."""
    aid = next(one for one in read_aids()[0] if one.key == BANDS.split(" + ")[0])
    made = Setup(BANDS, (Mount.both_sides(aid), Mount.both_sides(aid)))
    return replace(plan, shown_setup=made)


def graded(plan: Plan, **by_trail: float) -> Plan:
    """The plan with level trails but for the grades given."""
    trail = plan.stations["trail"].astype(str)
    grade = trail.map(by_trail).fillna(0.0).astype(float)
    return replace(plan, stations=plan.stations.assign(grade=grade, cross_slope=0.0))


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def carry(plan: Plan, units: str = "metric") -> list[str]:
    return [plain(line) for line in brief_content(plan, "en", units)["carry"]["lines"]]  # type: ignore[arg-type]


def keep_out(plan: Plan, units: str = "metric") -> str:
    return plain("\n".join(brief_content(plan, "en", units)["keep_out"]["lines"]))  # type: ignore[arg-type]


@pytest.mark.parametrize("kilograms", [3918.98, 9446.36, 12_200.0, 453.59237, 20_000.7])
def test_a_load_is_rounded_down_in_both_systems(kilograms: float) -> None:
    """1 lb = 0.45359237 kg exactly (NIST Special Publication 811, appendix B)."""
    metric = float(
        plain(Figures(catalogue("en")).at_most(kilograms)).removesuffix(" kg").replace(" ", "")
    )
    pounds = float(plain(US.at_most_short(kilograms)).removesuffix(" lb").replace(" ", ""))
    assert kilograms - 10 < metric <= kilograms
    assert pounds <= kilograms / POUND_KG + 1e-6
    assert pounds > kilograms / POUND_KG - 100


def test_loads_read_well() -> None:
    assert plain(US.at_most(12_200.0)) == "26 800 lb (12 200 kg)"
    assert plain(US.at_most(3918.98)) == "8 630 lb (3 910 kg)"  # 8 639.9 lb
    assert US.at_most(float("nan")) == "–"


def test_inches_are_sixteenths_where_two_digits_are_not_exact() -> None:
    assert plain(US.small(0.009525)) == "3/8 in"  # 0.375 in
    assert plain(US.small(0.0381, 0.06985)) == "1.5–2.75 in"


def test_one_line_says_the_load_and_one_asks_about_ratings() -> None:
    plan = brief_plan()
    table = plan.ratings.copy()
    table.loc[0, ["holding_payload_balanced_kg", "holding_payload_free_kg"]] = [9446.4, 3919.0]
    table.loc[1, "holding_payload_free_kg"] = 7159.0
    setups = plan.ranking.setups.assign(payload_kg=12_200.0, payload_lost_kg=1800.0)
    plan = replace(plan, ratings=table, ranking=replace(plan.ranking, setups=setups))
    said = [line for line in carry(plan) if "oad" in line]
    assert said == [
        "Load: 12 200 kg at most, as the ratings allow on the level.",
        "Over a rating on slopes, on 1 951–4 264 m: trails with !. Ask the manufacturer what may "
        "be loaded there: computed are 9 440 kg with balanced bogies, 3 910 kg if they pivot "
        "freely.",
    ]
    assert "20 800 lb (9 440 kg) with balanced bogies, 8 630 lb (3 910 kg)" in carry(plan, "us")[-2]
    full = setups.assign(payload_lost_kg=0.0)
    assert "Load: 12 200 kg at most, the full load on the level." in carry(
        replace(plan, ranking=replace(plan.ranking, setups=full))
    )
    # no load holds the tyres with free bogies, so no figure may be named for them
    table.loc[0, "holding_payload_free_kg"] = np.nan
    assert carry(replace(plan, ratings=table))[-2].endswith("computed is 9 440 kg.")
    table.loc[0, "holding_payload_balanced_kg"] = np.nan
    assert carry(replace(plan, ratings=table))[-2].endswith("before any load there.")


def test_trails_over_a_rating_are_marked_from_the_table_of_places() -> None:
    plan = rated(brief_plan(8), [("T1", 10.0, 30.0), ("T2", 0.0, 12.0), ("T3", 0.0, 0.0)])
    assert rated_trails(plan) == {"T1": "balanced", "T2": "free"}
    section = brief_content(plan)["trails"]
    marks = {row["trail"]: row["mark"] for row in section["rows"]}
    assert (marks["T1"], marks["T2"], marks["T3"]) == ("*!", "*(!)", "*")
    assert marks["T6"] == ""
    notes = " ".join(section["notes"])
    assert "! over a rating on its slopes at full load" in notes
    assert "(!) the same, only if bogies pivot freely." in notes
    assert "Over a rating on slopes, on 10–42 m: trails with !." in " ".join(carry(plan))
    assert rated_trails(brief_plan(8)) == {}
    assert "over a rating" not in " ".join(brief_content(brief_plan(8))["trails"]["notes"])


def test_stretches_over_a_rating_are_those_whose_own_metres_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = with_aids(brief_plan(8))
    trail, chainage = plan.stations["trail"].astype(str), plan.stations["chainage_m"]

    def over(stations: pd.DataFrame, item: object) -> np.ndarray:
        return ((trail == "T2") & (chainage > 6) & (chainage < 24)).to_numpy() | (
            (trail == "T3") & (chainage > 40)
        ).to_numpy()

    monkeypatch.setattr(brief_loads, "over_rating", over)
    assert stretches_over_rating(plan) == {"T2-5"}
    assert stretches_over_rating(replace(plan, shown_setup=None)) == set()


def test_the_stretch_test_is_that_of_the_ratings() -> None:
    """A tyre that bears nothing is over everywhere, one that bears everything nowhere."""
    plan = with_aids(brief_plan(8))

    def bearing(kg: float) -> Plan:
        groups = tuple(
            replace(g, tyre=replace(g.tyre, rated_load_kg=kg)) for g in plan.machine.groups
        )
        return replace(plan, machine=replace(plan.machine, groups=groups))  # type: ignore[arg-type]

    assert stretches_over_rating(bearing(1.0)) == set(plan.bottlenecks["stretch"])
    assert stretches_over_rating(bearing(1e9)) == set()


def test_each_trail_has_the_load_that_it_and_its_way_bear() -> None:
    plan = brief_plan(8)
    closed = closed_trails(plan)[0]
    rows = [("T1", 8000.0, 0.0), ("T2", np.nan, 0.0), ("T3", 12200.0, 5.0), ("T4", 12200.0, 0.0)]
    rows = [*rows, ("T6", 9750.0, 5.0), (closed, 1000.0, 0.0)]
    table = pd.DataFrame(rows, columns=["trail", "load_kg", "unknown_m"]).assign(
        full_kg=12200.0, way_m=100.0
    )
    plan = replace(plan, trail_loads=table)
    section = brief_content(plan)["trails"]
    assert section["head"]["load"] == "Load"
    loads = {row["trail"]: plain(row["load"]) for row in section["rows"] if row["load"]}
    assert loads == {"T1": "8 000 kg", "T2": "\N{EN DASH}", "T3": "?", "T6": "9 750 kg ?"}
    us = brief_content(plan, units="us")["trails"]["rows"]
    assert plain(next(row["load"] for row in us if row["trail"] == "T1")) == "17 600 lb"
    assert any(note.startswith("Load: the most that ground") for note in section["notes"])
    assert plain("<br>Load 8 000 kg</span>") in plain(brief_html(plan))
    assert any("Less where the trails table has a load." in line for line in carry(plan))
    without = brief_content(brief_plan(8))["trails"]
    assert without["head"]["load"] == ""
    assert not any(note.startswith("Load:") for note in without["notes"])


def test_the_trigger_is_the_lowest_that_a_rule_names_for_such_a_machine() -> None:
    """30 %: Bavaria for forwarders, and New Zealand for rubber tyres as printed in percent."""
    assert lowest_trigger("forwarder") == pytest.approx(0.30)
    assert lowest_trigger("skidder") == pytest.approx(0.30)


def test_steep_loaded_travel_is_told_and_closed_trails_are_not() -> None:
    plan = graded(brief_plan(8), T1=-0.45, T2=0.36, T3=0.29, T5=0.6)
    assert closed_trails(plan) == ["T5"]
    assert steep_trails(plan)[0].down == pytest.approx(0.45)
    assert [one.trail for one in steep_trails(plan)] == ["T1", "T2"]
    assert math.isnan(steep_trails(plan)[0].up)
    assert (
        "Steep, over 30 % (17°), from which rules that were read ask more: T1 down loaded 45 % "
        "(24°), T2 up loaded 36 % (20°). Braking was not assessed. Ask before driving."
    ) in keep_out(plan)
    assert "Steep" not in keep_out(graded(brief_plan(8), T3=0.29))


def test_trails_near_tipping_over_say_stop_and_ask() -> None:
    """Rigid statics: tipping across at half the gauge over the height of the centre of gravity."""
    plan = with_aids(graded(brief_plan(8)))
    assert tipping_trails(plan) == ((), ())
    assert "tipping" not in keep_out(plan)
    m = plan.machine
    assert m.load is not None
    total = m.unladen_mass_kg + m.load.mass_kg
    height = (m.unladen_mass_kg * m.cg_height_m + m.load.mass_kg * m.load.centre_height_m) / total
    tip = 0.5 * m.track_gauge_m / height
    trail = plan.stations["trail"].astype(str)

    def leaning(name: str, slope: float) -> Plan:
        cross = np.where(trail == name, slope, 0.0)
        stations = plan.stations.assign(cross_slope=cross)
        assert plan.shown_setup is not None
        places = tip_places(stations, carried(plan.shown_setup, m))
        return replace(plan, stations=stations, tip_places=places)

    # the part is 0.6 (planning assumption); the aids' mass moves the tip slope by little
    assert tipping_trails(leaning("T2", 0.5 * tip)) == ((), ())
    near = leaning("T2", 0.75 * tip)
    assert tipping_trails(near) == (("T2",), ())
    assert "Near tipping over, beyond the check slope: T2. Stop and ask." in keep_out(near)
    beyond = leaning("T2", 1.2 * tip)
    assert tipping_trails(beyond) == ((), ("T2",))
    assert "Tips over by plain statics, do not drive: T2. Stop and ask." in keep_out(beyond)
    assert tipping_trails(leaning("T5", 1.2 * tip)) == ((), ())  # closed


def test_the_crane_has_a_line_of_its_own() -> None:
    """Rigid statics of the crane's tests; the table and the places are the plan's own."""
    plain_plan = with_aids(graded(brief_plan(8)))
    assert "Crane" not in keep_out(plain_plan)
    crane = Crane(2.1, 9.5, 550.0, 3.5, 1700.0, 4.1, 3.2, 0.9, 2.6)
    machine = replace(plain_plan.machine, crane=crane)
    assert plain_plan.shown_setup is not None
    item = carried(plain_plan.shown_setup, machine)
    trail = plain_plan.stations["trail"].astype(str)

    def leaning(slope: float, lifted: float = 550.0) -> Plan:
        there = replace(machine, crane=replace(crane, lifted_mass_kg=lifted))
        stations = plain_plan.stations.assign(cross_slope=np.where(trail == "T2", slope, 0.0))
        item = carried(plain_plan.shown_setup, there)
        checks = crane_checks(stations, [item]).assign(setup=plain_plan.ranking.shown)
        places = crane_places(stations, item)
        return replace(
            plain_plan, machine=there, stations=stations, crane_checks=checks, crane_places=places
        )

    side = tip_shares(item, False, ground_of(plain_plan.stations))[0]
    near = keep_out(leaning(0.9 * side.tip_slope))
    start = f"near tipping from {math.floor(100 * side.check_slope)} % ("
    said = f"Crane by its chart only, frames locked and straight: out to 9.5 m with 550 kg {start}"
    assert said in near
    assert "across on." in near
    assert "tips by plain statics on" not in near
    beyond = keep_out(leaning(1.1 * side.tip_slope))
    assert (
        "Crane out to 9.5 m with 550 kg: tips by plain statics on T2. Not there. Stop and ask."
    ) in beyond
    assert "near tipping on level ground already" in keep_out(leaning(0.0, lifted=1500.0))
    assert "out to 31 ft with 1 213 lb (550 kg)" in keep_out(leaning(0.0), "us")


def test_the_brief_names_the_ends_over_which_the_crane_may_tip_the_machine() -> None:
    """A boom far ahead of the front axle: tipping over the front end comes first."""
    plain_plan = with_aids(graded(brief_plan(8), T2=-0.30))
    assert plain_plan.shown_setup is not None
    for lifted, level in ((550.0, False), (3000.0, True)):
        crane = Crane(5.8, 9.5, lifted, 3.5, 1700.0, 4.1, 3.2, 2.8, 2.6)
        machine = replace(plain_plan.machine, crane=crane)
        item = carried(plain_plan.shown_setup, machine)
        checks = crane_checks(plain_plan.stations, [item]).assign(setup=plain_plan.ranking.shown)
        places = crane_places(plain_plan.stations, item)
        told = keep_out(
            replace(plain_plan, machine=machine, crane_checks=checks, crane_places=places)
        )
        front = tip_shares(item, False, ground_of(plain_plan.stations))[2]
        if level:
            assert front.check_slope == 0.0
            assert "near tipping on level ground already" in told
        else:
            assert 0.2 < front.check_slope < 0.3  # the steepest trail has 30 %
            assert f"{math.floor(100 * front.check_slope)} % (" in told
            assert "front downhill on." in told
            assert "front uphill" not in told


def test_a_loaded_descent_never_reads_as_an_empty_climb() -> None:
    plan = brief_plan(4, weak=1)
    row = {
        "kind": "forces the choice",
        "grade_up": np.nan,
        "grade_down": 0.447,
        "shown_reserve": 0.1,
    }

    def what(cause: str, **more: float) -> str:
        table = plan.bottlenecks.assign(cause=cause, **{**row, **more})
        return plain(brief_content(replace(plan, bottlenecks=table))["weak"]["rows"][0]["what"])

    assert what("climbing empty") == "down loaded 45 % (24°), climbing empty"
    up = {"grade_up": 0.36, "grade_down": np.nan}
    assert what("climbing loaded", **up) == "up loaded 36 % (20°)"
    assert what("climbing loaded, on soft ground", **up) == "up loaded 36 % (20°), on soft ground"
    rated_cause = "climbing loaded; a rating is exceeded on this slope"
    assert what(rated_cause, **up) == "up loaded 36 % (20°)"


def test_names_of_stretches_count_metres_is_said_in_us_units_only() -> None:
    assert brief_content(brief_plan(4))["weak"]["note"] == ""
    note = brief_content(brief_plan(4), units="us")["weak"]["note"]
    assert note == "Names of stretches count metres."


def test_an_english_rule_title_is_left_out_in_other_languages() -> None:
    plan = brief_plan(4)
    title = rule_profiles()["finland_1996"].title
    assert title in brief_content(plan)["stop"]["rule"][0]
    for language in ("sv", "fi", "de", "fr"):
        rule = " ".join(brief_content(plan, language)["stop"]["rule"])
        assert title not in rule
        assert "Finland" not in rule
    own = replace(rule_profiles()["finland_1996"], title="Sääntö", key="own")
    sheet = replace_profile(plan, own)
    assert "Sääntö" in brief_content(sheet, "fi")["stop"]["rule"][0]


def replace_profile(plan: Plan, profile: object) -> Plan:
    from types import SimpleNamespace

    return replace(plan, check_sheet=SimpleNamespace(profile=profile))  # type: ignore[arg-type]


def test_a_trail_that_is_level_one_way_says_none() -> None:
    plan = brief_plan(4)
    trails = plan.trails.assign(steepest_down=0.0012, steepest_up=0.0051)
    row = brief_content(replace(plan, trails=trails))["trails"]["rows"][0]
    assert row["down"] == "none"
    assert plain(row["up"]) == "1 % (0°)"


def test_the_box_of_words_hides_no_trail_on_the_page_for_map_readers() -> None:
    """Trails that run into a corner push the box elsewhere or make the page wider."""
    plan = brief_plan(40)
    frame = map_frame(plan)
    (left, bottom, right, top), hidden = words_place(plan, frame)
    assert hidden == 0
    assert 0 < left < right < 1
    assert 0 < bottom < top < 1
    wide, high = frame.east_m - frame.west_m, frame.north_m - frame.south_m
    box = shapely.box(
        frame.west_m + left * wide, frame.south_m + bottom * high,
        frame.west_m + right * wide, frame.south_m + top * high,
    )  # fmt: skip
    assert not any(shape.intersects(box) for shape in plan.trails.geometry)
    assert not any(shape.intersects(box) for shape in plan.landings.geometry)
    # were the lower right corner taken for granted, trails would lie under it
    tight = replace_frame(plan, 0.0)
    assert words_place(plan, tight)[1] > 0


def replace_frame(plan: Plan, margin: float) -> MapFrame:
    frame = map_frame(plan)
    window = map_window(plan, frame.columns / frame.rows, margin=margin)
    return MapFrame(*window, frame.columns, frame.rows)


def test_the_box_of_words_goes_to_a_free_corner_before_the_page_grows() -> None:
    plan = brief_plan(1, weak=0)
    corner = [(WEST + 10, SOUTH), (WEST + 190, SOUTH), (WEST + 190, SOUTH + 130)]
    trails = plan.trails.set_geometry([shapely.LineString(corner)])
    plan = replace(plan, trails=trails, emergency=None)
    frame = map_frame(plan)
    (left, bottom, _, _), hidden = words_place(plan, frame)
    assert hidden == 0
    assert left < 0.1
    assert bottom > 0.5
    assert frame == replace_frame(plan, 0.10)
