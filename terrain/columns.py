"""The column registry: every column of every table, with unit, meaning and what missing means.

The registry itself is ``terrain/data/columns.toml``. Reference pages, report footnotes and
GeoPackage field descriptions are made from it, and a test holds it against the tables that a run
really makes.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.sources import data_table

__all__ = ["TABLES", "Column", "column", "columns_of"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: ``unit`` is empty for words and identifiers, ``ratio`` for slopes and shares."""

    table: str
    name: str
    unit: str
    meaning: str
    made_by: str
    missing: str = "never missing"
    low: float | None = None
    high: float | None = None


TABLES: dict[str, tuple[Column, ...]] = {
    table: tuple(Column(table, **row) for row in rows)
    for table, rows in data_table("columns").items()
}
"""Columns by table, in the order in which they are written."""


def columns_of(table: str) -> tuple[str, ...]:
    """Return the names of the columns of ``table``, in order."""
    return tuple(item.name for item in TABLES[table])


def column(table: str, name: str) -> Column:
    """Return one column; raise KeyError naming the table's columns when there is none."""
    for item in TABLES[table]:
        if item.name == name:
            return item
    raise KeyError(f"table {table!r} has no column {name!r}; it has {', '.join(columns_of(table))}")
