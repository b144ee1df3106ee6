"""Any weather record to one hourly table, checked, gaps filled and flagged; traces of past years."""
