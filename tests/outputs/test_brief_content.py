"""What the brief says: setup, checks, keep out, weak spots, stop rule, trails, emergency."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from terrain.inputs.aids import read_aids
from terrain.models.aids import BARE, Mount, Setup
from terrain.models.site_rules import rule_profiles
from terrain.outputs.brief_content import brief_content
from terrain.outputs.brief_setup import loadout
from terrain.outputs.brief_words import Figures, short_name
from terrain.outputs.catalogue import catalogue
from terrain.outputs.wording import DEFERRAL, INVENTED
from tests.outputs.brief_plans import brief_plan
from tests.outputs.synthetic import FORMULA, RIGHT_TO_LEFT, make_plan

METRIC, US = Figures(catalogue("en")), Figures(catalogue("en"), "us")


def shown(plan, setup):
    """The plan with another shown setup, its aids from the shipped catalogue where it has them."""
    known = {aid.key: aid for aid in read_aids()[0]}
    keys = [part for part in setup.split(" + ") if part != "bare"]
    made = None
    if all(key in known for key in keys):
        mounts = [BARE if p == "bare" else Mount.both_sides(known[p]) for p in setup.split(" + ")]
        made = Setup(setup, (mounts[0], mounts[-1]))
    return replace(plan, ranking=replace(plan.ranking, shown=setup), shown_setup=made)


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def lines(part):
    return plain("\n".join(part["lines"]))


def test_figures_in_both_systems():
    assert plain(METRIC.length(1234.4)) == "1 234 m"
    # 1 ft = 0.3048 m, 1 lb = 0.45359237 kg exactly (NIST Special Publication 811, appendix B)
    assert plain(US.length(304.8)) == "1 000 ft"
    assert plain(US.mass(453.59237)) == "1 000 lb (454 kg)"
    assert plain(METRIC.mass(12_200)) == "12 200 kg"
    assert plain(METRIC.pressure(450)) == "450 kPa (4.5 bar)"
    assert plain(US.pressure(689.4757)) == "100 psi (689 kPa)"
    assert plain(METRIC.slope(0.2)) == "20 % (11°)"  # atan 0.2 = 11.3 degrees
    assert plain(METRIC.small(0.04, 0.07)) == "40–70 mm"
    assert plain(US.small(0.0381, 0.06985)) == "1.5–2.75 in"
    assert plain(METRIC.span(218.3, 242.9)) == "218–243 m"
    assert plain(US.depth(15.24)) == "6 in"
    assert plain(Figures(catalogue("de")).pressure(450)) == "450 kPa (4,5 bar)"


@pytest.mark.parametrize("make", [METRIC.length, METRIC.mass, METRIC.slope, US.length, US.mass])
def test_an_unknown_figure_is_a_dash_never_zero(make):
    assert make(float("nan")) == "–"


def test_short_names_keep_both_ends_on_one_line():
    assert short_name("T7-140", 12) == "T7-140"
    assert short_name("L" * 200 + "-140", 12) == "LLLLLL…L-140"
    assert short_name("a\nb\tc\x00d\x1b[1m", 12) == "a b c d [1m"
    assert "\u202e" not in short_name(RIGHT_TO_LEFT, 40)
    assert len(short_name("x" * 500, 12)) == 12


def test_ratings_that_slopes_exceed_are_one_line():
    plan = brief_plan()
    assert "Over a rating on slopes, on 1 951–4 264 m: trails with !." in lines(
        brief_content(plan)["carry"]
    )
    free_only = plan.ratings[plan.ratings["over_balanced_m"] == 0]
    said = lines(brief_content(replace(plan, ratings=free_only))["carry"])
    assert "on slopes, on 15 m: trails with !. Ask the manufacturer before any load there." in said
    held = plan.ratings[~(plan.ratings["over_m"] > 0)]
    for ratings in (None, held, held.iloc[:0]):
        said = lines(brief_content(replace(plan, ratings=ratings))["carry"])
        assert "rating on slopes" not in said


def test_verified_frost_stands_beside_the_state():
    plan = brief_plan(state="frozen")
    assert plain(brief_content(plan)["ground"]) == "Ground in this plan: frozen."
    ground = replace(plan.settings.ground, frost_depth_m=0.3, frost_verified_by="A. Probe")
    said = brief_content(replace(plan, settings=replace(plan.settings, ground=ground)))["ground"]
    assert "Frost: 30 cm, verified by A. Probe. How deep it must be" in plain(said)


def test_what_an_axle_carries_comes_from_the_catalogue():
    front, rear = loadout(shown(brief_plan(), "bare + closed-band-710"))
    assert (front.names, rear.names) == ((), ("closed flotation band tracks",))
    assert rear.kinds == ("band track",)
    front, rear = loadout(shown(brief_plan(), "bare"))
    assert (front.names, rear.names) == ((), ())
    front, rear = loadout(shown(brief_plan(), "own key + bare"))
    assert (front.names, front.kinds) == (("own key",), None)
    assert rear.kinds == ()


def test_each_aid_brings_its_own_checks():
    band = brief_content(shown(brief_plan(), "closed-band-710 + closed-band-710"))
    text = lines(band["checks"])
    assert "sag midway between the tyres 40–70 mm" in text
    assert "about 10 mm between shoe" in text
    assert "Chains" not in text
    assert "Wheel track" not in text
    assert band["checks"]["standing"].startswith("Fit figures: common practice, no source")
    assert band["carry"]["items"] == [("Front and rear", "closed flotation band tracks")]
    chains = brief_content(shown(brief_plan(), "chains-710-bogie + bare"))
    assert "Chains: tension them" in lines(chains["checks"])
    assert "sag" not in lines(chains["checks"])
    assert chains["carry"]["items"] == [("Front bogie", "wheel chains"), ("Rear bogie", "no aid")]
    own = lines(brief_content(shown(brief_plan(), "own + own"))["checks"])
    assert all(word in own for word in ("Band track", "Wheel track", "Chains", "Dual tyres"))
    bare = brief_content(shown(brief_plan(), "bare"))
    assert bare["carry"]["items"] == [("Front and rear", "no aid")]
    assert "plate of the aid" not in lines(bare["checks"])
    assert bare["checks"]["standing"] == ""


def with_tyres(plan, front, rear):
    """The plan with changes to the tyres of both axle groups."""
    groups = [
        replace(group, tyre=replace(group.tyre, **changes))
        for group, changes in zip(plan.machine.groups, (front, rear), strict=True)
    ]
    return replace(plan, machine=replace(plan.machine, groups=(groups[0], groups[1])))


def test_pressures_are_those_the_plan_was_computed_with():
    plan = shown(brief_plan(), "bare")
    set_to, asked = {"inflation_kpa": 400.0}, {"inflation_kpa": 450.0}
    same = lines(brief_content(with_tyres(plan, asked, asked))["checks"])
    assert "Front and rear: tyres 450 kPa (4.5 bar), cold, as charted." in same
    text = lines(brief_content(with_tyres(plan, set_to, asked))["checks"])
    assert (
        "Front bogie: tyres 400 kPa (4.0 bar), cold, in this plan: below the chart's 450 kPa "
        "(4.5 bar). Ask which holds for this load."
    ) in text
    assert "Rear bogie: tyres 450 kPa (4.5 bar), cold, as charted." in text
    unknown = {"inflation_kpa": 400.0, "charted_inflation_kpa": None}
    text = lines(brief_content(with_tyres(plan, unknown, asked))["checks"])
    assert (
        "Front bogie: tyres 400 kPa (4.0 bar), cold, in this plan. Charted pressure not known. "
        "Ask: ____"
    ) in text


def test_under_band_tracks_the_plan_was_computed_with_the_charted_pressure():
    soft = with_tyres(brief_plan(), {"inflation_kpa": 400.0}, {"inflation_kpa": 400.0})
    text = lines(brief_content(shown(soft, "bare + closed-band-710"))["checks"])
    assert "Front bogie: tyres 400 kPa (4.0 bar), cold, in this plan: below" in text
    assert "Rear bogie: tyres 450 kPa (4.5 bar), cold, as charted." in text


def test_a_plan_that_cannot_tell_names_no_setup():
    plan = brief_plan()
    table = plan.ranking.setups.assign(outcome="cannot tell")
    unsure = replace(plan.ranking, candidate=None, setups=table)
    warning = brief_content(replace(plan, ranking=unsure))["carry"]["warning"]
    assert warning.startswith("Too much of this block is not assessed: no setup is named.")
    assert "Do not start." in warning
    fails = replace(unsure, setups=table.assign(outcome="does not suit"))
    warning = brief_content(replace(plan, ranking=fails))["carry"]["warning"]
    assert warning.startswith("No listed setup suits this block.")


def test_a_plan_without_a_candidate_says_do_not_start():
    plan = brief_plan()
    assert brief_content(plan)["carry"]["warning"] == ""
    none = replace(plan, ranking=replace(plan.ranking, candidate=None))
    assert "Do not start." in brief_content(none)["carry"]["warning"]
    asked = brief_content(shown(plan, "bare + open"))["carry"]
    assert "Ask the manufacturer before anything else." in lines(asked)


def test_stretches_on_which_the_shown_setup_falls_short_are_keep_out_not_weak():
    plan = brief_plan(40)
    content = brief_content(plan)
    short = plan.bottlenecks[plan.bottlenecks["shown_reserve"] < 0]["stretch"]
    weak = {row["id"] for row in content["weak"]["rows"]}
    assert weak.isdisjoint(short)
    closed = plan.trail_states.loc[plan.trail_states["usable_moist"] == False, "trail"]  # noqa: E712
    on_closed = set(plan.bottlenecks.loc[plan.bottlenecks["trail"].isin(closed), "stretch"])
    assert on_closed - set(short)
    assert weak == set(plan.bottlenecks["stretch"]) - set(short) - on_closed
    first = content["keep_out"]["lines"][0]
    assert "T1-5 (5–25" in plain(first)
    listed = sum(name in first for name in short)
    assert listed == min(10, len(short))


def test_rows_with_one_thing_to_do_stand_together():
    dos = [row["do"] for row in brief_content(brief_plan(40))["weak"]["rows"]]
    changes = sum(a != b for a, b in pairwise(dos))
    assert changes == len(set(dos)) - 1
    more = brief_content(brief_plan(40))["weak"]["more"]
    assert more[0] == ""
    assert more[3] == "3 more: see the report"
    assert len(more) == len(dos) + 1


def test_closed_unknown_and_unassessed_trails_are_kept_out():
    plan = brief_plan(12)
    text = lines(brief_content(plan)["keep_out"])
    closed = plan.trail_states.loc[plan.trail_states["usable_moist"] == False, "trail"]  # noqa: E712
    assert len(closed)
    assert f"cut off from the landing: {', '.join(closed)}." in text
    assert "Not known whether it holds, walk it first: T4." in text
    assert "Not assessed, walk it first: T1 (15 m)." in text
    assert "Water without a mapped crossing. Stop and ask: T12 (20–30 m)." in text
    dry = brief_content(brief_plan(12, state="dry"))
    assert dry["keep_out"]["lines"] != brief_content(plan)["keep_out"]["lines"]


def test_crossings_are_named_with_their_trail():
    text = lines(brief_content(brief_plan(4))["water"])
    assert "Cross water only at X1 (temporary bridge, T1 (140–155 m))." in text
    none = brief_plan(4)
    none = replace(none, wet_ground=replace(none.wet_ground, crossings=None))
    assert "Do not cross water" in lines(brief_content(none)["water"])


def test_the_strip_along_water_has_its_width_where_one_was_given():
    plan = brief_plan(4)
    flow = replace(plan.settings.flow, buffer_width_m=10.0)
    given = replace(plan, settings=replace(plan.settings, flow=flow))
    assert "10 m along water, but for the crossings." in lines(brief_content(given)["keep_out"])
    assert "33 ft along water" in lines(brief_content(given, units="us")["keep_out"])
    assert "as the map shows them" in lines(brief_content(plan)["keep_out"])


def test_trails_stand_in_the_order_of_work_with_their_steepest_places():
    plan = brief_plan(8)
    section = brief_content(plan)["trails"]
    numbers = [int(row["order"]) for row in section["rows"] if not row["closed"]]
    assert numbers == sorted(numbers)
    assert len(numbers) == 7
    assert sorted(row["trail"] for row in section["rows"]) == sorted(plan.trails.index)
    first = next(row for row in section["rows"] if row["trail"] == "T1")
    facts = plan.trails.iloc[0]
    assert first["up"] == METRIC.slope(facts["steepest_up"])
    assert first["down"] == METRIC.slope(facts["steepest_down"])
    assert first["cross"] == METRIC.slope(facts["steepest_cross"])
    assert first["mark"] == "*"


def test_more_trails_than_fit_are_left_to_the_report_and_counted():
    section = brief_content(brief_plan(70))["trails"]
    assert len(section["rows"]) == 60
    assert "10 more: see the report" in section["notes"]


def test_the_rule_of_the_site_with_its_standing():
    plan = brief_plan()
    rule = plain(" ".join(brief_content(plan)["stop"]["rule"]))
    assert "On mineral soil a rut counts over 10 cm." in rule
    assert "On organic soil a rut counts over 20 cm." in rule
    assert "Dated copy (1996, published): check the current text." in rule
    assert "3.9 in" in plain(" ".join(brief_content(plan, units="us")["stop"]["rule"]))

    def with_rule(key):
        sheet = SimpleNamespace(profile=rule_profiles()[key] if key else None)
        return plain(" ".join(brief_content(replace(plan, check_sheet=sheet))["stop"]["rule"]))

    assert "At most 25 % of the trail length." in with_rule("quebec_45")
    assert "At most 5 % of the block's area." in with_rule("bc_example")
    assert "None is allowed." in with_rule("fiji_code")
    assert "None of the effects" in with_rule("sweden_2012")
    assert "Ask which one holds." in with_rule(None)
    assert "Ask which one holds." in " ".join(brief_content(make_plan())["stop"]["rule"])


def test_emergency_point_or_a_line_to_fill_in():
    plan = brief_plan()
    text = lines(brief_content(plan)["emergency"])
    assert "Meeting point: North gate" in text
    assert "E 400030  N 5600180" in text
    assert "50.545" in text
    assert "invented number" in text
    empty = brief_content(replace(plan, emergency=None))["emergency"]
    assert empty["lines"] == ["Meeting point: " + "_" * 16, "Call: " + "_" * 16]


@pytest.mark.parametrize("language", ["en", "sv", "fi", "de", "fr"])
def test_every_language_defers_and_says_what_is_invented(language):
    content = brief_content(brief_plan(), language)
    words = catalogue(language)
    assert content["deferral"] == words.term(DEFERRAL)
    assert content["invented"] == words.term(INVENTED)
    assert len(content["draft"]) == (0 if language == "en" else 2)
    real = replace(brief_plan(), invented=False)
    real = replace(real, machine=replace(real.machine, invented=False))
    assert brief_content(real, language)["invented"] == ""


def test_a_plan_without_stretches_order_or_water_says_so():
    content = brief_content(make_plan())
    assert "were not worked out" in lines(content["keep_out"])
    assert any("No order of work" in note for note in content["trails"]["notes"])
    assert content["water"]["lines"] == []
    assert content["weak"]["rows"] == []


def test_frozen_ground_warns_of_thaw():
    assert brief_content(brief_plan(state="frozen"))["changed"] == "Thaw? Stop and ask."
    assert brief_content(brief_plan(state="wet"))["changed"].startswith("Wetter")


def test_hostile_names_stay_text_and_units_and_languages_are_checked():
    names = (FORMULA, "{line}", "a\nb", "T4")
    content = brief_content(brief_plan(names=names))
    assert {row["trail"] for row in content["trails"]["rows"]} == {"=1+2", "{line}", "a b", "T4"}
    with pytest.raises(ValueError, match="no language"):
        brief_content(brief_plan(), "xx")
    with pytest.raises(ValueError, match="no units"):
        brief_content(brief_plan(), units="imperial")


def test_nothing_found_is_said_with_its_limits():
    plan = brief_plan(4, weak=0)
    trails = plan.trails.assign(not_assessed_m=0.0)
    plan = replace(plan, stations=plan.stations.assign(grade=0.0))
    states = pd.DataFrame({"trail": trails.index, "usable_moist": True, "order": 1})
    states["wettest"], states["usable_frozen"] = "wet", np.nan
    states["water_here"], states["water_on_way"] = None, None
    plan = replace(plan, trails=trails, trail_states=states, wet_ground=None)
    assert "are not in the map" in lines(brief_content(plan)["keep_out"])
