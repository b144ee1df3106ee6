"""Analysis of designed trials."""
