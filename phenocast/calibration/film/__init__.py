"""A film and its bed fitted to sensors."""
