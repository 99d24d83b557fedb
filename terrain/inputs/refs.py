"""Where a file or layer named in a block file lies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

__all__ = ["FileRef", "LayerRef"]


@dataclass(frozen=True, slots=True)
class FileRef:
    """A file named in the block file: ``name`` as written, ``path`` resolved beside it."""

    path: Path
    name: str


@dataclass(frozen=True, slots=True)
class LayerRef:
    """A layer: its file, the ``layer`` inside it, and column names by our own key (None: none)."""

    path: Path
    name: str
    layer: str | None
    columns: Mapping[str, str | None]
