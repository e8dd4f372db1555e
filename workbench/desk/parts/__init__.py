"""The Parts list: what can be put on a path."""
