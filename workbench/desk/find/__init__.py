"""Finding anything by a few letters of its name."""
