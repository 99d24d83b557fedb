"""Read a catalogue of traction aids: the one of the user, or the generic one that is shipped."""

from __future__ import annotations

import hashlib
import math
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from pydantic import Field

from terrain.errors import Issue, errors_in
from terrain.inputs.toml_files import StrictTable, check_table, read_toml, without_unknown_keys
from terrain.inputs.unit_slips import slip_advice
from terrain.models.aids import SUPPLIERS_FIGURE, Aid, AidEffect
from terrain.models.tyre_size import parse_tyre_designation, with_decimal_point
from terrain.sources import STATUSES, data_table

if TYPE_CHECKING:
    from terrain.inputs.loaded import InputFile

__all__ = ["ISSUE_CODES", "aids_from", "read_aids"]

ISSUE_CODES = {
    "AID01": "a figure is implausible for a traction aid",
    "AID02": "two rows share a key",
    "AID03": "a row lacks what its kind needs, or has what its kind cannot have",
    "AID04": "a tyre size is not understood",
    "AID05": "a status is not one of the allowed words",
    "AID06": "the outer dual tyre is as large as the inner one",
    "AID07": "a grip factor is beyond what any trial suggests",
    "AID08": "the generic catalogue is in use",
    "AID09": "an effect is not known, or has a key of its own",
    "AID10": "the figures of an effect are missing, out of order or implausible",
    "AID11": "a figure of an aid is given twice",
}
"""Issue codes of this module and what they stand for."""

ALLOWED_STATUSES = (SUPPLIERS_FIGURE, *(word for word in STATUSES if word != SUPPLIERS_FIGURE))
"""Words for the standing of a figure in a catalogue."""

SHIPPED = "aids.toml (shipped generic catalogue)"
GRIP_FACTOR_RANGE = (1.0, 1.15)
"""Range to try for chains: trials show a direction only, so this is a planning assumption."""

_PLAUSIBLE = {
    "mass_kg": (20.0, 8000.0),
    "width_m": (0.2, 1.5),
    "contact_length_m": (0.3, 4.0),
    "thickness_m": (0.0, 0.2),
    "grouser_height_m": (0.0, 0.3),
    "shoe_inner_width_m": (0.3, 1.5),
    "shoe_area_m2": (0.01, 0.5),
    "outer_diameter_m": (0.6, 2.6),
    "speed_cap_km_h": (1.0, 60.0),
}


class EffectTable(StrictTable):
    """One ``[[aid.effect]]``: a figure of the supplier in the place of the generic one."""

    quantity: str = Field(
        description="what changes, as 'rutwise setups MACHINE --effects' names it"
    )
    source: str = Field(min_length=1, description="where the figure comes from")
    likely: float | None = Field(None, description="the figure, in the unit of the quantity")
    low: float | None = Field(None, description="low end of its range")
    high: float | None = Field(None, description="high end of its range")
    status: str = Field(SUPPLIERS_FIGURE, description="standing of the figure")
    note: str = Field("", description="what to know about it")


class AidTable(StrictTable):
    """One ``[[aid]]``."""

    key: str = Field(
        pattern=r"^[a-z0-9][a-z0-9._-]*$",
        description="short id of small letters a to z, digits, points and hyphens, no blanks",
    )
    name: str = Field(min_length=1, description="what people call it")
    kind: Literal["chains", "wheel track", "band track", "dual tyres"]
    mass_kg: float = Field(gt=0, description="mass on one axle group, both sides, in kg")
    band_kind: Literal["open traction", "closed flotation"] | None = None
    axle_kind: Literal["single", "bogie"] | None = None
    width_m: float | None = Field(None, gt=0, description="contact width in metres")
    contact_length_m: float | None = Field(None, gt=0, description="on hard ground, metres")
    thickness_m: float = Field(0.0, ge=0, description="what it adds to the radius, metres")
    grouser_height_m: float | None = Field(None, ge=0, description="metres")
    shoe_inner_width_m: float | None = Field(None, gt=0, description="room for the tyre, metres")
    shoe_area_m2: float | None = Field(None, gt=0, description="one shoe, square metres")
    outer_diameter_m: float | None = Field(None, gt=0, description="outer dual tyre, metres")
    fits_tyres: list[str] = Field([], description="tyre size designations it is made for")
    grip_through_film: bool = Field(False, description="true when it bites through a film")
    grip_factor: float = Field(1.0, gt=0, le=2, description="multiplies the traction of the soil")
    speed_cap_km_h: float | None = Field(None, gt=0, description="km/h")
    status: str | dict[str, str] = Field("planning assumption", description="standing of figures")
    source: str = Field("", description="where the figures come from")
    where: str = Field("", description="table or page")
    notes: str = Field("", description="free text")
    effect: list[EffectTable] = Field([], description="figures in the place of generic effects")


class AidFile(StrictTable):
    """A whole catalogue."""

    aid: list[AidTable] = Field(min_length=1, description="one [[aid]] for each traction aid")


def read_aids(
    path: str | Path | None = None, name: str | None = None
) -> tuple[tuple[Aid, ...], InputFile | None, list[Issue]]:
    """Read and check a catalogue of traction aids.

    Parameters
    ----------
    path : str or Path, optional
        The user's catalogue; the shipped generic one when None (a warning says so, because its
        masses are planning assumptions).
    name : str, optional
        File name to show and to record.

    Returns
    -------
    tuple of Aid
        In the order of the file; masses in kg for one axle group, lengths in metres. Empty when
        there is an error.
    InputFile or None
        Role ``aids``.
    list of Issue
        Every fault at once.
    """
    from terrain.inputs.loaded import InputFile

    if path is None:
        raw = resources.files("terrain.data").joinpath("aids.toml").read_bytes()
        aids, issues = aids_from(data_table("aids"), SHIPPED)
        issues.append(
            Issue(
                "AID08",
                "warning",
                "The generic catalogue of aids is in use; most of its figures, and nearly all "
                "masses, are planning assumptions.",
                SHIPPED,
                "Enter the supplier's masses, widths and tyre sizes in your own catalogue.",
            )
        )
        return aids, InputFile("aids", SHIPPED, hashlib.sha256(raw).hexdigest()), issues
    where = name or str(path)
    file, issues = read_toml(path, "aid catalogue")
    if file is None:
        return (), None, issues
    aids, found = aids_from(file.table, where)
    return aids, InputFile("aids", where, file.sha256), issues + found


def aids_from(table: dict[str, Any], where: str) -> tuple[tuple[Aid, ...], list[Issue]]:
    """Check the parsed ``table`` of a catalogue and build its aids; see :func:`read_aids`."""
    checked, issues = check_table(AidFile, table, where)
    if checked is None:
        checked, _ = check_table(AidFile, without_unknown_keys(AidFile, table), where)
    if checked is None:
        return (), issues
    first_row: dict[str, int] = {}
    for number, row in enumerate(checked.aid, start=1):
        place = f"{where}, aid[{number}] {row.key}"
        if row.key in first_row:
            what = f"The key {row.key} is used by aid[{first_row[row.key]}] already."
            issues.append(Issue("AID02", "error", what, place, "Give each row its own key."))
        first_row.setdefault(row.key, number)
        issues += _effect_issues(row, place)
        issues += _kind_issues(row, place) + _figure_issues(row, place)
        issues += _tyre_issues(row, place) + _status_issues(row, place)
    if errors_in(issues):
        return (), issues
    return tuple(_aid(row) for row in checked.aid), issues


def _aid(row: AidTable) -> Aid:
    left_out = {"source", "where", "status", "notes", "fits_tyres", "effect"}
    keys = row.model_dump(exclude=left_out)
    source = ", ".join(part for part in (row.source, row.where) if part)
    notes = " ".join(part for part in (row.notes, f"Source: {source}." if source else "") if part)
    status = row.status
    if isinstance(status, str):
        status = dict.fromkeys(_figures(row), status)
    else:
        status = {key: status.get(key, "planning assumption") for key in _figures(row)}
    for effect in row.effect:
        field = _quantities()[effect.quantity].get("field")
        if field and effect.likely is not None:
            keys[field], status[field] = effect.likely, effect.status
    return Aid(
        fits_tyres=tuple(with_decimal_point(size) for size in row.fits_tyres),
        status=MappingProxyType(status),
        notes=notes,
        source=source,
        effects=tuple(AidEffect(**effect.model_dump()) for effect in row.effect),
        **keys,
    )


def _quantities() -> dict[str, dict[str, Any]]:
    """Rows of the quantities that an aid can change, by name."""
    return {row["name"]: row for row in data_table("effects")["quantity"]}


def _figures(row: AidTable) -> list[str]:
    """Keys of the row that hold a number, or a yes or no, which somebody wrote down."""
    return [
        key
        for key in AidTable.model_fields
        if key in row.model_fields_set and isinstance(getattr(row, key), float | bool)
    ]


def _kind_issues(row: AidTable, place: str) -> list[Issue]:
    needs = {
        "chains": (),
        "wheel track": ("width_m",),
        "band track": ("width_m", "band_kind"),
        "dual tyres": ("width_m", "outer_diameter_m"),
    }[row.kind]
    cannot = {
        "chains": (
            "width_m",
            "contact_length_m",
            "band_kind",
            "shoe_inner_width_m",
            "shoe_area_m2",
            "outer_diameter_m",
        ),
        "wheel track": ("band_kind", "shoe_area_m2", "outer_diameter_m"),
        "band track": ("outer_diameter_m",),
        "dual tyres": (
            "contact_length_m",
            "band_kind",
            "shoe_inner_width_m",
            "shoe_area_m2",
            "grouser_height_m",
        ),
    }[row.kind]
    issues = []
    for key in needs:
        if getattr(row, key) is None:
            what, fix = f"{row.kind} need {key}.", "Add it from the supplier's data."
            issues.append(Issue("AID03", "error", what, f"{place}.{key}", fix))
    for key in cannot:
        if getattr(row, key) is not None:
            what, fix = f"{row.kind} have no {key}.", "Remove it, or correct kind."
            issues.append(Issue("AID03", "error", what, f"{place}.{key}", fix))
    return issues


def _figure_issues(row: AidTable, place: str) -> list[Issue]:
    issues = []
    for key, (low, high) in _PLAUSIBLE.items():
        value = getattr(row, key)
        if value is not None and not low <= value <= high:
            what = f"{key} is {value:g}; {low:g} to {high:g} can be right."
            fix = slip_advice(key, value, low, high) or "Check the figure and its unit."
            issues.append(Issue("AID01", "error", what, f"{place}.{key}", fix))
    low, high = GRIP_FACTOR_RANGE
    given = [e.likely for e in row.effect if e.quantity == "grip on soil" and e.likely is not None]
    grip = given[0] if given else row.grip_factor
    if not low <= grip <= high:
        what = f"grip_factor is {grip:g}; trials give no reason to leave "
        what += f"{low:.2f} to {high:.2f}."
        fix = "Keep to the range unless you have measurements; say in notes where they come from."
        issues.append(Issue("AID07", "warning", what, f"{place}.grip_factor", fix))
    return issues


def _effect_issues(row: AidTable, place: str) -> list[Issue]:
    """Faults of the ``[[aid.effect]]`` tables of one aid."""
    known = _quantities()
    issues = []
    seen: set[str] = set()
    for number, effect in enumerate(row.effect, start=1):
        here = f"{place}.effect[{number}]"
        quantity = known.get(effect.quantity)
        if quantity is None:
            what = f'The effect "{effect.quantity}" is not known.'
            names = [name for name, other in known.items() if "entered_as" not in other]
            fix = f"Allowed: {'; '.join(names)}."
            issues.append(Issue("AID09", "error", what, f"{here}.quantity", fix))
            continue
        key = quantity.get("entered_as")
        if key:
            what = f'"{effect.quantity}" has a key of its own in the catalogue.'
            fix = f"Enter {key} in the [[aid]] table instead, with its status."
            issues.append(Issue("AID09", "error", what, f"{here}.quantity", fix))
            continue
        if effect.quantity in seen or quantity.get("field") in row.model_fields_set:
            what = f'"{effect.quantity}" is given twice.'
            fix = "Keep one of the two."
            issues.append(Issue("AID11", "error", what, f"{here}.quantity", fix))
        seen.add(effect.quantity)
        issues += _range_issues(effect, quantity, here)
        if effect.status not in ALLOWED_STATUSES:
            what = f'The status "{effect.status}" is not known.'
            fix = f"Allowed: {', '.join(ALLOWED_STATUSES)}."
            issues.append(Issue("AID05", "error", what, f"{here}.status", fix))
    return issues


def _range_issues(effect: EffectTable, quantity: dict[str, Any], here: str) -> list[Issue]:
    unit = quantity["unit"]
    figures = [f for f in (effect.low, effect.likely, effect.high) if f is not None]
    least, most = quantity.get("low", -math.inf), quantity.get("high", math.inf)
    what = ""
    if "low" not in quantity and figures:
        what, fix = f'"{effect.quantity}" has no figure.', "Say it in note."
    elif effect.likely is None and (figures or not effect.note):
        what = f'"{effect.quantity}" lacks its figure.'
        fix = f"Give likely ({unit})." if unit else "Say it in note."
    elif figures != sorted(figures):
        what, fix = "low, likely and high are not in this order.", "Sort them."
    elif figures and not (least <= figures[0] and figures[-1] <= most):
        given = ", ".join(f"{figure:g}" for figure in figures)
        what = f"{given} is given; {least:g} to {most:g} can be right."
        fix = f"Check the figure; it is the {unit}."
    if not what:
        return []
    return [Issue("AID10", "error", what, here, fix)]


def _tyre_issues(row: AidTable, place: str) -> list[Issue]:
    issues = []
    for designation in row.fits_tyres:
        try:
            size = parse_tyre_designation(designation)
        except ValueError as error:
            fix = "Write the size as it stands on the sidewall."
            issues.append(Issue("AID04", "error", f"{error}.", f"{place}.fits_tyres", fix))
            continue
        inner = math.inf if math.isnan(size.diameter_m) else size.diameter_m
        if row.outer_diameter_m is not None and row.outer_diameter_m >= inner:
            what = f"The outer tyre is {row.outer_diameter_m:g} m high, the inner "
            what += f"{with_decimal_point(designation)} {inner:.3f} m."
            fix = "The outer tyre must be smaller, or the wheel bearing is overloaded."
            issues.append(Issue("AID06", "error", what, f"{place}.outer_diameter_m", fix))
    if not row.fits_tyres:
        what = "fits_tyres is not given, so nobody can tell whether the aid fits."
        fix = "List the tyre sizes the supplier names."
        issues.append(Issue("AID04", "warning", what, f"{place}.fits_tyres", fix))
    return issues


def _status_issues(row: AidTable, place: str) -> list[Issue]:
    words = {"": row.status} if isinstance(row.status, str) else row.status
    issues = []
    for key, word in words.items():
        if word not in ALLOWED_STATUSES:
            what = f'The status "{word}" is not known.'
            fix = f"Allowed: {', '.join(ALLOWED_STATUSES)}."
            issues.append(Issue("AID05", "error", what, f"{place}.status {key}".strip(), fix))
        if key and key not in AidTable.model_fields:
            what, fix = f"status names {key}, which is no key of an aid.", "Correct the key."
            issues.append(Issue("AID05", "error", what, f"{place}.status", fix))
    return issues
