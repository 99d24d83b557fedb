"""Everything that is written: tables, map, report."""
