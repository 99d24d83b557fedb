import numpy as np
import pytest

from terrain.mechanics.soil_strength import (
    bearing_kpa,
    cone_index_kpa,
    drainage_rank,
    shifted_class,
    state_rules,
    wet_flag,
)
from terrain.models.soil import DRAINAGE_CLASSES, MOISTURE_STATES
from terrain.sources import STATUSES

EVERY_CLASS = np.array([0, 1, 2, 3, 4])


def test_every_state_has_a_rule_with_a_standing():
    assert tuple(state_rules()) == MOISTURE_STATES
    for rule in state_rules().values():
        assert rule.status in STATUSES
        assert rule.wet_from_drainage is None or rule.wet_from_drainage in DRAINAGE_CLASSES


def test_channels_start_sooner_the_wetter_it_is():
    # the catchments of the depth-to-water literature; seasonal meaning from memory
    areas = [state_rules()[state].flow_initiation_ha for state in MOISTURE_STATES]
    assert areas == [4.0, 1.0, 0.25, 0.25, 4.0]


@pytest.mark.parametrize(
    ("state", "driest_wet_rank", "strongest_wet_class"),
    [("dry", 6, 4), ("moist", 5, 3), ("wet", 4, 3), ("saturated", 3, 2)],
)
def test_wet_thresholds(state, driest_wet_rank, strongest_wet_class):
    rule = state_rules()[state]
    ranks = np.arange(7)
    np.testing.assert_array_equal(wet_flag(1, ranks, rule), ranks >= driest_wet_rank)
    classes = EVERY_CLASS[1:]
    np.testing.assert_array_equal(wet_flag(classes, 0, rule), classes >= strongest_wet_class)


def test_wetness_is_unknown_only_where_class_and_drainage_both_are():
    # the forester's class alone is a complete input, so a soil map without drainage must not make
    # every metre unknown; and drainage alone says how wet a soil of unknown class is
    for state in ("dry", "moist", "wet", "saturated"):
        rule = state_rules()[state]
        assert wet_flag(0, -1, rule) == -1
        assert wet_flag(1, -1, rule) == 0
        assert wet_flag(4, -1, rule) == 1
        assert wet_flag(0, 0, rule) == 0
        assert wet_flag(0, 6, rule) == 1
    assert wet_flag(0, -1, state_rules()["frozen"]) == 0  # its rule looks at neither


def test_shift_in_each_state():
    rules = state_rules()
    same = EVERY_CLASS.tolist()
    assert shifted_class(EVERY_CLASS, 1, rules["dry"]).tolist() == same
    assert shifted_class(EVERY_CLASS, 1, rules["moist"]).tolist() == same
    assert shifted_class(EVERY_CLASS, 1, rules["wet"]).tolist() == [0, 2, 3, 4, 4]
    assert shifted_class(EVERY_CLASS, 0, rules["wet"]).tolist() == same
    assert shifted_class(EVERY_CLASS, -1, rules["wet"]).tolist() == [0, 0, 0, 0, 0]
    assert shifted_class(EVERY_CLASS, -1, rules["saturated"]).tolist() == [0, 2, 3, 4, 4]


def test_frost_counts_only_where_somebody_verified_it():
    frozen = state_rules()["frozen"]
    assert shifted_class(EVERY_CLASS, 0, frozen).tolist() == EVERY_CLASS.tolist()
    verified = shifted_class(EVERY_CLASS, 0, frozen, frost_verified=True)
    assert verified.tolist() == [0, 1, 1, 2, 3]


def test_unknown_class_has_no_strength_figure():
    assert np.isnan(cone_index_kpa(0))
    assert np.isnan(bearing_kpa([0, np.nan])).all()
    assert cone_index_kpa([1, 2, 3, 4]).tolist() == [1000, 400, 250, 100]
    assert bearing_kpa([1, 2, 3, 4], "low").tolist() == [80, 60, 40, 0]


@pytest.mark.parametrize("wrong", [5, -1, 2.5])
def test_class_outside_the_list_is_refused(wrong):
    with pytest.raises(ValueError, match="1 to 4, or 0"):
        cone_index_kpa(wrong)


def test_unknown_figure_is_refused():
    with pytest.raises(ValueError, match="low, likely, high"):
        cone_index_kpa(1, "best")


def test_drainage_words():
    ranks = drainage_rank(["well drained", None, "swampy", np.nan, "very poorly drained"])
    assert ranks.tolist() == [2, -1, -1, -1, 6]
