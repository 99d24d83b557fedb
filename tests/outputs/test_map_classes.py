"""How the trails are drawn: edges that part, and more than colour between the classes."""

from __future__ import annotations

import pytest

from terrain.decision.bottlenecks import KINDS
from terrain.outputs.map_classes import NOT_JUDGED, STRETCH_LOOKS, casing, contrast, views
from tests.outputs.synthetic import make_plan

VIEWS = views(make_plan())


def test_contrast_of_black_and_white_is_21() -> None:
    """WCAG 2.1, definition of contrast ratio: 21 to 1 is the largest."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#ffffff", "#ffffff") == pytest.approx(1.0)


def test_a_grey_of_known_contrast() -> None:
    """#767676 on white is the usual example of 4.54 to 1 (common practice, no source)."""
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.key)
def test_every_class_parts_from_its_edge(view) -> None:
    """3 to 1 is what WCAG 2.1, 1.4.11 asks of graphics."""
    for item in view.classes:
        assert contrast(item.colour, casing(item.colour)) >= 3.0, item.label


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.key)
def test_classes_differ_by_width_or_dash_as_well(view) -> None:
    looks = [(item.width, item.dash) for item in view.classes]
    assert len(set(looks)) == len(looks)


def test_short_is_wide_and_dashed_and_over_is_dashed() -> None:
    reserve = next(view for view in VIEWS if view.key == "reserve")
    short = next(item for item in reserve.classes if item.upper == 0)
    assert short.dash
    assert short.width == max(item.width for item in reserve.classes)
    ratio = next(view for view in VIEWS if view.key == "ratio")
    assert all(bool(item.dash) == (item.upper > 1) for item in ratio.classes[1:])


def test_steepness_has_the_plans_own_slope_classes() -> None:
    demand = next(view for view in VIEWS if view.key == "demand")
    assert [item.label for item in demand.classes[1:]] == list(make_plan().slope_labels)


def test_every_kind_of_weak_stretch_has_a_look() -> None:
    assert tuple(kind for kind, _ in STRETCH_LOOKS) == KINDS


def test_reserve_classes_read_without_colour() -> None:
    """Short: wide, dashed, ticked. Thin: narrow, dashed. The rest: plain, and apart in grey."""
    _, short, thin, some, good = next(view for view in VIEWS if view.key == "reserve").classes
    assert [item.ticks for item in (short, thin, some, good)] == [True, False, False, False]
    assert thin.dash
    assert thin.width < min(item.width for item in (short, some, good))
    assert not some.dash
    assert not good.dash
    assert casing(some.colour) != casing(good.colour)  # a light core between dark rails, or dark
    assert contrast(some.colour, good.colour) >= 2.0


def test_not_judged_is_grey_and_hatched() -> None:
    red, green, blue = (int(NOT_JUDGED.colour[k : k + 2], 16) for k in (1, 3, 5))
    assert max(red, green, blue) - min(red, green, blue) <= 12
    assert NOT_JUDGED.dash
    assert [view.key for view in VIEWS if view.judged] == ["reserve", "ratio"]
