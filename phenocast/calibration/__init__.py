"""Fitting parameters to records, and ranking cultivars."""
