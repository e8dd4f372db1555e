"""Manual, log, failures, first steps."""
