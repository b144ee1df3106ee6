"""Cultivar parameters fitted to records of picks, flowers and dates."""
