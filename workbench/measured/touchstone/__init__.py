"""Touchstone files: read, judged, repaired, written."""
