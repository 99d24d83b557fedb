"""Which whole combinations the trade runs on 4, 6 and 8 wheels, and which it asks about first.

The second figure of a code is the number of wheels (0: any). All of it is common practice without
a source, so even "usual practice" still waits for the manufacturer. "Identical" means the same
catalogue entry at both ends; two entries, even of one kind, count as different and are asked about.
"""

from __future__ import annotations

from terrain.models.aids import Setup
from terrain.models.machine import Machine
from terrain.setups.combinations import axle_name
from terrain.setups.layouts import axle_and_bogie, carried, groups_carrying
from terrain.setups.standing import Rule, Standing, Verdict

__all__ = ["USE_RULES"]

_USUAL, _ASK = Standing.USUAL, Standing.ASK


class BareWheels(Rule):
    """Every machine leaves the factory on bare tyres; it is the baseline of every comparison."""

    code, title, declares_use = "USE01", "No traction aid at all", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Usual on every layout."""
        if not setup.is_bare:
            return None
        return self.verdict(_USUAL, "Front and rear wheels run bare.")


class DualsAskedFor(Rule):
    """Dual tyres count as a traction aid.

    The second tyre carries its load on a longer lever, so wheel bearings and hubs must be
    cleared by the manufacturer, and the machine grows wider than its trail may be.
    """

    code, title, declares_use = "USE02", "Dual tyres on a single axle", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask wherever a single axle carries dual tyres."""
        where = groups_carrying(setup, machine, "dual tyres", "single")
        if not where:
            return None
        return self.verdict(
            _ASK, f"Dual tyres on the {where} load the wheel bearings: the manufacturer must agree."
        )


class SameOnFourWheels(Rule):
    """On a machine with two single axles the trade puts the same chains, or the same wheel tracks,
    on all four wheels: driveline and steering then see equal wheels at both ends.
    """

    code, title, declares_use = "USE41", "The same chains or wheel tracks on all four wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Usual on 4 wheels when both axles carry one catalogue entry of chains or tracks."""
        front, rear = carried(setup)
        if machine.wheels != 4 or front is None or front != rear:
            return None
        if front.kind not in ("chains", "wheel track"):
            return None
        return self.verdict(_USUAL, f"Front and rear single axle both carry {front.name}.")


class OneAxleOfFourWheels(Rule):
    """With an aid on one of two single axles, one axle grips or rolls differently from the other;
    what the driveline makes of it, the manufacturer knows.
    """

    code, title, declares_use = "USE42", "Aid on one axle of a machine with four wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 4 wheels when exactly one axle carries something."""
        return _one_end_only(self, setup, machine, 4)


class DifferentOnFourWheels(Rule):
    """Different aids at the two ends differ in grip and in rolling circumference."""

    code, title, declares_use = "USE43", "Different aids on the two axles of four wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 4 wheels when the axles carry different catalogue entries."""
        front, rear = carried(setup)
        if machine.wheels != 4 or front is None or rear is None or front == rear:
            return None
        return self.verdict(
            _ASK,
            f"The front single axle carries {front.name}, the rear single axle {rear.name}: "
            "different aids.",
        )


class TracksOnTheBogieOfSix(Rule):
    """On a machine with one single axle and one bogie the trade runs band tracks, or wheel tracks,
    on the bogie, and chains or nothing on the single axle.
    """

    code, title, declares_use = "USE61", "Tracks on the bogie, chains or nothing on the axle", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Usual on 6 wheels: bogie on band or wheel tracks, single axle bare or on chains."""
        ends = axle_and_bogie(setup, machine)
        if ends is None:
            return None
        (axle, on_axle), (bogie, on_bogie) = ends
        if on_bogie is None or on_bogie.kind not in ("band track", "wheel track"):
            return None
        if on_axle is not None and on_axle.kind != "chains":
            return None
        rest = on_axle.name if on_axle else "nothing"
        return self.verdict(
            _USUAL,
            f"The {axle_name(bogie)} carries {on_bogie.name}, the {axle_name(axle)} {rest}.",
        )


class ChainsOnTheAxleOfSix(Rule):
    """Chains on the single axle alone leave the four wheels of the bogie without help."""

    code, title, declares_use = "USE62", "Chains on the single axle only, six wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 6 wheels when only the single axle carries chains."""
        ends = axle_and_bogie(setup, machine)
        if ends is None:
            return None
        (axle, on_axle), (bogie, on_bogie) = ends
        if on_axle is None or on_axle.kind != "chains" or on_bogie is not None:
            return None
        return self.verdict(
            _ASK, f"Only the {axle_name(axle)} carries {on_axle.name}, the {axle_name(bogie)} none."
        )


class ChainsOnTheBogieOfSix(Rule):
    """Chained wheels of a bogie turn close to each other and to the bogie housing, so the room
    between them has to be confirmed.
    """

    code, title, declares_use = "USE63", "Chains on the bogie of six wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 6 wheels when the bogie carries chains, whatever the axle carries."""
        where = groups_carrying(setup, machine, "chains", "bogie")
        if machine.wheels != 6 or not where:
            return None
        return self.verdict(_ASK, f"Chains on the {where}: room between the wheels is unknown.")


class SameOnEightWheels(Rule):
    """On two bogies the trade runs the same chains on all eight wheels, or the same band tracks on
    all four bogie sides.
    """

    code, title, declares_use = "USE81", "The same chains or band tracks on both bogies", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Usual on 8 wheels when both bogies carry one entry of chains or band tracks."""
        front, rear = carried(setup)
        if machine.wheels != 8 or front is None or front != rear:
            return None
        if front.kind not in ("chains", "band track"):
            return None
        return self.verdict(_USUAL, f"Front and rear bogie both carry {front.name}.")


class OneBogieOfEightWheels(Rule):
    """With an aid on one bogie the two ends of the machine differ in grip, mass and footprint."""

    code, title, declares_use = "USE82", "Aid on one bogie of a machine with eight wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 8 wheels when exactly one bogie carries something."""
        return _one_end_only(self, setup, machine, 8)


class TwoKindsOfBandTrack(Rule):
    """An open traction band at one end and a closed flotation band at the other differ in grip and
    in footprint.
    """

    code, title, declares_use = "USE83", "Different band tracks on the two bogies", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 8 wheels when both bogies carry band tracks of different entries."""
        front, rear = carried(setup)
        if machine.wheels != 8 or front is None or rear is None or front == rear:
            return None
        if not front.kind == rear.kind == "band track":
            return None
        return self.verdict(
            _ASK, f"The front bogie carries {front.name}, the rear bogie {rear.name}."
        )


class WheelTracksOnEightWheels(Rule):
    """Wheel tracks sit round one wheel each; on two bogies the trade uses band tracks instead."""

    code, title, declares_use = "USE84", "Wheel tracks on a machine with eight wheels", True

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Ask on 8 wheels wherever a bogie carries wheel tracks."""
        where = groups_carrying(setup, machine, "wheel track", "bogie")
        if machine.wheels != 8 or not where:
            return None
        return self.verdict(_ASK, f"Wheel tracks on the {where} of a machine with eight wheels.")


def _one_end_only(rule: Rule, setup: Setup, machine: Machine, wheels: int) -> Verdict | None:
    if machine.wheels != wheels or setup.front.is_bare == setup.rear.is_bare:
        return None
    with_aid, without = machine.groups if setup.rear.is_bare else machine.groups[::-1]
    return rule.verdict(
        _ASK, f"Only the {axle_name(with_aid)} carries an aid, the {axle_name(without)} runs bare."
    )


USE_RULES: tuple[Rule, ...] = (
    BareWheels(),
    DualsAskedFor(),
    SameOnFourWheels(),
    OneAxleOfFourWheels(),
    DifferentOnFourWheels(),
    TracksOnTheBogieOfSix(),
    ChainsOnTheAxleOfSix(),
    ChainsOnTheBogieOfSix(),
    SameOnEightWheels(),
    OneBogieOfEightWheels(),
    TwoKindsOfBandTrack(),
    WheelTracksOnEightWheels(),
)
"""Every rule that names a combination, in the order of their codes."""
