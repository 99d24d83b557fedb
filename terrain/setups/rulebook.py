"""All rules together: what they make of one setup, and of every setup of a machine.

The worst verdict decides. A rule that cannot tell counts as "ask the manufacturer first", and so
does a setup that no rule names. Nothing here approves anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from terrain.models.aids import Aid, Setup
from terrain.models.machine import Machine
from terrain.setups.combinations import axle_name, describe, enumerate_setups
from terrain.setups.fit_rules import FIT_RULES
from terrain.setups.mounting_rules import MOUNTING_RULES
from terrain.setups.standing import COMMON_PRACTICE, Rule, Standing, Verdict
from terrain.setups.use_rules import USE_RULES

__all__ = [
    "ALL_RULES",
    "COMMON_PRACTICE",
    "NO_RULE_COVERS_IT",
    "Judgement",
    "Rule",
    "Standing",
    "Verdict",
    "judge",
    "judge_all",
    "rule",
]


class NoRuleCoversIt(Rule):
    """The trade's rules name the combinations they know. Any other is one to ask about.

    This rule is not asked: the rulebook adds its verdict when no other rule names the setup.
    """

    code, title = "USE00", "No rule covers this combination"

    def check(self, setup: Setup, machine: Machine) -> Verdict:
        """Ask, naming what the two ends carry."""
        where = " and the ".join(axle_name(group) for group in machine.groups)
        return self.verdict(
            Standing.ASK,
            f"No rule of the trade names this for the {where}: {describe(setup, machine)}.",
        )


NO_RULE_COVERS_IT = NoRuleCoversIt()
"""Adds "ask the manufacturer first" where the other rules are silent."""

ALL_RULES: tuple[Rule, ...] = (*USE_RULES, *MOUNTING_RULES, *FIT_RULES)
"""Every rule that is asked about a setup."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the rules make of a setup: its ``standing`` and every verdict, worst first.

    Verdicts of one weight keep the order of the rules: those that name the combination go first.
    """

    standing: Standing
    verdicts: tuple[Verdict, ...]

    @property
    def deciding(self) -> tuple[Verdict, ...]:
        """The verdicts that put the setup where it stands; never empty."""
        return tuple(v for v in self.verdicts if v.counts_as == self.standing)

    @property
    def codes(self) -> tuple[str, ...]:
        """Codes of the deciding verdicts."""
        return tuple(verdict.code for verdict in self.deciding)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Sentences of the deciding verdicts."""
        return tuple(verdict.reason for verdict in self.deciding)

    @property
    def cannot_tell(self) -> tuple[Verdict, ...]:
        """The verdicts of rules that lacked a figure."""
        return tuple(verdict for verdict in self.verdicts if verdict.standing is None)


def judge(setup: Setup, machine: Machine, rules: Iterable[Rule] = ALL_RULES) -> Judgement:
    """Ask every rule about ``setup`` on ``machine``; the worst verdict decides.

    Parameters
    ----------
    setup : Setup
        Also one that :func:`~terrain.setups.combinations.enumerate_setups` would never make, with
        two aids on a wheel or different sides.
    machine : Machine
    rules : iterable of Rule
        The rules to ask; all by default.
    """
    rules = tuple(rules)
    named = False
    verdicts: list[Verdict] = []
    for one_rule in rules:
        verdict = one_rule.check(setup, machine)
        if verdict is not None:
            verdicts.append(verdict)
            named = named or one_rule.declares_use
    excluded = any(verdict.standing is Standing.EXCLUDED for verdict in verdicts)
    if not named and not excluded:
        verdicts.insert(0, NO_RULE_COVERS_IT.check(setup, machine))
    standing = max(verdict.counts_as for verdict in verdicts)
    return Judgement(standing, tuple(sorted(verdicts, key=lambda v: -v.counts_as)))


def judge_all(machine: Machine, aids: Iterable[Aid]) -> tuple[tuple[Setup, Judgement], ...]:
    """Enumerate every setup of ``machine`` with ``aids`` and judge each, bare first."""
    return tuple((setup, judge(setup, machine)) for setup in enumerate_setups(machine, aids))


def rule(code: str) -> Rule:
    """Return the rule with ``code``; raise KeyError naming the known codes when there is none."""
    known = {one_rule.code: one_rule for one_rule in (NO_RULE_COVERS_IT, *ALL_RULES)}
    try:
        return known[code]
    except KeyError:
        raise KeyError(f"unknown rule {code!r}; known: {', '.join(sorted(known))}") from None
