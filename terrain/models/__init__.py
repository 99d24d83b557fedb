"""Plain descriptions of machine, aid, soil and settings; no files, no tables."""
