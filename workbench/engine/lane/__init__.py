"""One lane: grid, path, spans, and the signal that travels along them."""
