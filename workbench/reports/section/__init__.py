"""A line's cross-section as figures, text and JSON."""
