"""Cultivars ranked by what heat costs them, with a breeder's usual indices beside it."""
