"""Tyre size designations. Expected lengths are our own arithmetic on what the designation says."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.models.tyre_size import parse_tyre_designation, with_decimal_point
from terrain.setups.combinations import same_tyre_size


@pytest.mark.parametrize(
    ("text", "width_m", "diameter_m", "height_m"),
    [
        # rim * 25.4 mm + 2 * aspect * width, common practice, no source
        ("710/45-26.5", 0.710, 0.6731 + 2 * 0.3195, 0.3195),
        ("600/50-22.5", 0.600, 0.5715 + 2 * 0.300, 0.300),
        ("650/60R26.5", 0.650, 0.6731 + 2 * 0.390, 0.390),
        # overall diameter x width - rim, all in inches
        ("66x43-25", 43 * 0.0254, 66 * 0.0254, 20.5 * 0.0254),
        # (1.5 * 24.5 + 1.06 * 32) inches = 70.67 inches, rule of thumb without source
        ("24.5-32", 24.5 * 0.0254, 70.67 * 0.0254, (70.67 - 32) / 2 * 0.0254),
        ("18.4-26", 18.4 * 0.0254, 55.16 * 0.0254, (55.16 - 26) / 2 * 0.0254),
        ("23.1-26", 23.1 * 0.0254, 62.21 * 0.0254, (62.21 - 26) / 2 * 0.0254),
    ],
)
def test_geometry_of_each_form(
    text: str, width_m: float, diameter_m: float, height_m: float
) -> None:
    size = parse_tyre_designation(text)
    assert size.width_m == pytest.approx(width_m, rel=1e-9)
    assert size.diameter_m == pytest.approx(diameter_m, rel=1e-9)
    assert size.section_height_m == pytest.approx(height_m, rel=1e-9)
    assert size.status == "common practice, no source"


@pytest.mark.parametrize("text", ["28L-26", "30.5L-32", "35.5L-32"])
def test_low_section_sizes_do_not_fix_the_diameter(text: str) -> None:
    size = parse_tyre_designation(text)
    assert math.isnan(size.diameter_m)
    assert math.isnan(size.section_height_m)
    assert not size.has_diameter
    assert size.width_m == pytest.approx(float(text.split("L")[0]) * 0.0254)
    assert size.status == ""


@pytest.mark.parametrize(
    "text", [" 710/45-26.5 ", "710 / 45 - 26.5", "710/45-26.5 20PR TL", "710/45-26.5 178A8"]
)
def test_spacing_and_service_marks_change_nothing(text: str) -> None:
    assert parse_tyre_designation(text) == parse_tyre_designation("710/45-26.5")


def test_small_letters_and_the_times_sign_are_understood() -> None:
    expected = parse_tyre_designation("66x43-25")
    assert parse_tyre_designation("66X43.00-25") == expected
    assert parse_tyre_designation("66×43-25") == expected


@pytest.mark.parametrize(
    "text",
    ["", "710", "710-45-26.5", "710/45", "71/45-26.5", "710/45-265", "big tyre", "9-9", "nan-inf"],
)
def test_other_texts_are_refused_with_the_allowed_forms(text: str) -> None:
    with pytest.raises(ValueError, match=r"710/45-26\.5"):
        parse_tyre_designation(text)


_RIMS = st.sampled_from(["20.5", "22.5", "24.50", "26.5", "30.5", "32"])
_DESIGNATIONS = st.one_of(
    st.builds(
        "{}/{}{}{}".format,
        st.integers(300, 1000),
        st.integers(30, 75),
        st.sampled_from("-RD"),
        _RIMS,
    ),
    st.builds("{}.{}-{}".format, st.integers(12, 35), st.integers(0, 9), _RIMS),
    st.builds("{}.{}L-{}".format, st.integers(12, 35), st.integers(0, 9), _RIMS),
    st.builds("{}x{}.00-25".format, st.integers(55, 75), st.integers(25, 45)),
)


@given(size=_DESIGNATIONS, mark=st.sampled_from(["", " 20PR TL", " 178A8"]))
def test_a_decimal_comma_reads_as_a_point_and_is_shown_as_one(size: str, mark: str) -> None:
    pointed = size + mark
    comma = pointed.replace(".", ",")
    assert with_decimal_point(comma) == pointed
    assert with_decimal_point(pointed) == pointed
    assert same_tyre_size(comma, pointed)
    one, other = parse_tyre_designation(comma), parse_tyre_designation(pointed)
    assert repr(one) == repr(other)  # NaN is no equal of itself


@pytest.mark.parametrize(
    "text", ["710/45-26,500", "710/45-,5", "710/45-26,", "710/45-26,5,5", "a,b"]
)
def test_other_commas_stay_and_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"allowed: metric"):
        parse_tyre_designation(text)


@given(
    width_mm=st.integers(300, 1000),
    aspect=st.integers(30, 75),
    rim_in=st.sampled_from([20.5, 22.5, 24.5, 26.5, 30.5, 32, 34]),
)
def test_diameter_is_rim_plus_two_section_heights(
    width_mm: int, aspect: int, rim_in: float
) -> None:
    size = parse_tyre_designation(f"{width_mm}/{aspect}-{rim_in}")
    assert size.diameter_m == pytest.approx(size.rim_diameter_m + 2 * size.section_height_m)
    assert size.section_height_m / size.width_m == pytest.approx(aspect / 100)
