"""How the trails are drawn: edges that part, and more than colour between the classes."""

from __future__ import annotations

import pytest

from terrain.decision.bottlenecks import KINDS
from terrain.outputs.map_classes import STRETCH_LOOKS, casing, contrast, views
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
