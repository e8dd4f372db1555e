"""Comparison: snapshots and the table that compares them."""
