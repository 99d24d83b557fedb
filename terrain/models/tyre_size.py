"""What a standard tyre size designation says about the tyre's geometry, and what it does not."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from terrain.units import INCH_M

__all__ = [
    "ALLOWED_DESIGNATIONS",
    "TyreForm",
    "TyreSize",
    "parse_tyre_designation",
    "with_decimal_point",
]

TyreForm = Literal["metric", "inch", "inch low section", "inch overall"]

ALLOWED_DESIGNATIONS = (
    "metric 710/45-26.5 or 650/60R26.5 (width mm / section height % - rim in), "
    "inch 24.5-32 (width - rim), inch low section 28L-26, "
    "inch overall 66x43-25 (overall diameter x width - rim)"
)
"""The forms that :func:`parse_tyre_designation` understands, for messages."""

_DECIMAL_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9]{1,2}(?![0-9]))")
_NUMBER = r"(\d+(?:\.\d+)?)"
_MARKS = r"(?:\s+(?:\d{1,2}\s?PR|TL|TT|LS-?\d|\d{2,3}[A-G]\d?|\d{2,3}/\d{2,3}[A-G]\d?))*"
_FORMS: dict[TyreForm, re.Pattern[str]] = {
    "metric": re.compile(rf"(\d{{3,4}})\s*/\s*(\d{{2,3}})\s*[-RDB]\s*{_NUMBER}{_MARKS}"),
    "inch overall": re.compile(rf"{_NUMBER}\s*X\s*{_NUMBER}\s*[-RDB]\s*{_NUMBER}{_MARKS}"),
    "inch low section": re.compile(rf"{_NUMBER}\s*L\s*[-RDB]\s*{_NUMBER}{_MARKS}"),
    "inch": re.compile(rf"{_NUMBER}\s*[-RDB]\s*{_NUMBER}{_MARKS}"),
}


@dataclass(frozen=True, slots=True)
class TyreSize:
    """Nominal geometry read from a designation, in metres.

    Attributes
    ----------
    width_m : float
        Nominal section width.
    diameter_m, section_height_m : float
        Unloaded overall diameter and section height; NaN where the designation does not fix them
        (``inch low section``): the machine file must then give them.
    rim_diameter_m : float
        Nominal rim diameter.
    form : {"metric", "inch", "inch low section", "inch overall"}
    status : str
        Standing of the diameter, one of ``terrain.sources.STATUSES``; empty when it is unknown.
    """

    width_m: float
    diameter_m: float
    section_height_m: float
    rim_diameter_m: float
    form: TyreForm
    status: str = ""

    @property
    def has_diameter(self) -> bool:
        """True when the designation itself fixes the overall diameter."""
        return math.isfinite(self.diameter_m)


def parse_tyre_designation(text: str) -> TyreSize:
    """Return the nominal geometry that the size designation ``text`` stands for.

    Parameters
    ----------
    text : str
        For example ``710/45-26.5``, ``650/60R26.5``, ``24.5-32``, ``30.5L-32`` or ``66x43-25``;
        ply rating, ``TL``/``TT`` and load-speed marks after a blank are ignored. A decimal comma
        is read as a point.

    Returns
    -------
    TyreSize
        Lengths in metres.

    Raises
    ------
    ValueError
        When the text follows none of the forms or its figures cannot be a forest tyre; the
        message names the allowed forms.

    Notes
    -----
    ``metric``: section height h = aspect * b and diameter d = rim + 2 h, which is what the
    designation says. ``inch overall``: d is written out, h = (d - rim) / 2. Both carry the status
    ``common practice, no source``; an actual tyre differs by a few per cent with make and wear.

    ``inch``: d = (1.5 b + 1.06 rim) with b and rim in inches, a rule of thumb for agricultural
    tyres of classic section found only in an old program without a citation (status ``common
    practice, no source``); h = (d - rim) / 2. ``inch low section`` (the letter L) has a flatter
    section than that rule assumes, so diameter and section height stay NaN.

    Examples
    --------
    >>> round(parse_tyre_designation("710/45-26.5").diameter_m, 3)
    1.312
    """
    form, figures = _match(text)
    if form == "metric":
        width, aspect, rim = figures[0] / 1000, figures[1] / 100, figures[2] * INCH_M
        height = aspect * width
        size = TyreSize(width, rim + 2 * height, height, rim, form, "common practice, no source")
    elif form == "inch overall":
        diameter, width, rim = (figure * INCH_M for figure in figures)
        height = (diameter - rim) / 2
        size = TyreSize(width, diameter, height, rim, form, "common practice, no source")
    elif form == "inch low section":
        width, rim = (figure * INCH_M for figure in figures)
        size = TyreSize(width, math.nan, math.nan, rim, form)
    else:
        width, rim = (figure * INCH_M for figure in figures)
        diameter = 1.5 * width + 1.06 * rim
        height = (diameter - rim) / 2
        size = TyreSize(width, diameter, height, rim, form, "common practice, no source")
    _refuse_impossible(text, size)
    return size


def with_decimal_point(text: str) -> str:
    """Return a size designation with points for decimal commas: ``710/45-26.5`` for ``26,5``.

    A comma counts as one between a digit and one or two more; nothing else is changed.
    """
    return _DECIMAL_COMMA.sub(".", text)


def _match(text: str) -> tuple[TyreForm, list[float]]:
    """Form and figures of the designation; ValueError when there is none."""
    cleaned = with_decimal_point(text).strip().upper().replace("×", "X")
    for form, pattern in _FORMS.items():
        found = pattern.fullmatch(cleaned)
        if found:
            return form, [float(figure) for figure in found.groups()]
    raise ValueError(f"{text!r} is no tyre size known here; allowed: {ALLOWED_DESIGNATIONS}")


def _refuse_impossible(text: str, size: TyreSize) -> None:
    """Raise ValueError for figures no wheel of a forest machine can have."""
    known = 0.5 <= size.diameter_m <= 3.0 and 0.05 <= size.section_height_m <= 0.8
    wheel = 0.2 <= size.width_m <= 1.5 and 0.3 <= size.rim_diameter_m <= 1.5
    if not wheel or (size.has_diameter and not known):
        raise ValueError(
            f"{text!r} gives a wheel {size.width_m:.3f} m wide on a {size.rim_diameter_m:.3f} m "
            f"rim, {size.diameter_m:.3f} m high; allowed: {ALLOWED_DESIGNATIONS}"
        )
