"""Stations, mechanics and setups meet here: reserve, pressure, verdicts."""
