"""Who made ``block.gpkg`` and what it is: the metadata extension of the GeoPackage standard.

OGC 12-128 (OGC GeoPackage Encoding Standard), annex F.8. The text is Dublin Core
(ISO 15836-1:2017), once for the file and once for each layer.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from xml.etree import ElementTree as Xml

from terrain.columns import TABLES
from terrain.decision.results import Plan
from terrain.outputs.page_parts import note_words
from terrain.outputs.xml_text import add

__all__ = ["LAYER_WORDS", "add_metadata"]

_DUBLIN_CORE = "http://purl.org/dc/elements/1.1/"
_TABLES = (
    "CREATE TABLE IF NOT EXISTS gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,"
    " md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL, mime_type TEXT NOT "
    "NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '')",
    "CREATE TABLE IF NOT EXISTS gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name "
    "TEXT, column_name TEXT, row_id_value INTEGER, timestamp DATETIME NOT NULL DEFAULT "
    "(strftime('%Y-%m-%dT%H:%M:%fZ','now')), md_file_id INTEGER NOT NULL, md_parent_id INTEGER, "
    "CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id), CONSTRAINT "
    "crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))",
)

_USE_TABLES = {
    "trails": "use_of_trails",
    "runs": "use_of_runs",
    "crossings": "use_of_crossings",
}
"""Registry's table of the columns that only the GeoPackage has, by layer."""

LAYER_WORDS: dict[str, str] = {
    "stations": "One point for every few metres of trail, with everything read and computed there.",
    "trails": "The extraction trails as drawn, with the figures of the shown setup, and which are "
    "closed.",
    "runs": "Stretches of equal traction-reserve class of the shown setup.",
    "no_crossing": "Where a trail meets water and no crossing is mapped: stop and ask.",
    "bottlenecks": "Stretches that force the choice, or stay weak, most pressing first.",
    "stretch_setups": "What each scored setup does on each of those stretches.",
    "reroutes": "Other lines for stretches, to be looked at in the field.",
    "remedies": "What would ease each stretch, and at what price.",
    "seasons": "Each setup in each of the five moisture states.",
    "trail_states": "In which moisture states each trail can be driven with the shown setup.",
    "drop_it": "What a lighter setup leaves behind.",
    "weights": "Scores of the setups as the weight of traction need changes.",
    "machines": "The machines and payloads that were compared.",
    "ratings": "Ratings of the setups on slopes.",
    "rating_places": "Metres of each trail on which the shown setup exceeds a rating.",
    "stability_checks": "Simple checks of stability; they assess no overturning in motion.",
    "crane_checks": "What a crane that is out does to ratings and to standing; never a permission.",
    "footprints": "Contact areas under the axles by several conventions.",
    "effects_used": "What each aid changes in the computation, and on what evidence.",
    "outside_range": "Where a relation was used outside its stated range.",
    "doubt_setups": "How often each setup suits when the inputs are varied.",
    "doubt_trails": "The same for each trail, by itself and with its way to the landing.",
    "doubt_sources": "Which input makes the doubt.",
    "emergency": "Where help is met, as the block file says.",
    "soils": "Soil polygons as mapped.",
    "landings": "Landings as given.",
    "boundary": "Block boundary as given.",
    "streams": "Mapped streams as given.",
    "open_water": "Mapped open water as given.",
    "crossings": "Culverts and bridges as given, and which the plan drives over.",
    "buffers": "Machine-free strips along water; the site's own rule decides.",
    "depressions": "Filled hollows of the elevation model near the trails, to check in the field.",
    "readings": "Strength readings that counted.",
    "setups": "The scored setups, best first.",
    "excluded": "The excluded setups with codes and reasons.",
    "second_opinions": "The setups by other models, stability, tyre loads, work and fuel.",
    "evaluation": "Reserve and pressure of every scored setup at every station.",
    "states": "The columns of the stations that change with the moisture state.",
    "wet_metres": "Metres of each trail with wet-soil exposure, by moisture state.",
    "buffer_stretches": "Stretches inside a machine-free strip.",
    "water_stretches": "Stretches that meet water, with the nearest crossing.",
    "depression_stretches": "Stretches in filled hollows.",
    "strength": "Soil polygons with the strength that was used, and why.",
    "columns": "Every column of every table: unit, meaning and what missing means.",
    "notes": "Cautions and what was not assessed. Read them first.",
    "layer_styles": "How a desktop GIS draws the layers.",
}
"""What each layer of ``block.gpkg`` is, in a sentence."""


def add_metadata(base: sqlite3.Connection, plan: Plan, date: str) -> None:
    """Put title, maker and description of the file and of its layers into an open GeoPackage.

    ``date`` stands for the time of writing, in the form of the standard.
    """
    for statement in _TABLES:
        base.execute(statement)
    for table in ("gpkg_metadata", "gpkg_metadata_reference"):
        base.execute(
            "INSERT OR IGNORE INTO gpkg_extensions VALUES (?, NULL, 'gpkg_metadata', ?, "
            "'read-write')",
            (table, "GeoPackage Encoding Standard, annex F.8, metadata"),
        )
    _describe_use(base)
    makers = {"creator": f"Rutwise {plan.version}", "format": "GeoPackage"}
    _add(base, 1, {"title": plan.name, **makers, "description": note_words(plan)}, None, date)
    present = [row[0] for row in base.execute("SELECT table_name FROM gpkg_contents ORDER BY 1")]
    for number, table in enumerate([name for name in present if name in LAYER_WORDS], start=2):
        words = {"title": table, "description": LAYER_WORDS[table]}
        _add(base, number, words, table, date)
        base.execute(
            "UPDATE gpkg_contents SET description = ? WHERE table_name = ?",
            (LAYER_WORDS[table], table),
        )


def _describe_use(base: sqlite3.Connection) -> None:
    """Describe the columns on use, in the words of the registry (annex F.9, schema)."""
    for layer, table in _USE_TABLES.items():
        present = {row[1] for row in base.execute(f'PRAGMA table_info("{layer}")')}
        for item in TABLES[table]:
            if item.name in present:
                unit = f" Unit: {item.unit}." if item.unit else ""
                base.execute(
                    "INSERT OR REPLACE INTO gpkg_data_columns VALUES (?, ?, NULL, NULL, ?, NULL, "
                    "NULL)",
                    (layer, item.name, f"{item.meaning}{unit} Missing: {item.missing}."),
                )


def _add(
    base: sqlite3.Connection,
    number: int,
    words: Mapping[str, str],
    table: str | None,
    date: str,
) -> None:
    root = Xml.Element("metadata", {"xmlns:dc": _DUBLIN_CORE})
    for tag, text in words.items():
        add(root, f"dc:{tag}", text)
    base.execute(
        "INSERT INTO gpkg_metadata VALUES (?, 'dataset', ?, 'text/xml', ?)",
        (number, _DUBLIN_CORE, Xml.tostring(root, "unicode")),
    )
    base.execute(
        "INSERT INTO gpkg_metadata_reference VALUES (?, ?, NULL, NULL, ?, ?, ?)",
        (
            "geopackage" if table is None else "table",
            table,
            date,
            number,
            None if table is None else 1,
        ),
    )
