"""Where every number comes from: the packaged tables of coefficients and their sources.

The tables in ``terrain/data`` are part of the program. Each row carries ``source`` (a key of
``sources.toml``), ``where`` (section, table or equation) and ``status``.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

__all__ = ["STATUSES", "Source", "all_sources", "data_table", "source"]

STATUSES = (
    "published",
    "derived",
    "supplier's figure",
    "from memory",
    "common practice, no source",
    "planning assumption",
    "invented demo",
)
"""The only words allowed for the standing of a number, firmest first.

``derived`` is worked out in this program from equilibrium or geometry, with no figure of anybody's
in it; the derivation stands in the docstring of the function.
"""


@dataclass(frozen=True, slots=True)
class Source:
    """A publication or standard: ``key``, ``citation``, and how much of it was ``read``."""

    key: str
    citation: str
    read: str


@cache
def data_table(name: str) -> dict[str, Any]:
    """Return the packaged table ``terrain/data/<name>.toml`` as a dict (do not change it)."""
    text = resources.files("terrain.data").joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def all_sources() -> dict[str, Source]:
    """Every known source by key."""
    return {key: Source(key, **row) for key, row in data_table("sources").items()}


def source(key: str) -> Source:
    """Return the source ``key``; raise KeyError naming the known keys when there is none."""
    try:
        return all_sources()[key]
    except KeyError:
        raise KeyError(
            f"unknown source {key!r}; known: {', '.join(sorted(all_sources()))}"
        ) from None
