"""The state of the ground that a block file states: films and their grip, verified frost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
    "GND09": "the grip of chains and tracks on packed snow or ice is not known",
    "GND10": "a remoulding index without a source, or a source without an index",
    "GND11": "the block's film is not given",
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
            issues += _gear_belongs(row.name, row.grip_cap_with_aids, f"{place}.grip_cap_with_aids")
            given = {"grip_cap": row.grip_cap, "grip_cap_with_aids": row.grip_cap_with_aids}
            said = row.source.strip()
            if not said:
                issues += _sourceless(given, "source", place)
            status = f"user's figure: {said}" if said else "planning assumption"
            cap, standing = row.grip_cap, status
            if cap is None:
                cap, standing = published_film_cap(row.name)
            if cap is None:
                issues.append(_cap_issue(row.name, None, place, "grip_cap", "source"))
                continue
            aids = row.grip_cap_with_aids
            known[row.name] = FilmCap(row.name, cap, standing, aids, "" if aids is None else status)
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
        one. A film without either is an error: plain tyres would get the grip of bare soil. Gear
        that bites into packed snow or ice has the user's figure or none, which is a warning.
    list of Issue
    """
    caps = film_caps_from([], where)[0] if film_caps is None else tuple(film_caps)
    listed = {cap.film: cap for cap in caps}.get(table.film)
    place = f"{where}, ground"
    issues = [*_frost_issues(table, place), *_remoulding_issues(table, place)]
    said = table.film_cap_source.strip()
    given = {
        "film_grip_cap": table.film_grip_cap,
        "film_grip_cap_with_aids": table.film_grip_cap_with_aids,
    }
    own = f"user's figure: {said}" if said else "planning assumption"
    cap, status = table.film_grip_cap, own
    aids, aids_status = table.film_grip_cap_with_aids, own
    if table.film == NO_FILM:
        for key in (key for key, value in given.items() if value is not None):
            what = f"{key} is given, but bare mineral ground has no film."
            fix = "Remove it, or name the film that lies on the ground."
            issues.append(Issue("GND02", "error", what, f"{place}.{key}", fix))
        status = aids_status = ""
    else:
        issues += _gear_belongs(table.film, aids, f"{place}.film_grip_cap_with_aids")
        issues += _given_twice(table, listed, place)
        if not said:
            issues += _sourceless(given, "film_cap_source", place)
        if cap is None:
            cap, status = (None, "") if listed is None else (listed.grip_cap, listed.status)
            if cap is None or status == "published":
                issues.append(_cap_issue(table.film, cap, place))
        if aids is None:
            aids, aids_status = (None, "")
            if listed is not None and listed.cap_with_aids is not None:
                aids, aids_status = listed.cap_with_aids, listed.aids_status
        if not errors_in(issues):
            key = f"{place}.film_grip_cap_with_aids"
            issues += _gear_issue(table.film, aids, "the block", key, "film_grip_cap_with_aids")
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
            film_grip_cap_with_aids=aids,
            film_aids_status=aids_status,
            remoulding_index=table.remoulding_index,
            remoulding_source=table.remoulding_source.strip(),
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
        if known is not None and film != ground.film:
            key = f"{place}.grip_cap_with_aids"
            gear = _gear_issue(film, known.cap_with_aids, ", ".join(of), key, "grip_cap_with_aids")
            issues += gear
    return issues


def _cap_issue(
    film: str,
    cap: float | None,
    place: str,
    key: str = "film_grip_cap",
    source_key: str = "film_cap_source",
) -> Issue:
    if cap is None:
        return Issue(
            "GND03",
            "error",
            f"The film is {film}, but its grip is not known: no figure is published.",
            f"{place}.{key}",
            f"Enter {key}, the gross traction ratio of plain tyres on it (0 to 1), with "
            f'{source_key}, where it comes from; or choose film = "{NO_FILM}".',
        )
    return Issue(
        "GND04",
        "note",
        f"On {film} plain tyres are capped at the published ratio {cap:g} (truck tyres).",
        f"{place}.{key}",
        f"Enter {key} to use your own figure.",
    )


def _bites_through(film: str) -> bool:
    """Whether chains and grousers reach the ground below the film."""
    return any(row["name"] == film and row["bites_through"] for row in data_table("films")["film"])


def _gear_belongs(film: str, aids: float | None, place: str) -> list[Issue]:
    """A figure for gear on a film that it bites through would count for nothing."""
    if aids is None or not _bites_through(film):
        return []
    what = f"Chains and tracks bite through {film} to the ground below: no cap on them is used."
    fix = "Remove it: it belongs to packed snow and ice."
    return [Issue("GND02", "error", what, place, fix)]


def _gear_issue(film: str, aids: float | None, where: str, place: str, key: str) -> list[Issue]:
    """Gear that only bites into the film, without a figure of what it holds."""
    if aids is not None or _bites_through(film):
        return []
    what = (
        f"{film} lies on {where}: chains and tracks bite into it, not through it to the soil. What "
        "they hold there is not known, so nothing is assessed there for setups that have them."
    )
    fix = (
        f"Enter {key}, the share of its weight that a wheel with chains or tracks pulls on it "
        "(0 to 1), with where it comes from: a pull test on the site."
    )
    return [Issue("GND09", "warning", what, place, fix)]


def _given_twice(table: GroundTable, listed: FilmCap | None, place: str) -> list[Issue]:
    """Figures for the block's film in [ground] and in [[films]] too."""
    if listed is None:
        return []
    pairs = (
        ("film_grip_cap", table.film_grip_cap, listed.status not in ("", "published")),
        (
            "film_grip_cap_with_aids",
            table.film_grip_cap_with_aids,
            listed.cap_with_aids is not None,
        ),
    )
    return [
        Issue(
            "GND06",
            "error",
            f"{key} and [[films]] both give a figure for {table.film}.",
            f"{place}.{key}",
            "Keep one of them.",
        )
        for key, value, there in pairs
        if value is not None and there
    ]


def _sourceless(given: Mapping[str, float | None], key: str, place: str) -> list[Issue]:
    """Figures that do not say where they come from."""
    named = " and ".join(f"{name} = {v:g}" for name, v in given.items() if v is not None)
    if not named:
        return []
    fix = f"Say in {key} where it comes from."
    return [Issue("GND05", "warning", f"No source is given for {named}.", f"{place}.{key}", fix)]


def _remoulding_issues(table: GroundTable, place: str) -> list[Issue]:
    """The index that turns a cone index into a rating cone index, and who measured it."""
    if (table.remoulding_index is None) == (not table.remoulding_source.strip()):
        return []
    key = "remoulding_source" if table.remoulding_index is not None else "remoulding_index"
    what = f"{key} is missing: the other one of the pair is given."
    fix = "Give the figure and say who measured it, where and how; or remove both."
    return [Issue("GND10", "warning", what, f"{place}.{key}", fix)]


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
