"""What is never mounted, whatever the rest of the machine carries.

All of it is common practice without a source. Each rule speaks only where its own case occurs.
"""

from __future__ import annotations

from terrain.models.aids import Setup
from terrain.models.machine import Machine
from terrain.setups.combinations import axle_name
from terrain.setups.fit import dual_diameters, is_as_large
from terrain.setups.layouts import all_aids, groups_carrying, is_known, listed
from terrain.setups.standing import Rule, Standing, Verdict

__all__ = ["MOUNTING_RULES"]

_USUAL, _EXCLUDED = Standing.USUAL, Standing.EXCLUDED


class BandNeedsABogie(Rule):
    """A band track runs round both wheels of a bogie side; round one wheel it has no second wheel
    to lie on.
    """

    code, title = "MNT01", "Band track on a single axle"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded on every layout."""
        where = groups_carrying(setup, machine, "band track", "single")
        if not where:
            return None
        return self.verdict(_EXCLUDED, f"No band track can run on the {where}: it needs a bogie.")


class WheelTrackBesideTracks(Rule):
    """Wheel tracks enlarge the rolling circumference of the single axle while the bogie already
    drags tracks of its own.
    """

    code, title = "MNT02", "Wheel tracks on the axle beside tracks on the bogie, six wheels"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded on 6 wheels when the bogie carries band tracks or wheel tracks."""
        axle = groups_carrying(setup, machine, "wheel track", "single")
        bands = groups_carrying(setup, machine, "band track", "bogie")
        tracks = groups_carrying(setup, machine, "wheel track", "bogie")
        if machine.wheels != 6 or not axle or not (bands or tracks):
            return None
        kind = "band tracks" if bands else "wheel tracks"
        return self.verdict(
            _EXCLUDED, f"Wheel tracks on the {axle} while the {bands or tracks} carries {kind}."
        )


class NoDualsOnABogie(Rule):
    """A second tyre outside a bogie wheel loads the bogie's bearings and gears sideways."""

    code, title = "MNT03", "Dual tyres on a bogie"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded on every layout."""
        where = groups_carrying(setup, machine, "dual tyres", "bogie")
        if not where:
            return None
        return self.verdict(_EXCLUDED, f"The {where} cannot carry dual tyres.")


class OuterDualIsSmaller(Rule):
    """The outer tyre of a pair must be smaller in diameter than the inner one; otherwise it takes
    the load on the longer lever and overloads the wheel bearing.
    """

    code, title = "MNT04", "Outer dual tyre as large as the inner one or larger"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded when the outer is not smaller; cannot tell when it may be, or may not carry.

        The diameters of the files are compared as :func:`terrain.setups.fit.dual_diameters`
        compares those that were taped.
        """
        too_large, unknown, unsure, smaller = [], [], [], []
        for mount, group in zip(setup.mounts, machine.groups, strict=True):
            for aid in all_aids(mount):
                if aid.kind != "dual tyres":
                    continue
                outer_m, inner_m = aid.outer_diameter_m, group.tyre.diameter_m
                finding = dual_diameters(inner_m, outer_m)
                if not is_known(outer_m):
                    unknown.append(axle_name(group))
                elif is_as_large(inner_m, outer_m):
                    too_large.append(axle_name(group))
                elif not finding.ok:
                    unsure.append(
                        f"On the {axle_name(group)}: {finding.measured}. {finding.what_to_do}"
                    )
                else:
                    smaller.append(axle_name(group))
        if too_large:
            return self.verdict(
                _EXCLUDED, f"On the {listed(too_large)} the outer tyre is not the smaller one."
            )
        if unknown:
            return self.verdict(
                None, f"On the {listed(unknown)} the diameter of the outer tyre is not known."
            )
        if unsure:
            return self.verdict(None, " ".join(unsure))
        if smaller:
            return self.verdict(_USUAL, f"On the {listed(smaller)} the outer tyre is smaller.")
        return None


class OneAidPerWheel(Rule):
    """Two aids on one wheel rub on each other and on the tyre."""

    code, title = "MNT05", "Two aids on one wheel"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded when a side of an axle group lists more than one aid."""
        bad = [
            axle_name(group)
            for mount, group in zip(setup.mounts, machine.groups, strict=True)
            if len(mount.left) > 1 or len(mount.right) > 1
        ]
        if not bad:
            return None
        return self.verdict(_EXCLUDED, f"The wheels of the {listed(bad)} carry two aids each.")


class SameLeftAndRight(Rule):
    """Different wheels left and right pull the machine to one side and make the differential of
    the axle work all the time.
    """

    code, title = "MNT06", "Left and right carry different aids"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded when the sides of an axle group differ."""
        bad = [
            axle_name(group)
            for mount, group in zip(setup.mounts, machine.groups, strict=True)
            if mount.left != mount.right
        ]
        if not bad:
            return None
        return self.verdict(_EXCLUDED, f"Left and right differ on the {listed(bad)}.")


class NoLiquidBallast(Rule):
    """Water or another liquid in the tyres overloads the axle, on any setup, bare included."""

    code, title = "MNT07", "Liquid ballast in the tyres"

    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Excluded when the machine file says that tyres hold liquid."""
        bad = [axle_name(group) for group in machine.groups if group.tyre.liquid_ballast]
        if not bad:
            return None
        return self.verdict(
            _EXCLUDED, f"The tyres of the {listed(bad)} hold liquid ballast; drain them first."
        )


MOUNTING_RULES: tuple[Rule, ...] = (
    BandNeedsABogie(),
    WheelTrackBesideTracks(),
    NoDualsOnABogie(),
    OuterDualIsSmaller(),
    OneAidPerWheel(),
    SameLeftAndRight(),
    NoLiquidBallast(),
)
"""Every excluding rule, in the order of their codes."""
