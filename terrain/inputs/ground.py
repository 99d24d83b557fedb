"""The state of the ground that a block file states: films and their grip, verified frost."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from terrain.errors import Issue, errors_in
from terrain.inputs.block_tables import FilmTable, GroundTable
from terrain.models.settings import FilmCap, GroundSettings
from terrain.models.soil import NO_FILM, SURFACE_FILMS
from terrain.models.soil_rules import frost_rule
from terrain.sources import data_table

__all__ = [
    "ISSUE_CODES",
    "film_caps_from",
    "film_words",
    "ground_from",
    "published_film_cap",
    "trail_film_issues",
]

ISSUE_CODES = {
    "GND01": "frozen ground without a verified depth of frost, or too thin a frost",
    "GND02": "a grip cap that does not belong to the film",
    "GND03": "the block's film without a known grip cap",
    "GND04": "a published grip cap of plain tyres is in use",
    "GND05": "a grip cap without a source",
    "GND06": "two grip caps for one film",
    "GND07": "a trail's film without a known grip cap",
    "GND08": "a trail's film is none of the allowed words",
}
"""Issue codes of this module and what they stand for."""


@cache
def published_film_cap(film: str) -> tuple[float | None, str]:
    """Published gross traction ratio of plain tyres on ``film``, and its status.

    Returns
    -------
    float or None
        None when no publication was read that gives one.
    str
        Status word, empty without a figure. Source: ``terrain/data/films.toml``.
    """
    for row in data_table("films")["film"]:
        if row["name"] == film and row.get("grip_cap") is not None:
            return float(row["grip_cap"]), str(row.get("status", ""))
    return None, ""


def film_caps_from(
    films: Sequence[FilmTable], where: str
) -> tuple[tuple[FilmCap, ...], list[Issue]]:
    """Known grip of plain tyres by film: the user's ``[[films]]`` before the published figures.

    Parameters
    ----------
    films : sequence of FilmTable
    where : str
        File name for the messages.
    """
    known: dict[str, FilmCap] = {}
    issues = []
    for row in films:
        place = f'{where}, films "{row.name}"'
        if row.name == NO_FILM:
            fix = "Remove it: bare mineral ground has no film."
            issues.append(Issue("GND02", "error", "A film needs a name of its own.", place, fix))
        elif row.name in known:
            fix = "Keep one figure for each film."
            issues.append(Issue("GND06", "error", "The film is named twice.", place, fix))
        else:
            said = row.source.strip()
            if not said:
                what = f"grip_cap = {row.grip_cap:g} has no source."
                fix = "Say in source where the figure comes from."
                issues.append(Issue("GND05", "warning", what, place, fix))
            status = f"user's figure: {said}" if said else "planning assumption"
            known[row.name] = FilmCap(row.name, row.grip_cap, status)
    for film in SURFACE_FILMS:
        cap, status = published_film_cap(film)
        if cap is not None and film not in known:
            known[film] = FilmCap(film, cap, status)
    return tuple(known.values()), issues


def ground_from(
    table: GroundTable, where: str, film_caps: Sequence[FilmCap] | None = None
) -> tuple[GroundSettings | None, list[Issue]]:
    """Turn ``[ground]`` into settings.

    Parameters
    ----------
    table : GroundTable
    where : str
        File name for the messages.
    film_caps : sequence of FilmCap, optional
        As :func:`film_caps_from` gives them; only the published ones when None.

    Returns
    -------
    GroundSettings or None
        None when there is an error. ``film_grip_cap`` is the user's figure, else the published
        one. A film without either is an error: plain tyres would get the grip of bare soil.
    list of Issue
    """
    caps = film_caps_from([], where)[0] if film_caps is None else tuple(film_caps)
    listed = {cap.film: cap for cap in caps}.get(table.film)
    place = f"{where}, ground"
    issues = _frost_issues(table, place)
    cap, status = table.film_grip_cap, "planning assumption"
    if table.film == NO_FILM:
        if cap is not None:
            what = "film_grip_cap is given, but bare mineral ground has no film."
            fix = "Remove it, or name the film that lies on the ground."
            issues.append(Issue("GND02", "error", what, f"{place}.film_grip_cap", fix))
        status = ""
    elif cap is None:
        cap, status = (None, "") if listed is None else (listed.grip_cap, listed.status)
        if cap is None or status == "published":
            issues.append(_cap_issue(table.film, cap, place))
    elif listed is not None and listed.status != "published":
        what = f"film_grip_cap and [[films]] both give a figure for {table.film}."
        issues.append(Issue("GND06", "error", what, f"{place}.film_grip_cap", "Keep one of them."))
    elif not table.film_cap_source.strip():
        what = f"film_grip_cap = {cap:g} has no source."
        fix = "Say in film_cap_source where the figure comes from."
        issues.append(Issue("GND05", "warning", what, f"{place}.film_cap_source", fix))
    else:
        status = f"user's figure: {table.film_cap_source.strip()}"
    if errors_in(issues):
        return None, issues
    return (
        GroundSettings(
            state=table.state,
            film=table.film,
            film_grip_cap=cap,
            film_cap_status=status,
            film_caps=caps,
            frost_depth_m=table.frost_depth_m,
            frost_verified_by=table.frost_verified_by.strip(),
        ),
        issues,
    )


def film_words(
    words: Sequence[str | None], labels: Sequence[str | None], where: str
) -> tuple[list[str | None], list[Issue]]:
    """Films that a trails layer names, in small letters; a word that is none names its trails.

    Parameters
    ----------
    words : sequence of str or None
        One for each row; None where the trail names no film of its own.
    labels : sequence of str or None
        The trails' ids, for the message.
    where : str
        The layer's column, for the message.
    """
    films = [None if word is None else " ".join(word.lower().split()) for word in words]
    wrong: dict[str, list[str]] = {}
    for row, film in enumerate(films):
        if film is not None and film not in SURFACE_FILMS:
            wrong.setdefault(str(words[row]), []).append(labels[row] or f"row {row + 1}")
    fix = f"Allowed: {', '.join(SURFACE_FILMS)}; leave it empty where the block's film lies."
    return films, [
        Issue("GND08", "error", f'no film is called "{word}": trail {", ".join(of)}', where, fix)
        for word, of in wrong.items()
    ]


def trail_film_issues(
    films: Iterable[tuple[object, str | None]], ground: GroundSettings, where: str
) -> list[Issue]:
    """Look for the grip of plain tyres on every film that a trail names.

    Parameters
    ----------
    films : iterable of (str, str or None)
        Trail and the film that it names; None where it names none.
    ground : GroundSettings
    where : str
        File name for the messages.
    """
    trails: dict[str, list[str]] = {}
    for trail, film in films:
        if film is not None and film != NO_FILM:
            trails.setdefault(film, []).append(str(trail))
    issues = []
    for film, of in trails.items():
        known = ground.cap_of(film)
        place = f'{where}, films "{film}"'
        if known is None:
            what = f"{film} lies on {', '.join(of)}, but its grip is not known."
            fix = (
                f'Add [[films]] with name = "{film}", grip_cap = the gross traction ratio of plain '
                "tyres on it (0 to 1) and source = where your figure comes from."
            )
            issues.append(Issue("GND07", "error", what, place, fix))
        elif known.status == "published" and film != ground.film:
            what = f"On {film} ({', '.join(of)}) plain tyres are capped at the published ratio "
            what += f"{known.grip_cap:g} (truck tyres)."
            fix = "Add [[films]] to use your own figure."
            issues.append(Issue("GND04", "note", what, place, fix))
    return issues


def _cap_issue(film: str, cap: float | None, place: str) -> Issue:
    if cap is None:
        return Issue(
            "GND03",
            "error",
            f"The film is {film}, but its grip is not known: no figure is published.",
            f"{place}.film_grip_cap",
            "Enter film_grip_cap, the gross traction ratio of plain tyres on it (0 to 1), with "
            f'film_cap_source, where it comes from; or choose film = "{NO_FILM}".',
        )
    return Issue(
        "GND04",
        "note",
        f"On {film} plain tyres are capped at the published ratio {cap:g} (truck tyres).",
        f"{place}.film_grip_cap",
        "Enter film_grip_cap to use your own figure.",
    )


def _frost_issues(table: GroundTable, place: str) -> list[Issue]:
    depth, by = table.frost_depth_m, table.frost_verified_by.strip()
    if table.state != "frozen":
        if depth is None and not by:
            return []
        what = f'frost_depth_m or frost_verified_by is given, but the state is "{table.state}".'
        fix = 'Remove them, or write state = "frozen".'
        return [Issue("GND01", "error", what, f"{place}.frost_depth_m", fix)]
    issues = []
    for key, missing in (("frost_depth_m", depth is None), ("frost_verified_by", not by)):
        if missing:
            what = f"Frozen ground needs {key}: frost is credited only where somebody verified it."
            fix = "Dig or probe on the trails, or choose another state."
            issues.append(Issue("GND01", "error", what, f"{place}.{key}", fix))
    least = frost_rule().least_depth_m
    if depth is not None and depth < least:
        what = f"frost_depth_m is {depth:g}; frost thinner than {least:g} m is not credited."
        fix = "Choose another state; the site or the local rule says how deep it must be."
        issues.append(Issue("GND01", "error", what, f"{place}.frost_depth_m", fix))
    return issues
