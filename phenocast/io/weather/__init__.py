"""Readers of weather files: formats, headers, units, clocks, and the files of a season."""
