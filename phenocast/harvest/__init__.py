"""Cohorts of trusses to fruit per day and ISO week, and to first pick."""
