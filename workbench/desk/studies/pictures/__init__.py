"""The pictures of a study's answer: a map, curves, bars; what can be chosen in them, and what of them is known."""
