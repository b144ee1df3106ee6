"""A model of one dated event a year, fitted to many years."""
