"""Hourly weather, film, bed and canopy to film, crown and root-zone temperature."""
