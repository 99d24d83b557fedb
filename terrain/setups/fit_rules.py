"""Whether an aid fits the tyre and the axle that are to carry it, as far as the files tell.

These rules read the catalogue and the machine file only; what a tape and a gauge say after
fitting is judged in :mod:`terrain.setups.fit`.
"""

from __future__ import annotations

from collections.abc import Callable

from terrain.models.aids import Aid, Setup
from terrain.models.machine import AxleGroup, Machine
from terrain.setups.combinations import axle_name, tyre_named
from terrain.setups.layouts import all_aids, is_known
from terrain.setups.standing import Rule, Standing, Verdict
from terrain.sources import data_table

__all__ = ["FIT_RULES", "shoe_clearance_asked_m"]

_ROUNDING_M = 1e-6
"""Keeps a clearance of exactly 10 mm from failing on the last binary digit."""

Finding = tuple[Standing | None, str] | None


def shoe_clearance_asked_m() -> float:
    """Clearance asked for between a band-track shoe and the tyre sidewall, each side, metres."""
    return float(data_table("fit_checks")["shoe_clearance"]["metric"])


class MadeForTheTyre(Rule):
    """Chains, tracks and bands are made for named tyre sizes, and sit loose or tear on others.

    A size that the catalogue does not name is a pairing to ask the supplier and the manufacturer
    about. When the catalogue names no size at all, nobody can tell. Dual tyres that fit the named
    size, or name none, are judged by their diameter instead.
    """

    code, title = "FIT01", "Aid made for that tyre size"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Usual when every aid names its tyre, ask when one does not, cannot tell when silent."""
        return _worst(self, setup, machine, _tyre_finding)


class WithinTheAxleRating(Rule):
    """The unladen axle load and the aid together must stay within the rated axle load.

    The load of timber comes on top: what the rating leaves for it is worked out with the payload.
    A machine file without the rating cannot answer the question, and then the setup is one to
    ask about, because an overloaded axle is a danger and the rating is on the machine's plate.
    """

    code, title = "FIT02", "Unladen axle with its aid within the axle rating"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded above the rating, cannot tell without one; silent on a bare axle."""
        return _worst(self, setup, machine, _rating_finding)


class ShoeWiderThanTheTyre(Rule):
    """A band-track shoe must clear the tyre sidewall by about 10 mm (3/8 in) on each side.

    A shoe narrower than the tyre cannot be fitted. A shoe that leaves less than that clearance
    rubs the sidewall, and the supplier has to be asked. A catalogue that gives no inner width of
    the shoe is not held against a band track that names the tyre: measure after fitting.
    """

    code, title = "FIT03", "Band-track shoe clears the tyre sidewall"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Compare the inner width of the shoe with the width of the tyre where both are known."""
        return _worst(self, setup, machine, _shoe_finding)


def _tyre_finding(aid: Aid, group: AxleGroup, machine: Machine) -> Finding:
    size = group.tyre.designation
    named = tyre_named(aid, size)
    if aid.kind == "dual tyres" and named is not False:
        return None
    if named is None:
        return None, f"{aid.name}: no tyre size given; the {axle_name(group)} runs {size}"
    if named:
        return Standing.USUAL, f"{aid.name}: made for {size}, the tyre of the {axle_name(group)}"
    return (
        Standing.ASK,
        f"{aid.name}: made for {', '.join(aid.fits_tyres)}; the {axle_name(group)} runs {size}",
    )


def _rating_finding(aid: Aid, group: AxleGroup, machine: Machine) -> Finding:
    unladen = machine.unladen_front_kg if group.name == "front" else machine.unladen_rear_kg
    if not is_known(aid.mass_kg):
        return None, f"the mass of {aid.name} on the {axle_name(group)} is not known"
    if not is_known(group.rated_mass_kg):
        return None, f"the rated load of the {axle_name(group)} is not in the machine file"
    together = unladen + aid.mass_kg
    what = f"{unladen:,.0f} kg unladen + {aid.mass_kg:,.0f} kg {aid.name} on the {axle_name(group)}"
    if together > group.rated_mass_kg:
        return Standing.EXCLUDED, f"{what} exceed its rated {group.rated_mass_kg:,.0f} kg"
    return Standing.USUAL, f"{what} stay within its rated {group.rated_mass_kg:,.0f} kg"


def _shoe_finding(aid: Aid, group: AxleGroup, machine: Machine) -> Finding:
    if aid.kind != "band track" or not is_known(aid.shoe_inner_width_m):
        return None
    clearance_m = (aid.shoe_inner_width_m - group.tyre.width_m) / 2
    asked_m = shoe_clearance_asked_m()
    where = f"of {aid.name} on the {axle_name(group)}"
    if clearance_m < 0:
        return Standing.EXCLUDED, f"the shoe {where} is {-2000 * clearance_m:.0f} mm too narrow"
    text = f"the shoe {where} clears the tyre by {1000 * clearance_m:.0f} mm a side"
    if clearance_m + _ROUNDING_M < asked_m:
        return Standing.ASK, f"{text}, less than about {1000 * asked_m:.0f} mm"
    return Standing.USUAL, text


def _worst(
    rule: Rule,
    setup: Setup,
    machine: Machine,
    judge_aid: Callable[[Aid, AxleGroup, Machine], Finding],
) -> Verdict | None:
    """Judge each aid on each group; return the worst finding with every reason at that level.

    "Cannot tell" ranks between "ask" and "excluded": it counts as "ask", but is said first.
    """
    findings = [
        finding
        for mount, group in zip(setup.mounts, machine.groups, strict=True)
        for aid in all_aids(mount)
        if (finding := judge_aid(aid, group, machine)) is not None
    ]
    if not findings:
        return None
    worst = max(findings, key=_rank)
    reasons = [reason for standing, reason in findings if standing == worst[0]]
    sentence = "; ".join(reasons) + "."
    return rule.verdict(worst[0], sentence[0].upper() + sentence[1:])


def _rank(finding: tuple[Standing | None, str]) -> float:
    return Standing.ASK + 0.5 if finding[0] is None else float(finding[0])


FIT_RULES: tuple[Rule, ...] = (MadeForTheTyre(), WithinTheAxleRating(), ShoeWiderThanTheTyre())
"""Every fit rule, in the order of their codes."""
