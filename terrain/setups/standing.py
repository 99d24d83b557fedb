"""What a rule may say: the three standings, the verdict of one rule, and the shape of a rule."""

from __future__ import annotations

import inspect
from abc import ABC, abstractmethod
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from terrain.models.aids import Setup
from terrain.models.machine import Machine

__all__ = ["COMMON_PRACTICE", "Rule", "Standing", "Verdict"]

COMMON_PRACTICE = "common practice, no source"
"""The standing of every mounting and fit rule: the trade does so, no publication was read."""


class Standing(IntEnum):
    """How a setup stands before the manufacturer is asked; a larger value is worse.

    Even ``USUAL`` is no approval: it says that the trade commonly runs the machine like this.
    """

    USUAL = 0
    ASK = 1
    EXCLUDED = 2

    @property
    def words(self) -> str:
        """The standing as people read it."""
        return ("usual practice", "ask the manufacturer first", "excluded")[self]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one rule says about one setup.

    Attributes
    ----------
    code, title : str
        Of the rule; ``rutwise explain CODE`` knows it.
    standing : Standing or None
        None means that the rule cannot tell, because the machine file or the catalogue is silent.
    reason : str
        One sentence that names the axle.
    """

    code: str
    title: str
    standing: Standing | None
    reason: str

    @property
    def counts_as(self) -> Standing:
        """The standing to reckon with: a rule that cannot tell counts as "ask"."""
        return Standing.ASK if self.standing is None else self.standing

    @property
    def words(self) -> str:
        """The standing in words, ``cannot tell`` when the rule could not decide."""
        return "cannot tell" if self.standing is None else self.standing.words


class Rule(ABC):
    """One rule of the trade. A subclass sets ``code`` and ``title`` and writes ``check``.

    The docstring of the subclass is its explanation for people. ``declares_use`` is True for a
    rule that names a whole combination as usual, or names it as one to ask about; a setup that no
    such rule names is one to ask about.
    """

    code: ClassVar[str]
    title: ClassVar[str]
    declares_use: ClassVar[bool] = False
    basis: ClassVar[str] = COMMON_PRACTICE

    @abstractmethod
    def check(self, setup: Setup, machine: Machine) -> Verdict | None:
        """Judge ``setup`` on ``machine``; None when the rule has nothing to say about it."""

    @property
    def explain(self) -> str:
        """Why the rule exists, in full sentences."""
        return " ".join((inspect.getdoc(type(self)) or self.title).split())

    def verdict(self, standing: Standing | None, reason: str) -> Verdict:
        """Return a verdict of this rule."""
        return Verdict(self.code, self.title, standing, reason)
