"""A line's cross-section drawn to scale and edited, in a window of its own."""
