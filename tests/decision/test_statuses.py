"""What a run says about its figures' standing and about what nobody looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.decision.carried import carried
from terrain.decision.ground import frost_is_verified
from terrain.decision.stability_checks import lift_off_m, tip_places
from terrain.decision.statuses import not_assessed_sentences, status_rows
from terrain.mechanics import relations
from terrain.models.machine import Load
from terrain.models.settings import GroundSettings, Settings
from tests.builders import CHAINS, CLOSED_BAND, TYRE, bogie, forwarder, stations
from tests.decision.test_evaluation import BARE_SETUP, both
from tests.decision.test_stability_checks import REAR_BAND


def table_of(**columns):
    table = stations(**columns)
    return table.assign(ground_class=1, grade_profile=table["grade"])


def said_of(table, machine=None, ground=None):
    item = carried(BARE_SETUP, machine or forwarder())
    return not_assessed_sentences(table, Settings(ground=ground or GroundSettings()), item)


def test_metres_on_which_an_axle_lifts_off_are_told():
    # own arithmetic, plain statics: the loaded front carries nothing from grade x / h on, with
    # x = 64700 / 34000 and h = 57400 / 34000 m of machine and load together: 1.127
    table = table_of(grade=np.array([1.12, 1.13, np.nan, 0.1]))
    item = carried(BARE_SETUP, forwarder())
    assert lift_off_m(table, item) == 5.0
    # empty and the other way round the rear lifts: (5.5 - 3.025) / 1.4 = 1.768
    assert lift_off_m(table_of(grade=np.array([1.77, 1.76])), item) == 10.0
    empty = carried(BARE_SETUP, forwarder(load=None))
    assert lift_off_m(table_of(grade=np.array([1.77, 1.76])), empty) == 5.0
    (told,) = [text for text in said_of(table) if "lift off" in text]
    assert told.startswith("With the shown setup wheels lift off in the computation on 5 m.")
    assert "Look at stability there, with the maker's data." in told
    assert not [text for text in said_of(table_of(grade=0.2)) if "lift off" in text]
    # sideways: t / (2 h) = 2.2 x 34 / 114.8 = 0.652
    assert lift_off_m(table_of(cross_slope=np.array([0.65, -0.66, np.nan])), item) == 5.0


def test_the_other_setups_that_lift_are_counted():
    table = table_of(grade=np.array([0.30, 0.33, 0.5]))
    machine = forwarder(wheelbase_m=3.2, cg_height_m=2.2, load=Load(14000, -0.5, 3.2))
    setups = (BARE_SETUP, both(CHAINS), both(CLOSED_BAND), REAR_BAND)
    items = [carried(setup, machine) for setup in setups]
    # no aid cures it: where the bare machine lifts all do; heavy rear bands lift the front earlier
    assert [lift_off_m(table, item) for item in items] == [10.0, 10.0, 10.0, 15.0]
    assert [tip_places(table, item).tip_m for item in items] == [10.0, 10.0, 10.0, 15.0]
    said = not_assessed_sentences(table, Settings(), items[2], items)
    (told,) = [text for text in said if "lift off" in text]
    assert "on 10 m; with 3 other setups they do on up to 15 m." in told
    assert "no aid is credited with holding the machine down" in told
    gentle = table.assign(grade=[0.2, 0.30, 0.25])
    said = not_assessed_sentences(gentle, Settings(), items[2], items)
    (only,) = [text for text in said if "lift off" in text]
    assert only.startswith("With the shown setup no wheels lift off; with 1 other setup they do on")


def test_the_relations_of_lifting_off_are_listed():
    rows = status_rows(table_of(), [carried(BARE_SETUP, forwarder())], Settings())
    names = {row.name for row in rows}
    known = relations.relations()
    for name in ("lift_off_grades", "held_to", "resting_loads", "lateral_tip", "longitudinal_tip"):
        assert known[name].title in names


def test_tyres_below_the_charted_pressure_are_told_by_axle():
    charted = replace(TYRE, inflation_kpa=450.0)
    slack = replace(TYRE, rated_load_kg=7000.0)
    soft = forwarder(groups=(bogie("front", tyre=charted), bogie("rear", tyre=slack)))
    told = [text for text in said_of(table_of(), soft) if "rated load" in text]
    assert len(told) == 1
    assert "the payload within the ratings is an upper bound" in told[0]
    for word in ("rear bogie", "400 kPa", "450 kPa", "Look the load up"):
        assert word in told[0]
    unknown = replace(TYRE, charted_inflation_kpa=None)
    for tyre in (charted, unknown):
        machine = forwarder(groups=(bogie("front", tyre=tyre), bogie("rear", tyre=tyre)))
        assert not [text for text in said_of(table_of(), machine) if "charted" in text]
    # under a band the tyre needs the charted pressure: the figures hold with that, so it says so
    item = carried(both(CLOSED_BAND), soft)
    (band,) = [t for t in not_assessed_sentences(table_of(), Settings(), item) if "charted" in t]
    assert "It has to be set before the bands are worked with." in band
    unrated = [text for text in said_of(table_of()) if "charted" in text]
    assert len(unrated) == 2  # both axles, and no rating to speak of
    assert not [text for text in unrated if "upper bound" in text]


def test_a_film_without_a_figure_is_not_assessed():
    ground = GroundSettings(film="wet clay film")
    told = " ".join(said_of(table_of(), ground=ground))
    assert "nothing is assessed but for gear that bites through it" in told
    rows = status_rows(table_of(), [], Settings(ground=ground))
    row = next(row for row in rows if row.name == "Surface film: wet clay film")
    assert row.value == "grip of plain tyres not known"


def test_the_part_of_the_tipping_slope_stands_as_an_assumption():
    rows = {row.name: row for row in status_rows(table_of(), [], Settings())}
    row = rows["Side slope to check with the maker"]
    assert "0.6" in row.value
    assert row.status == "planning assumption"
    assert "Tipping grades of a rigid machine" in rows
    assert rows["Wheel loads within a bogie"].status == "planning assumption"


def test_frost_is_credited_from_a_least_depth_and_told_with_it():
    # Frankenstein & Koenig 2004, pp. 50-51, after Richmond 1991: 5 cm of surface frost
    for depth, credited in ((None, False), (0.049, False), (0.05, True), (0.3, True)):
        assert frost_is_verified(GroundSettings("frozen", frost_depth_m=depth)) == credited
    assert not frost_is_verified(GroundSettings("moist", frost_depth_m=0.3))
    ground = GroundSettings("frozen", frost_depth_m=0.3, frost_verified_by="probe")
    rows = {row.name: row for row in status_rows(table_of(), [], Settings(ground=ground))}
    row = rows["Verified depth of frost"]
    assert row.value.startswith("0.3 m")
    assert row.status == "planning assumption"
    assert row.source == "frankenstein_koenig_2004"


def test_what_chains_hold_on_snow_is_the_planners_figure_or_not_assessed():
    ground = GroundSettings(film="packed snow", film_grip_cap=0.15)
    (told,) = [text for text in said_of(table_of(), ground=ground) if "packed snow" in text]
    assert "chains or tracks are not assessed" in told
    rows = {row.name: row for row in status_rows(table_of(), [], Settings(ground=ground))}
    assert rows["Surface film: packed snow"].value.endswith("chains and tracks: not known")
    entered = replace(ground, film_grip_cap_with_aids=0.3, film_aids_status="user's figure")
    assert not [text for text in said_of(table_of(), ground=entered) if "packed snow" in text]
    rows = {row.name: row for row in status_rows(table_of(), [], Settings(ground=entered))}
    assert "chains and tracks 0.30 (user's figure)" in rows["Surface film: packed snow"].value
