"""The state of the ground that a block file states: film, its grip, verified frost."""

from __future__ import annotations

from functools import cache

from terrain.errors import Issue, errors_in
from terrain.inputs.block_tables import GroundTable
from terrain.models.settings import GroundSettings
from terrain.sources import data_table

__all__ = ["ISSUE_CODES", "ground_from", "published_film_cap"]

ISSUE_CODES = {
    "GND01": "frozen ground without a verified depth of frost",
    "GND02": "a grip cap that does not belong to the film",
    "GND03": "the effect of the surface film is not assessed",
    "GND04": "a published grip cap of plain tyres is in use",
    "GND05": "a grip cap without a source",
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


def ground_from(table: GroundTable, where: str) -> tuple[GroundSettings | None, list[Issue]]:
    """Turn ``[ground]`` into settings.

    Parameters
    ----------
    table : GroundTable
    where : str
        File name for the messages.

    Returns
    -------
    GroundSettings or None
        None when there is an error. ``film_grip_cap`` is the user's figure, else the published
        one, else None: then no cap is applied and a warning says that the film is not assessed.
    list of Issue
    """
    place = f"{where}, ground"
    issues = _frost_issues(table, place)
    cap, status = table.film_grip_cap, "planning assumption"
    if table.film == "bare mineral":
        if cap is not None:
            what = "film_grip_cap is given, but bare mineral ground has no film."
            fix = "Remove it, or name the film that lies on the ground."
            issues.append(Issue("GND02", "error", what, f"{place}.film_grip_cap", fix))
        status = ""
    elif cap is None:
        cap, status = published_film_cap(table.film)
        issues.append(_cap_issue(table.film, cap, place))
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
            frost_depth_m=table.frost_depth_m,
            frost_verified_by=table.frost_verified_by.strip(),
        ),
        issues,
    )


def _cap_issue(film: str, cap: float | None, place: str) -> Issue:
    if cap is None:
        return Issue(
            "GND03",
            "warning",
            f"The film is {film} but no film_grip_cap is given: its effect is not assessed.",
            f"{place}.film_grip_cap",
            "Enter your own gross traction ratio of plain tyres on it, with film_cap_source.",
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
    return issues
