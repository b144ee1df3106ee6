"""The contract of every table: column, unit, range and meaning."""
