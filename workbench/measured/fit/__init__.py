"""Values of the catalogue fitted to a measurement."""
