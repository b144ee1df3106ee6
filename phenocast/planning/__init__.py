"""Trays to labour, prices to revenue, heat and the crew."""
