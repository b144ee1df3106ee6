"""Ensembles of possible seasons, and the options of a grower compared."""
