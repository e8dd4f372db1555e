"""Measurements drawn over the panes."""
