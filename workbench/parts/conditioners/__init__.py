"""Conditioners: what they have in common, and one file a kind."""
