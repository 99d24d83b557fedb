"""A block read and looked at, ready for questions of the kind "what if"."""

from __future__ import annotations

from pathlib import Path

from terrain.decision.situation import Situation
from terrain.errors import refuse_errors
from terrain.plan import check_block, look_at

__all__ = ["situation_of"]


def situation_of(path: Path, state: str | None = None) -> Situation:
    block, network, issues = check_block(path, state=state)
    refuse_errors(issues)
    return look_at(block, network)
