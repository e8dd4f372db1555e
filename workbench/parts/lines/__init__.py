"""Lines and cables: their materials, their cross-sections, what couples them."""
