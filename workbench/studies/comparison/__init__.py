"""Two boards compared."""
