"""Where help is met: the emergency point of a block."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Emergency"]


@dataclass(frozen=True, slots=True)
class Emergency:
    """Meeting point in the working CRS (metres), with what the planner wrote about it."""

    name: str
    x_m: float
    y_m: float
    note: str = ""
