"""Rows of a CSV text, strictly: a quotation mark that is not closed swallows nothing in silence."""

from __future__ import annotations

import csv
import io

__all__ = ["csv_rows"]


def csv_rows(text: str) -> tuple[list[tuple[int, list[str]]], str]:
    """Cut a text into rows; comma, semicolon or tab stand between the cells.

    Returns
    -------
    rows : list of (int, list of str)
        Number of the line on which a row ends, and its cells. Blank rows are left out, and empty
        cells behind those of the first row.
    fault : str
        What makes it no CSV, in a few words; empty when nothing does.
    """
    first = text.splitlines()[0] if text.strip() else ""
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any("\n" in cell or "\r" in cell for cell in cells):
                return [], f"line {reader.line_num}: a quotation mark is not closed"
            if any(cell.strip() for cell in cells):
                width = len(rows[0][1]) if rows else len(cells)
                while len(cells) > width and not cells[-1].strip():
                    cells = cells[:-1]
                rows.append((reader.line_num, cells))
    except csv.Error as error:
        return [], f"line {reader.line_num}: {error}"
    return rows, ""
