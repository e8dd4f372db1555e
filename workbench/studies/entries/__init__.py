"""How the figures of studies came about: the entry of every number in their answers."""
