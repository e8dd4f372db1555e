"""The lane table."""
