"""Scores of forecasts; knows arrays only."""
