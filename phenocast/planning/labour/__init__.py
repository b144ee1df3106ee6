"""Pickers and packers for each week, and the heat that they work in."""
