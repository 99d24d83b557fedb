"""All that the brief says, in one language, as plain data: both pages are laid out from it."""

from __future__ import annotations

from typing import Any

from terrain.decision.results import Plan
from terrain.outputs.brief_ground import keep_out_section, water_section, weak_section
from terrain.outputs.brief_setup import BLANK, carry_section, checks_section, stop_section
from terrain.outputs.brief_trails import trails_section
from terrain.outputs.brief_words import Figures, Units, short_name
from terrain.outputs.catalogue import LANGUAGES, catalogue, mark
from terrain.outputs.page_parts import invented_words, keyed
from terrain.outputs.wording import DEFERRAL

__all__ = ["DRAFT", "brief_content"]

DRAFT = mark("Unreviewed draft translation, made by a machine. The English brief decides.")
"""Said in both languages on every page in a language whose catalogue nobody has reviewed."""


def brief_content(plan: Plan, language: str = "en", units: Units = "metric") -> dict[str, Any]:
    """Return the brief of ``plan`` as dicts, lists and strings, ready for both layouts.

    Parameters
    ----------
    plan : Plan
    language : str
        Code of :data:`terrain.outputs.catalogue.LANGUAGES`.
    units : str
        ``metric`` or ``us``. Slopes are percent and degrees in both.

    Raises
    ------
    ValueError
        No such language or system of units.
    """
    if units not in ("metric", "us"):
        raise ValueError(f"no units {units!r}; there are: metric, us")
    words = catalogue(language)
    say, term = words.say, words.term
    figures = Figures(words, units)
    invented = invented_words(plan)
    state = term(plan.settings.ground.state)
    frozen = plan.settings.ground.state == "frozen"
    return {
        "language": language,
        "language_name": LANGUAGES[language],
        "title": say("Operator's brief"),
        "block": short_name(plan.name, 70),
        "machine": short_name(plan.machine.name, 60),
        "ground": " ".join(
            [say("Ground in this plan: {state}.", state=state), *_frost(plan, figures)]
        ),
        "changed": say("Thaw? Stop and ask.") if frozen else say("Wetter than that? Stop and ask."),
        "draft": [say(DRAFT), DRAFT] if words.draft else [],
        "invented": term(invented) if invented else "",
        "deferral": term(DEFERRAL),
        "made": say(
            "Made by Rutwise {version}. Figures, sources and doubt: report.html.",
            version=plan.version,
        ),
        "grid": say("Map grid: {grid}.", grid=_grid_name(plan.dem.crs)),
        "carry": carry_section(plan, figures),
        "keep_out": keep_out_section(plan, figures),
        "weak": weak_section(plan, figures),
        "stop": stop_section(plan, figures),
        "checks": checks_section(plan, figures),
        "water": water_section(plan, figures),
        "direction": _direction(plan, figures),
        "trails": trails_section(plan, figures),
        "emergency": _emergency(plan, figures),
        "record": {
            "title": say("Write down"),
            "lines": [
                say("Date, rain, passes on each trail."),
                say("Cold tyre pressures."),
                say("Ruts: place, kind, photo."),
                say("Every deviation; agree it before you drive."),
            ],
        },
        "map": {"title": say("Map"), "alt": say("Map of the trails with their names")},
    }


def _grid_name(crs: str) -> str:
    """Name of the working CRS, its code behind it where it has one."""
    from pyproj import CRS

    name = short_name(CRS(crs).name, 60)
    return f"{name} ({crs})" if crs.startswith("EPSG:") else name


def _frost(plan: Plan, figures: Figures) -> list[str]:
    """The frost that the state rests on, where somebody verified one."""
    ground = plan.settings.ground
    if ground.state != "frozen" or ground.frost_depth_m is None:
        return []
    return [
        figures.words.say(
            "Frost: {depth}, verified by {name}. How deep it must be for this machine is the "
            "site's or the local rule's word.",
            depth=figures.depth(100 * ground.frost_depth_m),
            name=short_name(ground.frost_verified_by, 40) or BLANK,
        )
    ]


def _direction(plan: Plan, figures: Figures) -> dict[str, Any]:
    say = figures.words.say
    names = [short_name(str(name), 24) for name in keyed(plan.landings, "landing")["landing"]]
    lines = [
        say(
            "Loaded, go to the landing, as the arrows show: {landings}.", landings=", ".join(names)
        ),
        say("Another direction or a bigger load changes the answer. Ask first."),
    ]
    return {"title": say("Direction and order"), "lines": lines}


def _emergency(plan: Plan, figures: Figures) -> dict[str, Any]:
    """The meeting point with both kinds of coordinates, or lines to fill in."""
    say = figures.words.say
    title, point = say("Emergency"), plan.emergency
    call = say("Call: {line}", line=BLANK)
    if point is None:
        return {"title": title, "lines": [say("Meeting point: {line}", line=BLANK), call]}
    from pyproj import Transformer

    to_degrees = Transformer.from_crs(plan.dem.crs, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(point.x_m, point.y_m)
    lines = [
        say("Meeting point: {line}", line=short_name(point.name, 60)),
        f"{abs(lat):.5f}° {'N' if lat >= 0 else 'S'}  {abs(lon):.5f}° {'E' if lon >= 0 else 'W'}",
        f"E {point.x_m:.0f}  N {point.y_m:.0f}",
    ]
    lines.append(short_name(point.note, 160) if point.note else call)
    return {"title": title, "lines": lines}
