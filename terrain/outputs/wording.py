"""Every sentence and every number as people read them, in one place.

Importing this module loads nothing heavy, so that the command line may use it for its help.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = [
    "BLOCKS",
    "CAUTIONS",
    "DEFERRAL",
    "DEFINITIONS",
    "FIELD_CHECKS",
    "INVENTED",
    "SIGN_OFF",
    "UNKNOWN",
    "code_list",
    "count",
    "grouped",
    "listed",
    "outcome_mark",
    "percent_words",
    "slope_words",
]

DEFERRAL = (
    "Rutwise approves nothing: the manufacturer's approval, the site's rules, local codes and a "
    "competent person in the field decide."
)
"""The one sentence that every output carries."""

INVENTED = "Invented demonstration data: no such block, machine or aid exists."
"""Said on every output of a block or machine that is marked as invented."""

UNKNOWN = "not known"
"""What stands where a value is missing."""

CAUTIONS: tuple[str, ...] = (
    "Slopes are read from a grid of elevations. The machine may stand steeper: holes, stumps, "
    "stones, banks and ditches smaller than a few cells are not in it.",
    "A short pitch can be steeper than the stretch around it. Look at the worst figure of a trail "
    "as well as at its usual one.",
    "Traction aids help a machine to pull and to hold. They do not make it more stable, and no "
    "rule read for this program allows steeper ground because of them.",
    "Overturning, braking distance and steering are not assessed. Cross slope is shown so that "
    "somebody checks it; travel straight up and down wherever the trail allows.",
    "Slope rules differ between countries and sites, and many hold only under conditions. The "
    "machine's manual and the site's own rule decide.",
    "Winch assist is a different class of risk, with its own anchors, ropes, training and "
    "approval. Nothing here speaks for or against it.",
    "Direction of travel, load, rain, thaw, frost, snow and ice change the answer. Plan again "
    "when they change, and look again on the day.",
    "Soil classes come from mapped polygons. Drains, springs and earlier traffic can make the "
    "ground much softer than its polygon.",
    "Ground pressure is nominal: a load over a conventional area. Real pressure under a tyre or a "
    "track plate is higher in places, and a low figure is no proof of little damage.",
    "Scores compare the setups of this run only. They mean nothing beside those of another block.",
    "If wheels spin, the machine slides, water runs in the trail, mud flows out of the ruts or "
    "anybody is unsure: stop and ask. Freeing a bogged machine is a dangerous job of its own.",
)
"""The usual cautions, in our words."""

BLOCKS: tuple[str, str, str, str] = (
    "Basic facts",
    "Description",
    "Instruction and consideration",
    "Follow-up",
)
"""The four blocks of a work order, in the order proposed by Mörk, Sääf and Jönsson (2017)."""

SIGN_OFF: tuple[tuple[str, str], ...] = (
    ("Manufacturer's approval of the setup", "document number and date"),
    ("Aid supplier's approval for these tyres", "document number and date"),
    ("Site's rules and local codes accepted", "which rule, by whom"),
    ("Tyre and aid identification", "sizes and numbers read on the machine"),
    ("Inflation pressures set, cold", "kPa per axle, date"),
    ("Walked in the field by a competent person", "name, date, ground and weather"),
    ("Who may stop the work", "everybody; named contact"),
    ("Planner", "name, date, signature"),
    ("Forester or owner", "name, date, signature"),
    ("Contractor and operator", "name, date, signature"),
)
"""What somebody signs, and what belongs on the line."""

FIELD_CHECKS: tuple[str, ...] = (
    "Walk the stretches that are short of traction, over the bearing capacity or not assessed.",
    "Measure grade and cross slope there over one machine length, and the soil's strength where "
    "the class is in doubt.",
    "Look behind the first machine: a print in firm soil, shoulders pushed up, or soil that flows "
    "out like mud. At the last one stop; the site's own stop rule stands above this one.",
    "Note passes, rain and pressures by trail and day, and photograph the worst places.",
    "Write down every deviation from this plan, and agree it with the planner before driving.",
)
"""What to look at before and during the work."""

DEFINITIONS: dict[str, str] = {
    "Setup": "What the wheels of the two axle groups carry: nothing, chains, wheel tracks, band "
    "tracks over a bogie, or dual tyres.",
    "Traction reserve": "How much steeper the trail could be, at the slip limit, before the "
    "machine no longer climbs or holds. Below zero it is short. The smaller of loaded (toward the "
    "landing) and empty (away from it).",
    "Short": "The traction reserve is below zero.",
    "Outcome": "Suits, suits with measures, cannot tell, does not suit: for traction; pressure and "
    "ratings stand beside it and do not change it. With measures: what stays short does so under "
    "every listed setup, and that and what is not assessed is little. Cannot tell: too much is not "
    "assessed.",
    "Nominal ground pressure": "Weight on an axle group over its conventional contact area. It is "
    "not the real pressure in the soil.",
    "Pressure ratio": "Largest nominal ground pressure over the likely bearing capacity of the "
    "soil class. Above 1 it is over.",
    "Uphill, downhill": "Along the trail, in the direction of loaded travel toward the landing.",
    "Cross slope": "Slope at a right angle to the trail.",
    "Pass": "One movement of a machine over a place. A load is two passes, empty in and loaded "
    "out; the harvester's are added.",
    "Rut class": "Class of rut depth with a band from low to high. Not a depth that was promised: "
    "look behind the first machine.",
    "Wet": "Wet-soil exposure in the chosen moisture state.",
    "Stretch": "Metres in a row on one trail that decide in the same way: no setup passes there, "
    "the lightest usual setup falls short, the ground is over its bearing capacity, or little "
    "traction is to spare. Its name is the trail and the metre at which it starts: T14-0.",
    "Remedy": "What could bring the machine over a stretch, such as a smaller load, drier ground, "
    "another line or brash. Each is worked out again: yes means that no metre of the stretch stays "
    "short and none becomes short elsewhere.",
    "Season": "The block in each moisture state, from dry to saturated, and frozen where somebody "
    "verified the frost: when to move in. The calendar is not looked at.",
    "Doubt": "How sure the answer is. It is worked out again many times, each time with soil, "
    "slope and load a little different; told is how often a setup meets the need. It says what the "
    "inputs leave open and promises nothing about the ground.",
    "Work ratio": "Motion-resistance work of one round trip over all trails, relative to bare "
    "wheels.",
    "Usual practice, ask first": "Whether the trade commonly runs this combination, or the "
    "manufacturer has to be asked before anything else. Both need the manufacturer's approval.",
}
"""The words of the outputs."""

_OUTCOME_MARKS = {
    "suits": "\N{BLACK CIRCLE}",
    "suits with measures": "\N{CIRCLE WITH LEFT HALF BLACK}",
    "cannot tell": "\N{DOTTED CIRCLE}",
    "does not suit": "\N{WHITE CIRCLE}",
}
_MINUS = "\N{MINUS SIGN}"


def grouped(value: float, digits: int = 0) -> str:
    """Return a number with its thousands set apart, a true minus sign, and none before zero."""
    text = f"{value:,.{digits}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if text.startswith("-"):
        text = text[1:] if float(f"{value:.{digits}f}") == 0 else _MINUS + text[1:]
    return text


def _known(value: float | None) -> bool:
    return value is not None and math.isfinite(float(value))


def slope_words(ratio: float | None) -> str:
    """Return a slope ratio as percent and degrees together, ``18 % (10°)``; sign kept.

    Below 1 % a decimal is shown; a negative ratio that would read as 0 says so, because the sign
    decides.
    """
    if ratio is None or not _known(ratio):
        return UNKNOWN
    percent, degrees = 100 * float(ratio), math.degrees(math.atan(float(ratio)))
    if -0.05 < percent < 0:
        return "just below 0 % (0°)"
    digits = 1 if 0 < abs(percent) < 1 else 0
    return f"{grouped(percent, digits)} % ({grouped(degrees, digits)}°)"


def percent_words(share: float | None) -> str:
    """Write a share that is no slope (slip, load) as whole percent; unknown stays unknown."""
    return f"{grouped(100 * share)} %" if share is not None and _known(share) else UNKNOWN


def count(number: int, one: str, many: str | None = None) -> str:
    """Return ``1 trail`` or ``3 trails``; ``many`` defaults to ``one`` with an s."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(parts: Sequence[str], most: int, more: str = "more") -> str:
    """Join ``parts`` with semicolons; of the rest only the number is told."""
    rest = len(parts) - most
    return "; ".join([*parts[:most], *([f"{rest} {more}"] if rest > 0 else [])])


def code_list(codes: Sequence[str] | str | None) -> tuple[str, ...]:
    """Return rule codes one by one; text may part them by commas, semicolons or blanks."""
    if not isinstance(codes, str):
        return tuple(str(code) for code in codes) if codes is not None else ()
    return tuple(codes.replace(";", " ").replace(",", " ").split())


def outcome_mark(outcome: str) -> str:
    """Return the mark that stands beside an outcome: full, half or empty circle."""
    return _OUTCOME_MARKS.get(outcome, "\N{BULLET}")
