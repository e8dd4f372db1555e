"""Measurements laid over the model: aligned, folded, compared in figures."""
