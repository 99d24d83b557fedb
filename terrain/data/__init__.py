"""Numbers with their sources, as TOML."""
