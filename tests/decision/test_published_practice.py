"""What the model passes and published work does not show; what a crane does.

Published: Đuka et al. 2018, Forests 9(9) 526 (abstract): slope range of a cable skidder, empty -50
to +80 %, 1 t -26 to +63, 2 t -30 to +51, 3 t -34 to +39, 4 t -35 to +30, 5 t -41 to +11 %.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.decision.carried import carried
from terrain.decision.evaluation import evaluate
from terrain.decision.published_practice import (
    beyond_published,
    left_out_sentences,
    published_grades,
)
from terrain.decision.second_opinions import second_opinions
from terrain.models.settings import Settings
from terrain.sources import STATUSES, data_table, source
from tests.builders import forwarder, skidder, stations
from tests.decision.test_evaluation import BARE_SETUP
from tests.mechanics.test_crane import CRANE
from tests.mechanics.test_skidder_envelope import PUBLISHED

LOAD = skidder().load


def skidder_with(mass_kg):
    return skidder(load=replace(LOAD, mass_kg=mass_kg))


@pytest.mark.parametrize("tonnes", PUBLISHED)
def test_the_published_grades_stand_as_published(tonnes):
    down, up = published_grades(1000.0 * tonnes)
    assert (100 * down, 100 * up) == pytest.approx(PUBLISHED[tonnes])


def test_between_and_beyond_the_published_loads_the_narrower_neighbour_counts():
    assert published_grades(3500.0) == (-0.34, 0.30)
    assert published_grades(500.0) == (-0.26, 0.63)
    assert published_grades(9000.0) == published_grades(5000.0) == (-0.41, 0.11)


def test_the_envelope_has_a_source_and_a_standing():
    for row in data_table("operating_envelopes")["envelope"]:
        assert source(row["source"]).read == "abstract"
        assert row["status"] in STATUSES
        assert "planning assumption" in row["note"]


GRADES = np.array([0.05, 0.12, 0.30, -0.30, -0.45, np.nan])


def test_metres_beyond_are_told_with_what_the_model_passes():
    table = stations(grade=GRADES, cone_index_kpa=1000.0)
    item = carried(BARE_SETUP, skidder_with(5000.0))
    evaluation, _ = evaluate(table, [item], Settings())
    loaded = evaluation.reserve_loaded[:, 0]
    found = beyond_published(table, item, loaded)
    assert (found.up_m, found.down_m, found.metres) == (10.0, 5.0, 15.0)
    beyond = (np.nan_to_num(GRADES) > 0.11) | (np.nan_to_num(GRADES) < -0.41)
    assert found.passed_m == 5.0 * (beyond & (loaded >= 0)).sum() > 0
    made = second_opinions(table, [item], evaluation, Settings()).iloc[0]
    told = ("published_descent", "published_climb", "beyond_published_m", "beyond_passed_m")
    assert [made[name] for name in told] == [0.41, 0.11, 15.0, found.passed_m]
    (_, sentence) = left_out_sentences(table, item, loaded)
    assert sentence == found.words
    assert "climbs on 10 m and descends on 5 m more steeply" in sentence
    assert f"the model passes {found.passed_m:.0f} m of that" in sentence
    assert "do not read it as a permission" in sentence


def test_a_load_above_the_published_ones_is_said():
    item = carried(BARE_SETUP, skidder_with(6500.0))
    table = stations(grade=0.2)
    (_, sentence) = left_out_sentences(table, item, np.array([0.1]))
    assert "With 6500 kg" in sentence
    assert "the largest load published is 5000 kg" in sentence
    assert "descends" not in sentence


def test_gentle_trails_and_other_machines_need_no_sentence():
    item = carried(BARE_SETUP, skidder_with(5000.0))
    (said,) = left_out_sentences(stations(grade=0.1), item, np.array([0.1]))
    assert said.startswith("Work with a crane or boom, if it has one, is not computed")
    for machine in (
        forwarder(),
        forwarder(kind="harvester", load=None),
        skidder(load=replace(LOAD, carried_share=1.0)),
        skidder(load=None),
    ):
        item = carried(BARE_SETUP, machine)
        assert beyond_published(stations(grade=0.5), item, np.array([0.1])) is None


def test_crane_work_is_said_to_be_left_out_where_there_is_a_crane():
    for machine in (forwarder(), forwarder(kind="harvester", load=None)):
        (said,) = left_out_sentences(stations(), carried(BARE_SETUP, machine), np.array([0.1]))
        assert said.startswith("Crane work is not computed")
        assert "crane chart and stability rules decide" in said
        reaching = carried(BARE_SETUP, replace(machine, crane=CRANE))
        (said,) = left_out_sentences(stations(), reaching, np.array([0.1]))
        assert said.startswith("Crane work is computed for one reach and load")
        assert "crane chart and stability rules decide" in said
