"""Grids made from the DEM: gradient, slope classes, flow, wetness. Arrays in, arrays out."""
