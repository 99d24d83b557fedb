"""The names of the files that a run writes, and what each is for; loads nothing heavy."""

from __future__ import annotations

__all__ = ["FILES", "LEFT_OUT", "RASTERS"]

RASTERS: dict[str, str] = {
    "slope_percent.tif": "slope of the ground in percent, for a desktop GIS",
    "slope_class.tif": "slope classes with their colours",
    "depth_to_water.tif": "computed depth to water in metres, for the moisture state of the plan",
    "wet_ground.tif": "wet ground in the moisture state of the plan, with its colours",
}
"""The rasters that :func:`terrain.outputs.rasters.write_rasters` makes, with their purpose."""

FILES: dict[str, str] = {
    "report.html": "the report: decision, description, instruction, follow-up",
    "report.pdf": "the same report, set for print",
    "map.html": "the map; opens in a browser without a network",
    "brief.pdf": "the operator's page: print it",
    "brief.html": "the same for a phone",
    "trails.gpx": "trails and places for a GPS receiver or a phone",
    "block.kml": "the block for a globe or map reader on a phone",
    "block.geojson": "the block for web maps",
    "map_geo.pdf": "the map as a page that shows where one stands, for a map reader on a phone",
    "block.gpkg": "all layers and tables for a desktop GIS, with their looks",
    **RASTERS,
    "stations.csv": "one row for every few metres of trail",
    "trails.csv": "one row for each trail",
    "setups.csv": "the scored setups, best first",
    "excluded.csv": "the excluded setups with codes and reasons",
    "second_opinions.csv": "the setups by other models, stability, tyre loads, work and fuel",
    "stretches.csv": "the stretches that decide, most pressing first",
    "remedies.csv": "what would ease each of them, worked out anew",
    "seasons.csv": "every setup in every moisture state",
    "trail_states.csv": "in which states each trail can be used, and the order of work",
    "plan.json": "everything for programs: inputs with digests, settings, versions, verdicts",
}
"""Every file that a run writes, with its purpose."""

LEFT_OUT: dict[str, str] = {
    "map_geo.pdf": "the map library of this computer cannot write such pages",
    "depth_to_water.tif": "the water was not routed",
    "wet_ground.tif": "the water was not routed",
    "second_opinions.csv": "not worked out",
    "stretches.csv": "not worked out",
    "remedies.csv": "not worked out",
    "seasons.csv": "not worked out",
    "trail_states.csv": "not worked out",
}
"""Why a file of :data:`FILES` can be missing from a run."""
