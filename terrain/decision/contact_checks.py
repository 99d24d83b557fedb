"""Contacts of a catalogue that cannot be those of the machine's wheels, before they lower pressure.

A contact length divides the load, so a slip of a digit would make an aid look gentle. What is
refused is longer than geometry allows; what is warned of is longer or narrower than usual.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from terrain.errors import Issue
from terrain.mechanics.contact import bogie_contact_length_m
from terrain.models.aids import Aid
from terrain.models.machine import AxleGroup, Machine
from terrain.setups.combinations import axle_name, made_for

__all__ = ["ISSUE_CODES", "contact_issues"]

ISSUE_CODES = {
    "CTC01": "the contact of an aid is longer than the wheels that carry it allow",
    "CTC02": "the contact of an aid is longer or narrower than usual on these wheels",
}

_LONG = 1.25
"""Of the nominal length of a wheel track, from where it is asked about: planning assumption."""


def contact_issues(machine: Machine, aids: Iterable[Aid], where: str = "aids") -> list[Issue]:
    """Hold the contact of every aid against the wheels of the machine that it is made for.

    Parameters
    ----------
    machine : Machine
    aids : iterable of Aid
    where : str
        Name of the catalogue, for the place of an issue.

    Returns
    -------
    list of Issue
        CTC01 (error): a band track's contact longer than bogie spacing and 1.25 radii (the longest
        form that is used for deep soft ground, from memory), a wheel track's longer than the chord
        of a tyre that is pressed down by all of its section height. CTC02 (warning): a band track's
        longer than the bogie spacing and 0.25 m, the longest that published pressures imply
        (Uusitalo & Ala-Ilomäki 2013); a wheel track's longer than 1.25 of its nominal length;
        either narrower than the tyre.
    """
    issues = []
    for aid in aids:
        for group in machine.groups:
            if aid.kind in ("band track", "wheel track") and made_for(aid, group):
                issues += _issues(aid, group, f"{where}, aid {aid.key}")
    return issues


def _issues(aid: Aid, group: AxleGroup, place: str) -> list[Issue]:
    tyre, axle, found = group.tyre, axle_name(group), []
    if aid.width_m is not None and aid.width_m < tyre.width_m:
        what = f"The {aid.kind} is {aid.width_m:g} m wide, the tyre of the {axle} "
        what += f"{tyre.width_m:g} m."
        fix = "width_m is what lies on the ground, as the supplier has it; check it."
        found.append(Issue("CTC02", "warning", what, f"{place}.width_m", fix))
    if aid.contact_length_m is None:
        return found
    if aid.kind == "band track":
        if group.bogie_spacing_m is None:
            return found
        usual = float(bogie_contact_length_m(group.bogie_spacing_m, tyre.diameter_m))
        most = group.bogie_spacing_m + 1.25 * tyre.radius_m
        asked = group.bogie_spacing_m + 0.25
        lies = f"a bogie spaced {group.bogie_spacing_m:g} m"
    else:
        usual = tyre.radius_m + aid.thickness_m
        # the chord of a tyre that is pressed down by all of its section height
        flat = min(tyre.section_height_m, usual)
        most, asked = 2 * math.sqrt(2 * usual * flat - flat**2), _LONG * usual
        lies = f"a wheel {tyre.diameter_m:.3g} m high"
    if aid.contact_length_m <= max(asked, usual):
        return found
    what = f"The contact of the {aid.kind} on the {axle} is {aid.contact_length_m:g} m long, over "
    what += f"{lies}; without a figure {usual:.2f} m are taken."
    beyond = aid.contact_length_m > most
    fix = (
        f"contact_length_m is one contact on hard ground: at most {most:.2f} m here."
        if beyond
        else "Keep it only as the supplier's figure for hard ground: it lowers the pressure."
    )
    code, severity = ("CTC01", "error") if beyond else ("CTC02", "warning")
    found.append(Issue(code, severity, what, f"{place}.contact_length_m", fix))  # type: ignore[arg-type]
    return found
