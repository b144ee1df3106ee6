"""Drawings as inline SVG, made of plain values, drawn in light colours and dressed by the page."""
