"""Tables of numbers and lane lists: read with what they do not say asked for."""
