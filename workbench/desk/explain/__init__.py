"""How a figure on screen came about, in a window of its own."""
