"""Results as text, figures and HTML pages."""
