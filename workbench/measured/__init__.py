"""Measured data: taken in, judged, laid beside what was computed, and fitted to."""
