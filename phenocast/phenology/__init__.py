"""Flower initiation to truss emergence, anthesis and ripe fruit, in cohorts of trusses."""
